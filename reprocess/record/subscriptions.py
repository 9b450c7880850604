"""The standing of a subscription: where entries go, which of them, and whether it goes on."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Subscription:
    """Is a subscription as it stands.

    Attributes:
        kinds: the kinds of entry that it wants; all of them where empty.
        sites: the sites whose entries it wants; all of them where empty.
        scopes: what it may see beyond the open kinds.
        since: the entry that made it; what came before is handed over only on a replay.
        ended: why it ended, or None.
        given_up: the entry at which handing over was given up, or None.
        because: what kept that entry back, or None.
        exchanges: how often its secret was exchanged.
    """

    subscription: str
    title: str = ""
    url: str = ""
    kinds: tuple[str, ...] = ()
    sites: tuple[str, ...] = ()
    scopes: tuple[str, ...] = ()
    since: int = 0
    ended: str | None = None
    given_up: int | None = None
    because: str | None = None
    exchanges: int = 0
    changed_us: int = 0
    number: int = 0

    @property
    def known(self) -> bool:
        """Tells whether it was ever made."""
        return self.number > 0

    @property
    def active(self) -> bool:
        """Tells whether entries are handed over."""
        return self.known and self.ended is None and self.given_up is None


def apply(subscription: Subscription, entry: Entry) -> Subscription:
    """Returns the subscription after one more entry of its stream."""
    body = entry.body
    after = replace(
        subscription,
        subscription=subject_of(entry.stream),
        number=entry.number,
        changed_us=entry.at_us,
        since=subscription.since or entry.feed,
    )
    match body:
        case words.SubscriptionMade() | words.SubscriptionChanged():
            goes_on = replace(after, given_up=None, because=None)
            return replace(
                goes_on, title=body.title, url=body.url, kinds=body.kinds, sites=body.sites, scopes=body.scopes
            )
        case words.SubscriptionEnded():
            return replace(after, ended=body.because)
        case words.SubscriptionRekeyed():
            return replace(after, exchanges=subscription.exchanges + 1)
        case words.SubscriptionReplayed():
            return replace(after, given_up=None, because=None)
        case words.DeliveryGivenUp():
            return replace(after, given_up=body.feed, because=body.because)
        case _:
            return after
