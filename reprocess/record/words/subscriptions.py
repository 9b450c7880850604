"""Subscriptions: who outside is handed entries, which of them, and what became of the handing over."""

from __future__ import annotations

from typing import ClassVar

from pydantic import Field

from reprocess.record.words.body import Body, Texts


class SubscriptionMade(Body):
    """Says that an address outside is handed entries from now on; what signs them stands in no entry.

    Attributes:
        kinds: the kinds of entry that it wants; all of them where empty.
        sites: the sites whose entries it wants; all of them where empty.
        scopes: what it may see beyond the open kinds, such as `wearers:read`.
    """

    kind: ClassVar[str] = "subscription-made"
    title: str
    url: str
    kinds: Texts = ()
    sites: Texts = ()
    scopes: Texts = ()


class SubscriptionChanged(Body):
    """Says what a subscription is from now on, all of it; one that had been given up goes on."""

    kind: ClassVar[str] = "subscription-changed"
    title: str
    url: str
    kinds: Texts = ()
    sites: Texts = ()
    scopes: Texts = ()


class SubscriptionEnded(Body):
    """Says that nothing more is handed over, and why."""

    kind: ClassVar[str] = "subscription-ended"
    because: str


class SubscriptionRekeyed(Body):
    """Says that a new secret signs beside the one before, which goes with the next exchange."""

    kind: ClassVar[str] = "subscription-rekeyed"


class SubscriptionReplayed(Body):
    """Says that entries are handed over again, from the one after this number of the record on."""

    kind: ClassVar[str] = "subscription-replayed"
    after: int = Field(ge=0)


class DeliveryGivenUp(Body):
    """Says that an entry was not taken and nothing more is handed over until somebody lets the subscription go on.

    Attributes:
        feed: the entry's number in the record; everything before it was handed over.
        because: what kept it back at the last try, as a word of ours.
    """

    kind: ClassVar[str] = "delivery-given-up"
    feed: int = Field(gt=0)
    attempts: int = Field(gt=0)
    because: str
