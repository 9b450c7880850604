"""Open holds by age: counted by hand."""

from __future__ import annotations

import pytest

from reprocess.pictures.drawing import drawn
from reprocess.pictures.holds import HIGH
from reprocess.pictures.holds import holds as plot
from reprocess.pictures.picture import tell
from reprocess.pictures.rows.holds import Aged, age_of, holds
from reprocess.record.standing import Hold, Standing
from reprocess.terms import DAY_S, SECOND_US
from tests.pictures.telling import all_texts, at, frame, marks, titles

DAY_US = DAY_S * SECOND_US


def item(name: str, *found: tuple[str, float]) -> Standing:
    """Returns an item with holds of some sorts, so many days old."""
    told = {
        f"H-{number}": Hold(
            f"H-{number}", sort, "H02", "x", "supervisor", None, at(0) - int(days * DAY_US), 1, (),
            lift_two_people=False, lift_requires="x",
        )
        for number, (sort, days) in enumerate(found)
    }  # fmt: skip
    return Standing(item=name, holds=told)


ITEMS = [
    item("A", ("recall", 0.5), ("defect", 10)),
    item("B", ("recall", 0.9)),
    item("C", ("recall", 45), ("defect", 0)),
    item("D"),
]


@pytest.mark.parametrize(("days", "age"), [(0, 0), (0.999, 0), (1, 1), (2.9, 1), (3, 2), (7, 3), (29.9, 3), (30, 4)])
def test_a_class_of_age_begins_with_its_first_day(days: float, age: int) -> None:
    assert age_of(int(days * DAY_US)) == age


def test_holds_are_counted_by_age_and_sort() -> None:
    rows = holds(ITEMS, at(0))
    assert rows.counts == (
        Aged(0, "defect", 1), Aged(0, "recall", 2), Aged(3, "defect", 1), Aged(4, "recall", 1),
    )  # fmt: skip
    assert (rows.total, rows.oldest_us) == (5, at(0) - 45 * DAY_US)
    assert age_of(-5) == 0


def test_each_part_has_its_row_and_is_as_high_as_its_count() -> None:
    picture = drawn(plot(holds(ITEMS, at(0)), frame("holds")))
    assert sorted(titles(picture)) == sorted(tell(row) for row in picture.rows)
    assert picture.rows[1] == ("0 to 1 days", "recall", "2")
    high = {mark[0].text: float((mark.get("d") or "").split("v")[1].split("h")[0]) for mark in marks(picture)}
    assert high == {tell(row): pytest.approx(int(row[2]) / 3 * HIGH, abs=0.01) for row in picture.rows}
    assert [one for one in all_texts(picture) if len(one) == 1 and one.isalpha()] == ["A", "B", "A", "B"] * 2
    assert picture.alt == (
        "Open holds: 5. Open for 0 to 1 days: 3. Open for 7 to 30 days: 1. Open for 30 days or more: 1."
        " The oldest was placed 2026-01-19 07:00."
    )


def test_a_part_that_is_too_low_has_no_letter() -> None:
    many = [item(f"I-{number}", ("recall", 0)) for number in range(40)] + [item("J", ("defect", 0))]
    letters = [one for one in all_texts(drawn(plot(holds(many, at(0)), frame()))) if one in "AB"]
    assert set(letters) == {"B"}


def test_without_holds_there_is_an_empty_picture() -> None:
    picture = drawn(plot(holds([], at(0)), frame()))
    assert (picture.rows, picture.alt, picture.missing) == ((), "Open holds: 0.", None)
