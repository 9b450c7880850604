"""Subscriptions: what is handed to whom outside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.engine.request.further import Further


@dataclass(frozen=True, slots=True)
class MakeSubscription(Further):
    """Asks to hand entries to an address outside from now on.

    Attributes:
        kinds: the kinds of entry wanted; all of them where empty.
        sites: the sites whose entries are wanted; all of them where empty.
        scopes: what may be seen beyond the open kinds.
    """

    asked: ClassVar[str] = "make-subscription"
    subscription: str
    title: str
    url: str
    kinds: tuple[str, ...] = ()
    sites: tuple[str, ...] = ()
    scopes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ChangeSubscription(Further):
    """Asks that a subscription be this from now on, all of it; one that was given up goes on where it stopped."""

    asked: ClassVar[str] = "change-subscription"
    subscription: str
    title: str
    url: str
    kinds: tuple[str, ...] = ()
    sites: tuple[str, ...] = ()
    scopes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class EndSubscription(Further):
    """Asks to hand nothing more over."""

    asked: ClassVar[str] = "end-subscription"
    subscription: str
    because: str


@dataclass(frozen=True, slots=True)
class RekeySubscription(Further):
    """Asks for a new secret; the one before signs beside it until the next exchange."""

    asked: ClassVar[str] = "rekey-subscription"
    subscription: str


@dataclass(frozen=True, slots=True)
class ReplaySubscription(Further):
    """Asks to hand entries over again, from the one after this number of the record on."""

    asked: ClassVar[str] = "replay-subscription"
    subscription: str
    after: int


SubscriptionRequest = MakeSubscription | ChangeSubscription | EndSubscription | RekeySubscription | ReplaySubscription
