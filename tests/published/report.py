"""Theirs and ours, side by side: compared by a test, noted, and printed on request.

`python3 -m tests --published` prints the table. A note travels as text in the properties of its
test, so that it survives a run that is spread over several processes.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from fractions import Fraction
from math import isinf, isnan
from typing import Literal, Protocol, TypeGuard

import pytest

from tests.published.index import INDEX, NOT_APPLICABLE
from tests.published.source import Published

PROPERTY = "published"
Number = int | float | Decimal | Fraction
Verdict = Literal["agrees", "differs", "memory"]
_DIGITS_SHOWN = 8


class Agrees(Protocol):
    """Asserts that ours is theirs, exactly or within an absolute tolerance, and notes the pair."""

    def __call__(self, row: Published, *, theirs: object, ours: object, within: Number | None = None) -> None: ...


class Differs(Protocol):
    """Asserts that ours is not the value of a known error in print, and notes the pair."""

    def __call__(self, row: Published, theirs: object, ours: object, within: Number | None = None) -> None: ...


@dataclass(frozen=True, slots=True)
class Note:
    """One line of the table, as text."""

    id: str
    statement: str
    theirs: str
    ours: str
    unit: str
    source: str
    verdict: Verdict

    @classmethod
    def of(cls, row: Published, theirs: object, ours: object, verdict: Verdict) -> Note:
        return cls(row.id, row.statement, shown(theirs), shown(ours), row.unit, row.source, verdict)

    @property
    def text(self) -> str:
        return json.dumps(asdict(self))


def assert_agrees(row: Published, theirs: object, ours: object, within: Number | None = None) -> None:
    """Raises AssertionError where ours is not theirs; a row from memory asserts nothing and is refused here."""
    assert row.evidence != "memory", f"{row.id} is known from memory only: note it with from_memory"
    assert is_same(theirs, ours, within), _sentence(row, "should be", theirs, ours, within)


def assert_differs(row: Published, theirs: object, ours: object, within: Number | None = None) -> None:
    """Raises AssertionError where ours is theirs, or where the two could not be the same at all."""
    assert row.evidence != "memory", f"{row.id} is known from memory only: note it with from_memory"
    for value in (theirs, ours):
        assert is_same(value, value), f"{row.id}: {value!r} is not even itself"
    assert _kind(theirs) == _kind(ours), _sentence(row, "cannot be compared with", theirs, ours, within)
    assert not is_same(theirs, ours, within), _sentence(row, "should not be", theirs, ours, within)


def is_same(theirs: object, ours: object, within: Number | None = None) -> bool:
    """Returns whether the two are one value.

    Numbers of different types are compared exactly, unless a tolerance is given: 0.1 is not
    Decimal("0.1"). Not a number is never the same as anything. True is not 1. Sequences and mappings
    are compared element by element, whatever their type.
    """
    if _is_number(theirs) and _is_number(ours):
        return _is_same_number(theirs, ours, within)
    if isinstance(theirs, str) or isinstance(ours, str):
        return isinstance(theirs, str) and isinstance(ours, str) and str(theirs) == str(ours)
    if isinstance(theirs, Sequence) and isinstance(ours, Sequence):
        return len(theirs) == len(ours) and all(is_same(a, b, within) for a, b in zip(theirs, ours, strict=True))
    if isinstance(theirs, Mapping) and isinstance(ours, Mapping):
        return theirs.keys() == ours.keys() and all(is_same(theirs[key], ours[key], within) for key in theirs)
    return type(theirs) is type(ours) and theirs == ours


def _is_number(value: object) -> TypeGuard[Number]:
    return isinstance(value, Number) and not isinstance(value, bool)


def _is_same_number(theirs: Number, ours: Number, within: Number | None) -> bool:
    if isnan(theirs) or isnan(ours):
        return False
    if isinf(theirs) or isinf(ours):
        return theirs == ours
    apart = abs(Fraction(theirs) - Fraction(ours))
    return apart <= (0 if within is None else Fraction(within))


def _kind(value: object) -> str:
    kinds: dict[str, type | tuple[type, ...]] = {"text": str, "sequence": Sequence, "mapping": Mapping}
    if _is_number(value):
        return "number"
    return next((name for name, kind in kinds.items() if isinstance(value, kind)), type(value).__name__)


def _sentence(row: Published, verb: str, theirs: object, ours: object, within: Number | None) -> str:
    margin = "" if within is None else f" within {within}"
    return (
        f"{row.id} {row.statement} ({row.condition}): ours {ours!r} {verb} {theirs!r}{margin} {row.unit}; {row.source}"
    )


def shown(value: object) -> str:
    """Returns a value as a reader of the table wants it: no types, eight digits of what has no end."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Fraction):
        return str(value.numerator) if value.denominator == 1 else f"{float(value):.{_DIGITS_SHOWN}g}"
    if isinstance(value, float):
        return f"{value:.{_DIGITS_SHOWN}g}"
    if isinstance(value, Mapping):
        return ", ".join(f"{shown(key)}: {shown(each)}" for key, each in value.items())
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(shown(each) for each in value) or "none"
    return "none" if value is None else str(value)


def notes_in(reports: Iterable[pytest.TestReport]) -> list[Note]:
    """Returns every note once, sorted by its id."""
    texts = [str(text) for each in reports for name, text in each.user_properties if name == PROPERTY]
    return sorted((Note(**json.loads(text)) for text in dict.fromkeys(texts)), key=lambda note: note.id)


def as_markdown(notes: Sequence[Note], not_applicable: Mapping[str, str], unnoted: Mapping[str, str]) -> Iterator[str]:
    """Yields the lines: what is compared, what is from memory, what is checked otherwise, what does not apply."""
    yield from _table(
        "Published values",
        ("id", "statement", "theirs", "ours", "unit", "source"),
        [(each.id, each.statement, _theirs(each), each.ours, each.unit, each.source) for each in _compared(notes)],
    )
    yield from _table(
        "From memory, not asserted",
        ("id", "statement", "remembered", "ours", "unit", "source"),
        [
            (each.id, each.statement, each.theirs, each.ours, each.unit, each.source)
            for each in notes
            if each.verdict == "memory"
        ],
    )
    yield from _table("Not compared as a value", ("id", "statement"), sorted(unnoted.items()))
    yield from _table("Not applicable", ("id", "reason"), sorted(not_applicable.items()))


def _compared(notes: Sequence[Note]) -> list[Note]:
    return [each for each in notes if each.verdict != "memory"]


def _theirs(note: Note) -> str:
    return f"{note.theirs}, not ours" if note.verdict == "differs" else note.theirs


def _table(title: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    if not rows:
        return
    yield from ("", f"## {title} ({len(rows)})", "")
    yield _line(heads)
    yield _line(["---"] * len(heads))
    for row in rows:
        yield _line(row)


def _line(cells: Iterable[str]) -> str:
    return "| " + " | ".join(" ".join(cell.replace("|", "\\|").split()) for cell in cells) + " |"


def print_report(terminal: pytest.TerminalReporter) -> None:
    """Write the table of everything that the tests of this run noted."""
    reports = [each for kind in ("passed", "failed") for each in terminal.stats.get(kind, [])]
    notes = notes_in(reports)
    noted = {note.id for note in notes}
    unnoted = {id: words for id, words in INDEX.items() if id not in noted and id not in NOT_APPLICABLE}
    for line in as_markdown(notes, NOT_APPLICABLE, unnoted):
        terminal.write_line(line)
