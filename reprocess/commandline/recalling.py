"""From the words of `reprocess recall` to a request, and how a recall is shown."""

from __future__ import annotations

import json
from dataclasses import dataclass

from reprocess.commandline.asking import at_instant, said
from reprocess.commandline.baths import needed
from reprocess.commandline.options import readable
from reprocess.commandline.say import Local
from reprocess.department import Department
from reprocess.engine.request import PreviewRecall
from reprocess.gathering.recalls import ITEMS, Place
from reprocess.lookback.effectiveness import effectiveness
from reprocess.record.recalls import Recall
from reprocess.record.states import as_text
from reprocess.record.words import RecallPreviewed
from reprocess.terms import StreamKind, stream
from reprocess.terms import as_text as instant_text

CALLED = {"bath": "solution"}
"""What people call it, where the record has another word."""


@dataclass(frozen=True, slots=True)
class Given:
    """Is what was typed, still as text."""

    sort: str | None
    name: str | None
    items: tuple[str, ...]
    since: str | None
    until: str | None
    why: str
    notice: str | None
    owner: str


def preview_from(recall: str, given: Given) -> PreviewRecall:
    """Returns the preview that the words mean.

    Raises:
        WrongUseError: something is missing, or a time has no offset.
    """
    sort = needed(given.sort, "by what it is recalled, such as lot or bath")
    items = tuple(readable(one) for one in given.items)
    name = said(given.name) or f"{len(items)} items" if sort == ITEMS else needed(said(given.name), "which one it is")
    return PreviewRecall(
        recall,
        CALLED.get(sort, sort),
        name,
        cause=said(given.why) or "not said",
        owner=said(given.owner) or "programme-administrator",
        from_us=at_instant(given.since) if given.since is not None else None,
        until_us=at_instant(given.until) if given.until is not None else None,
        items=items,
        notice=said(given.notice),
    )


def preview_lines(opened: Department, recall: str) -> list[str]:
    """Returns the latest preview of a recall as lines: the counts, then the exact list; nothing where none is."""
    shown = [
        one.body for one in opened.history(stream(StreamKind.RECALL, recall)) if isinstance(one.body, RecallPreviewed)
    ]
    if not shown:
        return []
    body = shown[-1]
    counts = (("stage", body.stages), ("with", body.custody), ("place", body.places))
    lines = [
        f"  {title:<7} {', '.join(f'{name} {count}' for name, count in one.items())}" for title, one in counts if one
    ]
    return [*lines, *(f"  item    {item}" for item in body.items)]


def show(opened: Department, name: str, local: Local, *, as_json: bool) -> int:
    """Prints where a recall stands and what is not located yet; returns 1 while something is missing."""
    recall = opened.recall(name)
    places = opened.recalled(name)
    now_us = opened.clock.now().wall_us
    missing = [one for one in places if one.located_us is None]
    if as_json:
        print(json.dumps(_fields(recall, places, now_us), ensure_ascii=False))
    else:
        print("\n".join(_lines(recall, places, now_us, local)))
    return 1 if missing else 0


def _lines(recall: Recall, places: list[Place], now_us: int, local: Local) -> list[str]:
    lines = [f"{recall.recall}  {recall.sort} {recall.name}: {recall.cause} (owner {recall.owner})"]
    if recall.notice is not None:
        lines.append(f"  field notice {recall.notice}")
    if recall.committed_us is None:
        return [*lines, f"  previewed: {recall.listed} items; nothing is held yet"]
    closed = f", closed {local(recall.closed_us)}" if recall.closed_us is not None else ""
    lines.append(f"  committed {local(recall.committed_us)}{closed}")
    by_age = effectiveness([place.located_us for place in places], recall.committed_us, now_us)
    lines += [f"  located by {one.age}: {one.located} of {one.total}" for one in by_age]
    if recall.case is not None:
        lines.append(f"  exposure case {recall.case}: `reprocess case {recall.case}`")
    return [*lines, *(_line(one, local) for one in places)]


def _line(one: Place, local: Local) -> str:
    seen = f", {one.station or 'no station'} {local(one.seen_us)}" if one.seen_us is not None else ""
    kept = f", quarantine {one.quarantine}" if one.quarantine is not None else ""
    mark = "NOT FOUND" if one.located_us is None else "located  "
    return f"  {mark} {one.item:<12} {one.stage:<12} {one.site}{seen}{kept}"


def _fields(recall: Recall, places: list[Place], now_us: int) -> dict[str, object]:
    fields: dict[str, object] = json.loads(as_text(recall))
    if recall.committed_us is not None:
        by_age = effectiveness([place.located_us for place in places], recall.committed_us, now_us)
        fields["effectiveness"] = [{"age": one.age, "located": one.located, "total": one.total} for one in by_age]
    fields["places"] = [
        {
            "item": one.item,
            "stage": one.stage,
            "site": one.site,
            "held": instant_text(one.held_us),
            "located": None if one.located_us is None else instant_text(one.located_us),
            "station": one.station,
            "seen": None if one.seen_us is None else instant_text(one.seen_us),
            "quarantine": one.quarantine,
        }
        for one in places
    ]
    return fields
