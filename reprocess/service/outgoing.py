"""What subscribers are handed: the letters of an entry, where they go, and the secret that signs them."""

from __future__ import annotations

import secrets
from base64 import b64encode
from collections.abc import Collection
from functools import partial
from typing import Final

from reprocess.clock import Clock
from reprocess.department import Department
from reprocess.engine.request import MakeSubscription, RekeySubscription
from reprocess.errors import ReprocessError, WrongUseError
from reprocess.exchange import events
from reprocess.exchange.events import Sight
from reprocess.ledger.append import Transaction, transaction
from reprocess.ledger.feed import Sealed
from reprocess.ledger.open import Ledger
from reprocess.ledger.sealing import seal
from reprocess.record.subscriptions import Subscription
from reprocess.reminders import webhook
from reprocess.reminders.outbox import Send, outbox_round
from reprocess.reminders.signing import PREFIX
from reprocess.reminders.webhook import Letter, WebhookRoute
from reprocess.rules.answer import Answer
from reprocess.settings import SubscriptionSettings
from reprocess.station import Call
from reprocess.terms import StreamKind, stream

SECRET_BYTES: Final = 32
"""Bytes of a new secret; the specification asks for 24 to 64."""


def hand_over(ledger: Ledger, clock: Clock, may: SubscriptionSettings) -> tuple[int, int]:
    """Makes one round of all subscriptions, and returns how many entries were taken and how many tries failed."""
    return outbox_round(ledger, clock, letter_of, sender(may.hosts, may.private))


def letter_of(read: Transaction, subscription: Subscription, sealed: Sealed) -> Letter | None:
    """Returns an entry as one subscriber is handed it; None where it did not ask for it or may not see it."""
    sight = Sight(
        scopes=frozenset(subscription.scopes),
        kinds=frozenset(subscription.kinds),
        sites=frozenset(subscription.sites),
    )
    given = events.told(read, sealed, sight)
    if given is None or given.get("withheld"):
        return None
    return Letter(sealed.entry.id, events.MEDIA_TYPE, events.event(read.feed.ledger(), given))


def sender(hosts: Collection[str], private: Collection[str]) -> Send:
    """Returns what sends letters to the listed hosts and nowhere else."""
    return partial(_send, frozenset(hosts), frozenset(private))


def _send(
    hosts: frozenset[str],
    private: frozenset[str],
    subscription: Subscription,
    keys: tuple[bytes, ...],
    letter: Letter,
    at_s: int,
) -> str | None:
    try:
        return webhook.send(WebhookRoute(subscription.url, keys, hosts, private), letter, at_s)
    except WrongUseError:
        return "not-listed"


def must_be_listed(url: str, may: SubscriptionSettings) -> None:
    """Raises where a subscription would lead to an address that the department did not list.

    Raises:
        WrongUseError: it would.
    """
    WebhookRoute(url, (), frozenset(may.hosts), frozenset(may.private)).parts()


def subscribe(department: Department, call: Call) -> tuple[Answer, str | None]:
    """Returns the answer to a request about a subscription, and its new secret where it gets one, this once.

    The secret is kept, sealed, in the transaction of the entry that says that there is one. A repetition gets none.

    Raises:
        ReprocessError: as the department says.
    """
    with transaction(department.ledger) as work:
        outcome = department.desk.take_within(work, call)
        if isinstance(outcome, ReprocessError):
            raise outcome
        request = call.request
        if not isinstance(request, MakeSubscription | RekeySubscription) or not outcome.accepted or outcome.repeated:
            return outcome, None
        secret = secrets.token_bytes(SECRET_BYTES)
        name = stream(StreamKind.SUBSCRIPTION, request.subscription)
        sealed = seal(department.ledger.key, name, secret)
        work.deliveries.keep_secret(request.subscription, sealed, department.clock.now().wall_us)
    return outcome, PREFIX + b64encode(secret).decode()
