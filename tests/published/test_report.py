"""The harness itself: what agrees, what differs, and what is printed of it."""

from decimal import Decimal
from fractions import Fraction
from math import inf, nan

import pytest

from tests.published.report import Note, Number, as_markdown, assert_agrees, assert_differs, is_same, notes_in, shown
from tests.published.source import Published

ROW = Published(
    id="V00-00",
    statement="a statement",
    unit="s",
    condition="none stated",
    source="a document, a table, a year",
    address="https://example.test/",
    evidence="seen",
    basis="published",
)
REMEMBERED = Published("V00-01", "a statement", "s", "none stated", "a book", "from memory", "memory", "published")


@pytest.mark.parametrize(
    ("theirs", "ours", "within"),
    [
        (1, 1, None),
        (1, 1.0, None),
        (Decimal("0.5"), 0.5, None),
        (Fraction(1, 2), Decimal("0.50"), None),
        (Decimal("0.1"), 0.1, Decimal("1e-9")),
        (52.45, Fraction(750, 143) * 10, 0.01),
        (10, 12, 2),
        (inf, inf, None),
        ("dry", "dry", None),
        ((1, 2.0), [Decimal(1), Fraction(2)], None),
        ((1.0, (2.0, 3.0)), (1.001, (2.0, 2.999)), 0.01),
        ({"a": 1}, {"a": Decimal(1)}, None),
        (None, None, None),
        (True, True, None),
    ],
    ids=repr,
)
def test_these_are_one_value(theirs: object, ours: object, within: Number | None) -> None:
    assert_agrees(ROW, theirs, ours, within)
    with pytest.raises(AssertionError, match="should not be"):
        assert_differs(ROW, theirs, ours, within)


@pytest.mark.parametrize(
    ("theirs", "ours", "within"),
    [
        (1, 2, None),
        (Decimal("0.1"), 0.1, None),
        (1.0, 1.0 + 1e-15, None),
        (10, 12, 1.999),
        (inf, -inf, 1),
        (inf, 1e308, 1e308),
        ("dry", "wet", 100),
        ((1, 2), (1, 2, 3), 5),
        ((1, 2), (2, 1), None),
        ({"a": 1}, {"b": 1}, None),
        (True, False, None),
    ],
    ids=repr,
)
def test_these_are_two_values(theirs: object, ours: object, within: Number | None) -> None:
    assert_differs(ROW, theirs, ours, within)
    with pytest.raises(AssertionError, match=r"V00-00 a statement \(none stated\): .* a document, a table, a year"):
        assert_agrees(ROW, theirs, ours, within)


@pytest.mark.parametrize(
    ("theirs", "ours"),
    [(True, 1), (1, True), (0, False), (nan, nan), (Decimal("NaN"), 1), ("1", 1), (None, 0), ((1,), "1"), (1, (1,))],
    ids=repr,
)
def test_these_agree_with_nothing_and_differ_from_nothing(theirs: object, ours: object) -> None:
    assert not is_same(theirs, ours, 1)
    with pytest.raises(AssertionError):
        assert_agrees(ROW, theirs, ours, 1)
    with pytest.raises(AssertionError):
        assert_differs(ROW, theirs, ours)


def test_a_row_from_memory_asserts_nothing() -> None:
    for check in (assert_agrees, assert_differs):
        with pytest.raises(AssertionError, match="from memory only"):
            check(REMEMBERED, 1, 1)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Fraction(100, 7), "14.285714"),
        (Fraction(6), "6"),
        (Decimal("0.10"), "0.10"),
        (52.44755244755245, "52.447552"),
        ((1, 2.5), "1, 2.5"),
        ({"a": True}, "a: yes"),
        (None, "none"),
        ((), "none"),
    ],
)
def test_a_value_is_shown_as_a_reader_wants_it(value: object, text: str) -> None:
    assert shown(value) == text


def report(*notes: Note) -> pytest.TestReport:
    properties: list[tuple[str, object]] = [("published", note.text) for note in notes]
    return pytest.TestReport("a test", ("", 0, ""), {}, "passed", None, "call", user_properties=properties)


def test_the_table_is_sorted_and_holds_each_pair_once() -> None:
    second = Note.of(ROW, 2.5, 2.5, "agrees")
    first = Note("V00-00", "one | line\nof two", "1", "2", "s", "a book", "differs")
    third = Note.of(REMEMBERED, 3, 4, "memory")
    notes = notes_in([report(third, second), report(second), report(first)])
    lines = list(as_markdown(notes, {"V00-03": "because of this"}, {"V00-02": "a rule"}))
    assert lines == [
        "",
        "## Published values (2)",
        "",
        "| id | statement | theirs | ours | unit | source |",
        "| --- | --- | --- | --- | --- | --- |",
        "| V00-00 | a statement | 2.5 | 2.5 | s | a document, a table, a year |",
        "| V00-00 | one \\| line of two | 1, not ours | 2 | s | a book |",
        "",
        "## From memory, not asserted (1)",
        "",
        "| id | statement | remembered | ours | unit | source |",
        "| --- | --- | --- | --- | --- | --- |",
        "| V00-01 | a statement | 3 | 4 | s | a book |",
        "",
        "## Not compared as a value (1)",
        "",
        "| id | statement |",
        "| --- | --- |",
        "| V00-02 | a rule |",
        "",
        "## Not applicable (1)",
        "",
        "| id | reason |",
        "| --- | --- |",
        "| V00-03 | because of this |",
    ]
