"""What a reminder says: short, one sentence, no gap; and how it looks on a terminal and as JSON."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from reprocess import timetable
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.loads import Load, LoadState
from reprocess.record.lots import Lot
from reprocess.record.moment import Moment
from reprocess.record.people import Competency, Person
from reprocess.record.places import Instrument, Published, Site
from reprocess.record.recalls import Recall
from reprocess.record.solutions import Solution
from reprocess.record.standing import Change, Evidence, Standing, Wear
from reprocess.record.stores import Place, Seen
from reprocess.reminders import channels
from reprocess.reminders.rounds import Rang
from reprocess.reminders.wording import SAYINGS, lateness, sentence
from reprocess.terms import DAY_S, SECOND_US, Stage
from reprocess.timetable import (
    Due,
    for_file,
    for_instrument,
    for_item,
    for_load,
    for_lot,
    for_person,
    for_place,
    for_recall,
    for_site,
    for_solution,
)
from reprocess.timetable.chains import CHAINS, Chain, chain_of
from reprocess.timetable.place import Stock
from tests.reminders.ward import CONTACT, Ward
from tests.timetable.conftest import shipped
from tests.timetable.moments import at, reading

NOON_US = at("2026-03-05T12:00+00:00")
ZONE = "Europe/London"
HOLD = words.HoldPlaced(
    hold="defect-1",
    sort="defect",
    rule="H01",
    cause="crack",
    owner="clinical-engineer",
    lift_roles=("supervisor",),
    lift_two_people=False,
    lift_requires="a repair",
)

LOAD = Load("LD-1", "LMG", "WD-1", "P90", "93", 2400, items={"BWL-1": 1}, started=reading(NOON_US, 0), number=3)


def shown(at_us: int) -> str:
    return f"{at_us}"


def every_reminder() -> list[Due]:
    """One of each reminder that the timetable can make."""
    blower, respirator, label = shipped("blower"), shipped("respirator"), shipped("agents/opa-055")
    battery = shipped("battery-pack")
    assert isinstance(battery, Workflow)
    assert isinstance(blower, Workflow)
    assert isinstance(respirator, Workflow)
    assert isinstance(label, Agent)
    ready = Standing(item="RSP-1", site="LMG", number=1, stage=Stage.READY, since_us=NOON_US, ready_until_us=NOON_US)
    bath = Solution("LMG-B2", form="bath", site="LMG", made_us=NOON_US, number=1)
    bath = replace(bath, expires_us=NOON_US + DAY_S * SECOND_US, lot_expiry_us=NOON_US + 2 * DAY_S * SECOND_US)
    one = Competency("clean", (), NOON_US, NOON_US + 90 * DAY_S * SECOND_US, "P-02")
    person = Person("P-07", "Quillon Dray", competencies=(one,), active=True, number=1)
    hot = {"temp_c": Seen("31", NOON_US, good=False, limit="5..30", out_us=NOON_US)}
    store = Place("ST-1", "Store", "store", "clean", "LMG", par=1, seen=hot, restock="opened", restock_us=NOON_US)
    charged = Evidence(2, "P-07", None, Moment(NOON_US, 0, None, "boot-1", "bench-1"), "measured")
    return [
        *for_item(Standing(item="BLW-1", site="LMG", number=1), blower, ZONE),
        *for_item(ready, respirator, ZONE),
        *for_item(
            replace(ready, stage=Stage.IN_REPAIR, change=Change(1, "", None, None, None, reading(NOON_US, 0))),
            blower,
            ZONE,
        ),
        *for_item(replace(ready, wear=Wear(2, "P-07", signals=(("low-battery", 2, NOON_US, 1800),))), respirator, ZONE),
        *for_item(Standing(item="BAT-1", site="LMG", number=1, charge_cycles=50), battery, ZONE),
        *for_solution(bath, label, ZONE, NOON_US),
        *for_recall(Recall("R-1", owner="supervisor", committed_us=NOON_US, number=2), "LMG"),
        *for_load(replace(LOAD, state=LoadState.RUNNING)),
        *for_load(replace(LOAD, state=LoadState.ENDED, ended=reading(NOON_US, 0), missing=("BWL-1",))),
        *for_load(replace(LOAD, state=LoadState.FAILED, failed_us=NOON_US, astray=("BWL-1",))),
        *for_person(person, "LMG", ZONE, NOON_US),
        *for_lot(Lot("LOT-7", "wipes", site="LMG", expiry_us=2 * NOON_US, left=1, reorder_at=1, deliveries=1), ()),
        *for_place(store, Stock(0, NOON_US), ZONE),
        *for_item(replace(ready, item="BAT-2", satisfied={"charge": charged}), battery, ZONE),
        *for_instrument(Instrument("FI-09", "flow-indicator", "LMG", NOON_US, number=1), ZONE),
        *for_site(Site("LMG", "Larkmoor General", ZONE, number=1, opened_us=NOON_US)),
        *for_file(Published("blower", "workflow", "d", number=2, approved_us=NOON_US), "workflow:x", "LMG", ZONE),
    ]


def test_no_sentence_is_longer_than_twelve_words() -> None:
    long = {say: one for say, one in SAYINGS.items() if len(one.split()) > 12}
    assert long == {}


def test_every_reminder_has_its_chain() -> None:
    assert set(CHAINS) == set(SAYINGS)
    assert all(re.fullmatch("[A-Z][0-9]{2}", one.reminder) for one in CHAINS.values())
    for one in CHAINS.values():
        assert [level.after_s for level in one.levels] == sorted(level.after_s for level in one.levels)


def test_every_reminder_has_its_sentence_without_a_gap(ward: Ward) -> None:
    ward.write("item:BLW-0001", CONTACT)
    ward.write("item:BLW-0002", CONTACT.model_copy(update={"dwell": "drying", "film_s": None}), HOLD)
    with looking(ward.department.ledger) as read:
        stored = [row.due for row in read.dues.coming(2**62)]
    dues = stored + every_reminder()
    made = {str(due.words["say"]) for due in dues}
    assert made <= set(SAYINGS)
    # The others are made of standings that other tests of the timetable build: each stands in its source as a word.
    sources = "".join(path.read_text(encoding="utf-8") for path in Path(timetable.__file__).parent.glob("*.py"))
    assert [say for say in set(SAYINGS) - made if sources.count(f'"{say}"') < 2] == []
    for due in dues:
        told = sentence(due, shown)
        assert "?" not in told
        assert "{" not in told
        assert told.endswith(".")
        assert due.words["site"] == "LMG"


def test_a_reminder_of_another_release_still_says_something() -> None:
    due = Due("X01/item:A-1/1/x", "item:A-1", "X01", NOON_US, 0, {"say": "unheard-of"})
    assert sentence(due, shown) == "Look at item:A-1: something is due."
    assert chain_of(due) == Chain("", "technician")
    assert sentence(replace(due, words={"say": "shelf-over"}), shown) == "? was ready too long: process it again."


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (59, "59 s"),
        (60, "1 min 0 s"),
        (3599, "59 min 59 s"),
        (10_920, "3 h 2 min"),
        (100_000, "1 d 3 h"),
    ],
)
def test_lateness_is_said_in_its_two_largest_units(seconds: int, text: str) -> None:
    assert lateness(seconds) == text


def rang(late_s: int, to_role: str | None = None) -> Rang:
    due = Due(
        "L05/solution:LMG-B2/made-1-2/near",
        "solution:LMG-B2",
        "L05",
        NOON_US,
        3,
        {"say": "solution-near", "site": "SAL", "solution": "LMG-B2", "at_us": NOON_US + 7200 * SECOND_US},
    )
    return Rang(due, late_s, to_role, Site("SAL", zone="America/Halifax"), NOON_US + late_s * SECOND_US)


def test_a_line_says_when_how_grave_about_what_and_what_to_do() -> None:
    assert channels.line(rang(0)) == (
        "Thu 05 Mar 08:00:00-0400  AHEAD  LMG-B2  LMG-B2 expires Thu 05 Mar 10:00:00-0400: make another ready.  [L05]"
    )


def test_a_late_line_says_how_late() -> None:
    assert channels.line(rang(59)).endswith("[L05]")
    assert channels.line(rang(10_920)).endswith("[L05]  LATE by 3 h 2 min")


def test_an_escalated_line_says_to_whom_and_how_late_it_was_escalated() -> None:
    line = channels.line(rang(0, "supervisor"))
    assert "  TO SUPERVISOR  " in line
    assert line.endswith("nobody acknowledged it")
    assert channels.line(rang(10_920, "supervisor")).endswith("nobody acknowledged it  LATE by 3 h 2 min")


def test_channels_write_one_line_a_reminder() -> None:
    out = io.StringIO()
    assert channels.terminal(lambda text: print(text, file=out))(rang(0))
    assert channels.json_lines(lambda text: print(text, file=out))(rang(61))
    first, second = out.getvalue().splitlines()
    assert first == channels.line(rang(0))
    fields = json.loads(second)
    assert (fields["rule"], fields["late"], fields["due"]) == ("L05", True, "2026-03-05T12:00:00Z")
