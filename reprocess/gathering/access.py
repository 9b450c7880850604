"""What requests about sign-in and tokens are judged on, read from the record."""

from __future__ import annotations

from typing import assert_never

from reprocess.engine.request.access import AccessRequest, IssueToken, RotateKey, SetPin, UnlockSignIn, WithdrawToken
from reprocess.gathering.reading import Library
from reprocess.ledger.append import Transaction
from reprocess.record.keys import KEYS
from reprocess.record.standing import Standing
from reprocess.rules.permissions import SYSTEM
from reprocess.rules.scene import Bench, Scene
from reprocess.terms import StreamKind, stream


def for_access(read: Transaction, library: Library, at: Bench, request: AccessRequest) -> Scene:
    """Returns the person, the sign-in, the token and the sites that a request is about."""
    del library
    states = {name: read.state(name) for name in _about(read, request)}
    new_key = read.new_key() if isinstance(request, RotateKey) else None
    return Scene(bench=at, item=Standing(item=""), states=states, new_key=new_key)


def _about(read: Transaction, request: AccessRequest) -> list[str]:
    match request:
        case SetPin() | UnlockSignIn():
            return [stream(StreamKind.PERSON, request.person), stream(StreamKind.ACCESS, request.person)]
        case IssueToken():
            own = [stream(StreamKind.STATION, request.station)] if request.station is not None else []
            sites = [stream(StreamKind.SITE, one) for one in request.sites]
            return [stream(StreamKind.TOKEN, request.token), *own, *sites]
        case WithdrawToken():
            return [stream(StreamKind.TOKEN, request.token)]
        case RotateKey():
            administrators = [one.person for one in read.people() if SYSTEM in one.roles]
            return [KEYS, *(stream(StreamKind.PERSON, one) for one in administrators)]
        case _:
            assert_never(request)
