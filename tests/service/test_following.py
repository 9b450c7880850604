"""What may come next over HTTP: a rehearsal says what the request itself is answered, and writes nothing."""

from __future__ import annotations

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine.request import StartDwell
from reprocess.errors import ReprocessError
from reprocess.rules.answer import Answer
from reprocess.service.rehearsing import ASKS, Action, Given, actions, rehearse
from reprocess.station import Call
from tests.ledger import small
from tests.ledger.day import DAY
from tests.service.hall import Hall, floor, hall, prepared  # noqa: F401 - fixtures
from tests.service.staff import SIGNED, token

GIVEN = Given(solution="W-1", configuration="one-port", members=("S-1",), place="ST-1")
ITEMS = ("S-1", "S-2", "S-3", "SET-1")
STATES = list(range(0, len(DAY), 3))
"""After which requests of the day everything is rehearsed."""


def _taken_back(department: Department, action: Action, badge: str) -> Answer | ReprocessError:
    """Returns what the real request is answered, on the path that writes; it is taken back at the end."""
    call = Call(action.request, "LMG-1", badge, None, department.clock.new_id())
    (outcome,) = department.desk.take_together([call], lambda _: False)
    return outcome


def _said(outcome: Answer | ReprocessError) -> object:
    if isinstance(outcome, ReprocessError):
        return outcome.code, outcome.sentence
    return outcome.verdict, outcome.reasons, outcome.warnings, outcome.stage, outcome.next_steps


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, object, object]]:
    """Returns (where, what the rehearsal said, what the request was answered) at every third state of the day."""
    clock, found = StoryClock(small.START_US), []
    with small.found(tmp_path_factory.mktemp("rehearsed") / "department.db", clock) as department:
        for number, asked in enumerate(DAY):
            clock.push(asked.after_s)
            asked.put(department)
            if number in STATES:
                found += [one for item in ITEMS for badge in ("B-A", "B-B") for one in _at(department, item, badge)]
    return found


def _at(department: Department, item: str, badge: str) -> list[tuple[str, object, object]]:
    part = department.part(item)
    assert part is not None
    found = actions(part, GIVEN, "ST-1")
    before = department.last_feed(), list(department.items())
    told = rehearse(department, found, "LMG-1", badge, None)
    assert (department.last_feed(), list(department.items())) == before
    said = []
    for one in told:
        own = ("wrong-use", one.fault) if one.answer is None else _said(one.answer)
        where = f"{item} {one.action.request.asked} at {part.standing.stage}"
        said.append((where, own, _said(_taken_back(department, one.action, badge))))
    return said


def test_a_rehearsal_agrees_with_the_request_at_every_state_of_a_day(played: list[tuple[str, object, object]]) -> None:
    wrong = [(where, own, real) for where, own, real in played if own != real]
    assert wrong == []
    assert len(played) > 300
    verdicts = {own[0] for _, own, _ in played if isinstance(own, tuple)}
    assert {"accepted", "refused", "held"} <= verdicts


def test_what_is_only_asked_for_is_never_a_rule_that_stands(hall: Hall) -> None:  # noqa: F811
    """`asks` means that whoever brings the readings may go on: the request with them is accepted."""
    told = hall.get("/items/TUB-1/next").json()
    states = {one["step"]: one["state"] for one in told["actions"]}
    assert states["take-apart"] in {"allowed", "asks"}
    assert (states["clean"], states["release"]) == ("refused", "refused")
    refused = next(one for one in told["actions"] if one["step"] == "clean")
    assert refused["reasons"][0]["rule"] == "P01"
    assert all(one["sentence"] and one["next_action"] for one in refused["reasons"])
    assert {"reading-missing", "check-missing"} <= ASKS


def test_the_path_and_body_told_are_those_of_the_request(hall: Hall) -> None:  # noqa: F811
    """Each answer over HTTP is the rehearsed one, item by item, as each goes on."""
    seen = set()
    for item in ("BLW-1", "BLW-2", "BLW-3", "TUB-1", "TUB-2", "HED-3", "KIT-1", "KIT-7", "GSK-1", "PRB-2", "BAT-3"):
        for number in range(3):
            told = hall.get(f"/items/{item}/next?solution=QAW-1&instrument=FI-1").json()
            plain = [one for one in told["actions"] if not one["asks"]["pin"] and one["fault"] is None]
            for one in plain[number : number + 1]:
                checks = {"checks": one["assumed"]} if one["assumed"] else {}
                response = hall.post(one["path"].removeprefix("/v1"), one["body"] | checks)
                answer = response.json() if response.status_code == 200 else response.json()["answer"]
                assert (answer["verdict"] == "accepted") == (one["state"] == "allowed"), (item, one, answer)
                if answer["verdict"] != "accepted":
                    assert [why["key"] for why in answer["reasons"]] == [why["key"] for why in one["reasons"]]
                seen.add(one["state"])
    assert seen >= {"allowed", "asks", "refused"}


def test_a_signed_request_agrees_too(hall: Hall) -> None:  # noqa: F811
    """A release is rehearsed without the PIN and asked with it."""
    hall.floor.bring("BLW-2", "release")
    hall.sign_in("dan")
    release = next(one for one in hall.get("/items/BLW-2/next").json()["actions"] if one["asked"] == "release")
    assert (release["state"], release["asks"]["pin"]) == ("allowed", True), release
    assert hall.post("/items/BLW-2/release", {"checks": release["assumed"]}).status_code == 401
    hall.floor.clock.push(60)
    assert hall.post("/items/BLW-2/release", {"checks": release["assumed"], **SIGNED}).status_code == 200
    issue = {one["asked"]: one["state"] for one in hall.get("/items/BLW-2/next").json()["actions"]}
    assert issue["release"] == "refused"


def test_a_clock_says_how_long_to_wait(hall: Hall) -> None:  # noqa: F811
    hall.floor.ask(StartDwell("BLW-2", "disinfect", "QAW-1"))
    ended = next(one for one in hall.get("/items/BLW-2/next").json()["actions"] if one["asked"] == "end-dwell")
    assert (ended["state"], ended["wait_s"], ended["reasons"][0]["rule"]) == ("refused", 180, "T01")
    asked = [one["asked"] for one in hall.get("/items/BLW-2/next").json()["actions"]]
    assert "rewet" in asked


def test_whoever_may_not_ask_is_told_so(hall: Hall) -> None:  # noqa: F811
    """A token that only reads may do nothing; a token needs a station, a session has its own."""
    hall.caller = token("items:read")
    missing = hall.get("/items/BLW-1/next")
    assert (missing.status_code, missing.json()["errors"][0]["pointer"]) == (422, "/station")
    told = hall.get("/items/BLW-1/next?station=BENCH").json()["actions"]
    assert {one["state"] for one in told} == {"refused"}
    assert {one["reasons"][0]["rule"] for one in told} == {"D10"}
    hall.sign_in("cora")
    other = hall.get("/items/BLW-1/next?station=SINK")
    assert (other.status_code, other.json()["type"]) == (403, "/v1/problems/not-allowed")
