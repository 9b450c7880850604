"""One round of the channels outside: claim what is to be handed over, try each once, record what became of it.

Handing over is at least once, under an id that is always the same for one reminder, so that its effect is once. It is
apart from the sweep: a slow server never keeps a sound back.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from reprocess.clock import Clock
from reprocess.ledger.append import claiming, transaction
from reprocess.ledger.open import Ledger
from reprocess.ledger.posts import POST_LEASE_US, Post
from reprocess.record.words import ReminderDelivered, ReminderUndelivered
from reprocess.reminders.rounds import entered
from reprocess.scheduling import site_of
from reprocess.terms import SECOND_US

EVERY_S: Final = 5.0
"""How often a round is made (our choice)."""
POSTS_TOGETHER: Final = 10
"""Posts claimed together: with two limits of 5 s each, well within a lease."""
ATTEMPTS_MAX: Final = 10
"""After so many tries it is recorded that a reminder was not delivered (our choice): some 13 hours."""
FIRST_WAIT_S: Final = 5
WAIT_S_MAX: Final = 6 * 3600
"""The waits between tries: 5 s, then four times as long each, 6 h at most (our choice)."""
FINAL: Final = frozenset({"gone", "no-address", "no-such-channel"})
"""What no further try can change."""

Hand = Callable[[Post, int], str | None]
"""Hands one post over at a time in seconds; returns None when it was taken, or in one word what kept it back."""


def post_round(
    ledger: Ledger, clock: Clock, channels: Mapping[str, Hand], goes_on: Callable[[], bool] = lambda: True
) -> tuple[int, int]:
    """Tries everything whose time has come, and returns how many were delivered and how many were not."""
    delivered = failed = 0
    while goes_on() and (batch := _claimed(ledger, now_us := clock.now().wall_us)):
        until_us = now_us + POST_LEASE_US
        for post in batch:
            at_us = clock.now().wall_us
            if not goes_on() or at_us >= until_us:  # whoever was stopped for longer leaves it to the others
                break
            hand = channels.get(post.channel, _no_such_channel)
            because = hand(post, at_us // SECOND_US)
            if because is not None and clock.now().wall_us >= until_us:
                break
            _settle(ledger, clock, post, because)
            delivered, failed = delivered + (because is None), failed + (because is not None)
    return delivered, failed


def wait_s(attempts: int) -> int:
    """Returns how long to wait after so many tries, from 1."""
    return int(min(FIRST_WAIT_S * 4 ** (attempts - 1), WAIT_S_MAX))


def _no_such_channel(post: Post, at_s: int) -> str:
    del post, at_s
    return "no-such-channel"


def _claimed(ledger: Ledger, now_us: int) -> list[Post]:
    with claiming(ledger) as work:
        return work.posts.claim(now_us, POSTS_TOGETHER)


def _settle(ledger: Ledger, clock: Clock, post: Post, because: str | None) -> None:
    """Writes what became of a post, or when it is tried again."""
    now = clock.now()
    attempts = post.attempts + 1
    with transaction(ledger) as work:
        site = site_of(work, post.site or None)
        if because is None:
            taken = ReminderDelivered(key=post.key, channel=post.channel, level=post.level, attempts=attempts)
            entered(work, clock, now, f"delivered:{post.channel}:{post.level}:{post.key}", taken, site)
            work.posts.drop(post)
        elif because in FINAL or attempts >= ATTEMPTS_MAX:
            given_up = ReminderUndelivered(
                key=post.key, channel=post.channel, level=post.level, attempts=attempts, because=because
            )
            entered(work, clock, now, f"undelivered:{post.channel}:{post.level}:{post.key}", given_up, site)
            work.posts.drop(post)
        else:
            work.posts.later(post, now.wall_us + wait_s(attempts) * SECOND_US)
