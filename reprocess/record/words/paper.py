"""Paper forms and queues of stations that were cut off: entered as a whole, their lines kept whatever they come to."""

from __future__ import annotations

from typing import ClassVar, Literal

from reprocess.record.words.body import Body, Texts


class FormEntered(Body):
    """Says that a numbered form, or the queue of a station that was cut off, was entered, of how many lines (D05, D06).

    Who entered it is the entry's actor, who countersigned it the second person. `digest` is over the lines, so that
    the same form is known again.
    """

    kind: ClassVar[str] = "form-entered"
    source: Literal["paper", "queue"]
    lines: int
    digest: str


class PaperLineKept(Body):
    """Keeps a line of a form that moved nothing: it contradicts the record, or a rule refuses it (D07).

    `line` counts from 1; `did` is the step or fact; `rules` are those under which it was not taken.
    """

    kind: ClassVar[str] = "paper-line-kept"
    form: str
    line: int
    did: str
    began_us: int | None = None
    ended_us: int
    done_by: str | None = None
    done_with: str | None = None
    conflict: bool
    because: Texts
    rules: Texts
