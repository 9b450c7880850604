"""Cells: what is written comes back the same, and no spreadsheet takes any of it for a formula."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.exchange.cells import Table, armed, disarmed, lines_of

# One line of text as people type it: no control characters, no surrogates, no blanks at its ends.
CELL = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=30).map(str.strip)
ROWS = st.lists(st.tuples(CELL, CELL, CELL).filter(any), max_size=6)


# OWASP Application Security Verification Standard 5.0.0, requirement 1.2.10 (CSV and formula injection): fields that
# begin with one of these are escaped with a single quotation mark.
# https://github.com/OWASP/ASVS/blob/v5.0.0/5.0/en/0x10-V1-Encoding-Sanitization.md
@pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\0"])
def test_a_cell_that_a_spreadsheet_would_run_gets_an_apostrophe(first: str) -> None:
    assert disarmed(f"{first}1+1") == f"'{first}1+1"
    assert armed(disarmed(f"{first}1+1")) == f"{first}1+1"


@pytest.mark.parametrize("cell", ["", "BLW-0041", "'quoted'", "O'Hara", "''", "1=1", "a-b"])
def test_other_cells_stay_as_they_are(cell: str) -> None:
    assert disarmed(cell) == cell
    assert armed(cell) == cell


@given(st.text(max_size=8))
def test_disarming_loses_nothing(cell: str) -> None:
    assert armed(disarmed(cell)) == cell
    assert not disarmed(cell).startswith(("=", "+", "-", "@", "\t", "\r", "\0"))


@given(ROWS)
def test_what_is_written_is_read_back(rows: list[tuple[str, str, str]]) -> None:
    file = io.StringIO(newline="")
    table = Table(file, ("one", "two", "three"))
    for row in rows:
        table.write(row)
    # The standard library's own reader agrees on where cells begin and end (RFC 4180).
    assert [len(row) for row in csv.reader(io.StringIO(file.getvalue()))] == [3] * (len(rows) + 1)
    file.seek(0)
    read = list(lines_of(file))
    assert [line.cells for line in read[1:]] == rows
    assert [line.number for line in read] == list(range(1, len(rows) + 2))


def test_a_quoted_cell_may_hold_lines_and_the_numbers_still_fit() -> None:
    read = list(lines_of(io.StringIO('a,b\n1,"two\nlines"\n\n3,4\n', newline="")))
    assert [(line.number, line.cells) for line in read] == [
        (1, ("a", "b")),
        (2, ("1", "two\nlines")),
        (5, ("3", "4")),
    ]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_semicolons_and_tabs_are_read_too(delimiter: str) -> None:
    text = delimiter.join(("a", "b")) + "\n" + delimiter.join(("1", "2"))
    assert [line.cells for line in lines_of(io.StringIO(text))] == [("a", "b"), ("1", "2")]


def test_a_quotation_mark_that_is_never_closed_is_told() -> None:
    *_, last = lines_of(io.StringIO('a,b\n1,2\n"3,4\n5,6\n'))
    assert last.unreadable == "a quotation mark is opened and never closed"
    assert last.number == 3
