"""Wearers and those who keep them, in the department of the engine's tests. Every name is invented."""

from __future__ import annotations

from reprocess.department import Bench
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Enrol
from reprocess.engine.request import Request
from reprocess.gathering import bench
from reprocess.ledger.append import transaction
from reprocess.ledger.names import Name
from reprocess.record.entry import Draft
from reprocess.record.words import BadgeGiven, Body, ItemIssued, ItemReturned, PersonRegistered
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.station import envelope_of
from reprocess.terms import DAY_S, SECOND_US, subject_of
from tests.engine.floor import BADGES, OPENING_US, Floor

YEAR_US = 365 * DAY_S * SECOND_US
NEXT_YEAR_US = OPENING_US + YEAR_US
ILSE = Name("Ilse Varga", "W-7041", "ilse.varga@larkmoor.example")
TOMAS = Name("Tomas Quine", "W-7042", "ward 4, extension 118")
PRIVATE = ("Ilse", "Varga", "W-7041", "ilse.varga", "Tomas", "Quine", "W-7042", "extension 118")
"""What must stand nowhere in the record."""


def with_health(floor: Floor) -> Floor:
    """Returns the department with Ola, of occupational health, and Ros, of risk management."""
    for person, name, role in (("OLA", "Ola Penn", "occupational-health"), ("ROS", "Ros Dean", "risk-management")):
        floor.clock.push(1)
        cora = at(floor, "cora")
        assert cora.enrol(Enrol(f"person:{person}", PersonRegistered(name=name, sites=(), roles=(role,)))).accepted
        assert cora.enrol(Enrol(f"person:{person}", BadgeGiven(badge=f"B-{person}"))).accepted
    return floor


def at(floor: Floor, who: str | None) -> Bench:
    """Returns the bench with somebody's badge."""
    badge = None if who is None else BADGES.get(who, f"B-{who.upper()}")
    return floor.department.station("BENCH", badge=badge)


def asked(floor: Floor, who: str | None, request: Request) -> Answer:
    """Returns the answer to a request, a second after whatever was before."""
    floor.clock.push(1)
    return at(floor, who).ask(request)


def registered(floor: Floor, name: Name = ILSE, unit: str = "ED") -> str:
    """Returns the pseudonym of a new wearer."""
    floor.clock.push(1)
    answer = at(floor, "hana").register(name, unit)
    assert answer.accepted, answer.reasons
    return subject_of(answer.subject)


def qualified(floor: Floor, wearer: str, *models: str, until_us: int = NEXT_YEAR_US) -> str:
    """Returns a wearer who is trained, cleared and fit-tested until then."""
    assert asked(floor, "hana", asking.TrainWearer(wearer, until_us)).accepted
    assert asked(floor, "ola", asking.ClearWearer(wearer, cleared=True, until_us=until_us)).accepted
    for model in models:
        assert asked(floor, "ola", asking.FitTestWearer(wearer, model, fits=True, until_us=until_us)).accepted
    return wearer


def write(floor: Floor, stream: str, *bodies: Body) -> None:
    """Writes entries past the desk, with the envelope of Anna's bench."""
    floor.clock.push(1)
    with transaction(floor.department.ledger) as work:
        here = bench(work, floor.clock.now(), "BENCH", BADGES["anna"], None)
        ids = iter([floor.clock.new_id() for _ in bodies])
        drafts = [Draft(stream, body) for body in bodies]
        prepared = work.prepare(drafts, envelope_of(here, floor.clock.new_id(), "d"), ids)
        work.write(prepared, as_text(Answer(Verdict.ACCEPTED, stream, "write")))


def out(floor: Floor, wearer: str, item: str, *, back: bool = False) -> None:
    """Writes that an item was issued, and that it came back an hour later where asked."""
    issued = ItemIssued(cycle=floor.item(item).cycle, wearer=wearer, place="ED", purpose="care")
    write(floor, f"item:{item}", issued)
    if back:
        floor.clock.push(3600)
        write(floor, f"item:{item}", ItemReturned(place="ED", wearer=wearer))


def everything(floor: Floor) -> str:
    """Returns all that the database holds beside the table of names, as text."""
    with floor.department.ledger.reading() as cursor:
        tables = [row[0] for row in cursor.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()]
        rows = [
            str(row)
            for table in tables
            if table != "wearer_name"
            for row in cursor.execute(f"SELECT * FROM {table}").fetchall()  # noqa: S608
        ]
    return "\n".join(rows)
