"""The picture of solutions: each from its making to its end, with tests, contacts, expiry and suspect windows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from reprocess.gathering import local_text
from reprocess.pictures import layers
from reprocess.pictures.instants import length, ticks
from reprocess.pictures.looks import BATHS
from reprocess.pictures.picture import Cells, Frame, Plot, Spec, plain, sentences, short, tell
from reprocess.pictures.rows.baths import BathRow
from reprocess.pictures.rows.spans import overlaps

ROW_HIGH: Final = 46
SHAPES: Final = {"passed": "circle", "failed": "M-1,-1L1,1M1,-1L-1,1", "void": "diamond"}
"""How the result of a test is marked; a test that failed by a cross, which has no shape of that name."""
Value = dict[str, Any]


def baths(rows: Sequence[BathRow], from_us: int, until_us: int, frame: Frame) -> Plot:
    """Returns the picture of solutions within `[from_us, until_us)`, and of nothing else.

    Args:
        rows: the solutions, in the order in which they are drawn; what lies outside is left out.
        from_us: when the picture begins.
        until_us: when it ends.
        frame: in what it is made.
    """
    shown = [one for one in rows if overlaps(one, from_us, until_us)]
    axis = _Axis(from_us, until_us, frame)
    facts = [one for row in shown for one in axis.facts(row)]
    spec = _spec(shown, facts, axis)
    columns = tuple(frame.word(f"column.{one}") for one in ("solution", "what", "from", "until", "long", "note"))
    told = tuple(one["cells"] for one in facts)
    title = frame.word("baths.title")
    return Plot(
        frame.key,
        frame.texts.language,
        spec,
        title,
        _alt(shown, axis),
        frame.word("baths.caption"),
        columns,
        told,
        len(facts),
    )


class _Axis:
    """Places the facts of solutions on the time line; each fact is a mark and a row of the table."""

    def __init__(self, from_us: int, until_us: int, frame: Frame) -> None:
        self.from_us, self.until_us, self.frame = from_us, until_us, frame

    def facts(self, row: BathRow) -> Iterator[Value]:
        """Yields every fact about one making that lies within the picture, in the order of the table."""
        own = {"lane": lane_of(row)}
        frame = self.frame
        for stretch in row.stretches:
            last = stretch is row.stretches[-1]
            until = "" if last and row.ended_us is None else local_text(frame.zone, stretch.until_us)
            note = self._made(row) if stretch is row.stretches[0] else ""
            ends = frame.word(f"cause.{row.cause}") if last and row.cause else ""
            span = (stretch.from_us, stretch.until_us)
            yield from self._bar(row, own, ("state", stretch.state), span, until, sentences((note, ends)))
        for one in row.suspects:
            span = (one.from_us, one.until_us)
            yield from self._bar(row, own, ("suspect", "suspect"), span, local_text(frame.zone, one.until_us), "")
        for test in row.tests:
            yield from self._point(row, own, test.shown, test.at_us, plain(test.reading))
        for contact in row.contacts:
            note = frame.word("baths.contact", item=plain(contact.item), cycle=contact.cycle)
            yield from self._point(row, own, "contact", contact.at_us, note)
        yield from self._point(row, own, "expiry", row.expires_us, "")

    def _made(self, row: BathRow) -> str:
        return self.frame.word("baths.made", agent=plain(row.agent), lots=[plain(one) for one in row.lots])

    def _bar(
        self, row: BathRow, own: Value, what: tuple[str, str], span: tuple[int, int], until: str, note: str
    ) -> Iterator[Value]:
        from_us, until_us = max(span[0], self.from_us), min(span[1], self.until_us)
        if from_us >= until_us:
            return
        sort, look = what
        frame = self.frame
        cells: Cells = (
            _named(row),
            frame.word(f"baths.look.{look}"),
            local_text(frame.zone, span[0]),
            until or frame.word("until-now"),
            length(*span),
            note,
        )
        yield {
            **own,
            "sort": sort,
            "look": look,
            "edge": BATHS[look].edge,
            "from": from_us - self.from_us,
            "until": until_us - self.from_us,
            "cells": cells,
        }

    def _point(self, row: BathRow, own: Value, shape: str, at_us: int, note: str) -> Iterator[Value]:
        if not self.from_us <= at_us < self.until_us:
            return
        cells: Cells = (
            _named(row),
            self.frame.word(f"baths.shape.{shape}"),
            local_text(self.frame.zone, at_us),
            "",
            "",
            note,
        )
        sort = shape if shape in ("contact", "expiry") else "test"
        yield {**own, "sort": sort, "shape": shape, "from": at_us - self.from_us, "cells": cells}


def lane_of(row: BathRow) -> str:
    """Returns the lane of a making: its solution, and which making where there were several."""
    return f"{plain(row.solution)} {row.making}"


def _named(row: BathRow) -> str:
    return plain(row.solution if row.making == 1 else f"{row.solution} ({row.making})")


def _spec(shown: Sequence[BathRow], facts: Sequence[Value], axis: _Axis) -> Spec:
    frame = axis.frame
    marks = ticks(frame.zone, axis.from_us, axis.until_us)
    words = layers.tick_words(marks, axis.from_us)
    words |= {f"lane-{lane_of(one)}": short(_named(one)) for one in shown}
    words |= {f"look-{name}": frame.word(f"baths.look.{name}") for name in BATHS}
    words |= {f"shape-{name}": frame.word(f"baths.shape.{name}") for name in (*SHAPES, "contact", "expiry")}
    time = layers.with_ticks(layers.along_time(axis.from_us, axis.until_us), marks, axis.from_us)
    looks = list(BATHS.values())
    names, shapes = [*SHAPES, "contact", "expiry"], [*SHAPES.values(), "triangle-up", "M0,-1L0,1"]

    def of(sort: str) -> list[Value]:
        values = [{name: value for name, value in one.items() if name != "cells"} for one in facts]
        return [
            one | {"tell": tell(fact["cells"])} for one, fact in zip(values, facts, strict=True) if one["sort"] == sort
        ]

    return layers.chart(
        [
            layers.bars(of("state"), looks, height={"band": 0.9}),
            layers.bars(of("suspect"), looks, height={"band": 0.4}),
            layers.points(of("contact"), names, shapes, yOffset=12, size=40),
            layers.points(of("test"), names, shapes, yOffset=-4, size=110, strokeWidth=2),
            layers.points(of("expiry"), names, shapes, size=900, strokeWidth=3),
        ],
        {"x": time, "y": layers.lanes([lane_of(one) for one in shown])},
        (layers.WIDTH, ROW_HIGH),
        words,
    )


def _alt(shown: Sequence[BathRow], axis: _Axis) -> str:
    frame = axis.frame
    tests = [one for row in shown for one in row.tests if axis.from_us <= one.at_us < axis.until_us]
    failed = [_named(row) for row in shown if any(one.shown == "failed" for one in row.tests)]
    told = (
        frame.word(
            "baths.alt", since=local_text(frame.zone, axis.from_us), until=local_text(frame.zone, axis.until_us)
        ),
        frame.word("baths.alt-rows", number=len(shown), standing=sum(one.ended_us is None for one in shown)),
        frame.word("baths.alt-tests", number=len(tests), failed=sum(one.shown == "failed" for one in tests)),
        frame.word("baths.alt-failed", names=failed[:5]) if failed else "",
    )
    return sentences(told)
