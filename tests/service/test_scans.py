"""Scans over HTTP: what was scanned, what the department said to it, and what comes next."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient

from reprocess.clock import StoryClock
from reprocess.definitions.read import digest_of, read_definition
from reprocess.department import found_department
from reprocess.engine.request import OpenLoad
from reprocess.rules.permissions import SCOPES
from reprocess.scan.code import BadgeTag, ItemTag, printed
from reprocess.scan.command import COMMANDS, tag_of
from reprocess.service import who
from reprocess.service.app import create_app
from reprocess.shipped import File
from tests.engine.floor import BADGES
from tests.engine.loading import a_washer, bowls
from tests.ledger import small
from tests.service.conftest import anna
from tests.service.hall import Hall, floor, hall, person, prepared  # noqa: F401 - fixtures
from tests.service.staff import PIN, token

HOSTILE = (
    "",
    "\x00",
    "\x1d",
    "é",
    "I:BLW-1.X",
    "C:NOPE",
    "]C0",
    "' OR 1=1 --",
    "../../etc/passwd",
    "<script>alert(1)</script>",
    "\u202eBLW-1",
    "A" * 200,
    "I:" + "A" * 200,
    "]d2" + "\x1d" * 50,
    "0107612345000008",
)
"""What no tag of ours is; the last has the length of a GTIN and a wrong check digit."""


def code(command: str) -> str:
    """Returns what is printed for a command of the sheet."""
    return printed(tag_of(COMMANDS[command]))


def verdicts(told: dict[str, Any]) -> list[tuple[str, str]]:
    """Returns (item, verdict) of every outcome."""
    return [(one["subject"].partition(":")[2], one["verdict"]) for one in told["outcomes"]]


def test_an_item_alone_is_told_what_may_come_next(hall: Hall) -> None:  # noqa: F811
    """Each command is decided as if it were scanned; nothing is written."""
    before = hall.floor.department.last_feed()
    told = hall.scan(printed(ItemTag("TUB-5", checked=True)))
    assert (told["verdict"], told["ask"]["what"], told["outcomes"]) == (None, "command", [])
    (item,) = told["next"]
    assert (item["item"], item["next_steps"]) == ("TUB-5", ["disinfect"])
    states = {one["command"]: one["state"] for one in item["commands"]}
    assert (states["START-CONTACT"], states["CLEAN-DONE"]) == ("asks", "refused")
    assert hall.floor.department.last_feed() == before


def test_items_then_a_command_and_a_command_then_items_are_one(hall: Hall) -> None:  # noqa: F811
    first = hall.scan("BLW-1", "TUB-1", code("CLEAN-DONE"))
    second = hall.scan(code("CLEAN-DONE"), "BLW-1", "TUB-1", "BLW-1")
    assert verdicts(first) == verdicts(second) == [("BLW-1", "refused"), ("TUB-1", "refused")]
    assert first["outcomes"][0]["answer"]["reasons"][0]["key"] == "out-of-order"


def test_each_item_is_judged_on_its_own_in_one_transaction(hall: Hall) -> None:  # noqa: F811
    told = hall.scan("BLW-2", "BLW-1", "TUB-5", "QAW-1", code("START-CONTACT"))
    assert verdicts(told) == [("BLW-2", "accepted"), ("BLW-1", "refused"), ("TUB-5", "accepted")]
    assert (told["verdict"], told["command"]) == ("refused", "START-CONTACT")
    assert [one["clock"]["left_s"] if one["clock"] else None for one in told["next"]] == [180, None, 180]
    hall.floor.clock.push(60)
    rewet = hall.scan(code("RE-WET"), "BLW-2", "TUB-5")
    assert [one["answer"]["verdict"] for one in rewet["outcomes"]] == ["accepted", "accepted"]
    (first, *_), (last, *_) = (hall.floor.entries(f"item:{item}")[::-1] for item in ("BLW-2", "TUB-5"))
    assert first.envelope.moment.wall_us == last.envelope.moment.wall_us
    assert {first.envelope.key, last.envelope.key} == {"hall-2/1", "hall-2/2"}


def test_a_scan_repeated_under_its_key_is_answered_again_and_written_once(hall: Hall) -> None:  # noqa: F811
    first = hall.scan("BLW-2", "QAW-1", code("START-CONTACT"), key="twice")
    before = hall.floor.department.last_feed()
    again = hall.scan("BLW-2", "QAW-1", code("START-CONTACT"), key="twice")
    assert again["outcomes"][0]["answer"] == first["outcomes"][0]["answer"] | {"repeated": True}
    assert hall.floor.department.last_feed() == before
    other = hall.post("/scans", {"codes": ["TUB-5", "QAW-1", code("START-CONTACT")]}, key="twice")
    assert (other.status_code, other.json()["type"]) == (422, "/v1/problems/key-reused")


def test_a_command_asks_for_what_it_lacks_before_anything_is_asked(hall: Hall) -> None:  # noqa: F811
    before = hall.floor.department.last_feed()
    wanted = {
        (code("START-CONTACT"),): "item",
        (code("START-CONTACT"), "BLW-2"): "solution",
        ("BLW-1", code("FAIL")): "defect",
        ("BLW-1", "C:DEFECT-SOIL"): "command",
        (code("BATH-TEST"), "S:QAW-1"): "form",
        (code("LOAD-ADD"), "BLW-1"): "load",
        (code("HELP"),): "help",
        ("S:QAW-1",): "command",
        ("B:B-BEN",): "item",
    }
    told = {codes: hall.scan(*codes) for codes in wanted}
    assert {codes: one["ask"]["what"] for codes, one in told.items()} == wanted
    assert hall.floor.department.last_feed() == before


def test_a_failure_names_its_defects(hall: Hall) -> None:  # noqa: F811
    told = hall.scan("BLW-2", code("FAIL"), "C:DEFECT-BLW-CRACK", "C:DEFECT-SOIL")
    assert told["outcomes"][0]["answer"]["found"] == ["BLW-CRACK", "SOIL"]
    assert told["verdict"] == "held"


def test_a_hostile_string_is_refused_with_a_reason(hall: Hall) -> None:  # noqa: F811
    """I17: whatever was scanned, the answer is a sentence; nothing but printable ASCII is shown again."""
    before = hall.floor.department.last_feed()
    for hostile in HOSTILE:
        told = hall.scan("BLW-2", hostile, code("CLEAN-DONE"))
        assert (told["verdict"], told["outcomes"]) == ("refused", []), hostile
        shown = told["codes"][1]
        assert shown["sort"] == "unreadable", hostile
        assert shown["reason"]
        assert len(shown["seen"]) <= 24
        assert shown["seen"].isascii()
        assert not shown["seen"] or shown["seen"].isprintable()
    assert hall.floor.department.last_feed() == before


def test_too_much_at_once_is_a_problem(hall: Hall) -> None:  # noqa: F811
    for codes in ([], ["A" * 257], ["BLW-1"] * 101, [7], "BLW-1"):
        told = hall.post("/scans", {"codes": codes})
        assert (told.status_code, told.json()["type"]) == (422, "/v1/problems/invalid"), codes


def test_half_a_character_is_a_problem_and_no_fault(hall: Hall) -> None:  # noqa: F811
    """RFC 8259, 8.2: a lone surrogate is JSON that no text can hold."""
    headers = {"Idempotency-Key": "half", "Content-Type": "application/json"}
    told = hall.client.post("/v1/scans", content=rb'{"codes": ["\ud800"]}', headers=headers)
    assert told.status_code in {200, 400, 422}, told.text
    assert told.json().get("verdict", "refused") == "refused"


def test_a_fact_goes_on_beside_a_code_that_cannot_be_read(hall: Hall) -> None:  # noqa: F811
    told = hall.scan("BLW-2", "é", code("HOLD"))
    assert verdicts(told) == [("BLW-2", "held")]
    assert hall.floor.item("BLW-2").held


def test_what_is_not_on_record_is_told_and_facts_about_it_are_kept(hall: Hall) -> None:  # noqa: F811
    """P05: an unknown item holds nothing up; a fact about it stands in the site's stream as noted."""
    alone = hall.scan("I:NO-77")
    assert (alone["verdict"], alone["codes"][0]["sort"]) == ("refused", "unknown")
    step = hall.scan("I:NO-77", code("RINSED"))
    assert step["outcomes"][0]["answer"]["reasons"][0]["rule"] == "P05"
    assert hall.scan("I:NO-77", code("HOLD"))["verdict"] == "accepted"
    assert hall.floor.entries("site:LMG")[-1].kind == "fact-noted"


def test_two_commands_in_one_scan_mean_nothing(hall: Hall) -> None:  # noqa: F811
    told = hall.scan("BLW-1", code("CLEAN-DONE"), code("DRY"))
    assert (told["verdict"], told["outcomes"]) == ("refused", [])


def test_a_load_takes_its_items_together(hall: Hall) -> None:  # noqa: F811
    a_washer(hall.floor)
    names = bowls(hall.floor, 2)
    assert hall.floor.ask(OpenLoad("LD-1", "WD-1", "P90")).accepted
    told = hall.scan("LD-1", *names, code("LOAD-ADD"))
    assert (told["verdict"], told["outcomes"][0]["subject"]) == ("accepted", "load:LD-1")
    assert hall.scan(code("LOAD-START"), "LD-1")["verdict"] == "accepted"
    hall.floor.clock.push(2400)
    ended = hall.scan("LD-1", code("LOAD-END"))
    assert ended["outcomes"][0]["answer"]["subject"] == "load:LD-1"


def test_another_badge_is_the_second_person_who_gives_a_pin(hall: Hall) -> None:  # noqa: F811
    """The badge is shown nowhere in the answer; without the PIN nobody is believed."""
    badge = printed(BadgeTag(BADGES["ben"], checked=True))
    alone = hall.post("/scans", {"codes": ["BLW-2", badge, "QAW-1", code("START-CONTACT")]})
    assert alone.status_code == 401
    told = hall.scan("BLW-2", badge, "QAW-1", code("START-CONTACT"), second_pin=PIN)
    assert told["verdict"] == "accepted"
    assert BADGES["ben"] not in str(told)
    assert hall.floor.entries("item:BLW-2")[-1].envelope.second == "BEN"
    three = hall.post("/scans", {"codes": ["BLW-2", badge, "B:B-DAN", code("UNDO")]})
    assert (three.status_code, three.json()["type"]) == (422, "/v1/problems/wrong-use")


def test_a_token_needs_its_scope_and_names_a_badge_only_with_the_claim(hall: Hall) -> None:  # noqa: F811
    codes = ["BLW-2", "QAW-1", code("START-CONTACT")]
    hall.caller = token("items:read")
    assert hall.post("/scans", {"codes": codes}).status_code == 422
    barred = hall.scan(*codes, station="BENCH")
    assert (verdicts(barred), barred["outcomes"][0]["reasons"][0]["rule"]) == ([("BLW-2", "refused")], "D10")
    hall.caller = token("items:read", "scans:write", "badges:claim")
    told = hall.scan(*codes, "B:B-ANNA", station="BENCH")
    assert told["verdict"] == "accepted"
    envelope = hall.floor.entries("item:BLW-2")[-1].envelope
    assert (envelope.actor, envelope.identity) == ("ANNA", "claimed:T-1")


def test_an_item_of_another_site_is_not_on_record_for_a_limited_token(hall: Hall) -> None:  # noqa: F811
    hall.caller = token("items:read", "scans:write", sites=("SAL",))
    told = hall.scan("BLW-1", code("HOLD"), station="SALTGATE")
    assert (told["codes"][0]["sort"], told["outcomes"]) == ("unknown", [])
    assert hall.post("/scans", {"codes": ["BLW-8"], "station": "NOWHERE"}).status_code == 404


def test_whose_role_does_not_open_it_is_told_who_may(hall: Hall) -> None:  # noqa: F811
    hall.caller = replace(person("cora"), roles=frozenset({"auditor"}))
    told = hall.scan("BLW-2", "QAW-1", code("START-CONTACT"))
    assert told["outcomes"][0]["reasons"][0]["rule"] == "A08"


GAUGE = """\
workflow: gauge
title: Gauge that is ready once it is tested
item_kind: gauge
item_class: filter
follows: An invented maker's instructions.
example: true
stages: [used, cleaned, inspected, ready]
steps:
  - {step: clean, title: Wipe off all soil, reaches: cleaned}
  - {step: inspect, title: Look at it, after: [clean], reaches: inspected}
  - {step: functional-test, title: Test it, after: [inspect], reaches: ready}
"""


def test_one_command_that_releases_the_second_item_is_signed_whatever_the_first_one_is(tmp_path: Path) -> None:
    """A08: `Test pass` is a step of the shell and releases the gauge; a scan has no PIN, a token signs nothing."""
    gauge = File(Path("gauge.yaml"), GAUGE, digest_of(GAUGE), read_definition(GAUGE, name="gauge"))
    clock = StoryClock(small.START_US)
    founding = small.DEPARTMENT + '  - {item: G-1, workflow: gauge, model: M-1, site: LMG, in_service: "2026-01-01"}\n'
    shipped = [*small.files(), gauge]
    with found_department(tmp_path / "small.db", founding, clock=clock, shipped=shipped) as department:
        app = create_app(department)
        with TestClient(app, base_url="https://testserver") as client:
            for caller, status in ((anna(), 401), (token(*SCOPES), 200)):
                app.dependency_overrides[who.caller] = lambda caller=caller: caller
                before = department.last_feed()
                body = {"codes": ["S-1", "G-1", code("TEST-PASS")], "station": "LMG-1"}
                body["codes"] += ["B:B-A"] * (caller.kind == "token")  # type: ignore[operator]
                told = client.post("/v1/scans", json=body, headers={"Idempotency-Key": f"pass-{status}"})
                assert told.status_code == status, told.text
                asked = told.json().get("outcomes", [])
                assert all(one["verdict"] == "refused" and one["answer"] is None for one in asked)
                assert department.last_feed() == before
