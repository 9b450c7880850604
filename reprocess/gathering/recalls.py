"""What recalls are judged on: the items that a recall reaches, where they are, and who wore what is in doubt."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from reprocess.engine.request.recalls import CloseRecall, CommitRecall, PreviewRecall, PutInQuarantine
from reprocess.errors import WrongUseError
from reprocess.gathering.identity import bearer_of
from reprocess.gathering.lots import solutions_in_use
from reprocess.gathering.reading import Library, part_of, parts_of, state_as, wholes_of
from reprocess.ledger.append import Transaction
from reprocess.ledger.touches import LAST
from reprocess.lookback.exposure import Doubt, doubts_of, exposed, whole_cycles
from reprocess.record.places import Instrument, Site
from reprocess.record.recalls import Recall
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.touching import Touched, TouchRow
from reprocess.record.words import ExposedUse
from reprocess.rules.scene import Bench, Part, Scene
from reprocess.terms import Stage, StreamKind, stream

ITEMS: Final = "items"
"""The sort of a recall whose list was given item by item."""
RECALLED_BY: Final = (*sorted({str(sort) for sort in Touched} - {"batch", "recall", "released"}), ITEMS)
"""What can be recalled by."""
THROUGH_WHOLES: Final = (Touched.PLACE, Touched.WEARER)
"""What only the assembly touches on record, and its parts with it."""
DIGEST_LEAST: Final = 8
"""Fewest characters by which a workflow's digest can be named (our choice)."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Is what a recall is by, and within which instants, both ends included; None means since ever, until now."""

    sort: str
    name: str
    from_us: int | None = None
    until_us: int | None = None
    items: tuple[str, ...] = ()
    as_of: int = LAST


@dataclass(frozen=True, slots=True)
class Reached:
    """Is what a recall reaches: the intervals concerned and the items, each once, condemned ones included.

    `unknown` is what a given list names that is on record neither as an item nor as a tag.
    """

    rows: tuple[TouchRow, ...]
    items: tuple[str, ...]
    unknown: tuple[str, ...] = ()


def reached(read: Transaction, asked: Asked) -> Reached:
    """Returns what touched the thing asked for within its instants.

    Raises:
        WrongUseError: nothing can be recalled by that, or the name means several.
    """
    if asked.sort not in RECALLED_BY:
        message = f"A recall is by one of {', '.join(RECALLED_BY)}, not {asked.sort}."
        raise WrongUseError(message, sort=asked.sort)
    if asked.sort == ITEMS:
        meant = {one: one if read.item(one).known else bearer_of(read, one) for one in asked.items}
        known = {item for item in meant.values() if item is not None}
        unknown = tuple(sorted(one for one, item in meant.items() if item is None))
        return Reached((), _with_batches(read, dict.fromkeys(known, asked.from_us or 0), asked.as_of), unknown)
    sort = Touched(asked.sort)
    name = _digest(read, asked.name) if sort is Touched.WORKFLOW else asked.name
    until_us = asked.until_us if asked.until_us is not None else LAST
    rows = read.touches.of(sort, name, from_us=asked.from_us or 0, until_us=until_us, as_of=asked.as_of)
    for bath in _baths_of(read, name) if sort is Touched.LOT else ():
        rows += read.touches.of(
            Touched.SOLUTION, bath, from_us=asked.from_us or 0, until_us=until_us, as_of=asked.as_of
        )
    since: dict[str, int] = {}
    for row in rows:
        since[row.item] = min(row.from_us, since.get(row.item, LAST))
    items = set(_with_batches(read, since, asked.as_of))
    if sort in THROUGH_WHOLES:
        items |= {member.item for row in rows for member in inside(read, row, asked.as_of)}
    return Reached(tuple(rows), tuple(sorted(items)))


def _baths_of(read: Transaction, lot: str) -> list[str]:
    """Returns the baths and containers that hold or held a lot, as made or by topping up (L04, L12)."""
    known = (one for one in read.states_of(StreamKind.SOLUTION) if isinstance(one, Solution))
    return [one.solution for one in known if lot in one.lots]


def _with_batches(read: Transaction, since: Mapping[str, int], as_of: int) -> tuple[str, ...]:
    """Returns items and the counted batches that parts of them went into since, and on from those, by id (P02)."""
    found: dict[str, int] = {}
    waiting = dict(since)
    while waiting:
        item, from_us = waiting.popitem()
        if found.get(item, LAST) <= from_us:
            continue
        found[item] = from_us
        for row in read.touches.of(Touched.BATCH, item, from_us=from_us, as_of=as_of):
            waiting[row.item] = min(row.from_us, waiting.get(row.item, LAST))
    return tuple(sorted(found))


def inside(read: Transaction, row: TouchRow, as_of: int = LAST) -> list[TouchRow]:
    """Returns the parts that were in an assembly during an interval of it."""
    until_us = row.until_us if row.until_us is not None else LAST
    return read.touches.of(Touched.ASSEMBLY, row.item, from_us=row.from_us, until_us=until_us, as_of=as_of)


def _digest(read: Transaction, name: str) -> str:
    found = [one for one in read.touches.names(Touched.WORKFLOW) if one.startswith(name)]
    if len(name) < DIGEST_LEAST or len(found) > 1:
        message = f"Name a workflow's version by at least {DIGEST_LEAST} characters of its digest, not {name}."
        raise WrongUseError(message, name=name)
    return found[0] if found else name


def doubted(read: Transaction, asked: Asked, found: Reached) -> list[Doubt]:
    """Returns the cycles that are in doubt because of what is recalled.

    A bath, load, instrument, person or workflow makes the readiness of its cycles doubtful; a lot, model, serial
    number or a list of items makes every use since they came doubtful. A place or a wearer puts no cycle in doubt.
    """
    if asked.sort == ITEMS:
        since = asked.from_us or 0
        return [one for item in found.items for one in whole_cycles(read.touches.by_since(item, LAST, since))]
    recurring = set()
    if asked.sort == Touched.INSTRUMENT:
        recurring = {(item, step) for item in found.items for step in read.item(item).passes}
    return doubts_of(found.rows, read.touches.by_since, recurring)


def measured_by(read: Transaction, instrument: str) -> tuple[ExposedUse, ...]:
    """Returns every use that rests on what an instrument measured since its last verification (H08)."""
    state = state_as(read, stream(StreamKind.INSTRUMENT, instrument), Instrument)
    rows = read.touches.of(
        Touched.INSTRUMENT,
        instrument,
        from_us=state.verified_us or 0,
        since_feed=state.verified_feed if state.verified_us is not None else 0,
    )
    items = {row.item for row in rows}
    recurring = {(item, step) for item in items for step in read.item(item).passes}
    return exposed(doubts_of(rows, read.touches.by_since, recurring), read.touches.by_since)


def for_preview(read: Transaction, library: Library, at: Bench, request: PreviewRecall) -> Scene:
    """Returns what a preview shows: the items, the assemblies they are in, and who wore what is in doubt."""
    asked = Asked(request.sort, request.name, request.from_us, request.until_us, request.items)
    scene = _scene(read, library, at, request.recall, asked)
    if request.sort != ITEMS:
        return scene
    return replace(scene, unknown=reached(read, asked).unknown)


def for_commit(read: Transaction, library: Library, at: Bench, request: CommitRecall) -> Scene:
    """Returns what a commit is judged on: the same list as its preview, made anew."""
    recall = state_as(read, stream(StreamKind.RECALL, request.recall), Recall)
    if not recall.previewed:
        return _with_recall(read, Scene(bench=at, item=Standing(item="")), request.recall)
    asked = Asked(recall.sort, recall.name, recall.from_us, recall.until_us, recall.items)
    scene = _scene(read, library, at, request.recall, asked)
    if recall.sort != Touched.LOT:
        return scene
    lot = stream(StreamKind.LOT, recall.name)
    return replace(scene, states={**scene.states, **solutions_in_use(read), lot: read.state(lot)})


def _scene(read: Transaction, library: Library, at: Bench, recall: str, asked: Asked) -> Scene:
    found = reached(read, asked)
    parts = in_service(parts_of(read, library, found.items))
    scene = Scene(
        bench=at,
        item=Standing(item=""),
        parts=parts,
        wholes=wholes_of(read, library, [part.standing for part in parts.values()]),
        uses=exposed(doubted(read, asked, found), read.touches.by_since),
        on_record=read.touches.items_in_service(),
    )
    return _with_recall(read, scene, recall)


def in_service(parts: dict[str, Part]) -> dict[str, Part]:
    """Returns the parts that are not condemned: nothing can be done with those any more."""
    return {name: part for name, part in parts.items() if part.standing.stage != Stage.CONDEMNED}


def _with_recall(read: Transaction, scene: Scene, name: str) -> Scene:
    about = stream(StreamKind.RECALL, name)
    return replace(scene, states={**scene.states, about: state_as(read, about, Recall)})


def for_close(read: Transaction, library: Library, at: Bench, request: CloseRecall) -> Scene:
    """Returns what closing a recall is judged on: in `parts` the items that nobody has located yet."""
    rows = read.touches.of(Touched.RECALL, request.recall)
    missing = tuple(row.item for row in rows if row.open_now)
    scene = Scene(
        bench=at,
        item=Standing(item=""),
        parts=parts_of(read, library, missing),
        on_record=len({row.item for row in rows}),
    )
    return _with_recall(read, scene, request.recall)


def for_quarantine(read: Transaction, library: Library, at: Bench, request: PutInQuarantine) -> Scene:
    """Returns what putting an item in quarantine is judged on: the item, and its parts where it has some."""
    item = read.item(request.item)
    home = state_as(read, stream(StreamKind.SITE, item.site), Site) if item.known else None
    scene = Scene(bench=at, item=item, home=home, parts=parts_of(read, library, tuple(item.members.values())))
    part = part_of(read, library, item)
    if part is None:
        return scene
    return replace(
        scene, workflow=part.workflow, digest=part.digest, current=part.current, current_digest=part.current_digest
    )


@dataclass(frozen=True, slots=True)
class Place:
    """Is where one item of a recall is, or was last seen, and when it was located; None where it was not."""

    item: str
    held_us: int
    located_us: int | None
    stage: str
    site: str
    station: str | None
    seen_us: int | None
    quarantine: str | None


def places(read: Transaction, recall: str, as_of: int = LAST) -> list[Place]:
    """Returns every item that a recall held, the ones not located first, each once."""
    latest: dict[str, TouchRow] = {}
    for row in read.touches.of(Touched.RECALL, recall, as_of=as_of):
        latest[row.item] = row
    return sorted(_places(read, latest.values()), key=lambda one: (one.located_us is not None, one.item))


def _places(read: Transaction, rows: Iterable[TouchRow]) -> list[Place]:
    found = []
    for row in rows:
        item = read.item(row.item)
        held = [one for one in item.holds.values() if one.recall == row.name]
        change = item.change
        found.append(
            Place(
                row.item,
                row.from_us,
                row.until_us,
                str(item.stage),
                item.site,
                held[0].sighted_at if held and held[0].sighted_at else change.station if change else None,
                held[0].sighted_us if held and held[0].sighted_us else change.moment.wall_us if change else None,
                held[0].place if held else None,
            )
        )
    return found
