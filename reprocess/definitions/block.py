"""What every block of a file is built from: strict, frozen, sourced."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Self

from pydantic import BaseModel, ConfigDict, Field, Strict, StringConstraints, model_validator

LINES_MAX = 60
"""Most lines of one list in a file: checks, readings, claims (our choice)."""
DWELL_S_MAX = 7 * 86_400
"""Longest dwell that is believed: seven days (reliability practice, our choice)."""

Name = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=40)]
Word = Annotated[str, StringConstraints(min_length=1, max_length=600)]
Key = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
DefectCode = Annotated[str, StringConstraints(pattern=r"^[A-Z]+(-[A-Z]+)*$", max_length=24)]
Seconds = Annotated[int, Field(gt=0, le=DWELL_S_MAX)]
Days = Annotated[int, Field(gt=0, le=36_500)]
Number = Annotated[Decimal, Field(allow_inf_nan=False, max_digits=12)]
Several = Strict(strict=False)  # a YAML list becomes a tuple, so that a definition is immutable

Names = Annotated[tuple[Name, ...], Several, Field(max_length=LINES_MAX)]

UNSOURCED = "a number needs a `source`, or the block says `example: true`"
"""What a block answers whose numbers come from nowhere."""
_NOT_FIGURES = frozenset({"example", "source"})


class Frozen(BaseModel):
    """Is the base of every model read from a file: strict, frozen, no unknown keys."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")


class Sourced(Frozen):
    """Is a block that may carry numbers and then says where they come from."""

    source: Word | None = None
    example: bool = False

    @model_validator(mode="after")
    def _numbers_have_a_source(self) -> Self:
        if self.source is None and not self.example and any(self.figures()):
            raise ValueError(UNSOURCED)
        return self

    def figures(self) -> Iterator[str]:
        """Yields the names of the fields of this block that hold a number."""
        for field in type(self).model_fields:
            held = getattr(self, field)
            is_number = isinstance(held, int | Decimal) and not isinstance(held, bool)
            if is_number and field not in _NOT_FIGURES:
                yield field
