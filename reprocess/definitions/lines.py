"""What a person answers, reads off and counts at a step, and what follows when it is not as it must be."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from reprocess.definitions.block import DefectCode, Frozen, Key, Name, Number, Sourced, Word


class Failing(Frozen):
    """Says what follows when a check or reading of a step is not as it must be.

    Attributes:
        defect: the stable code of the defect.
        back_to: the step from which the item starts again; the step itself when absent.
        hold: whether the item is held until a person decides (H01).
        route: where the trade sends it next.
        rule: the rule of the catalogue that the answer names; H01 where absent.
    """

    defect: DefectCode
    rule: Annotated[str, StringConstraints(pattern=r"^[A-Z][0-9]{2}$")] | None = None
    back_to: Name | None = None
    hold: bool = False
    route: Literal["reclean", "redry", "repair", "replace", "discard", "quarantine"] = "reclean"


class Check(Frozen):
    """Is one line that a person answers yes or no; `yes` is always the good answer."""

    check: Name
    text: Word
    failing: Failing


class Reading(Sourced):
    """Is a measured value with its unit, its limits and its plausible range (M08); limits include equality.

    Attributes:
        reading: the key, ending in the unit, such as `flow_l_per_min`.
        plausible_least: below this the value is a slip of the keyboard, asked again.
        plausible_most: above this likewise.
    """

    reading: Key
    unit: Word
    least: Number | None = None
    most: Number | None = None
    plausible_least: Number
    plausible_most: Number
    required: bool = True
    failing: Failing | None = None

    @model_validator(mode="after")
    def _range_is_a_range(self) -> Self:
        edges = [self.plausible_least, self.least, self.most, self.plausible_most]
        given = [edge for edge in edges if edge is not None]
        if given != sorted(given) or self.plausible_least >= self.plausible_most:
            message = "the limits of a reading must rise: plausible_least, least, most, plausible_most"
            raise ValueError(message)
        return self


class Count(Sourced):
    """Is a number of parts that must be present: exactly this many, or as many as the configuration says (M07)."""

    count: Name
    exactly: Annotated[int, Field(ge=0, le=99)] | None = None
    from_configuration: Literal["gaskets", "plugs", "filters"] | None = None
    failing: Failing

    @model_validator(mode="after")
    def _one_way_to_know(self) -> Self:
        if (self.exactly is None) == (self.from_configuration is None):
            message = "a count says either `exactly` or `from_configuration`"
            raise ValueError(message)
        return self
