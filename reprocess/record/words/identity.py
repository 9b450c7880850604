"""Which thing an item's record is about: codes typed by hand, tags, and histories that were two items' in one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from reprocess.record.words.body import Body, Numbers, Texts


class CodeTyped(Body):
    """Says that an item's code could not be read and was typed twice, or by two people; it needs a new label (E20)."""

    kind: ClassVar[str] = "code-typed"
    shown_by: Literal["typed-twice", "two-people"]


class TagGiven(Body):
    """Says that this tag now means the item, beside its own id, which never changes (E22)."""

    kind: ClassVar[str] = "tag-given"
    tag: str


class TagWithdrawn(Body):
    """Says that a tag no longer means the item."""

    kind: ClassVar[str] = "tag-withdrawn"
    tag: str
    reason: str


class HistorySplit(Body):
    """Says which entries of this stream were about another item that bore the same code (E21).

    The entries stay where they are; the steps named in `fell` rested on them and are no longer satisfied.
    """

    kind: ClassVar[str] = "history-split"
    other: str
    numbers: Numbers
    reason: str
    stage: str
    fell: Texts


@dataclass(frozen=True, slots=True)
class TouchJoined:
    """Is one thing that an item touched by the entries of another one's stream, from when to when (E21)."""

    sort: str
    name: str
    from_us: int
    from_feed: int
    until_us: int | None = None
    until_feed: int | None = None
    step: str | None = None


class HistoryJoined(Body):
    """Says which entries of another item's stream are about this item (E21); they satisfy nothing here.

    What those entries say that was touched follows the item, so that a bath, a load or a wearer finds both.
    """

    kind: ClassVar[str] = "history-joined"
    other: str
    numbers: Numbers
    reason: str
    touched: tuple[TouchJoined, ...] | None = None
