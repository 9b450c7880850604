"""The picture of who can do what: people down, steps across, a letter and a shade in each field."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

from reprocess.gathering import local
from reprocess.pictures import layers
from reprocess.pictures.looks import CAN, INK
from reprocess.pictures.picture import Frame, Plot, Spec, sentences, short, tell
from reprocess.pictures.rows.competencies import Finding, GridRows

FIELD: Final = 26
"""Pixels of one field, both ways."""
NAME_MOST: Final = 80


def competencies(rows: GridRows, frame: Frame) -> Plot:
    """Returns the grid: C current, T trainee, L lapsed, - never; the table has a column for each step as the grid."""
    heads = _heads(rows, frame)
    values = list(_values(rows, heads, frame))
    words: dict[str, Any] = {f"lane-{row}": short(one.name) for row, one in enumerate(rows.people)}
    words |= {f"column-{number}": short(one) for number, one in enumerate(heads)}
    words |= {f"look-{name}": f"{frame.word(f'can.{name}.letter')}  {frame.word(f'can.{name}')}" for name in CAN}
    columns = (frame.word("column.person"), *heads)
    told = tuple((short(one.name, NAME_MOST), *(_cell(found, frame) for found in one.findings)) for one in rows.people)
    title, caption = frame.word("can.title"), frame.word("can.caption")
    return Plot(
        frame.key,
        frame.texts.language,
        _spec(rows, values, words),
        title,
        _alt(rows, heads, frame),
        caption,
        columns,
        told,
        len(values),
    )


def _values(rows: GridRows, heads: list[str], frame: Frame) -> Iterator[dict[str, Any]]:
    for row, one in enumerate(rows.people):
        for number, (head, found) in enumerate(zip(heads, one.findings, strict=True)):
            look = CAN[found.can]
            yield {
                "lane": str(row),
                "column": number,
                "look": look.name,
                "edge": INK,
                "paint": look.paint,
                "ink": look.ink,
                "text": frame.word(f"can.{found.can}.letter"),
                "tell": tell((short(one.name, NAME_MOST), head, _cell(found, frame))),
            }


def _heads(rows: GridRows, frame: Frame) -> list[str]:
    """Returns the heads of the columns: the step, and the kind of item before it where there are several kinds."""
    several = len({one.item_kind for one in rows.columns}) > 1
    return [
        f"{frame.known('kind', one.item_kind)}: {frame.known('step', one.step)}"
        if several
        else frame.known("step", one.step)
        for one in rows.columns
    ]


def _cell(found: Finding, frame: Frame) -> str:
    """Returns a field of the table: its letter, and the day until or since which it counts."""
    letter = frame.word(f"can.{found.can}.letter")
    if found.until_us is None:
        return letter
    day = local(frame.zone, found.until_us).strftime("%Y-%m-%d")
    return frame.word("can.lapsed-cell" if found.can == "lapsed" else "can.until-cell", letter=letter, day=day)


def _spec(rows: GridRows, values: list[dict[str, Any]], words: dict[str, Any]) -> Spec:
    x: Spec = {
        "field": "column",
        "type": "ordinal",
        "scale": {"domain": list(range(len(rows.columns))), "paddingInner": 0.06},
        "axis": {
            "title": None,
            "orient": "top",
            "labelExpr": "words['column-' + datum.value]",
            "labelAngle": -60,
            "labelOverlap": False,
        },
    }
    field = {
        "data": {"values": values},
        "mark": {"type": "rect", "strokeWidth": 1},
        "encoding": layers.filled(list(CAN.values())),
    }
    letters = layers.words_on(values, fontWeight="bold")
    y = layers.lanes([str(row) for row in range(len(rows.people))])
    y = {**y, "scale": {**y["scale"], "paddingInner": 0.06, "paddingOuter": 0}}
    spec = layers.chart([field, letters], {"x": x, "y": y}, (FIELD, FIELD), words)
    return {**spec, "width": {"step": FIELD}}


def _alt(rows: GridRows, heads: list[str], frame: Frame) -> str:
    counted = Counter(found.can for one in rows.people for found in one.findings)
    alone = [
        head
        for number, head in enumerate(heads)
        if sum(one.findings[number].can == "current" for one in rows.people) < 2  # noqa: PLR2004 - one or nobody
    ]
    return sentences(
        (
            frame.word("can.alt", people=len(rows.people), steps=len(rows.columns)),
            frame.word(
                "can.alt-counts", current=counted["current"], trainee=counted["trainee"], lapsed=counted["lapsed"]
            ),
            frame.word("can.alt-alone", steps=alone[:5], number=len(alone)) if alone else "",
        )
    )
