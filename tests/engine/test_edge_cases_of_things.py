"""Edge cases of items, loads, kits and cabinets, each with its whole answer (E14-E16, E18-E23, E25, E27-E30, E34)."""

from __future__ import annotations

import pytest

from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.cases import Case
from reprocess.record.touching import Touched
from reprocess.rules.words import next_action, sentence
from reprocess.station import Call
from reprocess.terms import SECOND_US
from tests.engine.benches import play
from tests.engine.floor import BADGES, OPENING_US, Floor, good_checks, good_counts
from tests.engine.loading import a_washer, bowls, passes, runs
from tests.engine.outside import dues, hold_rules, scanned, second_kit, wearers, worn_by

PLATE = b"\xff\xd8\xff\xe0 an invented picture of a serial plate"


def sorts(floor: Floor, item: str) -> list[str]:
    """Returns the sorts of the holds of an item."""
    return [one.sort for one in floor.item(item).holds.values()]


def test_e14_a_mis_scan_is_taken_back_within_a_minute_and_later_corrected_by_two(floor: Floor) -> None:
    """E14, D01: by the same person, before another event; both entries stay; after that two people correct it."""
    before = floor.item("BLW-1").number
    play(
        floor,
        """
        +0   | anna       | BLW-1 take-apart        | accepted, next clean
        +30  | ben        | undo                    | refused E14, key undo-other-person
        +60  | anna       | undo                    | accepted, next take-apart
        +70  | anna       | take-apart              | accepted
        +131 | anna       | undo                    | refused E14, key undo-too-late, helps Cora Lind
        +135 | anna       | clean                   | accepted
        +136 | ben        | clean-check             | accepted, stage cleaned
        +137 | anna       | undo                    | refused E14, key undo-other-person
        """,
    )
    assert floor.kinds("BLW-1", before)[:3] == ["step-done", "entry-undone", "step-done"]
    undone = floor.entries("item:BLW-1")[before + 1].body
    assert isinstance(undone, words.EntryUndone)
    assert undone.numbers == (before + 1,)
    wrong = floor.item("BLW-1").satisfied["take-apart"].number
    play(
        floor,
        f"""
        +0 | anna       | BLW-1 correct {wrong} not-this-item because it was BLW-2 | refused S06
        +1 | anna + ben | BLW-1 correct {wrong} not-this-item because it was BLW-2 | accepted, next take-apart
        """,
    )
    assert floor.entries("item:BLW-1")[wrong - 1].kind == "step-done"


@pytest.mark.parametrize(
    ("how", "received", "kept"),
    [
        ("clean in BOX-1", "accepted E15, stage cleaned, key steps-void", {"take-apart", "clean", "clean-check"}),
        ("in BOX-1", "accepted E15, stage used, key starts-again", set()),
    ],
    ids=["closed and clean", "not clean"],
)
def test_e15_of_a_cycle_on_its_way_the_cleaning_is_kept_or_nothing(
    floor: Floor, how: str, received: str, kept: set[str]
) -> None:
    """E15, C12: on its way it is nowhere used, the other site receives it; only clean transport keeps the cleaning."""
    floor.bring("BLW-2", "disinfected")
    play(
        floor,
        f"""
        +60 | anna           | BLW-2 send SAL {how} | accepted
        +61 | ben            | rinse                | refused C12, key on-its-way
        +62 | ben            | receive              | refused C12, key for-another-site
        +2h | lee @ SALTGATE | receive              | {received}
        """,
    )
    assert (floor.item("BLW-2").site, set(floor.item("BLW-2").satisfied)) == ("SAL", kept)


@pytest.mark.parametrize("step", ["disinfect", "dry"])
def test_e15_contact_and_drying_are_void_when_it_leaves(floor: Floor, step: str) -> None:
    """E15, T04: in closed clean packaging too, since no site policy says otherwise."""
    floor.bring("BLW-2", step)
    start = "disinfect start in HPW-1" if step == "disinfect" else "dry start"
    play(
        floor,
        f"""
        +0    | anna           | BLW-2 {start}                 | accepted
        +10   | anna           | BLW-2 send SAL clean in BOX-1 | accepted
        +1000 | lee @ SALTGATE | BLW-2 receive                 | accepted{"" if step == "disinfect" else " E15"}
        +1001 | lee @ SALTGATE | BLW-2 done                    | refused P01, key no-open-clock
        """,
    )
    broken = next(one.body for one in floor.entries("item:BLW-2") if getattr(one.body, "rule", "") == "E15")
    assert isinstance(broken, words.DwellBroken)
    assert (broken.step, broken.cause, floor.item("BLW-2").stage) == (step, "moved", "cleaned")


def test_e16_of_two_stations_at_once_the_first_wins_and_the_second_is_told_who(floor: Floor) -> None:
    """E16, P01: one entry; the second is refused and told by whom and when it was done."""
    step = floor.workflow("BLW-1").step_named("take-apart")
    assert step is not None
    desk, clock = floor.department.desk, floor.clock
    request = asking.DoStep("BLW-1", "take-apart", good_checks(step), {}, good_counts(step))
    calls = [Call(request, at, BADGES[who], None, clock.new_id()) for at, who in (("SINK", "anna"), ("BENCH", "ben"))]
    first, second = desk.take_all(calls)
    assert not isinstance(first, Exception)
    assert not isinstance(second, Exception)
    assert (first.accepted, second.verdict, second.rules()) == (True, "refused", ("P01",))
    assert sentence(second.reasons[0], lambda at_us: f"{(clock.now().wall_us - at_us) // SECOND_US} s ago") == (
        "take-apart is done already, by ANNA at 0 s ago."
    )
    assert floor.kinds("BLW-1").count("step-done") == 1
    play(floor, "+3 | ben | BLW-1 take-apart | refused P01, key already-done, next clean")
    assert floor.answers[-1].reasons[0].facts["at_us"] == OPENING_US


def test_e18_a_stranger_found_at_unloading_holds_the_load_and_starts_again(floor: Floor) -> None:
    """E18, W03, W04: the load waits for a recount by two; the wrong item falls to its start, before cleaning."""
    a_washer(floor)
    names = bowls(floor, 3)
    passes(floor, "LD-0", names[2:])
    floor.bring("BWL-3", "ready")
    runs(floor, "LD-1", names[:2])
    play(
        floor,
        """
        +0 | anna       | LD-1 load-end held 80 600           | accepted
        +1 | ben        | LD-1 load-out BWL-1 BWL-2 BWL-3     | held W04
        +2 | ben        | BWL-1 inspect                       | accepted, warns H04
        +3 | dan        | BWL-1 release                       | held G02 G11
        +4 | ben        | LD-1 load-recount BWL-1 BWL-2       | refused W03
        +5 | ben + anna | LD-1 load-recount BWL-1 BWL-2       | accepted
        +6 | dan        | BWL-1 release                       | accepted, stage ready
        """,
    )
    stranger = floor.item("BWL-3")
    assert (stranger.stage, stranger.satisfied, stranger.load) == ("used", {}, None)
    with looking(floor.department.ledger) as read:
        assert "BWL-3" in {row.item for row in read.touches.of(Touched.LOAD, "LD-1")}


def test_e19_a_load_that_fails_late_reaches_all_forty(floor: Floor) -> None:
    """E19, W06, H06: eleven released, three issued: 40 held, 8 of them ready, 3 asked back, one case of their uses."""
    a_washer(floor)
    names = bowls(floor, 40)
    passes(floor, "LD-1", names)
    for name in names[:11]:
        floor.bring(name, "ready")
    wearers(floor, "W-1", "W-2", "W-3")
    for number, name in enumerate(names[:3], start=1):
        assert floor.ask(asking.IssueItem(name, f"W-{number}", "ward-7"), "gus").accepted
    (answer,) = play(floor, "+1h | anna | LD-1 load-end only bad cleaning | held W06 H05 H06")
    facts = {one.key: one.facts for one in answer.reasons}
    told = facts["load-failed-later"]
    assert (told["held"], told["ready"], told["out"]) == (40, 8, 3)
    assert facts["bring-back"]["items"] == sorted(names[:3])
    assert all(sorts(floor, name) == ["load"] for name in names)
    assert {(floor.item(name).stage, len(floor.item(name).satisfied)) for name in names} == {("used", 0)}
    assert all(dues(floor, name, "H05") for name in names[:3])
    with looking(floor.department.ledger) as read:
        (case,) = [one for one in read.states_of("case") if isinstance(one, Case)]
    assert [(use.item, use.wearer) for use in case.uses] == [(f"BWL-{one}", f"W-{one}") for one in (1, 2, 3)]
    play(
        floor,
        f"""
        +1h | dan  | {names[4]} release                   | held G02 G01
        +1h | anna | {names[4]} rinse                     | accepted, warns H04
        +1h | anna | LD-1 load-fail indicator read again  | accepted W06, key failed-already
        """,
    )


def test_e20_a_code_that_cannot_be_read_is_typed_twice_or_by_two(floor: Floor) -> None:
    """E20, G03: it asks for a new label, bars the release until then, and a picture of the plate can be kept."""
    floor.bring("BLW-2", "release")
    play(
        floor,
        """
        +60 | anna       | BLW-2 typed       | refused E20, key type-twice
        +61 | anna       | BLW-2 typed BLW-1 | refused E20, key typed-unlike
        +62 | anna + ben | BLW-2 typed       | accepted, warns E20
        +63 | anna       | BLW-2 typed BLW-2 | accepted, warns E20
        +64 | dan        | BLW-2 release     | refused G03
        """,
    )
    assert [due.words["say"] for due in dues(floor, "BLW-2", "E20")] == ["relabel"]
    kept = floor.department.station("BENCH", badge=BADGES["anna"]).keep_file(
        PLATE, "item:BLW-2", "plate.jpg", "image/jpeg"
    )
    assert kept.accepted
    play(
        floor,
        """
        +70 | anna | BLW-2 tag BLW-2 | accepted
        +71 | dan  | BLW-2 release   | accepted, stage ready
        """,
    )
    assert dues(floor, "BLW-2", "E20") == []


def test_e21_two_items_with_one_code_are_held_and_their_history_is_split(floor: Floor) -> None:
    """E21, S03: both on hold for identity; by the plates a supervisor and another say whose entries are whose."""
    cleaned = floor.item("BLW-2").satisfied["clean"].number
    play(
        floor,
        f"""
        +0 | anna        | BLW-2 doubt BLW-3             | held E21
        +1 | anna + ben  | BLW-2 split BLW-3 : {cleaned} | refused S03, key role-needed
        +2 | cora        | BLW-2 split BLW-3 : {cleaned} | refused S03, key two-people-needed
        +3 | cora + anna | BLW-2 split BLW-3 : {cleaned} | accepted, stage used
        """,
    )
    assert (sorts(floor, "BLW-2"), sorts(floor, "BLW-3")) == (["identity"], ["identity"])
    assert (set(floor.item("BLW-2").satisfied), floor.item("BLW-3").satisfied) == ({"take-apart"}, {})
    split = floor.entries("item:BLW-2")[-1].body
    assert isinstance(split, words.HistorySplit)
    assert (split.other, split.numbers) == ("BLW-3", (cleaned,))
    play(
        floor,
        """
        +9  | ben        | BLW-3 lift 1 | refused H10
        +10 | cora + dan | BLW-3 lift 1 | accepted
        +11 | cora + dan | BLW-2 lift 1 | accepted
        """,
    )


def test_e22_swapped_tags_are_found_at_the_return_and_hold_both(floor: Floor) -> None:
    """E22, S05: what came back is not what went out: both blowers for identity, both kits for the swap."""
    second_kit(floor)
    wearers(floor, "W-1")
    play(floor, "+0 | gus | KIT-7 issue W-1 ward-7 | accepted")
    play(floor, f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7', blower='BLW-3')} | held S05, warns P04")
    assert [hold_rules(floor, one) for one in ("BLW-3", "BLW-7")] == [{"E22"}, {"E22"}]
    assert (sorts(floor, "BLW-3"), sorts(floor, "BLW-7")) == (["identity"], ["identity"])
    assert "S05" in hold_rules(floor, "KIT-7") & hold_rules(floor, "KIT-1")


def test_e23_a_tube_of_another_kit_rejoins_its_own_history(floor: Floor) -> None:
    """E23, S05: it is on its own record again, both kits come apart, and the gap in its custody is noted."""
    second_kit(floor)
    wearers(floor, "W-1")
    play(floor, "+0 | gus | KIT-7 issue W-1 ward-7 | accepted")
    play(floor, f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7')} TUB-3 | held S05")
    tube = floor.item("TUB-3")
    assert (tube.stage, tube.assembly) == ("used", None)
    assert "custody gap" in next(iter(tube.holds.values())).cause
    assert floor.item("KIT-7").members == floor.item("KIT-1").members == {}
    back = next(one.body for one in floor.entries("item:TUB-3") if isinstance(one.body, words.ItemReturned))
    assert back.gap


def test_e25_a_cause_that_people_settled_holds_nothing_again(floor: Floor) -> None:
    """E25, H10: lifting names its cause; the same recall run again leaves the item, a new one holds it."""
    play(
        floor,
        """
        +0 | hana       | R-1 recalled model LF-H | accepted H03
        +1 | hana       | R-1 commit              | held H03
        +3 | ben        | FLT-3 quarantine Q-1    | accepted
        +4 | hana + ben | FLT-3 lift 1            | accepted, stage ready
        +5 | hana       | R-1 recalled model LF-H | accepted H03
        +6 | hana       | R-1 commit              | accepted H03
        """,
    )
    lifted = floor.entries("item:FLT-3")[-1].body
    assert isinstance(lifted, words.HoldLifted)
    assert (lifted.settles, floor.item("FLT-3").settled) == ("recall:R-1", ("recall:R-1",))
    assert not floor.item("FLT-3").held
    play(floor, "+7 | hana | R-2 recalled model LF-H | accepted H03\n+8 | hana | R-2 commit | held H03")
    assert sorts(floor, "FLT-3") == ["recall"]


def test_e27_a_kind_without_a_workflow_is_not_received_as_known(floor: Floor) -> None:
    """E27, P05, P06: commissioned under nothing, advanced by nothing; what is seen of it is kept, off to quarantine."""
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    refused = office.enrol(Commission("NEW-1", "snorkel", "LS-1"))
    assert [(one.rule, one.key) for one in refused.reasons] == [("P06", "no-such-workflow")]
    for request in (asking.DoStep("NEW-1", "clean"), asking.Release("NEW-1", {})):
        assert floor.ask(request).rules() == ("P05",)
        assert floor.answers[-1].verdict == "refused"
    answers = play(
        floor,
        """
        +1 | anna | NEW-1 return  | accepted P05, key unknown-item
        +2 | anna | NEW-1 receive | accepted P05, key unknown-item
        """,
    )
    assert next_action(answers[0].reasons[0], str) == "Put it in quarantine; a supervisor commissions it."
    kept = [one.body for one in floor.entries("site:LMG") if isinstance(one.body, words.FactNoted)]
    assert [one.subject for one in kept] == ["item:NEW-1"] * 2
    assert floor.department.part("NEW-1") is None


def test_e28_a_cabinet_emptied_in_an_emergency_is_reconciled_later(floor: Floor) -> None:
    """E28, U01, H05: twenty units by one broken seal, no scan; wearers unknown and asked for; then all settled."""
    names = [f"FLT-{number}" for number in range(200, 220)]
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    play(floor, "+0 | cora | CAB-1 set-up cabinet seal=S-1 par=20 | accepted")
    for name in names:
        assert office.enrol(Commission(name, "hepa-cartridge", "LF-H")).accepted
        floor.bring(name, "ready")
        play(floor, f"+0 | ben | {name} put-in CAB-1 | accepted")
    wearers(floor, "W-1")
    (answer,) = play(floor, "+0 | - | CAB-1 broken-open S-1 | accepted E28")
    assert answer.reasons[0].facts["taken"] == names
    for name in names:
        custody = floor.item(name).custody
        assert custody is not None
        assert (custody.wearer, custody.purpose, custody.place) == (None, "emergency", "CAB-1")
        assert worn_by(floor, name) == [("not-identified", True)]
        assert {due.words["say"] for due in dues(floor, name, "U01")} == {"identify", "identify-over"}
    play(
        floor,
        """
        +1h | gus  | FLT-200 identify W-1 | accepted
        +2h | anna | FLT-200 return       | accepted, stage used
        +2h | anna | FLT-201 return       | accepted, stage used
        """,
    )
    assert (worn_by(floor, "FLT-200"), worn_by(floor, "FLT-201")) == ([("W-1", False)], [("not-identified", False)])
    assert floor.item("FLT-219").custody is not None


def test_e29_a_unit_that_was_cut_off_is_a_fact_with_its_incident(floor: Floor) -> None:
    """E29: never refused; every part is held under the incident's reference, and two people condemn it."""
    wearers(floor, "W-1")
    play(floor, "+0 | gus | KIT-7 issue W-1 ward-7 | accepted")
    play(
        floor,
        f"""
        +9  | -          | KIT-7 return {scanned(floor, "KIT-7")} cut-off incident IR-9 | held E29, stage used
        +10 | cora       | HED-7 condemn                                                | refused S03
        +11 | cora + dan | HED-7 condemn                                                | accepted, stage condemned
        """,
    )
    assert "IR-9" in next(iter(floor.item("HED-7").holds.values())).cause
    assert hold_rules(floor, "BLW-7") == {"E29"}
    assert worn_by(floor, "KIT-7") == [("W-1", False)]


def test_e30_batteries_swapped_on_the_ward_are_put_right_and_told(floor: Floor) -> None:
    """E30, U12: custody follows the snapshots, a warning and no hold; each battery comes back once."""
    second_kit(floor)
    wearers(floor, "W-1", "W-2")
    play(
        floor,
        """
        +0 | gus | KIT-7 issue W-1 ward-7 | accepted
        +0 | gus | KIT-1 issue W-2 ward-7 | accepted
        """,
    )
    play(floor, f"+9 | anna | KIT-7 return {scanned(floor, 'KIT-7', battery='BAT-3')} | accepted, warns P04 U12")
    custody = floor.item("BAT-7").custody
    assert custody is not None
    assert (custody.wearer, floor.item("BAT-3").custody, hold_rules(floor, "BAT-3")) == ("W-1", None, set())
    play(floor, f"+19 | anna | KIT-1 return {scanned(floor, 'KIT-1', battery='BAT-7')} | accepted, warns U12")
    assert floor.item("BAT-7").custody is None
    assert [hold_rules(floor, one) for one in ("BAT-7", "KIT-1", "BLW-3")] == [set()] * 3


def test_e34_what_is_dropped_after_its_release_is_used_again(floor: Floor) -> None:
    """E34, P02: all its steps are gone, nobody issues it, and its parts go the same way."""
    wearers(floor, "W-1")
    play(
        floor,
        """
        +0 | anna | BLW-3 dropped          | accepted, stage used
        +1 | gus  | BLW-3 issue W-1 ward-7 | refused U02
        +2 | anna | KIT-7 dropped          | accepted, stage used
        """,
    )
    assert floor.item("BLW-3").satisfied == floor.item("KIT-7").satisfied == {}
    assert floor.item("TUB-7").stage == "used"
