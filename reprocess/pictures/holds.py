"""The picture of open holds: how many of each sort, by how long they have been open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from reprocess.gathering import local_text
from reprocess.pictures import layers
from reprocess.pictures.looks import SORTS, Look
from reprocess.pictures.picture import Cells, Frame, Plot, Spec, sentences, tell
from reprocess.pictures.rows.holds import AGES_DAYS, HoldRows

HIGH: Final = 260
CLASS_WIDE: Final = 110
LETTER_HIGH: Final = 14
"""Pixels that a part must be high to hold its letter."""
LETTERS: Final = "ABCDEFGHIJKL"


def holds(rows: HoldRows, frame: Frame) -> Plot:
    """Returns the picture of open holds by age, stacked by sort; the letters of the sorts stand in the legend."""
    sorts = sorted({one.sort for one in rows.counts})
    looks = {sort: SORTS[number % len(SORTS)] for number, sort in enumerate(sorts)}
    values = list(_values(rows, looks, frame))
    words: dict[str, Any] = {f"class-{number}": _class(number, frame) for number in range(len(AGES_DAYS))}
    words |= {f"look-{look.name}": f"{_letter(look)}  {frame.known('hold', sort)}" for sort, look in looks.items()}
    columns = tuple(frame.word(f"column.{one}") for one in ("age", "sort", "holds"))
    told = tuple(_cells(one.age, one.sort, one.holds, frame) for one in rows.counts)
    title, caption = frame.word("holds.title"), frame.word("holds.caption")
    spec = _spec(values, list(looks.values()), words)
    return Plot(frame.key, frame.texts.language, spec, title, _alt(rows, frame), caption, columns, told, len(values))


def _letter(look: Look) -> str:
    return LETTERS[SORTS.index(look)]


def _values(rows: HoldRows, looks: dict[str, Look], frame: Frame) -> Iterator[dict[str, Any]]:
    """Yields the parts of the columns, each on top of the one before."""
    top = max((sum(one.holds for one in rows.counts if one.age == age) for age in range(len(AGES_DAYS))), default=1)
    heights: dict[int, int] = {}
    for one in rows.counts:
        low = heights.get(one.age, 0)
        heights[one.age] = low + one.holds
        look = looks[one.sort]
        yield {
            "class": one.age,
            "from": low,
            "until": low + one.holds,
            "look": look.name,
            "edge": look.edge,
            "paint": look.paint,
            "ink": look.ink,
            "text": _letter(look) if one.holds * HIGH >= LETTER_HIGH * top else "",
            "tell": tell(_cells(one.age, one.sort, one.holds, frame)),
        }


def _cells(age: int, sort: str, number: int, frame: Frame) -> Cells:
    return (_class(age, frame), frame.known("hold", sort), str(number))


def _class(age: int, frame: Frame) -> str:
    least = AGES_DAYS[age]
    if age + 1 == len(AGES_DAYS):
        return frame.word("holds.from", days=least)
    return frame.word("holds.between", least=least, most=AGES_DAYS[age + 1])


def _spec(values: Sequence[dict[str, Any]], looks: Sequence[Look], words: dict[str, Any]) -> Spec:
    x: Spec = {
        "field": "class",
        "type": "ordinal",
        "scale": {"domain": list(range(len(AGES_DAYS)))},
        "axis": {"title": None, "labelExpr": "words['class-' + datum.value]", "labelAngle": 0},
    }
    y: Spec = {"field": "from", "type": "quantitative", "axis": {"title": None, "tickMinStep": 1, "format": "d"}}
    part = {
        "data": {"values": list(values)},
        "mark": {"type": "bar", "strokeWidth": 1},
        "encoding": {"y2": {"field": "until"}, **layers.filled(looks)},
    }
    middle = [{**one, "from": (one["from"] + one["until"]) / 2} for one in values if one["text"]]
    spec = layers.chart([part, layers.words_on(middle)], {"x": x, "y": y}, (CLASS_WIDE, 1), words)
    return {**spec, "width": {"step": CLASS_WIDE}, "height": HIGH}


def _alt(rows: HoldRows, frame: Frame) -> str:
    oldest = (
        frame.word("holds.alt-oldest", since=local_text(frame.zone, rows.oldest_us))
        if rows.oldest_us is not None
        else ""
    )
    ages = [
        frame.word("holds.alt-age", age=_class(age, frame), number=number)
        for age in range(len(AGES_DAYS))
        if (number := sum(one.holds for one in rows.counts if one.age == age))
    ]
    return sentences((frame.word("holds.alt", number=rows.total), *ages, oldest))
