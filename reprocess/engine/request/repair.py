"""What comes back from repair."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from reprocess.engine.request.further import Further


@dataclass(frozen=True, slots=True)
class FinishRepair(Further):
    """States that a repair is done: the work, the test and its result, who brought the item back.

    Attributes:
        lots: part to the lot that it was fitted from.
    """

    asked: ClassVar[str] = "finish-repair"
    item: str
    work: str
    test: str
    passed: bool
    returned_by: str
    lots: dict[str, str] = field(default_factory=dict)
