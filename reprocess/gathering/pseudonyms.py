"""Whom a request means: a wearer's badge stands for the pseudonym, and nothing else gets where one belongs (I21).

A request that is decided leaves an entry, also where it is refused. So what might be a name is turned away before that.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any, Final

from reprocess.engine.request import Request
from reprocess.errors import WrongUseError
from reprocess.gathering.reading import state_as
from reprocess.ledger.append import Transaction
from reprocess.record.people import Person
from reprocess.record.touching import UNKNOWN_WEARER
from reprocess.terms import StreamKind, stream

PSEUDONYM: Final = re.compile(r"W-[0-9A-Z-]{1,40}")
"""What a pseudonym looks like; ours have 16 hexadecimal digits (`department.pseudonym_from`)."""


def pseudonymous(read: Transaction, request: Request) -> Request:
    """Returns the request about the wearers that it means, each by pseudonym.

    Raises:
        WrongUseError: something else stands where a pseudonym belongs; it is not repeated, and nothing was recorded.
    """
    changed: dict[str, Any] = {}
    one, several = getattr(request, "wearer", None), getattr(request, "wearers", None)
    if isinstance(one, str):
        changed["wearer"] = _pseudonym(read, one)
    if isinstance(several, tuple):
        changed["wearers"] = tuple(_pseudonym(read, each) for each in several)
    if all(getattr(request, name) == known for name, known in changed.items()):
        return request
    meaning: Any = request
    found: Request = replace(meaning, **changed)
    return found


def _pseudonym(read: Transaction, typed: str) -> str:
    by_badge = read.names.wearer_of(typed)
    if by_badge is not None:
        return by_badge
    if PSEUDONYM.fullmatch(typed) or typed == UNKNOWN_WEARER:
        return typed
    if state_as(read, stream(StreamKind.PERSON, typed), Person).number:  # staff who wore something themselves
        return typed
    message = "A pseudonym begins with W-; `reprocess wearer find` tells it by the badge."
    raise WrongUseError(message)
