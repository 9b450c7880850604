"""Trace questions on a whole record: a failed bath with its wearers, who wore it and who after, a faulty instrument."""

from __future__ import annotations

import json

import pytest

from reprocess.commandline import say, tracing
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission, Enrol
from reprocess.errors import UnknownSubjectError, WrongUseError
from reprocess.gathering.lookback import brief_at, standing_at
from reprocess.ledger.append import looking
from reprocess.lookback.graph import mermaid
from reprocess.record.cases import Case
from reprocess.record.standing import Standing
from reprocess.record.words import InstrumentFaulty, InstrumentVerified
from reprocess.rules.answer import Answer
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import BADGES, OPENING_US, Floor
from tests.engine.worn import issue, take_back

HOUR_S = 3600


def tubes(floor: Floor, count: int) -> list[str]:
    """Returns that many new tubes."""
    names = [f"TUB-{number}" for number in range(100, 100 + count)]
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    for name in names:
        assert office.enrol(Commission(name, "breathing-tube-immersion", "LT-1")).accepted
    return names


def a_bath(floor: Floor, name: str = "HYP-1") -> None:
    play(
        floor,
        f"""
        +0 | anna | {name} made of hypochlorite-50ppm | accepted
        +1 | anna | {name} tested 50                  | accepted
        """,
    )


def case_of(floor: Floor, name: str) -> Case:
    with_case = floor.department.lookback("case", name)
    assert with_case.sort == "case"
    with looking(floor.department.ledger) as read:
        found = read.state(f"case:{name}")
    assert isinstance(found, Case)
    return found


def worn_and_back(floor: Floor, item: str, wearer: str) -> None:
    """An item was worn for an hour and came back used."""
    issue(floor, item, wearer)
    floor.clock.push(HOUR_S)
    take_back(floor, item)
    floor.ask(asking.Contaminate(item, "used"))


def a_failed_bath_with_four_wearers(floor: Floor) -> list[str]:
    """Of twenty-three tubes nine were released, and four of those worn by four people, when the bath failed."""
    a_bath(floor)
    names = tubes(floor, 23)
    for name in names:
        floor.bring(name, "dry", in_="HYP-1")
    for name in names[:9]:
        floor.bring(name, "ready")
    for number, name in enumerate(names[:4], start=1):
        worn_and_back(floor, name, f"W-{number}")
    return names


def test_a_failed_bath_holds_all_and_names_four_wearers_in_one_case(floor: Floor) -> None:
    """E06, H06, H07: 23 held, 5 of them were ready, one exposure case with the four uses."""
    names = a_failed_bath_with_four_wearers(floor)
    play(floor, "+0 | anna | HYP-1 tested 49.9 | held L07 H06")
    failed, case = floor.answers[-1].reasons
    assert (failed.facts["held"], failed.facts["ready"]) == (23, 5)
    assert case.facts == {"case": "HYP-1-26", "uses": 4, "wearers": 4, "out": 0}
    opened = case_of(floor, "HYP-1-26")
    assert [(use.item, use.wearer, use.cycle, use.place) for use in opened.uses] == [
        (name, f"W-{number}", 1, "WARD-5") for number, name in enumerate(names[:4], start=1)
    ]
    assert all([hold.sort for hold in floor.item(name).holds.values()] == ["solution"] for name in names)


def test_a_second_cycle_in_another_bath_ends_the_exposure(floor: Floor) -> None:
    """H07: the wearer after a full valid cycle is not concerned; a wearer who still has it is."""
    a_bath(floor)
    a_bath(floor, "HYP-2")
    first, second = tubes(floor, 2)
    floor.bring(first, "ready", in_="HYP-1")
    worn_and_back(floor, first, "W-1")
    floor.bring(first, "ready", in_="HYP-2")
    issue(floor, first, "W-2")
    floor.bring(second, "ready", in_="HYP-1")
    issue(floor, second, None, "WARD-6")
    play(floor, "+0 | anna | HYP-1 tested 10 | held L07 H06")
    case = case_of(floor, str(floor.answers[-1].reasons[1].facts["case"]))
    assert [(use.item, use.wearer, use.until_us is None) for use in case.uses] == [
        (first, "W-1", False),
        (second, "not-identified", True),
    ]


def test_who_wore_it_between_and_who_after_with_the_cycles_between(floor: Floor) -> None:
    """5.4, day 33: times, places, pseudonyms, and whether a full valid cycle lies between."""
    a_bath(floor)
    (name,) = tubes(floor, 1)
    for wearer in ("W-1", "W-2"):
        floor.bring(name, "ready", in_="HYP-1")
        worn_and_back(floor, name, wearer)
    worn_and_back(floor, name, "W-3")
    floor.bring(name, "ready", in_="HYP-1")
    issue(floor, name, "W-4")
    all_of_it = floor.department.lookback("item", name)
    assert [(use.wearer, use.reprocessed, use.cycle) for use in all_of_it.uses] == [
        ("W-1", True, 1),
        ("W-2", True, 2),
        ("W-3", False, 3),
        ("W-4", True, 4),
    ]
    second = all_of_it.uses[1]
    window = floor.department.lookback("item", name, from_us=second.from_us + 1, until_us=second.from_us + SECOND_US)
    assert [use.wearer for use in window.uses] == ["W-2", "W-3"]
    assert [one.valid for one in second.between] == [True]
    told = "\n".join(tracing.lines(window, say.local_in("Europe/London")))
    assert "worn by W-2" in told
    assert "between: NO full cycle on record" in told


def test_a_cycle_that_a_case_names_is_not_called_valid(floor: Floor) -> None:
    a_bath(floor)
    (name,) = tubes(floor, 1)
    for wearer in ("W-1", "W-2"):
        floor.bring(name, "ready", in_="HYP-1")
        worn_and_back(floor, name, wearer)
    play(floor, "+0 | anna | HYP-1 tested 10 | held L07 H06")
    found = floor.department.lookback("item", name)
    assert [(use.wearer, use.reprocessed) for use in found.uses] == [("W-1", True), ("W-2", False)]
    told = "\n".join(tracing.lines(found, say.local_in("UTC")))
    assert "IN DOUBT, an exposure case names it" in told


def test_a_bath_is_looked_back_both_ways_now_and_as_of_then(floor: Floor) -> None:
    """H03, H07, 9.4: what touched it, who wore it, and how that stood at a past instant."""
    names = a_failed_bath_with_four_wearers(floor)
    before_us = floor.clock.now().wall_us
    floor.clock.push(60)
    play(floor, "+0 | anna | HYP-1 tested 49.9 | held L07 H06")
    now = floor.department.lookback("solution", "HYP-1")
    assert len(now.touched) == 23
    assert now.wearers == ("W-1", "W-2", "W-3", "W-4")
    assert {one.holds for one in now.touched} == {("solution",)}
    then = floor.department.lookback("solution", "HYP-1", as_of_us=before_us)
    assert [one.holds for one in then.touched] == [()] * 23
    assert sorted(one.stage for one in then.touched).count("ready") == 5
    assert floor.department.as_of(names[6], before_us).stage == "ready"
    assert floor.item(names[6]).stage == "used"
    early = floor.department.lookback("solution", "HYP-1", as_of_us=OPENING_US)
    assert (early.touched, early.uses) == ((), ())
    with pytest.raises(UnknownSubjectError, match="not on record then"):
        floor.department.as_of(names[0], OPENING_US - DAY_S * SECOND_US)


def test_as_of_every_instant_is_what_was_on_record_then(floor: Floor) -> None:
    """9.4: after each entry of the record, asked at its own instant, the item stands as it stood."""
    floor.bring("BLW-2", "ready")
    stood = []
    for step in ("take-apart", "clean"):
        floor.clock.push(10)
        floor.ask(asking.Contaminate("BLW-2", "used"))
        stood.append((floor.clock.now().wall_us, floor.item("BLW-2")))
        floor.clock.push(10)
        floor.bring("BLW-2", step)
        floor.clock.push(10)
        stood.append((floor.clock.now().wall_us, floor.item("BLW-2")))
        floor.clock.push(10)
    for at_us, standing in stood:
        assert floor.department.as_of("BLW-2", at_us) == standing


def test_the_short_fold_tells_what_the_whole_fold_tells(floor: Floor) -> None:
    """9.4: stage, cycle, holds, custody, assembly and site of every item, after every entry of the record."""
    a_failed_bath_with_four_wearers(floor)
    play(floor, "+0 | anna | HYP-1 tested 49.9 | held L07 H06")
    issue(floor, "KIT-7", "W-1")
    floor.ask(asking.Contaminate("TUB-2", "dropped"))
    floor.ask(asking.Undo("TUB-2"))
    with looking(floor.department.ledger) as read:
        last = read.touches.last_feed_at(2**62)
        for item in ("TUB-100", "TUB-105", "KIT-7", "BLW-7", "TUB-2"):
            for feed in range(1, last + 1, 3):
                assert told_of(brief_at(read, item, feed)) == told_of(standing_at(read, item, feed)), (item, feed)


def told_of(item: Standing) -> tuple[object, ...]:
    """Returns what a look-back tells of a standing."""
    return (item.stage, item.cycle, item.holds, item.custody, item.assembly, item.site)


def test_a_wearer_is_looked_back_to_everything_worn_with_its_parts(floor: Floor) -> None:
    """H07: co-use through the kit."""
    issue(floor, "KIT-7", "W-1")
    found = floor.department.lookback("wearer", "W-1")
    assert [one.item for one in found.touched] == ["KIT-7"]
    assert {"KIT-7", "BLW-7", "TUB-7", "FLT-7", "FLT-8"} <= set(found.items)
    assert {(use.whole, use.place) for use in found.uses} == {("KIT-7", "WARD-5")}
    blower = floor.department.lookback("item", "BLW-7")
    assert [(use.whole, use.wearer, use.first) for use in blower.uses] == [("KIT-7", "W-1", True)]


def test_a_person_and_a_list_are_looked_back(floor: Floor) -> None:
    issue(floor, "KIT-7", "W-1")
    assert "KIT-7" in floor.department.lookback("person", "DAN").items
    assert floor.department.lookback("person", "DAN").wearers == ("W-1",)
    assert floor.department.lookback("instrument", "FI-1").wearers == ("W-1",)
    assert floor.department.recall_preview("items", "a list", items=["BLW-7", "NO-1"]) == ("BLW-7",)


def test_what_cannot_be_asked_is_said(floor: Floor) -> None:
    with pytest.raises(UnknownSubjectError):
        floor.department.lookback("item", "BLW-999")
    with pytest.raises(UnknownSubjectError, match="There is no case"):
        floor.department.lookback("case", "X-1")
    with pytest.raises(WrongUseError):
        floor.department.lookback("colour", "blue")


def test_the_graph_names_each_node_once_and_escapes_what_would_end_a_label(floor: Floor) -> None:
    """5.2 item 10: bath, item cycles, what was issued, wearers."""
    issue(floor, "KIT-7", 'W-"1"')
    text = mermaid(floor.department.lookback("instrument", "FI-1"), lambda _: "then")
    assert text.startswith("flowchart LR\n")
    assert text.count('"KIT-7"') == 1
    assert '"W-#quot;1#quot;"' in text
    assert "then to still out at WARD-5" in text
    nodes = [line.strip().split('"')[0] for line in text.splitlines() if "-->" not in line and '"' in line]
    assert len(nodes) == len(set(nodes))


def test_the_answer_as_json_names_instants_in_utc(floor: Floor) -> None:
    issue(floor, "KIT-7", "W-1")
    told = json.loads(tracing.as_json(floor.department.lookback("item", "BLW-7")))
    (use,) = told["uses"]
    assert (use["wearer"], use["whole"], use["from"], use["until"]) == ("W-1", "KIT-7", "2026-03-05T07:00:00Z", None)


def faulty(floor: Floor, name: str) -> Answer:
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    return office.enrol(Enrol(f"instrument:{name}", InstrumentFaulty(finding="sticks")))


def test_a_faulty_instrument_ranks_what_is_tested_again_and_names_who_relied_on_it(floor: Floor) -> None:
    """H08, day 14: out first, then ready, then the rest; uses since the last verification are a case."""
    floor.bring("BLW-2", "release")
    issue(floor, "KIT-7", "W-1")
    answer = faulty(floor, "FI-1")
    suspect, case = answer.reasons
    assert suspect.facts["items"] == ["BLW-7", "KIT-7", "BLW-3", "BLX-3", "BLW-2"]
    assert (case.key, case.facts["wearers"], case.facts["out"]) == ("case-opened", 1, 1)
    assert {use.item for use in case_of(floor, str(case.facts["case"])).uses} == {"BLW-7", "KIT-7"}


def test_uses_before_the_last_verification_are_not_in_the_case(floor: Floor) -> None:
    """H08: what it measured before it was last found good stands for those who wore it."""
    issue(floor, "KIT-7", "W-1")
    floor.clock.push(60)
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    good = InstrumentVerified(until_us=OPENING_US + 90 * DAY_S * SECOND_US, reference="rotameter 2")
    assert office.enrol(Enrol("instrument:FI-1", good)).accepted
    floor.clock.push(60)
    answer = faulty(floor, "FI-1")
    assert [one.key for one in answer.reasons] == ["results-suspect"]
