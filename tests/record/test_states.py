"""Every other stream folds too: solutions, people, sites, stations, instruments, files; and each is kept as text."""

from __future__ import annotations

import pytest

from reprocess.record import words
from reprocess.record.people import Person
from reprocess.record.places import Instrument, Published, Site, Station
from reprocess.record.solutions import Solution
from reprocess.record.states import FOLDINGS, State, as_text, folding_of, from_text, start_of
from reprocess.record.words import Body
from tests.engine.floor import Floor
from tests.record.entries import AT_US, stream_of

MADE = words.SolutionMade(
    agent="opa-055", digest="d", form="bath", site="LMG", lot="L-1", lot_expiry_us=AT_US * 2, expires_us=AT_US * 2
)
TESTED = words.SolutionTested(valid=True, passed=True, strip_lot="S", strip_expiry_us=AT_US, control_run=False)
NOTED = words.FactNoted(subject="x", asked="note")


def folded(stream: str, *bodies: Body) -> State:
    state = start_of(stream)
    for entry in stream_of(*bodies, stream=stream):
        state = folding_of(stream).apply(state, entry)
    return state


def test_a_solution_counts_its_contacts_since_the_last_pass() -> None:
    touched = words.SolutionTouched(item="X", cycle=1, step="disinfect")
    bath = folded("solution:B-1", MADE, TESTED, touched, touched)
    assert isinstance(bath, Solution)
    assert (bath.touched, bath.touched_since_pass, bath.passed_us) == (2, 2, AT_US + 2_000_000)
    again = folded("solution:B-1", MADE, TESTED, touched, TESTED)
    assert isinstance(again, Solution)
    assert (again.touched, again.touched_since_pass) == (1, 0)


def test_a_solution_fails_for_good_and_a_new_one_is_another() -> None:
    failed = TESTED.model_copy(update={"passed": False})
    bath = folded("solution:B-1", MADE, failed, words.SolutionEnded(cause="failed"), NOTED)
    assert isinstance(bath, Solution)
    assert (bath.failed_us, bath.ended, bath.number) == (AT_US + 2_000_000, "failed", 4)
    new = folded("solution:B-1", MADE, failed, words.SolutionEnded(cause="failed"), MADE)
    assert isinstance(new, Solution)
    assert (new.failed_us, new.ended, new.made_us, new.known) == (None, None, AT_US + 4_000_000, True)


def test_a_test_that_does_not_count_leaves_a_doubt_only_where_it_failed() -> None:
    void = TESTED.model_copy(update={"valid": False, "void_because": "old strips"})
    passed = folded("solution:B-1", MADE, TESTED, void)
    failed = folded("solution:B-1", MADE, TESTED, void.model_copy(update={"passed": False}))
    settled = folded("solution:B-1", MADE, TESTED, void.model_copy(update={"passed": False}), TESTED)
    assert isinstance(passed, Solution)
    assert isinstance(failed, Solution)
    assert isinstance(settled, Solution)
    assert (passed.doubted, failed.doubted, settled.doubted) == (False, True, False)
    assert passed.passed_us == failed.passed_us == AT_US + 2_000_000


def test_a_topped_up_bath_ends_with_the_earlier_lot() -> None:
    bath = folded("solution:B-1", MADE, words.SolutionToppedUp(lot="L-2", lot_expiry_us=5, volume_l="1"))
    assert isinstance(bath, Solution)
    assert (bath.lots, bath.lot_expiry_us, bath.expires_us) == (("L-1", "L-2"), 5, AT_US * 2)


def test_a_person_has_badges_and_competencies_for_a_time() -> None:
    registered = words.PersonRegistered(name="Ann", sites=("LMG",), roles=())
    granted = words.CompetencyGranted(
        competency="clean", item_kinds=("belt",), from_us=10, until_us=AT_US + 60_000_000, assessor="Bo"
    )
    person = folded(
        "person:P-1", registered, words.BadgeGiven(badge="B"), words.BadgeGiven(badge="A"), granted,
        words.BadgeWithdrawn(badge="B", reason="lost"), NOTED,
    )  # fmt: skip
    assert isinstance(person, Person)
    assert (person.badges, person.active, person.number) == (("A",), True, 6)
    assert not person.may("clean", "belt", 9)
    assert person.may("clean", "belt", 10)
    assert not person.may("clean", "belt", AT_US + 60_000_000)
    assert not person.may("clean", "tube", 10)
    assert not person.may("dry", "belt", 10)
    assert person.lapsed("clean", "belt", 10) is None
    assert person.lapsed("clean", "belt", AT_US + 60_000_000) == AT_US + 60_000_000
    ended = folded("person:P-1", registered, granted, words.CompetencyWithdrawn(competency="clean", reason="x"))
    assert isinstance(ended, Person)
    assert ended.lapsed("clean", "belt", AT_US + 60_000_000) == AT_US + 3_000_000
    kept = folded("person:P-1", registered, granted, words.CompetencyWithdrawn(competency="dry", reason="x"))
    assert isinstance(kept, Person)
    assert kept.may("clean", "belt", AT_US + 10_000_000)
    gone = folded("person:P-1", registered, words.PersonLeft(reason="moved"))
    assert isinstance(gone, Person)
    assert not gone.active


def test_an_instrument_counts_until_it_is_found_faulty() -> None:
    known = words.InstrumentRegistered(sort="flow-indicator", site="LMG")
    good = words.InstrumentVerified(until_us=5, reference="C")
    tool = folded("instrument:FI", known, good, words.InstrumentFaulty(finding="sticks"), NOTED)
    assert isinstance(tool, Instrument)
    assert (tool.faulty, tool.verified_until_us, tool.number) == (True, 5, 4)
    mended = folded("instrument:FI", known, words.InstrumentFaulty(finding="sticks"), good)
    assert isinstance(mended, Instrument)
    assert not mended.faulty


def test_places_and_files_stand_as_they_were_opened() -> None:
    site = folded("site:LMG", words.SiteOpened(title="T", zone="Europe/London", contact_floor_s=240), NOTED)
    station = folded("station:S", words.StationOpened(title="T", site="LMG", side="clean"), NOTED)
    assert isinstance(site, Site)
    assert site.opened_us is not None
    assert site == Site("LMG", "T", "Europe/London", 240, number=2, opened_us=site.opened_us)
    assert station == Station("S", "T", "LMG", "clean", 2)
    published = words.WorkflowPublished(sort="agent", name="opa", digest="d1", text="...")
    approved = words.WorkflowApproved(sort="agent", name="opa", digest="d1")
    proposed = folded("workflow:agent.opa", published)
    in_force = folded("workflow:agent.opa", published, approved, NOTED)
    assert isinstance(proposed, Published)
    assert isinstance(in_force, Published)
    assert (proposed.proposed, proposed.proposed_by, proposed.in_force) == ("d1", "P-01", None)
    assert (in_force.proposed, in_force.proposed_by, in_force.in_force) == (None, None, "d1")


def test_every_standing_is_kept_as_text_and_read_back(floor: Floor) -> None:
    """I12: of a department that has worked for a day."""
    seen = set()
    streams = [f"item:{one.item}" for one in floor.department.items()]
    streams += ["solution:QAW-1", "person:ANNA", "site:LMG", "station:BENCH", "instrument:FI-1"]
    streams += ["workflow:workflow.blower"]
    for stream in streams:
        kind = stream.partition(":")[0]
        state = start_of(stream)
        for entry in floor.entries(stream):
            state = folding_of(stream).apply(state, entry)
        assert state.number > 0, stream
        assert from_text(stream, as_text(state)) == state
        seen.add(kind)
    assert seen < {str(kind) for kind in FOLDINGS}


def test_a_stream_of_no_known_kind_is_no_stream() -> None:
    with pytest.raises(KeyError):
        folding_of("moon:FULL")
