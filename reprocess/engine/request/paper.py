"""Paper forms, and the queues of stations that were cut off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.engine.request.cycle import DoStep, EndDwell, FailStep
from reprocess.engine.request.facts import Contaminate
from reprocess.engine.request.further import Further
from reprocess.engine.request.solutions import TestSolution


@dataclass(frozen=True, slots=True)
class OffLimits:
    """Is what nobody does on paper or while cut off: `release` or `issue`; the line is kept and moves nothing (D09)."""

    asked: ClassVar[str] = "off-limits"
    item: str
    what: str


LineWork = DoStep | EndDwell | FailStep | Contaminate | TestSolution | OffLimits
"""What a line of a form can say."""


@dataclass(frozen=True, slots=True)
class EnterForm(Further):
    """Asks to enter a numbered form as a whole; a supervisor countersigns (D06).

    Attributes:
        digest: over its lines.
        source: `paper`, or `queue` for a station that was cut off.
    """

    asked: ClassVar[str] = "enter-form"
    form: str
    lines: int
    digest: str
    source: str = "paper"


@dataclass(frozen=True, slots=True)
class EnterLine(Further):
    """Asks to take one line of a form that was entered just before (D05-D07).

    Attributes:
        line: its number on the form, from 1.
        done_by: the badge of whoever did it.
        done_with: the badge of the second person who was there.
        ended_us: when it happened or ended.
    """

    asked: ClassVar[str] = "enter-line"
    form: str
    line: int
    work: LineWork
    done_by: str
    ended_us: int
    began_us: int | None = None
    done_with: str | None = None

    @property
    def did(self) -> str:
        """Returns the step or fact that the line names."""
        match self.work:
            case DoStep() | FailStep():
                return self.work.step
            case EndDwell():
                return self.work.step or "done"
            case Contaminate():
                return self.work.cause
            case OffLimits():
                return self.work.what
            case TestSolution():
                return "tested"
