"""The water of a rinse: how good it must be, and how lately that must have been measured."""

from __future__ import annotations

from typing import Literal

from reprocess.definitions.block import Seconds, Sourced


class Water(Sourced):
    """Says which water a rinse needs (L11).

    Attributes:
        grade: drinking water, filtered water or critical water; a better one does for a lesser.
        within_s: how long ago the readings of the water point may be at the most.
    """

    grade: Literal["drinking", "filtered", "critical"]
    within_s: Seconds
