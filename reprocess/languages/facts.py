"""Which facts of a reason are words themselves, so that they are said in the language of the sentence around them.

A fact that is in no such sort, such as an id, a name or somebody's own words, stands as it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Final

from reprocess.definitions.holds import LIFTS

SORTS: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {
        "back_to": ("step",),
        "before": ("step",),
        "cause": ("end",),
        "contamination_class": ("class",),
        "count": ("kind",),
        "defect": ("defect",),
        "did": ("step",),
        "fell": ("step",),
        "field": ("reading",),
        "grade": ("water",),
        "item_kind": ("kind",),
        "known": ("reading", "kind"),
        "limit": ("limit",),
        "method": ("method",),
        "missing": ("step",),
        "next": ("step",),
        "operation": ("asked",),
        "others": ("role",),
        "owner": ("role",),
        "reading": ("reading",),
        "requires": ("lift",),
        "roles": ("role",),
        "side": ("side",),
        "slot": ("kind",),
        "sort": ("hold", "instrument", "touched"),
        "stage": ("stage",),
        "state": ("load-state",),
        "step": ("step",),
        "steps": ("step",),
        "unit": ("unit",),
        "wanted": ("instrument", "water"),
        "what": ("asked", "step"),
        "zone": ("side",),
    }
)
"""The sorts of words that may stand in a fact, by the fact's name; the first sort that knows the word says it."""
EVERYWHERE: Final = "word"
"""The sort of the single words that may stand in any fact, such as `none`."""
_LIFTS: Final = {lift.requires: str(sort) for sort, lift in LIFTS.items()}


def key(sort: str, name: str) -> str:
    """Returns the key of what something is called: `stage.in-repair` for the stage `in repair`."""
    return f"{sort}.{name.replace(' ', '-')}"


def keys(fact: str, text: str) -> Iterator[str]:
    """Yields the keys that may say a fact's text, the likeliest first."""
    for sort in (*SORTS.get(fact, ()), EVERYWHERE):
        yield key(sort, _LIFTS.get(text, text) if sort == "lift" else text)
