"""The parts of a Vega-Lite description that the pictures share.

Every value that a text mark, a label or a legend shows stands in the data or in a table of words beside it; no text of
the record ever becomes part of an expression.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from reprocess.pictures.instants import Tick
from reprocess.pictures.looks import GRID, INK, LINE, PAPER, Look
from reprocess.pictures.picture import Spec

SCHEMA: Final = "https://vega.github.io/schema/vega-lite/v6.4.1.json"
WIDTH: Final = 760
"""Pixels between the axes (our choice: with its labels it fits a landscape A4 page)."""
LETTER_WIDE: Final = 7
"""Pixels that one letter of a label takes at 11 pixels; a label that does not fit is left out."""
Values = Sequence[Mapping[str, Any]]


def chart(layers: Sequence[Spec], encoding: Spec, size: tuple[int, int], words: Mapping[str, Any]) -> Spec:
    """Returns a whole description.

    Args:
        layers: what is drawn, the undermost first.
        encoding: what all layers share.
        size: width, and height of one step (where the rows are named) in pixels.
        words: what the labels of axes and legends say, by what they stand for.
    """
    return {
        "$schema": SCHEMA,
        "background": PAPER,
        "width": size[0],
        "height": {"step": size[1]},
        "padding": 6,
        "params": [{"name": "words", "value": dict(words)}],
        "config": _CONFIG,
        "encoding": encoding,
        "layer": list(layers),
    }


_CONFIG: Final[Spec] = {
    "font": "sans-serif",
    "view": {"stroke": None},
    "axis": {
        "labelColor": INK,
        "titleColor": INK,
        "labelFontSize": 11,
        "titleFontSize": 11,
        "domainColor": LINE,
        "tickColor": LINE,
        "gridColor": GRID,
        "gridWidth": 0.5,
        "labelLimit": 220,
    },
    "legend": {
        "orient": "bottom",
        "columns": 4,
        "labelColor": INK,
        "labelFontSize": 11,
        "labelLimit": 180,
        "symbolSize": 220,
        "title": None,
    },
}


def along_time(from_us: int, until_us: int) -> Spec:
    """Returns the horizontal scale of a time line in microseconds since `from_us`; `words` names its marks."""
    return {
        "field": "from",
        "type": "quantitative",
        "scale": {"domain": [0, until_us - from_us], "nice": False},
        "axis": {"title": None, "labelExpr": "words['at-' + datum.value]", "labelOverlap": False},
    }


def with_ticks(x: Spec, ticks: Iterable[Tick], from_us: int) -> Spec:
    """Returns the scale of a time line with its marks."""
    return {**x, "axis": {**x["axis"], "values": [one.at_us - from_us for one in ticks]}}


def tick_words(ticks: Iterable[Tick], from_us: int) -> dict[str, Any]:
    """Returns what the marks of a time line say."""
    return {f"at-{one.at_us - from_us}": list(one.label) for one in ticks}


def lanes(names: Sequence[str]) -> Spec:
    """Returns the vertical scale of named lanes, from above; `words` names them."""
    return {
        "field": "lane",
        "type": "nominal",
        "sort": None,
        "scale": {"domain": list(names), "paddingInner": 0.25, "paddingOuter": 0.15},
        "axis": {"title": None, "labelExpr": "words['lane-' + datum.value]", "ticks": False, "domain": False},
    }


def fill(looks: Sequence[Look]) -> Spec:
    """Returns how the field `look` is filled, with a legend; `words` names the looks."""
    return {
        "field": "look",
        "type": "nominal",
        "scale": {"domain": [one.name for one in looks], "range": [one.fill for one in looks]},
        "legend": {"labelExpr": "words['look-' + datum.value]", "symbolType": "square", "symbolStrokeColor": INK},
    }


def shape(names: Sequence[str], shapes: Sequence[str]) -> Spec:
    """Returns which shape the field `shape` has, with a legend; `words` names them."""
    return {
        "field": "shape",
        "type": "nominal",
        "scale": {"domain": list(names), "range": list(shapes)},
        "legend": {
            "labelExpr": "words['shape-' + datum.value]",
            "symbolSize": 90,
        },
    }


def bars(values: Values, looks: Sequence[Look], **mark: Any) -> Spec:
    """Returns bars from `from` to `until`, outlined, each with its words."""
    return {
        "data": {"values": list(values)},
        "mark": {"type": "bar", "strokeWidth": 1, **mark},
        "encoding": {"x2": {"field": "until"}, **filled(looks)},
    }


def filled(looks: Sequence[Look]) -> Spec:
    """Returns how areas are filled by `look` and outlined by `edge`, each with its words."""
    return {"fill": fill(looks), "stroke": {"field": "edge", "type": "nominal", "scale": None}, **TOLD}


def words_on(values: Values, **mark: Any) -> Spec:
    """Returns texts on their grounds: `text` in `ink`, with a rim of `paint` so that a pattern does not cut it."""
    own = {"type": "text", "fontSize": 11, "aria": False, **mark}
    text = {"text": {"field": "text"}}
    ground = {"field": "paint", "type": "nominal", "scale": None}
    rim = {"stroke": ground, "fill": ground}
    colour = {"fill": {"field": "ink", "type": "nominal", "scale": None}}
    return {
        "data": {"values": list(values)},
        "layer": [
            {"mark": {**own, "strokeWidth": 4, "strokeJoin": "round"}, "encoding": {**text, **rim}},
            {"mark": own, "encoding": {**text, **colour}},
        ],
    }


def points(values: Values, names: Sequence[str], shapes: Sequence[str], *, legend: bool = True, **mark: Any) -> Spec:
    """Returns outlined points at `from`, told apart by `shape`, each with its words."""
    told = shape(names, shapes) if legend else {**shape(names, shapes), "legend": None}
    own = {"type": "point", "size": 70, "stroke": INK, "strokeWidth": 1.5, "fill": PAPER, "opacity": 1, **mark}
    return {
        "data": {"values": list(values)},
        "mark": own,
        "encoding": {"shape": told, **TOLD},
    }


TOLD: Final[Spec] = {"description": {"field": "tell"}}
"""A mark's own words; they become its `title` in the drawing."""


def fits(text: str, pixels: int) -> str:
    """Returns a text where it fits into so many pixels, else its first letter, else nothing."""
    if len(text) * LETTER_WIDE <= pixels:
        return text
    return text[:1].upper() if pixels >= 2 * LETTER_WIDE else ""


def pixels_of(from_us: int, until_us: int, whole_us: int) -> int:
    """Returns how wide a part of a time line is drawn."""
    return (until_us - from_us) * WIDTH // max(1, whole_us)
