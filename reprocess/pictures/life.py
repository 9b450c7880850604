"""The picture of one item's life: its stages along the time, and below them what ran beside."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from reprocess.gathering import local_text
from reprocess.pictures import layers
from reprocess.pictures.instants import length, ticks
from reprocess.pictures.looks import BANDS, STAGES, Look
from reprocess.pictures.picture import Cells, Frame, Plot, plain, sentences, short, tell
from reprocess.pictures.rows.life import CLOCKS, Bar, Lane, LifeRows
from reprocess.pictures.rows.spans import in_rows

LANE_HIGH: Final = 30
"""Pixels from one lane to the next."""


@dataclass(frozen=True, slots=True)
class _Placed:
    """Is one bar in its lane; `lane` is the lane's id, such as `hold-2` for the second row of holds."""

    lane: str
    bar: Bar


def life(rows: LifeRows, frame: Frame) -> Plot:
    """Returns the picture of an item's life."""
    placed = list(_placed(rows))
    lanes = list(dict.fromkeys(one.lane for one in placed))
    marks = ticks(frame.zone, rows.from_us, rows.until_us)
    values = [_value(one, rows, frame) for one in placed]
    looks = list(dict.fromkeys(look_of(one.bar) for one in placed))
    words = layers.tick_words(marks, rows.from_us)
    words |= {f"lane-{one.lane}": frame.word(f"life.lane.{one.bar.lane}") for one in placed}
    words |= {f"look-{look.name}": _look_word(look, frame) for look in looks}
    time = layers.with_ticks(layers.along_time(rows.from_us, rows.until_us), marks, rows.from_us)
    going_on = [one for one in values if one["open"]]
    spec = layers.chart(
        [
            layers.bars(values, looks),
            layers.words_on([one for one in values if one["text"]], align="left", dx=4, clip=True),
            layers.points(_ends(going_on), ["open"], ["triangle-right"], aria=False),
        ],
        {"x": time, "y": layers.lanes(lanes)},
        (layers.WIDTH, LANE_HIGH),
        words | {"shape-open": frame.word("goes-on")},
    )
    title = frame.word("life.title", item=plain(rows.item))
    told = tuple(_cells(one.bar, frame) for one in placed)
    columns = tuple(frame.word(f"column.{one}") for one in ("what", "which", "from", "until", "long", "note"))
    return Plot(
        frame.key,
        frame.texts.language,
        spec,
        title,
        _alt(rows, frame),
        frame.word("life.caption"),
        columns,
        told,
        len(placed),
    )


def look_of(bar: Bar) -> Look:
    """Returns how a bar is filled."""
    if bar.lane is Lane.STAGE:
        return STAGES[bar.name]
    return BANDS["broken" if bar.outcome == "broken" else str(bar.lane)]


def _placed(rows: LifeRows) -> Iterator[_Placed]:
    """Yields the bars lane by lane; what overlaps within one lane gets rows of its own."""
    for lane in Lane:
        for number, row in enumerate(in_rows(rows.of(lane)), 1):
            yield from (_Placed(str(lane) if number == 1 else f"{lane}-{number}", one) for one in row)


def _value(placed: _Placed, rows: LifeRows, frame: Frame) -> dict[str, Any]:
    bar, look = placed.bar, look_of(placed.bar)
    from_us, until_us = max(bar.from_us, rows.from_us), min(bar.until_us, rows.until_us)
    wide = layers.pixels_of(from_us, until_us, rows.until_us - rows.from_us)
    return {
        "lane": placed.lane,
        "from": from_us - rows.from_us,
        "until": until_us - rows.from_us,
        "look": look.name,
        "edge": look.edge,
        "paint": look.paint,
        "ink": look.ink,
        "open": bar.open,
        "text": layers.fits(short(_which(bar, frame)), wide - 8),
        "tell": tell(_cells(bar, frame)),
    }


def _ends(values: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Returns the marks at the ends of what still goes on."""
    return [{"lane": one["lane"], "from": one["until"], "shape": "open", "tell": one["tell"]} for one in values]


def _which(bar: Bar, frame: Frame) -> str:
    match bar.lane:
        case Lane.STAGE:
            return frame.known("stage", bar.name)
        case Lane.HOLD:
            return frame.known("hold", bar.name)
        case Lane.LOAD:
            return plain(bar.name)
        case Lane.OUT:
            return frame.word(f"out.{bar.name}")
        case Lane.WET | Lane.DRY | Lane.OTHER:
            return frame.known("step", bar.detail)


def _cells(bar: Bar, frame: Frame) -> Cells:
    until = frame.word("until-now") if bar.open else local_text(frame.zone, bar.until_us)
    return (
        frame.word(f"life.lane.{bar.lane}"),
        _which(bar, frame),
        local_text(frame.zone, bar.from_us),
        until,
        length(bar.from_us, bar.until_us),
        _note(bar, frame),
    )


def _note(bar: Bar, frame: Frame) -> str:
    outcome = frame.word(f"outcome.{bar.outcome}") if bar.outcome else ""
    detail = {
        Lane.STAGE: frame.word("life.cycle", cycle=bar.cycle),
        Lane.HOLD: frame.word("life.rule", rule=plain(bar.detail)),
        Lane.OUT: plain(bar.detail),
        Lane.LOAD: frame.known("step", bar.detail),
    }.get(bar.lane, "")
    return sentences((detail, outcome))


def _look_word(look: Look, frame: Frame) -> str:
    stage = next((name for name, one in STAGES.items() if one is look), None)
    return frame.known("stage", stage) if stage is not None else frame.word(f"life.look.{look.name}")


def _alt(rows: LifeRows, frame: Frame) -> str:
    clocks = [one for lane in CLOCKS for one in rows.of(lane)]
    broken = sum(one.outcome == "broken" for one in clocks)
    holds = rows.of(Lane.HOLD)
    out = len(rows.of(Lane.OUT))
    return sentences(
        (
            frame.word(
                "life.alt",
                item=plain(rows.item),
                since=local_text(frame.zone, rows.from_us),
                until=local_text(frame.zone, rows.until_us),
            ),
            frame.word("life.alt-stage", stage=frame.known("stage", rows.stage)),
            frame.word("life.alt-clocks", number=len(clocks), broken=broken) if clocks else "",
            frame.word("life.alt-holds", number=len(holds), open=sum(one.open for one in holds)) if holds else "",
            frame.word("life.alt-out", number=out) if out else "",
        )
    )
