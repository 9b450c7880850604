"""A registered sender: which instrument it speaks for, where that stands, and what it may say beyond its record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Sort = Literal["washer", "charger", "sensor"]


@dataclass(frozen=True, slots=True)
class Source:
    """Is a registered sender.

    Attributes:
        source: its name in the address to which it posts.
        sort: what it reports: the end of loads, charging, or readings of places.
        instrument: the instrument on record that it speaks for.
        station: where its entries are made.
        secrets: what signs its results, the one in use first.
        checks: the checks of a load that the machine itself answers, as the department decided; none by default.
        logger: the instrument on record that records its loads, where that is another one.
    """

    source: str
    sort: Sort
    instrument: str
    station: str
    secrets: tuple[bytes, ...]
    checks: frozenset[str] = frozenset()
    logger: str | None = None
