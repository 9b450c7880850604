"""What every body has in common, and the types that their fields are made of."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Strict

Texts = Annotated[tuple[str, ...], Strict(strict=False)]
Numbers = Annotated[tuple[int, ...], Strict(strict=False)]
EvidenceClass = Literal["measured", "attested", "imported"]
Answers = dict[str, bool]
Readings = dict[str, str]
Counts = dict[str, int]


class Body(BaseModel):
    """Is the base of every body: frozen, strict, no unknown fields."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid")
    kind: ClassVar[str]
    version: ClassVar[int] = 1
