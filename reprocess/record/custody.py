"""Who has an item, and since when: the facet of a standing beside its stage, folded from the item's own entries."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Custody:
    """Is where an item is while it is not in the department: with a wearer, lent or on its way.

    Attributes:
        sort: `issued`, `lent` or `moving`.
        number: the entry with which it began.
        wearer: a pseudonym, or None where nobody was identified yet.
        members: the parts of an assembly as they were issued, slot to item (the snapshot).
        counts: the counted parts as they were issued.
    """

    sort: str
    number: int
    since_us: int
    place: str
    wearer: str | None = None
    purpose: str | None = None
    expected_us: int | None = None
    members: dict[str, str] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
