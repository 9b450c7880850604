"""Which thing an item's record is about: typed codes, tags, duplicate labels, lost identities."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.engine.request.further import Further


@dataclass(frozen=True, slots=True)
class TypeCode(Further):
    """States that an item's code could not be read and what was typed instead: twice, or by two people (E20)."""

    asked: ClassVar[str] = "type-code"
    item: str
    again: str | None = None


@dataclass(frozen=True, slots=True)
class GiveTag(Further):
    """Asks to let another tag mean the item, from now on; its id stays (E22)."""

    asked: ClassVar[str] = "give-tag"
    item: str
    tag: str


@dataclass(frozen=True, slots=True)
class WithdrawTag(Further):
    """States that a tag no longer means the item."""

    asked: ClassVar[str] = "withdraw-tag"
    item: str
    tag: str
    reason: str


@dataclass(frozen=True, slots=True)
class DoubtIdentity(Further):
    """States that it is not certain which thing this is: two bear one code, or tags were swapped (E21, E22).

    Attributes:
        other: the other item concerned, where it is on record.
    """

    asked: ClassVar[str] = "doubt-identity"
    item: str
    cause: str
    other: str | None = None


@dataclass(frozen=True, slots=True)
class SplitHistory(Further):
    """Asks to say which entries of an item's record were about another item; two people (E21, S03)."""

    asked: ClassVar[str] = "split-history"
    item: str
    other: str
    numbers: tuple[int, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class Recommission(Further):
    """Asks to let an item whose identity cannot be settled begin anew under another id; two people (E22, S03)."""

    asked: ClassVar[str] = "recommission"
    item: str
    new: str
    reason: str
    serial: str | None = None
