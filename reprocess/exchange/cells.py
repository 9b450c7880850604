"""Cells of CSV files (RFC 4180): read line by line with their line numbers, written so that no spreadsheet runs them.

A cell that begins with one of `= + - @`, a tab or a carriage return gets an apostrophe before it when it is written,
since spreadsheets run such cells as formulas (OWASP ASVS 5.0, 1.2.10). Reading takes exactly that apostrophe away
again; a cell that begins with apostrophes and then such a character gets one more, so that nothing is lost.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import IO, Final

DELIMITERS: Final = ",;\t"
"""What may part the cells of a line; which one it is follows from the first line."""
_RUN: Final = re.compile(r"'*[=+\-@\t\r\0]")
_DISARMED: Final = re.compile(r"'+[=+\-@\t\r\0]")
CELL_MAX: Final = 2_000
"""Most characters of one cell that is read (our choice)."""


def disarmed(cell: str) -> str:
    """Returns a cell as it is written: no spreadsheet takes it for a formula."""
    return f"'{cell}" if _RUN.match(cell) else cell


def armed(cell: str) -> str:
    """Returns a cell as it was before `disarmed`."""
    return cell[1:] if _DISARMED.match(cell) else cell


@dataclass(frozen=True, slots=True)
class Line:
    """Is one line of a table: the number of its first line in the file, and its cells; or why it has none."""

    number: int
    cells: tuple[str, ...]
    unreadable: str | None = None


def lines_of(file: IO[str]) -> Iterator[Line]:
    """Yields the lines of a table that is open as text (UTF-8, `newline=""`), the headings first; empty ones are not.

    A line that cannot be read as CSV or as UTF-8 says why, and the next ones are read all the same.
    """
    first = file.readline()
    delimiter = max(DELIMITERS, key=first.count)
    yield from _parsed(_joined(first, file), delimiter)


def _joined(first: str, file: Iterable[str]) -> Iterator[str]:
    yield first
    yield from file


def _parsed(texts: Iterator[str], delimiter: str) -> Iterator[Line]:
    reader = csv.reader(texts, delimiter=delimiter, strict=True)
    while True:
        number = reader.line_num + 1
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as fault:
            yield Line(number, (), _why(str(fault)))
            continue
        if any(cell.strip() for cell in row):
            yield _line(number, row)


def _why(fault: str) -> str:
    if "field larger" in fault or "unexpected end" in fault:
        return "a quotation mark is opened and never closed"
    return "the quotation marks do not fit"


def _line(number: int, row: Sequence[str]) -> Line:
    cells = tuple(armed(cell.strip()) for cell in row)
    if any("\udc80" <= character <= "\udcff" for cell in cells for character in cell):
        return Line(number, (), "it is not UTF-8 text")
    if any(len(cell) > CELL_MAX for cell in cells):
        return Line(number, (), f"a cell has more than {CELL_MAX} characters")
    return Line(number, cells)


class Table:
    """Is a table that is being written: its headings first, then line by line."""

    def __init__(self, file: IO[str], headings: Sequence[str]) -> None:
        self._writer = csv.writer(file, lineterminator="\r\n")
        self._writer.writerow(headings)

    def write(self, cells: Iterable[str | int | None]) -> None:
        """Writes one line; what is not known is an empty cell."""
        self._writer.writerow(["" if one is None else disarmed(str(one)) for one in cells])
