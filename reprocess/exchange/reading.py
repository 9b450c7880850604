"""A table that comes in: every line checked against the file and the record, every fault told, then taken as requests.

Memory is bounded by the ids of the file: lines are read one by one, faults are told one by one, and requests are made
one by one in a second reading.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import IO, Any, Final

from reprocess.engine.enrolling import EnrolRequest
from reprocess.engine.request import Further
from reprocess.errors import WrongUseError
from reprocess.exchange.cells import Line, lines_of
from reprocess.founding import day_us
from reprocess.gathering import Library
from reprocess.ledger.append import Transaction
from reprocess.ledger.names import Name
from reprocess.record.places import Site
from reprocess.scan.asset import read_part
from reprocess.scan.code import ItemTag
from reprocess.terms import StreamKind

LINES_MAX: Final = 1_000_000
"""Most lines of one file (our choice)."""
TEXT_MAX: Final = 120
FIRST_YEAR, LAST_YEAR = 1970, 2200


@dataclass(frozen=True, slots=True)
class Fault:
    """Is one thing that is wrong with a file.

    Attributes:
        line: the number of the line, the headings being line 1.
        column: the heading, or None where the whole line is meant.
        what: what is wrong.
        write: what to write instead.
    """

    line: int
    column: str | None
    what: str
    write: str


@dataclass(frozen=True, slots=True)
class Wanted:
    """Is what one line asks for: requests in order, none where all of it is on record already.

    Attributes:
        site: the site at which an item is made known; None where the request does not say.
        personal: who a wearer is, kept beside the record.
    """

    requests: tuple[EnrolRequest | Further, ...] = ()
    site: str | None = None
    personal: Name | None = None


@dataclass(slots=True)
class World:
    """Is what lines are judged against: the record, and the lines before them.

    Attributes:
        site: the site of the station at which the file is taken, with its time zone.
        folder: where the file lies, or None where it did not come as a file with others beside it.
        this_year: the calendar year, which settles the century of two digits.
        seen: what each line named so far, with its line.
        kept: what was looked up once and stays.
    """

    read: Transaction
    library: Library
    site: Site
    folder: Path | None
    this_year: int
    sites: dict[str, Site] = field(default_factory=dict)
    seen: dict[str, int] = field(default_factory=dict)
    kept: dict[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        found = (one for one in self.read.states_of(StreamKind.SITE) if isinstance(one, Site))
        self.sites = {one.site: one for one in found if one.number}


class Cells:
    """Is one line by its headings; what cannot be read becomes a fault, and reading goes on."""

    def __init__(self, line: int, values: Mapping[str, str], world: World) -> None:
        self.line = line
        self.faults: list[Fault] = []
        self._values = values
        self._world = world

    def wrong(self, column: str | None, what: str, write: str) -> None:
        """Notes a fault."""
        self.faults.append(Fault(self.line, column, what, write))

    def text(self, column: str, most: int = TEXT_MAX) -> str | None:
        """Returns a cell, or None where it is empty."""
        value = self._values.get(column) or None
        if value is not None and (len(value) > most or not value.isprintable()):
            self.wrong(column, f"it has more than {most} characters, or hidden ones", "a shorter plain text")
            return None
        return value

    def needed(self, column: str, most: int = TEXT_MAX) -> str:
        """Returns a cell that must not be empty; an empty text where it is."""
        if not self._values.get(column):
            self.wrong(column, "it is empty", f"the {column}")
        return self.text(column, most) or ""

    def words(self, column: str) -> tuple[str, ...]:
        """Returns the words of a cell, parted by spaces, sorted, each once."""
        return tuple(sorted(set((self.text(column, 2_000) or "").split())))

    def number(self, column: str, least: int, most: int) -> int | None:
        """Returns a whole number, or None where the cell is empty."""
        value = self.text(column)
        if value is None:
            return None
        if not (value.isascii() and value.isdigit() and len(value) <= len(str(most)) and least <= int(value) <= most):
            self.wrong(column, f"{value[:20]!r} is no whole number from {least} to {most}", f"such as {least}")
            return None
        return int(value)

    def choice(self, column: str, choices: tuple[str, ...]) -> str:
        """Returns a word that must be one of several."""
        value = self.needed(column)
        if value and value not in choices:
            self.wrong(column, f"{value[:20]!r} is not known", f"one of {', '.join(choices)}")
        return value

    def day(self, column: str) -> str | None:
        """Returns a date as it is written, 2026-03-05, or None where the cell is empty."""
        value = self.text(column)
        if value is None or _is_day(value):
            return value
        self.wrong(column, f"{value[:20]!r} is no date", "a date such as 2026-03-05")
        return None

    def begins_us(self, column: str, zone: str) -> int | None:
        """Returns when the local day of a cell begins, or None where it is empty."""
        day = self.day(column)
        return None if day is None else day_us(day, zone)

    def ends_us(self, column: str, zone: str) -> int | None:
        """Returns when the local day of a cell has ended, or None where it is empty."""
        day = self.day(column)
        return (
            None if day is None else day_us(date.fromordinal(date.fromisoformat(day).toordinal() + 1).isoformat(), zone)
        )

    def part(self, column: str) -> str:
        """Returns the id of an item: our own, our tag, or a code of GS1 that names a single part."""
        value = self.needed(column)
        if not value:
            return ""
        found = read_part(value, this_year=self._world.this_year)
        if isinstance(found, ItemTag):
            return found.id
        self.wrong(column, found.removesuffix("."), "an id such as BLW-0041, or scan its code")
        return ""

    def id(self, column: str) -> str:
        """Returns an id of capitals, digits and single hyphens."""
        value = self.needed(column, 32)
        if value and not all(
            group.isascii() and group.isalnum() and group.isupper() | group.isdigit() for group in value.split("-")
        ):
            self.wrong(column, f"{value[:20]!r} is no id", "capitals, digits and single hyphens, such as P-07")
            return ""
        return value

    def site(self, column: str) -> Site | None:
        """Returns a site that is on record."""
        value = self.needed(column)
        if value and value not in self._world.sites:
            self.wrong(
                column, f"there is no site {value[:20]!r}", f"one of {', '.join(sorted(self._world.sites))[:200]}"
            )
        return self._world.sites.get(value)

    def once(self, column: str, name: str) -> None:
        """Notes a fault where an earlier line of the file named the same."""
        before = self._world.seen.setdefault(name, self.line)
        if before != self.line:
            self.wrong(column, f"line {before} names the same", "each one once")


def _is_day(text: str) -> bool:
    """Tells whether a text is a day of our age, as 2026-03-05; earlier or later ones are mistyped (our choice)."""
    try:
        return date.fromisoformat(text).isoformat() == text and FIRST_YEAR <= int(text[:4]) <= LAST_YEAR
    except ValueError:
        return False


Read = Callable[[Cells, World], Wanted]


@dataclass(frozen=True, slots=True)
class Sort:
    """Is one sort of table.

    Attributes:
        needed: the headings that must stand.
        more: the headings that may stand.
        passed_over: the headings of an export that tell what only evidence can make so; they are not taken.
        read: returns what a line asks for; its faults are noted in the cells.
    """

    name: str
    needed: tuple[str, ...]
    more: tuple[str, ...]
    passed_over: tuple[str, ...]
    read: Read


def opened(path: Path) -> IO[str]:
    """Returns a file as text whose every line can be read, or is told to be unreadable.

    Raises:
        WrongUseError: the file cannot be opened.
    """
    try:
        return path.open(encoding="utf-8-sig", errors="surrogateescape", newline="")
    except OSError as fault:
        message = f"{path} cannot be read: {fault.strerror or fault}."
        raise WrongUseError(message) from fault


def held(content: bytes) -> IO[str]:
    """Returns bytes as text, as `opened` does a file."""
    return io.TextIOWrapper(io.BytesIO(content), encoding="utf-8-sig", errors="surrogateescape", newline="")


def checked(file: IO[str], sort: Sort, world: World) -> Iterator[Fault | Wanted]:
    """Yields what each line of a table asks for, or each of its faults, in the order of the file."""
    lines = lines_of(file)
    first = next(lines, Line(1, ()))
    headings = tuple(cell.lower() for cell in first.cells)
    faults = list(_headings(first, headings, sort))
    yield from faults
    if faults:
        return
    for count, line in enumerate(lines, 1):
        if count > LINES_MAX:
            yield Fault(line.number, None, f"the file has more than {LINES_MAX} lines", "several files")
            return
        yield from _line(line, headings, sort, world)


def _headings(first: Line, headings: tuple[str, ...], sort: Sort) -> Iterator[Fault]:
    known = (*sort.needed, *sort.more, *sort.passed_over)
    if first.unreadable is not None:
        yield Fault(first.number, None, first.unreadable, "the headings again")
        return
    for name in sort.needed:
        if name not in headings:
            yield Fault(first.number, name, "this heading is missing", f"the headings {','.join(sort.needed)}")
    for name in dict.fromkeys(headings):
        if name not in known:
            yield Fault(first.number, name[:40], "this heading is not known", f"headings out of {','.join(known)}")
        if headings.count(name) > 1:
            yield Fault(first.number, name[:40], "this heading stands twice", "each heading once")


def _line(line: Line, headings: tuple[str, ...], sort: Sort, world: World) -> Iterator[Fault | Wanted]:
    if line.unreadable is not None:
        yield Fault(line.number, None, line.unreadable, "the line again")
        return
    if len(line.cells) != len(headings):
        count = f"it has {len(line.cells)} cells and there are {len(headings)} headings"
        yield Fault(line.number, None, count, "one cell for each heading")
        return
    cells = Cells(line.number, dict(zip(headings, line.cells, strict=True)), world)
    wanted = sort.read(cells, world)
    yield from cells.faults
    if not cells.faults:
        yield wanted
