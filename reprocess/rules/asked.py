"""What a request can say about itself that the rules must know."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Late:
    """Marks what is entered after the fact, from a numbered paper form (D05, D06).

    Attributes:
        occurred_us: when it happened, as written on the form.
        began_us: when a dwell began, as written on the form.
        paper: the form's number.
    """

    occurred_us: int
    paper: str
    began_us: int | None = None
