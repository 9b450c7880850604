"""For how long records are kept, and what ties a wearer's pseudonym to them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Period:
    """Is for how many years one kind of record is kept, and who says so."""

    years: int
    source: str


@dataclass(frozen=True, slots=True)
class Link:
    """Is what ties a wearer's pseudonym to the record.

    Attributes:
        named: whether a name is kept.
        left_us: when the wearer left, or None.
        used_us: when the wearer's latest use ended, or None without any.
        out: whether the wearer has something now.
        exposed_us: when the latest exposure case was opened that names the wearer, or its latest use ended.
        undecided: such a case that nobody decided yet, or None.
    """

    wearer: str
    named: bool
    left_us: int | None = None
    used_us: int | None = None
    out: bool = False
    exposed_us: int | None = None
    undecided: str | None = None


@dataclass(frozen=True, slots=True)
class Keeping:
    """Is what the question whether names may go is judged on: the period of the uses, and each wearer's link."""

    period: Period
    links: tuple[Link, ...] = ()
