"""PINs that somebody else chooses: the first one, and one in place of a forgotten one (A08)."""

from __future__ import annotations

from reprocess.clock import Clock
from reprocess.gathering import state_as
from reprocess.ledger.append import transaction
from reprocess.ledger.credentials import Pin
from reprocess.ledger.open import Ledger
from reprocess.record.people import Person
from reprocess.rules.answer import Answer
from reprocess.signing_in.pins import Pins, must_be_good
from reprocess.signing_in.programs import Take
from reprocess.terms import StreamKind, stream


def set_first(ledger: Ledger, clock: Clock, pins: Pins, person: str, pin: str, take: Take) -> Answer:
    """Returns the answer to the request that sets a person's PIN; they choose an own one at the next sign-in.

    Args:
        ledger: the record.
        clock: the clocks of this node.
        pins: what hashes it.
        person: whose it is.
        pin: the PIN.
        take: asks for `SetPin`, in the transaction that keeps the PIN.

    Raises:
        WrongUseError: the PIN is easily guessed; nothing was recorded.
    """
    kept = pins.kept(pin)
    with transaction(ledger) as work:
        must_be_good(pin, state_as(work, stream(StreamKind.PERSON, person), Person).badges)
        answer = take(work)
        if answer.accepted and not answer.repeated:
            work.credentials.keep_pin(person, Pin(kept, clock.now().wall_us, must_change=True))
            for session in work.credentials.of_person(person):
                work.credentials.end(session.digest)
    return answer
