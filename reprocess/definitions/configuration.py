"""Configuration: what may be assembled with what; ports = filters + plugs and gaskets = filters, always."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from reprocess.definitions.block import LINES_MAX, Frozen, Name, Several, Sourced, Word


class Slot(Frozen):
    """Is a place in an assembly and what may stand there: `quantity` items of one of the models.

    Attributes:
        tight_fitting: whether it seals on the wearer's face, so that its model must be one found to fit (A09).
    """

    slot: Name
    item_kind: Name
    models: Annotated[tuple[Word, ...], Several, Field(min_length=1, max_length=LINES_MAX)]
    quantity: Annotated[int, Field(gt=0, le=9)] = 1
    tight_fitting: bool = False


class Configuration(Sourced):
    """Is an approved configuration: what may be assembled with what (C01-C05).

    Always `ports = filters + plugs` and `gaskets = filters`; a file that breaks this is refused.
    """

    configuration: Name
    title: Word
    approval: Word
    ports: Annotated[int, Field(gt=0, le=9)]
    filters: Annotated[int, Field(gt=0, le=9)]
    plugs: Annotated[int, Field(ge=0, le=9)]
    gaskets: Annotated[int, Field(ge=0, le=9)]
    slots: Annotated[tuple[Slot, ...], Several, Field(min_length=1, max_length=LINES_MAX)]

    @model_validator(mode="after")
    def _arithmetic_holds(self) -> Self:
        if self.ports != self.filters + self.plugs:
            closed = self.filters + self.plugs
            message = f"{self.ports} ports need {self.ports} filters and plugs together, not {closed} (C05)"
            raise ValueError(message)
        if self.gaskets != self.filters:
            message = f"{self.filters} filters need {self.filters} gaskets, not {self.gaskets} (C04)"
            raise ValueError(message)
        in_slots = sum(slot.quantity for slot in self.slots if slot.slot == "filter")
        if in_slots != self.filters:
            message = f"the `filter` slots hold {in_slots}, the configuration says {self.filters}"
            raise ValueError(message)
        return self
