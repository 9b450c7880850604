"""The people of the small department as they sign in; PINs are invented and pass the list of weak ones."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.department import Department
from reprocess.engine.enrolling import Enrol
from reprocess.ledger.append import looking, transaction
from reprocess.ledger.credentials import Pin
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.signing_in.pins import Pins

CHEAP_KIB = 8
"""The least memory that argon2 takes with one lane (RFC 9106, section 3.1: 8 p)."""
STATION, OTHER = "LMG-1", "LMG-2"


@dataclass(frozen=True)
class Somebody:
    """Is a person with a badge and a PIN."""

    person: str
    badge: str
    pin: str


ANNA = Somebody("P-A", "B-A", "60418275")
BEN = Somebody("P-B", "B-B", "93572048")
WRONG = "19283746"


def give_pin(department: Department, pins: Pins, who: Somebody) -> None:
    """Keeps a PIN as its own person would have chosen it."""
    with transaction(department.ledger) as work:
        kept = Pin(pins.kept(who.pin), department.clock.now().wall_us, must_change=False)
        work.credentials.keep_pin(who.person, kept)


def enrolled(department: Department, subject: str, body: words.Body, *, badge: str = BEN.badge) -> None:
    """Writes one fact about the department."""
    answer = department.station(STATION, badge=badge).enrol(Enrol(subject, body))
    assert answer.accepted, answer


def second_station(department: Department) -> None:
    """Opens a second station of the same site."""
    enrolled(department, f"station:{OTHER}", words.StationOpened(title="Desk", site="LMG", side="any"))


def kinds(department: Department, stream: str) -> list[str]:
    """Returns the kinds of all entries of a stream, oldest first."""
    return [one.kind for one in entries(department, stream)]


def entries(department: Department, stream: str) -> list[Entry]:
    """Returns all entries of a stream, oldest first."""
    with looking(department.ledger) as read:
        return read.entries_of(stream)
