"""A look-back as a graph: columns, edges, order, and nobody named who must not be."""

from __future__ import annotations

from dataclasses import replace
from random import Random

from reprocess.lookback.trace import Lookback, Touching, Wearing
from reprocess.pictures.drawing import drawn
from reprocess.pictures.picture import tell
from reprocess.pictures.trace import graph, trace
from tests.pictures.telling import all_texts, at, frame, titles


def touching(item: str, cycle: int, seconds: int) -> Touching:
    return Touching(item, cycle, "disinfect", at(seconds), at(seconds + 300), "ready", cycle, (), "", "")


def wearing(
    item: str, whole: str, wearer: str, seconds: int, until: int | None, place: str | None = "WARD-5"
) -> Wearing:
    until_us = None if until is None else at(until)
    return Wearing(item, whole, 2, wearer, place, at(seconds), 1, until_us, None if until is None else 2)


FOUND = Lookback(
    "solution", "B-1", None, None, None, 99,
    (touching("BLW-1", 2, 0), touching("BLW-2", 2, 60), touching("TUB-1", 1, 120)),
    (
        wearing("BLW-1", "KIT-1", "W-B", 4000, 8000),
        wearing("TUB-1", "KIT-1", "W-B", 4000, 8000),
        wearing("BLW-2", "BLW-2", "W-A", 5000, None, None),
    ),
)  # fmt: skip


def test_the_graph_by_hand() -> None:
    picture = trace(FOUND, frame(), named=True)
    assert picture.rows == (
        ("solution B-1", "BLW-1, cycle 2", "disinfect 2026-03-05 07:00"),
        ("solution B-1", "BLW-2, cycle 2", "disinfect 2026-03-05 07:01"),
        ("solution B-1", "TUB-1, cycle 1", "disinfect 2026-03-05 07:02"),
        ("BLW-1, cycle 2", "WARD-5 2026-03-05 08:06", "In KIT-1."),
        ("WARD-5 2026-03-05 08:06", "W-B", "Until 2026-03-05 09:13."),
        ("TUB-1, cycle 2", "WARD-5 2026-03-05 08:06", "In KIT-1."),
        ("BLW-2, cycle 2", "BLW-2 2026-03-05 08:23", ""),
        ("BLW-2 2026-03-05 08:23", "W-A", "Still out."),
    )
    columns = graph(FOUND, frame(), named=True).columns
    assert [len(one) for one in columns] == [1, 4, 2, 2]
    assert [one.name for one in columns[3]] == ["W-B", "W-A"]  # in the order of their issues, so that no line crosses
    assert picture.alt == "Graph of what touched solution B-1. Item cycles: 4. Issues: 2. Wearers: 2."


def test_whoever_may_not_see_wearers_sees_neither_pseudonym_nor_how_many() -> None:
    picture = drawn(trace(FOUND, frame("trace"), named=False))
    said = f"{picture.svg}{picture.alt}{picture.caption}{picture.rows}"
    assert picture.svg is not None
    assert "W-A" not in said
    assert "W-B" not in said
    assert "Wearers:" not in said
    assert "Wearers are not shown to you." in picture.alt
    assert "Wearer" not in all_texts(picture)


def test_items_of_other_sites_are_left_out() -> None:
    picture = trace(FOUND, frame(), named=True, hidden=frozenset({"BLW-2"}))
    assert not [row for row in picture.rows if "BLW-2" in str(row) or "W-A" in str(row)]


def test_an_item_asked_about_leads_to_its_cycles_itself() -> None:
    found = replace(FOUND, sort="item", name="BLW-1", touched=(), uses=FOUND.uses[:1])
    assert trace(found, frame(), named=True).rows[0] == ("item BLW-1", "BLW-1, cycle 2", "")
    nothing = drawn(trace(replace(found, uses=()), frame(), named=True))
    assert (nothing.rows, nothing.missing) == ((), None)
    assert "item BLW-1" in all_texts(nothing)


def test_the_order_of_the_answer_changes_nothing_that_is_drawn() -> None:
    touched, uses = list(FOUND.touched), list(FOUND.uses)
    first = graph(FOUND, frame(), named=True).columns
    for seed in range(5):
        Random(seed).shuffle(touched)  # noqa: S311 - an order, no secret
        Random(seed).shuffle(uses)  # noqa: S311 - an order, no secret
        assert graph(replace(FOUND, touched=tuple(touched), uses=tuple(uses)), frame(), named=True).columns == first


def test_each_mark_is_a_connection_or_one_of_its_ends() -> None:
    picture = drawn(trace(FOUND, frame("trace"), named=True))
    lines = {tell(row) for row in picture.rows}
    ends = {one for row in picture.rows for one in row[:2]}
    assert sorted(titles(picture)) == sorted([*lines, *ends])


def test_more_than_can_be_told_apart_is_not_drawn() -> None:
    many = tuple(touching(f"BLW-{number}", 1, number) for number in range(400))
    picture = drawn(trace(replace(FOUND, touched=many, uses=()), frame(), named=True))
    assert (picture.svg, picture.missing, len(picture.rows)) == (None, "large", 400)
