"""What a change of somebody's competency, or of a file for safety, reaches on record."""

from __future__ import annotations

from reprocess.engine.flagging import Flag, Worked
from reprocess.gathering.reading import Library, part_of, state_as, wholes_of
from reprocess.ledger.append import Transaction
from reprocess.record.places import Site
from reprocess.record.standing import Standing
from reprocess.record.touching import Touched
from reprocess.record.words import StepFlagged
from reprocess.rules.scene import Part
from reprocess.terms import Stage, StreamKind, stream, subject_of


def worked_by(
    read: Transaction, library: Library, person: str, from_us: int
) -> tuple[tuple[Worked, ...], dict[str, Part]]:
    """Returns (each step of a person since an instant, once an item and cycle; the assemblies these items are in)."""
    latest = {}
    for row in read.touches.of(Touched.PERSON, person, from_us=from_us):
        if row.step is not None:
            latest[row.item, row.cycle, row.step] = row
    parts = {name: part_of(read, library, read.item(name)) for name in dict.fromkeys(name for name, _, _ in latest)}
    found = [
        Worked(part, step, row.number, cycle, row.from_us, _holding(read, part.standing))
        for (name, cycle, step), row in latest.items()
        if (part := parts[name]) is not None
    ]
    return tuple(found), wholes_of(read, library, [one.part.standing for one in found])


def _holding(read: Transaction, item: Standing) -> bool:
    return state_as(read, stream(StreamKind.SITE, item.site), Site).competency_hold


def flags_waiting(read: Transaction, person: str) -> tuple[Flag, ...]:
    """Returns the flagged steps of a person that nobody has reviewed."""
    found = []
    for feed in read.reviews.flags():
        entry = read.entry(feed)
        if entry is not None and isinstance(entry.body, StepFlagged) and entry.body.person == person:
            item = read.item(subject_of(entry.stream))
            found.append(Flag(item.item, entry.body, item.item_kind, item.model))
    return tuple(found)


def open_under(
    read: Transaction, library: Library, workflow: str, digest: str
) -> tuple[tuple[Part, ...], dict[str, Part], int]:
    """Returns (items in the department under another version of a workflow, the assemblies they are in, how many out).

    What is out is not called back by a change of a file; that is a recall.
    """
    items = [
        item
        for item in read.items()
        if item.workflow == workflow and item.digest != digest and item.stage not in (Stage.CONDEMNED, Stage.LOST)
    ]
    here = [item for item in items if item.custody is None]
    parts = tuple(part for item in here if (part := part_of(read, library, item)) is not None)
    return parts, wholes_of(read, library, here), len(items) - len(here)
