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
        done_by: the person who did it, where somebody else writes it down.
        done_with: the second person who was there.
    """

    occurred_us: int
    paper: str
    began_us: int | None = None
    done_by: str | None = None
    done_with: str | None = None


@dataclass(frozen=True, slots=True)
class Override:
    """Asks to pass over one rule once, for one item, with a reason out of a list and words of one's own (A08).

    Attributes:
        because: the reason's code.
        until_us: until when it counts, for what may be passed over for some days.
        reference: the statement or document that it rests on, where the rule asks for one.
    """

    rule: str
    because: str
    words: str
    until_us: int | None = None
    reference: str | None = None
