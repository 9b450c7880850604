"""Wearers are pseudonyms: who may be issued what (A09), who may know who it is (D13, I21), when a name goes (E40)."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission
from reprocess.engine.request import Request
from reprocess.errors import KeyReusedError, WrongUseError
from reprocess.gathering import bench
from reprocess.gathering.item_scenes import with_members
from reprocess.ledger.append import looking
from reprocess.ledger.rebuild import rebuild
from reprocess.record.standing import Standing
from reprocess.record.states import as_text
from reprocess.record.wearers import Wearer
from reprocess.record.words import CaseDecided, CaseOpened, ExposedUse
from reprocess.rules.answer import as_text as answer_text
from reprocess.rules.eligible import eligible, tight_fitting
from reprocess.rules.scene import Scene
from reprocess.scan.code import ItemTag, read_code
from reprocess.scheduling import refresh_all
from reprocess.station import Call, fingerprint
from reprocess.terms import as_datetime, subject_of
from tests.engine.floor import OPENING_US, Floor
from tests.engine.wearing_people import (
    ILSE,
    NEXT_YEAR_US,
    PRIVATE,
    TOMAS,
    YEAR_US,
    asked,
    at,
    everything,
    out,
    qualified,
    registered,
    with_health,
    write,
)


@pytest.fixture
def staffed(floor: Floor) -> Floor:
    return with_health(floor)


def wearer(floor: Floor, name: str) -> Wearer:
    with looking(floor.department.ledger) as read:
        state = read.state(f"wearer:{name}")
    assert isinstance(state, Wearer)
    return state


def scene_of(floor: Floor, item: Standing) -> Scene:
    """Returns the scene of an assembly, as an issue is judged on it."""
    with looking(floor.department.ledger) as read:
        here = bench(read, floor.clock.now(), "BENCH", "B-ANNA", None)
        return with_members(read, floor.department.library, Scene(bench=here, item=item))


def reasons(floor: Floor, name: str, item: str, purpose: str | None = None) -> list[str]:
    return [one.key for one in eligible(scene_of(floor, floor.item(item)), wearer(floor, name), purpose)]


def test_a_wearer_is_trained_and_cleared_or_is_issued_nothing(staffed: Floor) -> None:
    """A09, by 29 CFR 1910.134 (e) and (k) (from memory); a loose-fitting kit asks for no fit test, (f)."""
    assert reasons(staffed, "nobody", "KIT-7") == ["wearer-unknown"]
    name = registered(staffed)
    assert reasons(staffed, name, "KIT-7") == ["wearer-untrained", "wearer-not-cleared"]
    qualified(staffed, name)
    assert reasons(staffed, name, "KIT-7") == []
    assert tight_fitting(scene_of(staffed, staffed.item("KIT-7"))) == ()
    assert asked(staffed, "ola", asking.ClearWearer(name, cleared=False)).accepted
    assert reasons(staffed, name, "KIT-7") == ["wearer-not-cleared"]


def test_training_clearance_and_fit_end_at_their_instant(staffed: Floor) -> None:
    """A09: until is exclusive; a clearance without an end has none."""
    state = Wearer(
        "W", trained_until_us=100, cleared=True, cleared_until_us=200, fits={"LM-M": 300, "LM-L": None}, number=1
    )
    assert (state.is_trained(99), state.is_trained(100)) == (True, False)
    assert (state.is_cleared(199), state.is_cleared(200)) == (True, False)
    assert (state.has_fit("LM-M", 299), state.has_fit("LM-M", 300)) == (True, False)
    assert (state.has_fit("LM-L", NEXT_YEAR_US), state.has_fit("LM-S", 0)) == (True, False)
    assert Wearer("W", cleared=True).is_cleared(NEXT_YEAR_US)


def test_a_tight_fitting_model_is_one_that_was_found_to_fit(staffed: Floor) -> None:
    """A09: the half mask's slot says `tight_fitting`, and only its model and size count (29 CFR 1910.134(f)(1))."""
    for item, workflow, model in (("HMK-1", "half-mask-one-step", "LM-M"), ("HMR-1", "half-mask-respirator", "LM-2")):
        assert at(staffed, "cora").enrol(Commission(item, workflow, model)).accepted
    members = {"half-mask": "HMK-1", "filter-1": "FLT-3", "filter-2": "FLT-4"}
    built = replace(staffed.item("HMR-1"), members=members, configuration="half-mask-two-filters")
    scene = scene_of(staffed, built)
    assert tight_fitting(scene) == ("LM-M",)
    name = qualified(staffed, registered(staffed), "LM-L")
    found = [(one.key, one.facts.get("model")) for one in eligible(scene, wearer(staffed, name))]
    assert found == [("wearer-no-fit", "LM-M")]
    assert eligible(scene, wearer(staffed, name), "fit-test") == []
    assert asked(staffed, "ola", asking.FitTestWearer(name, "LM-M", fits=True, until_us=NEXT_YEAR_US)).accepted
    assert eligible(scene, wearer(staffed, name)) == []
    assert asked(staffed, "ola", asking.FitTestWearer(name, "LM-M", fits=False)).accepted
    assert [one.key for one in eligible(scene, wearer(staffed, name))] == ["wearer-no-fit"]


def test_training_is_no_condition_of_training_but_clearance_is(staffed: Floor) -> None:
    """A09, U15: clearance comes before fit test and use (29 CFR 1910.134(e)(1), from memory)."""
    name = registered(staffed)
    assert reasons(staffed, name, "KIT-7", "training") == ["wearer-not-cleared"]
    assert reasons(staffed, name, "KIT-7", "fit-test") == ["wearer-untrained", "wearer-not-cleared"]


def test_who_left_is_issued_nothing_and_may_come_back_under_the_same_pseudonym(staffed: Floor) -> None:
    name = qualified(staffed, registered(staffed))
    assert asked(staffed, "hana", asking.WearerLeaves(name)).accepted
    assert reasons(staffed, name, "KIT-7") == ["wearer-left"]
    assert not asked(staffed, "hana", asking.TrainWearer(name, NEXT_YEAR_US)).accepted
    assert at(staffed, "hana").register(ILSE, "ICU", wearer=name).accepted
    assert reasons(staffed, name, "KIT-7") == []
    assert wearer(staffed, name).unit == "ICU"


@pytest.mark.parametrize("who", ["anna", "cora", "fay", "stranger", None])
def test_only_programme_and_occupational_health_keep_wearers(staffed: Floor, who: str | None) -> None:
    name = registered(staffed)
    for request in (
        asking.TrainWearer(name, NEXT_YEAR_US),
        asking.ClearWearer(name, cleared=True),
        asking.FitTestWearer(name, "LM-M", fits=True),
        asking.WearerLeaves(name),
    ):
        answer = asked(staffed, who, request)
        assert set(answer.rules()) <= {"A01", "A08"}
        assert not answer.accepted
    assert not at(staffed, who).register(TOMAS, "ED").accepted
    assert staffed.department.wearer_of_badge("W-7042") is None


def test_a_badge_means_a_pseudonym_that_tells_nothing(staffed: Floor) -> None:
    """D13: the look-up at issue is no reading of a name, and writes nothing."""
    name = registered(staffed)
    before = len(staffed.entries(f"wearer:{name}"))
    assert staffed.department.wearer_of_badge("W-7041") == name
    assert staffed.department.wearer_of_badge("W-7042") is None
    assert len(staffed.entries(f"wearer:{name}")) == before == 1
    assert re.fullmatch(r"W-[89AB][0-9A-F]{15}", name)
    assert read_code(name) == ItemTag(name, checked=False)


def test_a_badge_is_one_wearers_only_and_nothing_is_written_else(staffed: Floor) -> None:
    registered(staffed)
    before = staffed.department.verify().entries
    with pytest.raises(WrongUseError, match="another wearer's"):
        at(staffed, "hana").register(type(TOMAS)("Tomas Quine", "W-7041"), "ICU")
    assert staffed.department.verify().entries == before


def test_a_wearer_without_a_name_is_not_registered(staffed: Floor) -> None:
    with pytest.raises(WrongUseError, match="Say who"):
        asked(staffed, "hana", asking.RegisterWearer("W-1", "ED"))
    assert not wearer(staffed, "W-1").known


@pytest.mark.parametrize(("who", "may"), [("hana", True), ("fay", True), ("ola", True), ("anna", False),
                                          ("cora", False), ("ros", False), (None, False)])  # fmt: skip
def test_every_reading_of_a_name_is_an_entry_and_only_three_roles_read(
    staffed: Floor, who: str | None, *, may: bool
) -> None:
    """I21, D13: who read, whose, for what, in the transaction that shows it."""
    name = registered(staffed)
    answer, shown = at(staffed, who).reveal(asking.ReadNames((name,), "recall"))
    assert (answer.accepted, shown) == (may, {name: ILSE} if may else {})
    read = [one for one in staffed.entries(f"wearer:{name}") if one.kind == "wearer-name-read"]
    assert [(one.envelope.actor, getattr(one.body, "why", None)) for one in read] == (
        [(str(who).upper(), "recall")] if may else []
    )
    assert may or set(answer.rules()) <= {"A01", "D13"}


def test_a_name_is_asked_for_one_of_the_listed_purposes(staffed: Floor) -> None:
    name = registered(staffed)
    with pytest.raises(WrongUseError, match="not curiosity"):
        at(staffed, "fay").reveal(asking.ReadNames((name,), "curiosity"))
    with pytest.raises(WrongUseError, match="From 1 to 200"):
        at(staffed, "fay").reveal(asking.ReadNames((), "recall"))
    answer, shown = at(staffed, "fay").reveal(asking.ReadNames(("W-NOBODY",), "recall"))
    assert (answer.rules(), shown) == (("A09",), {})


def test_a_repeated_key_shows_no_name_since_it_writes_no_entry(staffed: Floor) -> None:
    """I21, I9: the second reading would leave no trace."""
    name = registered(staffed)
    request = asking.ReadNames((name,), "recall")
    assert at(staffed, "fay").reveal(request, key="once")[1] == {name: ILSE}
    answer, shown = at(staffed, "fay").reveal(request, key="once")
    assert (answer.repeated, shown) == (True, {})


def test_a_repeated_registration_is_the_same_wearer_and_another_name_is_another_request(staffed: Floor) -> None:
    """I9: the key is compared with the name although no digest holds it."""
    first = at(staffed, "hana").register(ILSE, "ED", key="reg")
    again = at(staffed, "hana").register(ILSE, "ED", key="reg")
    assert (again.repeated, again.subject) == (True, first.subject)
    with pytest.raises(KeyReusedError):
        at(staffed, "hana").register(TOMAS, "ED", key="reg")
    assert at(staffed, "fay").reveal(asking.ReadNames((subject_of(first.subject),), "audit"))[1] == {
        subject_of(first.subject): ILSE
    }


def test_a_name_goes_when_its_wearer_asks_and_the_record_stays_sound(staffed: Floor) -> None:
    """E40, I21: the pseudonym stays, verification holds, a rebuild finds everything equal."""
    name = qualified(staffed, registered(staffed))
    assert asked(staffed, "hana", asking.EraseName(name)).accepted
    assert staffed.entries(f"wearer:{name}")[-1].kind == "wearer-erased"
    assert staffed.department.wearer_of_badge("W-7041") is None
    assert reasons(staffed, name, "KIT-7") == ["wearer-left"]
    answer, shown = at(staffed, "fay").reveal(asking.ReadNames((name,), "audit"))
    assert (answer.accepted, shown) == (True, {})
    assert staffed.department.verify(full=True).sound
    library = staffed.department.library
    assert rebuild(staffed.department.ledger, refresh=lambda work: refresh_all(work, library)).equal
    assert asked(staffed, "hana", asking.EraseName(name)).rules() == ("D12",)


@pytest.mark.parametrize("who", ["anna", "cora", None])
def test_not_everybody_erases(staffed: Floor, who: str | None) -> None:
    name = registered(staffed)
    assert not asked(staffed, who, asking.EraseName(name)).accepted
    assert staffed.department.wearer_of_badge("W-7041") == name


def test_what_is_out_keeps_the_name(staffed: Floor) -> None:
    """E40, H05: whoever wears something must be found when it is recalled."""
    name = registered(staffed)
    out(staffed, name, "KIT-7")
    answer = asked(staffed, "hana", asking.EraseName(name))
    assert [(one.rule, one.key) for one in answer.reasons] == [("D12", "still-out")]


def test_an_exposure_keeps_the_name_for_thirty_years(staffed: Floor) -> None:
    """E40, D12: 29 CFR 1910.1020(d)(1)(ii): exposure records are kept at least thirty years (from memory)."""
    name = registered(staffed)
    use = ExposedUse("KIT-7", 1, "KIT-7", name, OPENING_US, "ED", OPENING_US + 60_000_000)
    write(staffed, "case:C-1", CaseOpened(rule="L07", cause="HYP-1 failed its test", items=("KIT-7",), uses=(use,)))
    answer = asked(staffed, "hana", asking.EraseName(name))
    assert [one.key for one in answer.reasons] == ["case-not-decided", "kept-by-law"]
    write(staffed, "case:C-1", CaseDecided(notify=False, because="never worn"))
    answer = asked(staffed, "hana", asking.EraseName(name))
    assert [one.key for one in answer.reasons] == ["kept-by-law"]
    until = answer.reasons[0].facts["until_us"]
    assert isinstance(until, int)
    assert as_datetime(until).date() == date(2056, 3, 5)
    staffed.clock.push((until - staffed.clock.now().wall_us) / 1_000_000 - 2)
    assert asked(staffed, "hana", asking.EraseName(name)).rules() == ("D12",)
    assert asked(staffed, "hana", asking.EraseName(name)).accepted


def test_names_go_by_their_period_and_the_run_is_reported(staffed: Floor) -> None:
    """D12: five years after the last use of somebody who left; who stays, or was exposed, keeps the name."""
    gone, stays = registered(staffed), registered(staffed, TOMAS)
    out(staffed, gone, "KIT-7", back=True)
    assert asked(staffed, "hana", asking.WearerLeaves(gone)).accepted
    assert asked(staffed, "hana", asking.PurgeNames()).accepted
    assert staffed.department.wearer_of_badge("W-7041") == gone
    staffed.clock.push(5 * YEAR_US / 1_000_000 + 3 * 86_400)
    before = {one.record: (one.total, one.past) for one in staffed.department.kept()}
    assert before["names"] == (2, 1)
    assert before["cycles"][0] == before["cycles"][1] > 0
    answer = asked(staffed, "hana", asking.PurgeNames())
    assert answer.accepted
    assert [(one.rule, one.facts["names"]) for one in answer.warnings] == [("D12", 1)]
    report = staffed.entries("site:LMG")[-1]
    assert (report.kind, getattr(report.body, "wearers", None)) == ("names-purged", (gone,))
    assert staffed.entries(f"wearer:{gone}")[-1].kind == "wearer-erased"
    assert staffed.department.wearer_of_badge("W-7041") is None
    assert staffed.department.wearer_of_badge("W-7042") == stays
    assert staffed.department.verify(full=True).sound


def test_nobody_purges_by_choice(staffed: Floor) -> None:
    """D12: a purge that names somebody is refused."""
    name = registered(staffed)
    answer = asked(staffed, "hana", asking.PurgeNames((name,)))
    assert [(one.rule, one.key) for one in answer.reasons] == [("D12", "purge-by-policy")]
    assert asked(staffed, "cora", asking.PurgeNames()).rules() == ("D13",)


def doings(name: str) -> list[tuple[str, Request]]:
    return [
        ("hana", asking.TrainWearer(name, NEXT_YEAR_US)),
        ("ola", asking.ClearWearer(name, cleared=True)),
        ("ola", asking.FitTestWearer(name, "LM-M", fits=True)),
        ("fay", asking.ReadNames((name,), "recall")),
        ("anna", asking.ReadNames((name,), "recall")),
        ("anna", asking.EraseName(name)),
        ("hana", asking.WearerLeaves(name)),
        ("hana", asking.PurgeNames()),
        ("hana", asking.EraseName(name)),
    ]


def test_no_name_stands_anywhere_but_in_its_own_table(staffed: Floor) -> None:
    """D13, I21: not in entries, standings, answers, reminders or what the wearer's state says of itself."""
    names = [registered(staffed), registered(staffed, TOMAS)]
    said = [answer_text(asked(staffed, who, request)) for name in names for who, request in doings(name)]
    told = everything(staffed) + "".join(said)
    told += "".join(as_text(wearer(staffed, name)) for name in names)
    assert [one for one in PRIVATE if one in told] == []
    assert names[0] in told


def test_the_digest_of_a_registration_tells_nothing_about_the_name(staffed: Floor) -> None:
    """I21: else a list of names could be tried against it after the erasure."""
    request = asking.RegisterWearer("w-1", "ED")
    calls = [Call(request, "BENCH", "B-HANA", None, "k", personal=name) for name in (ILSE, TOMAS, None)]
    assert len({fingerprint(call) for call in calls}) == 1
