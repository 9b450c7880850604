"""What somebody might try over HTTP that the same evidence at a bench would not allow, or that would be no truth."""

from __future__ import annotations

from typing import Any

import pytest

from reprocess.definitions.model import Step
from reprocess.engine import request as asking
from reprocess.record.entry import Entry
from reprocess.scan.code import printed
from reprocess.scan.command import COMMANDS, tag_of
from reprocess.service import scanning
from reprocess.service.scanning import Wanted
from reprocess.terms import SECOND_US, StreamKind, as_datetime, as_text, stream
from tests.engine.floor import LATER_US, good_checks, good_counts
from tests.engine.wearing_people import out
from tests.service.hall import Hall, floor, hall, prepared  # noqa: F401 - fixtures
from tests.service.staff import PIN

BEN: dict[str, Any] = {"second_badge": "B-BEN", "second_pin": PIN}


def code(name: str) -> str:
    """Returns the string of a command of the sheet."""
    return printed(tag_of(COMMANDS[name]))


def step_of(hall: Hall, item: str, name: str) -> Step:  # noqa: F811
    """Returns a step of an item's workflow."""
    found = hall.floor.workflow(item).step_named(name)
    assert found is not None
    return found


@pytest.mark.parametrize("member", ["done_by", "done_with"])
def test_nobody_says_that_somebody_else_did_it(hall: Hall, member: str) -> None:  # noqa: F811
    """S01, D06: whoever cleaned could name another one as the doer, and then inspect the own work."""
    hall.sign_in("anna")
    hall.floor.ask(asking.Contaminate("BLW-3", "used"))
    hall.floor.clock.push(120)
    step = step_of(hall, "BLW-3", "take-apart")
    late: dict[str, Any] = {"occurred": as_text(hall.floor.clock.now().wall_us - SECOND_US), "paper": "P-7"}
    body = {"step": step.step, "checks": good_checks(step), "counts": good_counts(step), **BEN}
    forged = hall.post("/items/BLW-3/steps", {**body, "late": {**late, member: "GHOST"}})
    assert (forged.status_code, forged.json()["errors"][0]["pointer"]) == (422, f"/body/late/LateIn/{member}")
    assert hall.post("/items/BLW-3/steps", {**body, "late": late}).status_code == 200
    assert hall.floor.item("BLW-3").hands == {"ANNA": (step.step,), "BEN": (step.step,)}


@pytest.mark.parametrize("sample", [["0", "sNaN"], ["sNaN", "90"], ["0", "9_0"], ["0", "٩٠"], ["0", "9e1"]])
def test_a_trace_holds_numbers_that_are_written_out(hall: Hall, sample: list[str]) -> None:  # noqa: F811
    """M08, I13: what is none is refused with a reason, never a fault of the program."""
    hall.sign_in("anna")
    hall.floor.bring("TRY-1", "heat")
    hall.floor.ask(asking.StartDwell("TRY-1", "heat"))
    hall.floor.clock.push(700)
    told = hall.post("/items/TRY-1/dwells/ended", {"trace": [sample, ["60", "90"]]})
    assert (told.status_code, told.json()["answer"]["reasons"][0]["key"]) == (409, "trace-unreadable")


def test_whoever_comes_second_is_told_who_was_first_and_when(hall: Hall) -> None:  # noqa: F811
    """E16"""
    hall.floor.ask(asking.Contaminate("BLW-3", "used"))
    hall.floor.clock.push(60)
    step = step_of(hall, "BLW-3", "take-apart")
    body = {"step": step.step, "checks": good_checks(step), "counts": good_counts(step)}
    hall.sign_in("anna")
    assert hall.post("/items/BLW-3/steps", body).status_code == 200
    hall.floor.clock.push(3)
    hall.sign_in("ben")
    told = hall.post("/items/BLW-3/steps", {**body, "counts": {}}).json()
    assert (told["status"], told["type"]) == (409, "/v1/problems/outrun")
    assert told["detail"] == "take-apart is done already, by ANNA at 2026-03-05 07:01:00 +0000."


def test_what_is_held_is_told_as_held_whoever_was_first(hall: Hall) -> None:  # noqa: F811
    """G02: that somebody was faster is less than that nobody may use it."""
    hall.floor.ask(asking.PlaceHold("KIT-7", "defect", "cracked", "supervisor"))
    told = hall.post("/items/KIT-7/release", {"pin": PIN}).json()
    assert (told["status"], told["type"]) == (409, "/v1/problems/held")


@pytest.mark.parametrize(
    "other",
    [
        ["BLW-1", "TUB-1", "PLG-1", "HOLD"],
        ["BLW-1", "BLW-8", "PLG-1", "HOLD"],
        ["BLW-1", "HOLD"],
        ["HOLD", "BLW-1", "BLW-8"],
    ],
)
def test_the_key_of_another_scan_does_nothing(hall: Hall, other: list[str]) -> None:  # noqa: F811
    """I9: the answer says that nothing was recorded, and so it is, for every item of the other scan."""
    hall.scan("BLW-1", "BLW-8", code("HOLD"), key="twice")
    before = hall.floor.department.last_feed()
    codes = [code(one) if one in COMMANDS else one for one in other]
    told = hall.post("/scans", {"codes": codes}, key="twice")
    assert (told.status_code, told.json()["type"]) == (422, "/v1/problems/key-reused")
    assert hall.floor.department.last_feed() == before
    assert hall.floor.item("PLG-1").holds == {}


def test_two_solutions_in_one_scan_mean_none(hall: Hall) -> None:  # noqa: F811
    """H3: which of the two was used is known to nobody, so that a failure of either would miss the item."""
    before = hall.floor.department.last_feed()
    told = hall.scan("BLW-2", "QAW-1", "HPW-1", code("START-CONTACT"))
    assert (told["verdict"], told["outcomes"]) == ("refused", [])
    assert told["sentence"] == "Two solutions in one scan. Nothing was recorded. Scan one, then its items."
    assert hall.floor.department.last_feed() == before
    assert hall.scan("BLW-2", "QAW-1", "S:QAW-1", code("START-CONTACT"))["verdict"] == "accepted"
    assert hall.scan("BLW-2", "QAW-1", "HPW-1", code("HOLD"))["verdict"] == "held"


def test_every_request_of_a_scan_is_signed_that_must_be(hall: Hall, monkeypatch: pytest.MonkeyPatch) -> None:  # noqa: F811
    """D10: a release behind another request is a release; the scan brings no PIN for it."""
    step, release = asking.DoStep("BLW-1", "inspect"), asking.Release("KIT-7")
    both = ((stream_of("BLW-1"), step), (stream_of("KIT-7"), release))
    monkeypatch.setattr(scanning, "wanted", lambda *_: Wanted(COMMANDS["PASS"], both))
    hall.sign_in("dan")
    before = hall.floor.department.last_feed()
    told = hall.post("/scans", {"codes": ["BLW-1", "KIT-7", code("PASS")]})
    assert told.status_code == 401
    assert hall.floor.department.last_feed() == before


def stream_of(item: str) -> str:
    """Returns the stream of an item."""
    return stream(StreamKind.ITEM, item)


def last_of(hall: Hall, name: str) -> Entry:  # noqa: F811
    """Returns the latest entry of a stream."""
    return hall.floor.entries(name)[-1]


def test_the_instant_that_an_entry_shows_is_after_it(hall: Hall) -> None:  # noqa: F811
    """As-of and until, asked with an instant that was told to the second, miss nothing that was told with it."""
    hall.floor.clock.push(10.7)
    hall.floor.ask(asking.PlaceHold("TUB-3", "defect", "torn", "supervisor"))
    hall.floor.clock.push(5)
    (shown,) = [one["recorded"] for one in hall.get("/items/TUB-3/entries?limit=200").json()["entries"][-1:]]
    assert shown == "2026-03-05T07:00:10Z"
    then = hall.get("/items/TUB-3", params={"as_of": shown}).json()
    assert (list(then["holds"]) != [], then["as_of"]) == (True, shown)
    exactly = as_datetime(last_of(hall, "item:TUB-3").at_us - 1).isoformat()
    assert not hall.get("/items/TUB-3", params={"as_of": exactly}).json()["holds"]
    assert hall.get("/items/TUB-3", params={"as_of": "2026-03-05T07:00:16Z"}).status_code == 422


def test_a_look_back_until_the_second_that_was_shown_misses_nothing(hall: Hall) -> None:  # noqa: F811
    """H3: whatever touched a bath in the very second that is told counts."""
    hall.floor.clock.push(10.7)
    hall.floor.ask(asking.StartDwell("BLW-2", "disinfect", "QAW-1"))
    hall.floor.clock.push(60)
    asked = {"sort": "solution", "name": "QAW-1", "from": "2026-03-05T07:00:00Z"}
    (interval,) = hall.get("/lookbacks", params=asked).json()["intervals"]
    for limit in ("until", "as_of"):
        found = hall.get("/lookbacks", params={**asked, limit: interval["since"]}).json()
        assert found["items"] == ["BLW-2"], limit


def test_ready_at_a_place_is_what_lies_there(hall: Hall) -> None:  # noqa: F811
    """H6: neither what somebody has, nor the parts inside another one, can be taken."""
    hall.floor.ask(asking.PlaceHold("TUB-7", "administrative", "none", "supervisor"))
    usable = [one for one in hall.get("/items?limit=200").json()["items"] if one["usable"]]
    inside = [one for one in usable if one["assembly"] is not None]
    before = hall.get("/board").json()["ready"][""]
    assert inside
    assert before == len(usable) - len(inside)
    out(hall.floor, "W-1", "BLW-3")
    assert hall.get("/board").json()["ready"][""] == before - 1


def test_a_bath_is_not_kept_with_what_is_no_number(hall: Hall) -> None:  # noqa: F811
    """I4, M08"""
    made = {"solution": "OPA-1", "agent": "opa-055", "lot": "LOT-9", "lot_expiry": as_text(LATER_US)}
    for member in ("water_l", "temp_c"):
        told = hall.post("/solutions", {**made, member: "NaN"}).json()
        assert told["answer"]["reasons"][0]["key"] == "not-a-number", member


def test_who_signs_is_told_what_changed_by_its_name(hall: Hall) -> None:  # noqa: F811
    """I22"""
    hall.floor.bring("BLW-2", "release")
    hall.sign_in("dan")
    hall.floor.clock.push(60)
    checks = good_checks(step_of(hall, "BLW-2", "release"))
    told = hall.post("/items/BLW-2/release", {"pin": PIN, "checks": checks, "shown": "0" * 64}).json()
    assert (told["type"], told["detail"]) == ("/v1/problems/outrun", "BLW-2 changed since you looked.")
