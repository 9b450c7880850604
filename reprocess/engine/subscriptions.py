"""Subscriptions: who is handed entries is decided by a role, and stands on record before anything is handed over."""

from __future__ import annotations

from typing import Final

from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision
from reprocess.engine.request.subscriptions import (
    ChangeSubscription,
    EndSubscription,
    MakeSubscription,
    RekeySubscription,
    ReplaySubscription,
    SubscriptionRequest,
)
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.catalogue import KINDS, SCOPES
from reprocess.record.entry import Draft
from reprocess.record.subscriptions import Subscription
from reprocess.record.words import Body
from reprocess.rules import competence, permissions
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import StreamKind, stream

ROLES: Final = ("system-administrator", "programme-administrator", "supervisor")
URL_MOST: Final = 2_000
FILTER_MOST: Final = 200
"""Kinds or sites named in one subscription at most (our choice)."""


def make(scene: Scene, request: MakeSubscription) -> Decision:
    """Decides that an address outside is handed entries; each subscription has an id of its own."""
    _must_mean_something(request)
    held = _held(scene, request)
    taken = [Reason("P05", "subscription-taken", {"subscription": held.subscription})] if held.known else []
    body = words.SubscriptionMade(
        title=request.title, url=request.url, kinds=request.kinds, sites=request.sites, scopes=request.scopes
    )
    return _decided(scene, request, body, [*taken, *_beyond(scene, request)])


def change(scene: Scene, request: ChangeSubscription) -> Decision:
    """Decides what a subscription is from now on."""
    _must_mean_something(request)
    body = words.SubscriptionChanged(
        title=request.title, url=request.url, kinds=request.kinds, sites=request.sites, scopes=request.scopes
    )
    return _decided(scene, request, body, [*_over(scene, request), *_beyond(scene, request)])


def end(scene: Scene, request: EndSubscription) -> Decision:
    """Decides that nothing more is handed over."""
    return _decided(scene, request, words.SubscriptionEnded(because=request.because), _over(scene, request))


def rekey(scene: Scene, request: RekeySubscription) -> Decision:
    """Decides that another secret signs."""
    return _decided(scene, request, words.SubscriptionRekeyed(), _over(scene, request))


def replay(scene: Scene, request: ReplaySubscription) -> Decision:
    """Decides that entries are handed over again.

    Raises:
        WrongUseError: the number is none that an entry could follow.
    """
    if request.after < 0:
        message = "Entries are counted from 1: replay after 0 or more."
        raise WrongUseError(message, after=request.after)
    return _decided(scene, request, words.SubscriptionReplayed(after=request.after), _over(scene, request))


def _held(scene: Scene, request: SubscriptionRequest) -> Subscription:
    return scene.state(StreamKind.SUBSCRIPTION, request.subscription, Subscription)


def _over(scene: Scene, request: SubscriptionRequest) -> list[Reason]:
    """Returns that there is no such subscription, or none any more."""
    held = _held(scene, request)
    if held.known and held.ended is None:
        return []
    return [Reason("P05", "subscription-over", {"subscription": request.subscription})]


def _beyond(scene: Scene, request: MakeSubscription | ChangeSubscription) -> list[Reason]:
    """Returns what would be handed over that neither the actor nor the second person may see."""
    return permissions.may_hand_on(competence.signers(scene.bench), request.scopes, request.sites)


def _decided(scene: Scene, request: SubscriptionRequest, body: Body, reasons: list[Reason]) -> Decision:
    about = stream(StreamKind.SUBSCRIPTION, request.subscription)
    reasons = [*competence.two_with_role(scene.bench, ROLES, "A08", two=False), *reasons]
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    return deciding.accept(scene, request, [Draft(about, body)], about=about)


def _must_mean_something(request: MakeSubscription | ChangeSubscription) -> None:
    if not request.url.startswith(("https://", "http://")) or len(request.url) > URL_MOST or "@" in request.url:
        message = "The address begins with https and holds no name or password."
        raise WrongUseError(message, subscription=request.subscription)
    if max(len(request.kinds), len(request.sites)) > FILTER_MOST:
        message = f"A subscription names at most {FILTER_MOST} kinds and sites."
        raise WrongUseError(message, subscription=request.subscription)
    for what, said, allowed in (("kind", request.kinds, KINDS), ("scope", request.scopes, SCOPES)):
        strange = sorted(set(said) - set(allowed))
        if strange:
            message = f"There is no {what} {strange[0]}."
            raise WrongUseError(message, subscription=request.subscription)
