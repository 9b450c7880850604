"""What requests about subscriptions are judged on."""

from __future__ import annotations

from reprocess.engine.request.subscriptions import SubscriptionRequest
from reprocess.gathering.reading import Library
from reprocess.ledger.append import Transaction
from reprocess.record.standing import Standing
from reprocess.rules.scene import Bench, Scene
from reprocess.terms import StreamKind, stream


def for_one(read: Transaction, _: Library, at: Bench, request: SubscriptionRequest) -> Scene:
    """Returns the scene of a request about one subscription: where it stands."""
    name = stream(StreamKind.SUBSCRIPTION, request.subscription)
    return Scene(bench=at, item=Standing(item=""), states={name: read.state(name)})
