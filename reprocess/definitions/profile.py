"""Profile: which workflow a site takes for each kind of item, what must hold of them, and whom it follows.

A profile changes nothing about a workflow. It says which ones a site uses, how long their intervals may be, how long
records are kept, and what the site takes where the authorities disagree.
"""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from reprocess.definitions.block import LINES_MAX, Days, Frozen, Name, Several, Sourced, Word

Months = Annotated[int, Field(gt=0, le=60)]


class ReinspectionLine(Sourced):
    """Says how often an item of a workflow is inspected again while it is in store (Q03).

    Attributes:
        every_months: what the authority asks for.
        most_months: the longest that is still accepted; `every_months` where absent.
    """

    workflow: Name
    every_months: Months
    most_months: Months | None = None

    @model_validator(mode="after")
    def _most_is_not_less(self) -> Self:
        if self.most_months is not None and self.most_months < self.every_months:
            message = "`most_months` must not be less than `every_months`"
            raise ValueError(message)
        return self

    @property
    def longest_months(self) -> int:
        """Returns the longest interval that this line accepts."""
        return self.most_months if self.most_months is not None else self.every_months


class ReadinessLine(Sourced):
    """Says how long an item of a workflow may stay ready on the shelf at the most (T13)."""

    workflow: Name
    days_most: Days


class Records(Sourced):
    """Says how long records are kept, in years."""

    years: Annotated[int, Field(gt=0, le=100)]


class Difference(Frozen):
    """Is one matter in which authorities disagree: what this site takes, and instead of what."""

    about: Word
    takes: Word
    instead_of: Word


class Profile(Frozen):
    """Is a site's choice: its workflows, the intervals that must hold, its records, and whom it follows.

    Attributes:
        follows: the authorities in their order; the first one that speaks governs.
        example: whether the file as a whole is an example; every page and print-out then shows a banner.
        workflows: the workflows that the site uses, at most one of each kind of item.
    """

    profile: Name
    title: Word
    follows: Word
    example: bool = False
    workflows: Annotated[tuple[Name, ...], Several, Field(min_length=1, max_length=LINES_MAX)]
    reinspection: Annotated[tuple[ReinspectionLine, ...], Several, Field(max_length=LINES_MAX)] = ()
    readiness: Annotated[tuple[ReadinessLine, ...], Several, Field(max_length=LINES_MAX)] = ()
    records: Records
    differs: Annotated[tuple[Difference, ...], Several, Field(max_length=LINES_MAX)] = ()
