"""What requests about an exposure case are judged on: the case, its wearers, and whether free words name one."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from reprocess.engine.request import CaseRequest
from reprocess.gathering.reading import Library, state_as
from reprocess.gathering.wearers import with_wearers
from reprocess.ledger.append import Transaction
from reprocess.ledger.names import Name
from reprocess.record.cases import Case
from reprocess.record.standing import Standing
from reprocess.rules.scene import Bench, Scene
from reprocess.terms import StreamKind, stream

FREE_WORDS: Final = ("because", "action", "effectiveness")
"""The fields of requests about cases in which somebody can write what they like."""
LETTERS_LEAST: Final = 3
"""Parts of a name that are shorter are also plain words, and are let pass (our choice)."""


def for_case(read: Transaction, _: Library, at: Bench, request: CaseRequest) -> Scene:
    """Returns the case, where its wearers stand, and whether the request's words name one of them."""
    name = stream(StreamKind.CASE, request.case)
    case = state_as(read, name, Case)
    scene = Scene(bench=at, item=Standing(item=""), states={name: case})
    said = " ".join(str(getattr(request, field, "")) for field in FREE_WORDS).casefold()
    kept = (read.names.of(wearer) for wearer in case.wearers) if said.strip() else ()
    named = any(name is not None and names(said, name) for name in kept)
    return replace(with_wearers(read, scene, case.wearers), names_somebody=named)


def names(said: str, name: Name) -> bool:
    """Tells whether words in lower case hold a part of a name, a badge or a contact."""
    spoken = set(re.findall(r"\w+", said))
    parts = {part for part in re.findall(r"\w+", name.name.casefold()) if len(part) >= LETTERS_LEAST}
    whole = [one.casefold() for one in (name.badge, name.contact) if one]
    return bool(parts & spoken) or any(one in said for one in whole)
