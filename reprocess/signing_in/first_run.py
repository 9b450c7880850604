"""The first run: a code on the console, good once and for half an hour, lets in the first two administrators.

There is no first password that somebody could forget to change. Two people, so that whatever needs two can be done.
"""

from __future__ import annotations

import base64
import hmac
import secrets
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from reprocess.clock import Clock
from reprocess.errors import NotSignedInError, WrongUseError
from reprocess.gathering import offset_min, person_by_badge, state_as
from reprocess.ledger.append import Transaction, transaction
from reprocess.ledger.credentials import Pin
from reprocess.ledger.open import Ledger
from reprocess.record.entry import Draft, Envelope
from reprocess.record.people import Person
from reprocess.record.places import Site
from reprocess.record.words import BadgeGiven, PersonRegistered, PinSet
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.rules.permissions import SYSTEM
from reprocess.rules.privacy import PROGRAMME
from reprocess.signing_in.pins import Pins, must_be_good
from reprocess.signing_in.tokens import digest_of
from reprocess.terms import SECOND_US, StreamKind, stream

CODE_BYTES: Final = 16
"""128 bits."""
CODE_US: Final = 1_800 * SECOND_US
"""How long the code counts."""
ADMINISTRATORS: Final = 2
ROLES: Final = (PROGRAMME, SYSTEM)
"""What the first two are: one of them enrols the others; a PIN of their own choice keeps them apart."""
NO_CODE: Final = "This code does not count. The console shows a new one when the server starts."
_GROUP: Final = 5


@dataclass(frozen=True, slots=True)
class Administrator:
    """Is one of the first two: somebody on record already, or somebody who is registered by this.

    Attributes:
        person: the id.
        name: the printed name; it is not asked for of somebody on record.
        badge: the badge that is scanned at signing in.
        pin: the PIN of the person's own choice.
    """

    person: str
    name: str
    badge: str
    pin: str


def offer(ledger: Ledger, clock: Clock) -> str | None:
    """Returns a new code to show on the console, in groups of five; None where somebody has a PIN already."""
    code = base64.b32encode(secrets.token_bytes(CODE_BYTES)).decode().rstrip("=")
    with transaction(ledger) as work:
        if work.credentials.any_pin():
            work.credentials.drop_code()
            return None
        work.credentials.keep_code(digest_of(code), clock.now().wall_us + CODE_US)
    return "-".join(code[at : at + _GROUP] for at in range(0, len(code), _GROUP))


def begin(ledger: Ledger, clock: Clock, pins: Pins, code: str, first: tuple[Administrator, ...]) -> None:
    """Lets in the first two administrators; the code counts no more.

    Raises:
        NotSignedInError: the code is another one, ran out, or was used.
        WrongUseError: they are not two different people, or a PIN is easily guessed; the code still counts.
    """
    _must_be_two(first)
    with transaction(ledger) as work:
        _must_count(work, clock, code)
    kept = {one.person: pins.kept(one.pin) for one in first}
    with transaction(ledger) as work:
        _must_count(work, clock, code)
        now = clock.now()
        drafts = [draft for one in first for draft in _drafts(work, one)]
        for one in first:
            work.credentials.keep_pin(one.person, Pin(kept[one.person], now.wall_us, must_change=False))
        work.credentials.drop_code()
        sites = [one for one in work.states_of(StreamKind.SITE) if isinstance(one, Site)]
        envelope = Envelope(
            moment=now,
            offset_min=offset_min(sites[0].zone, now.wall_us) if sites else 0,
            actor=None,
            second=None,
            station=None,
            key=f"first-run-{clock.new_id()}",
            request="first-run",
            identity="first-run",
        )
        answer = Answer(Verdict.ACCEPTED, drafts[0].stream, "first-run", key=envelope.key)
        work.write(work.prepare(drafts, envelope, _ids(clock)), as_text(answer))


def _must_be_two(first: tuple[Administrator, ...]) -> None:
    if len({one.person for one in first}) != ADMINISTRATORS or len({one.badge for one in first}) != len(first):
        message = "The first administrators are two different people with a badge each."
        raise WrongUseError(message)
    if len({one.pin for one in first}) != len(first):
        message = "Each administrator chooses an own PIN."
        raise WrongUseError(message)
    for one in first:
        must_be_good(one.pin, [one.badge])


def _must_count(work: Transaction, clock: Clock, code: str) -> None:
    kept = work.credentials.code()
    told = digest_of(code.replace("-", "").replace(" ", "").upper())
    if kept is None or not hmac.compare_digest(told, kept[0]):
        raise NotSignedInError(NO_CODE)
    if clock.now().wall_us >= kept[1] or work.credentials.any_pin():
        raise NotSignedInError(NO_CODE)


def _drafts(work: Transaction, one: Administrator) -> list[Draft]:
    """Returns what lets one of them in: the PIN, and before it person and badge where they are new.

    Raises:
        WrongUseError: the badge is somebody else's, or the person on record is no administrator, or works here no more.
    """
    own = stream(StreamKind.PERSON, one.person)
    person = state_as(work, own, Person)
    holder = person_by_badge(work, one.badge)
    if holder is not None and holder.person != one.person:
        message = "That badge belongs to somebody else; give another one."
        raise WrongUseError(message, badge=one.badge)
    if person.number and not (person.active and set(person.roles) & set(ROLES)):
        message = f"{one.person} is on record and no administrator; name somebody else."
        raise WrongUseError(message, person=one.person)
    drafts = []
    if not person.number:
        drafts.append(Draft(own, PersonRegistered(name=one.name, sites=(), roles=ROLES)))
    if holder is None:
        drafts.append(Draft(own, BadgeGiven(badge=one.badge)))
    return [*drafts, Draft(stream(StreamKind.ACCESS, one.person), PinSet())]


def _ids(clock: Clock) -> Iterator[str]:
    while True:
        yield clock.new_id()
