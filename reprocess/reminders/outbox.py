"""One round of what is handed to subscribers: claim who waits, hand over what follows in order, keep how far it came.

Each subscription is a cursor over the record. Handing over is at least once, in the order of the record, under an id
that is always the same for one entry. What is not taken holds up what follows it, for this subscription alone; when
nothing more is tried, that is an entry of its own, and the subscription stands until somebody lets it go on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from reprocess.clock import Clock
from reprocess.gathering import offset_min, state_as
from reprocess.ledger.append import Transaction, looking, transaction
from reprocess.ledger.deliveries import NEVER_US, Delivery
from reprocess.ledger.feed import Sealed
from reprocess.ledger.open import Ledger
from reprocess.ledger.sealing import unseal
from reprocess.record.entry import Draft, Envelope
from reprocess.record.subscriptions import Subscription
from reprocess.record.words import DeliveryGivenUp
from reprocess.reminders.webhook import Letter
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.scheduling import site_of
from reprocess.terms import SECOND_US, StreamKind, stream

EVERY_S: Final = 2.0
"""How often a round is made (our choice)."""
LETTERS_MOST: Final = 10
"""Letters to one subscription within a claim: with two limits of 5 s each, well within its lease."""
LOOKED_AT: Final = 500
"""Entries that are looked at for one subscription within a claim; most filters want few of them (our choice)."""
WAITS_S: Final = (5, 30, 120, 600, 3_600, 3 * 3_600, 6 * 3_600, 6 * 3_600, 6 * 3_600)
"""The waits after each try (our choice): with the tenth, some 22 hours after the first, it is given up."""
ATTEMPTS_MAX: Final = len(WAITS_S) + 1
FINAL: Final = frozenset({"gone", "not-listed", "no-secret"})
"""What no further try can change."""
TAKEN: Final = "taken"
PASSED_OVER: Final = "passed-over"

Letters = Callable[[Transaction, Subscription, Sealed], Letter | None]
"""Returns what a subscriber is handed of an entry; None where it wants, or may see, nothing of it."""
Send = Callable[[Subscription, tuple[bytes, ...], Letter, int], str | None]
"""Sends one letter, signed with these secrets at a time in seconds; None when taken, or in one word what held it."""


@dataclass(frozen=True, slots=True)
class _Batch:
    """Is what one subscription is handed now: letters by their entry's number, and the last entry looked at."""

    subscription: Subscription
    secrets: tuple[bytes, ...]
    letters: tuple[tuple[int, Letter], ...]
    last: int


@dataclass(frozen=True, slots=True)
class _Outcome:
    """Is what came of a batch: the last entry that is done with, how many were taken, and what stopped it where."""

    after: int
    taken: int
    stopped: int | None = None
    because: str | None = None


def outbox_round(
    ledger: Ledger, clock: Clock, letters: Letters, send: Send, goes_on: Callable[[], bool] = lambda: True
) -> tuple[int, int]:
    """Hands over whatever waits, and returns how many entries were taken and how many tries failed."""
    taken = failed = 0
    while goes_on() and (claimed := _claimed(ledger, clock)) is not None:
        outcome = _handed(clock, _batch(ledger, claimed, letters), send, goes_on)
        _settle(ledger, clock, claimed, outcome)
        taken, failed = taken + outcome.taken, failed + (outcome.because is not None)
    return taken, failed


def _claimed(ledger: Ledger, clock: Clock) -> Delivery | None:
    """Returns the subscription that waits longest, claimed; where none waits, nothing is written."""
    with looking(ledger) as read:
        if not read.deliveries.waits(clock.now().wall_us, read.feed.last()):
            return None
    with transaction(ledger) as work:
        return work.deliveries.claim(clock.now().wall_us, work.feed.last())


def _batch(ledger: Ledger, claimed: Delivery, letters: Letters) -> _Batch:
    name = stream(StreamKind.SUBSCRIPTION, claimed.subscription)
    found: list[tuple[int, Letter]] = []
    last = claimed.after
    with looking(ledger) as read:
        subscription = state_as(read, name, Subscription)
        secrets = tuple(unseal(ledger.key, name, one) for one in read.deliveries.secrets(claimed.subscription))
        for sealed in read.feed.after(claimed.after, LOOKED_AT):
            letter = letters(read, subscription, sealed)
            last = sealed.feed
            found += [(sealed.feed, letter)] if letter is not None else []
            if len(found) == LETTERS_MOST:
                break
    return _Batch(subscription, secrets, tuple(found), last)


def _handed(clock: Clock, batch: _Batch, send: Send, goes_on: Callable[[], bool]) -> _Outcome:
    """Sends letters in order until one is not taken."""
    for taken, (feed, letter) in enumerate(batch.letters):
        if not goes_on():
            return _Outcome(feed - 1, taken)
        at_s = clock.now().wall_us // SECOND_US
        because = send(batch.subscription, batch.secrets, letter, at_s) if batch.secrets else "no-secret"
        if because is not None:
            return _Outcome(feed - 1, taken, feed, because)
    return _Outcome(batch.last, len(batch.letters))


def _settle(ledger: Ledger, clock: Clock, claimed: Delivery, outcome: _Outcome) -> None:
    """Keeps how far a subscription came, when it is tried again, or that it was given up."""
    now_us = clock.now().wall_us
    with transaction(ledger) as work:
        if outcome.stopped is None or outcome.because is None:
            answer = TAKEN if outcome.taken else PASSED_OVER
            work.deliveries.settle(claimed, outcome.after, answer, now_us, next_us=now_us)
            return
        attempts = 1 if outcome.taken else claimed.attempts + 1
        over = outcome.because in FINAL or attempts >= ATTEMPTS_MAX
        next_us = NEVER_US if over else now_us + WAITS_S[attempts - 1] * SECOND_US
        done = work.deliveries.settle(
            claimed, outcome.after, outcome.because, now_us, attempts=attempts, next_us=next_us
        )
        if done and over:
            body = DeliveryGivenUp(feed=outcome.stopped, attempts=attempts, because=outcome.because)
            _told(work, clock, claimed, body)


def _told(work: Transaction, clock: Clock, claimed: Delivery, body: DeliveryGivenUp) -> None:
    now, site = clock.now(), site_of(work, None)
    about = stream(StreamKind.SUBSCRIPTION, claimed.subscription)
    key = f"given-up:{claimed.subscription}:{body.feed}:{claimed.until_us}"
    envelope = Envelope(now, offset_min(site.zone, now.wall_us), None, None, None, key, body.kind)
    prepared = work.prepare([Draft(about, body)], envelope, _ids(clock))
    work.write(prepared, as_text(Answer(Verdict.ACCEPTED, about, body.kind, key=key)))


def _ids(clock: Clock) -> Iterator[str]:
    while True:
        yield clock.new_id()
