"""Who has an item, and since when: the facet of a standing beside its stage, folded from the item's own entries."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Custody:
    """Is where an item is while it is not in the department: with a wearer, lent or on its way.

    Attributes:
        sort: `issued`, `lent`, `moving`; of a part also `missing` or `swapped`: it stayed where the whole was.
        number: the entry with which it began.
        place: where it is; of what is moving, the site to which it goes.
        wearer: a pseudonym, or None where nobody was identified yet.
        members: the parts of an assembly as they were issued, slot to item, with what was changed since (U12).
        counts: the counted parts as they were issued.
        swapped: the parts that came out of it since.
        clean: of what is moving, whether it goes in clean closed packaging (E15).
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
    swapped: tuple[str, ...] = ()
    clean: bool = False


@dataclass(frozen=True, slots=True)
class Dedication:
    """Is the one place or the one wearer that an item serves (C07, C11)."""

    place: str | None = None
    wearer: str | None = None
