"""Agent: a disinfectant by its active ingredient, with its label's claims; the label governs."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from reprocess.definitions.block import (
    LINES_MAX,
    Days,
    Frozen,
    Key,
    Name,
    Names,
    Number,
    Seconds,
    Several,
    Sourced,
    Word,
)


class Claim(Sourced):
    """Is one row of a disinfectant's label: what it achieves, how applied, from which temperature, in what time."""

    claim: Name
    method: Literal["wipe", "immersion", "automated"]
    contact_s: Seconds
    temp_least_c: Number | None = None
    temp_most_c: Number | None = None


class Film(Sourced):
    """Says how long a film of the agent stays wet on hard plastic (T03)."""

    life_s: Seconds


class Strength(Sourced):
    """Is the least effective concentration of a bath and how it is tested (M05, L03).

    Attributes:
        least: the concentration below which a test fails, in `unit`.
        test_every: how often a passing test is needed before contact.
        read_after_least_s: a strip read sooner proves nothing.
        read_after_most_s: nor one read later.
    """

    least: Number
    unit: Literal["percent", "ppm"]
    test_every: Literal["use", "day", "none"]
    read_after_least_s: Seconds | None = None
    read_after_most_s: Seconds | None = None


class Keeping(Sourced):
    """Says how long a bath may be reused or an opened container kept (L01, L02, L09)."""

    reuse_days: Days | None = None
    opened_days: Days | None = None
    single_use: bool = False


class Agent(Frozen):
    """Is a disinfectant by its active ingredient, with its label's claims; the label governs.

    Attributes:
        film: how long a film of it stays wet on hard plastic.
        expiry_mid_soak: what happens to a soak that began while the bath was valid (L05).
        never_after: agents after which this one must not be used without a rinse (P15).
    """

    agent: Name
    title: Word
    active_ingredients: Word
    form: Literal["wipe", "bath", "cleaner"]
    follows: Word
    example: bool = False
    claims: Annotated[tuple[Claim, ...], Several, Field(min_length=1, max_length=LINES_MAX)]
    film: Film | None = None
    strength: Strength | None = None
    keeping: Keeping | None = None
    expiry_mid_soak: Literal["finish", "void"] = "void"
    never_after: Names = ()
    cautions: Annotated[tuple[Key, ...], Several, Field(max_length=LINES_MAX)] = ()

    def row_for(self, claim: str, method: str, temp_c: Decimal | None) -> Claim | None:
        """Returns the label's row that governs, or None when the label does not allow it.

        Nothing is interpolated: the row with the highest temperature that is not above `temp_c` governs, and
        of two such rows the one with the longer time. A row without temperatures governs at any temperature.
        """
        fitting = [
            row
            for row in self.claims
            if row.claim == claim
            and row.method == method
            and (row.temp_least_c is None or (temp_c is not None and row.temp_least_c <= temp_c))
            and (row.temp_most_c is None or (temp_c is not None and temp_c <= row.temp_most_c))
        ]
        return max(
            fitting,
            key=lambda row: (
                row.temp_least_c if row.temp_least_c is not None else Decimal(-1000),
                row.contact_s,
            ),
            default=None,
        )
