"""The standing of a numbered form, or of the queue of a station that was cut off."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Form:
    """Is whether a form was entered, and by whom.

    Attributes:
        digest: over its lines, so that the same form is known again.
        key: the key of the request that entered it; its lines share it.
    """

    form: str
    source: str = "paper"
    lines: int = 0
    digest: str = ""
    entered_us: int | None = None
    entered_by: str | None = None
    countersigned_by: str | None = None
    key: str = ""
    number: int = 0


def apply(form: Form, entry: Entry) -> Form:
    """Returns the form after one more entry of its stream."""
    body, envelope = entry.body, entry.envelope
    after = replace(form, form=subject_of(entry.stream), number=entry.number)
    match body:
        case words.FormEntered():
            return replace(
                after,
                source=body.source,
                lines=body.lines,
                digest=body.digest,
                entered_us=entry.at_us,
                entered_by=envelope.actor,
                countersigned_by=envelope.second,
                key=envelope.key,
            )
        case _:
            return after
