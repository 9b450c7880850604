"""The file of a temperature logger: a table of times and degrees Celsius, taken whole or not at all.

The first line names the columns with their units; the first column is time, the second temperature; the rest is not
looked at. Times are seconds from any zero (`seconds`) or instants with an offset (`time`, RFC 3339). Columns stand
apart by a comma, a semicolon or a tab; decimals follow a point. Nothing is converted, mended or guessed.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum, unique
from itertools import pairwise
from math import ceil

from reprocess.quantities.reading import BadReading, read_number
from reprocess.quantities.trace import PLAUSIBLE_C, SAMPLES_MAX, SAMPLES_MIN, BadTrace, Trace, TraceFault, inside
from reprocess.quantities.trace import read_trace as checked

CHARACTERS_MAX = 20_000_000
"""A hundred characters a sample. Our own choice."""

GAP_S_MAX = 60.0
"""Longest time between two samples at which the machine was watched (site parameter, our default)."""

_BYTE_ORDER_MARK = "\ufeff"
_SECONDS = frozenset({"seconds", "time_s", "second", "s"})
_INSTANTS = frozenset({"time", "timestamp"})
_CELSIUS = frozenset({"degc", "temp_c", "temperature_c", "celsius", "°c"})
_OTHER_UNITS = frozenset(
    {"degf", "temp_f", "temperature_f", "fahrenheit", "°f", "k", "kelvin", "temp_k", "minutes", "time_min", "min",
     "hours", "milliseconds", "ms", "time_ms"}
)  # fmt: skip


@unique
class LoggerFault(StrEnum):
    """What kept a file from being the record of a cycle; the values are stored words."""

    EMPTY = "empty"
    TOO_LONG = "too-long"
    NOT_TEXT = "not-text"
    NO_UNITS = "no-units"
    WRONG_UNIT = "wrong-unit"
    COLUMNS = "columns"
    DECIMAL_COMMA = "decimal-comma"
    NOT_A_NUMBER = "not-a-number"
    NOT_A_TIME = "not-a-time"
    IMPLAUSIBLE = "implausible"
    REPEATED = "repeated"
    SHUFFLED = "shuffled"
    GAP = "gap"


_SENTENCES = {
    LoggerFault.EMPTY: "The file holds no samples; export the cycle again.",
    LoggerFault.TOO_LONG: "The file is longer than one cycle can be; export this cycle alone.",
    LoggerFault.NOT_TEXT: "Line {line} holds hidden characters; export the file as plain text.",
    LoggerFault.NO_UNITS: "Line 1 must name time and temperature with their units, such as seconds,degC.",
    LoggerFault.WRONG_UNIT: "Line 1 names another unit; export seconds and degrees Celsius.",
    LoggerFault.COLUMNS: "Line {line} has not as many columns as line 1.",
    LoggerFault.DECIMAL_COMMA: "Line {line} has a decimal comma; export decimals with a point.",
    LoggerFault.NOT_A_NUMBER: "Line {line} holds something that is not a number.",
    LoggerFault.NOT_A_TIME: "Line {line} holds no time with its offset from UTC.",
    LoggerFault.IMPLAUSIBLE: "Line {line} cannot be right; check the sensor and its unit.",
    LoggerFault.REPEATED: "Line {line} repeats a time.",
    LoggerFault.SHUFFLED: "Line {line} is earlier than the line before it.",
    LoggerFault.GAP: "Nothing was recorded for more than 60 s before line {line}.",
}


@dataclass(frozen=True, slots=True)
class BadLogger:
    """The answer to a file that is no record; `line` counts from 1, the line of units included."""

    fault: LoggerFault
    line: int

    @property
    def sentence(self) -> str:
        """Returns the reason as one sentence for the operator."""
        return _SENTENCES[self.fault].format(line=self.line)


@dataclass(frozen=True, slots=True)
class LoggerRecord:
    """What a logger recorded, whole.

    Attributes:
        lowest_c: the coldest sample, as the file has it; `hottest_c` is the warmest.
        instants: whether the times are of the clock, in seconds since 1970, and not from a zero of their own.
    """

    trace: Trace
    lowest_c: str
    hottest_c: str
    instants: bool

    @property
    def lasted_s(self) -> float:
        """Returns the seconds from the first sample to the last."""
        return self.trace.samples[-1].at_s - self.trace.samples[0].at_s

    @property
    def gap_s_most(self) -> int:
        """Returns the longest time between two samples, in whole seconds, rounded up."""
        return ceil(max(part.seconds for part in self.trace.intervals()))


class _Refused(Exception):  # noqa: N818 - carries an answer through the reading of one file; never leaves this module
    def __init__(self, fault: LoggerFault, line: int) -> None:
        super().__init__(fault)
        self.bad = BadLogger(fault, line)


def read_logger(text: str) -> LoggerRecord | BadLogger:
    """Returns the record in a logger's file, or the first line that keeps it from being one; never a part of it.

    A byte order mark at the beginning, as spreadsheet programs write it, is left out.
    """
    try:
        return _record(text.removeprefix(_BYTE_ORDER_MARK))
    except _Refused as refused:
        return refused.bad


def _record(text: str) -> LoggerRecord:
    if len(text) > CHARACTERS_MAX:
        raise _Refused(LoggerFault.TOO_LONG, 1)
    lines = text.replace("\r\n", "\n").rstrip("\n").split("\n")
    if not text.strip() or len(lines) <= SAMPLES_MIN:
        raise _Refused(LoggerFault.EMPTY, len(lines))
    if len(lines) - 1 > SAMPLES_MAX:
        raise _Refused(LoggerFault.TOO_LONG, SAMPLES_MAX + 2)
    separator, columns, instants = _columns(lines[0])
    rows = [_row(line, number, separator, columns) for number, line in enumerate(lines[1:], start=2)]
    temperatures = [_celsius(row[1], number) for number, row in enumerate(rows, start=2)]
    times = [_at(row[0], number, instants=instants) for number, row in enumerate(rows, start=2)]
    trace = _trace(times, [float(celsius) for celsius in temperatures])
    texts = sorted(temperatures, key=float)
    return LoggerRecord(trace, texts[0], texts[-1], instants)


def _columns(line: str) -> tuple[str, int, bool]:
    """Returns (separator, number of columns, whether times are instants) of the line that names the units."""
    if not line.isprintable() and "\t" not in line:
        raise _Refused(LoggerFault.NOT_TEXT, 1)
    separator = next((mark for mark in (";", "\t", ",") if mark in line), ",")
    names = [name.strip().strip('"').lower() for name in line.split(separator)]
    if set(names[:2]) & _OTHER_UNITS:
        raise _Refused(LoggerFault.WRONG_UNIT, 1)
    if len(names) < 2 or names[0] not in _SECONDS | _INSTANTS or names[1] not in _CELSIUS:  # noqa: PLR2004 - two columns
        raise _Refused(LoggerFault.NO_UNITS, 1)
    return separator, len(names), names[0] in _INSTANTS


def _row(line: str, number: int, separator: str, columns: int) -> list[str]:
    if not line.replace("\t", "").isprintable():
        raise _Refused(LoggerFault.NOT_TEXT, number)
    cells = [cell.strip() for cell in line.split(separator)]
    if len(cells) == columns:
        return cells
    digits = [cell.lstrip("-") for cell in cells]
    # With a comma between the columns, decimal commas make more of them, each a whole number.
    commas = separator == "," and len(cells) > columns and all(one.isascii() and one.isdigit() for one in digits[-2:])
    raise _Refused(LoggerFault.DECIMAL_COMMA if commas else LoggerFault.COLUMNS, number)


def _celsius(text: str, number: int) -> str:
    value = read_number(text, "degC")
    if isinstance(value, BadReading):
        raise _Refused(LoggerFault.DECIMAL_COMMA if "," in text else LoggerFault.NOT_A_NUMBER, number)
    if not inside(float(value), PLAUSIBLE_C):
        raise _Refused(LoggerFault.IMPLAUSIBLE, number)
    return text


def _at(text: str, number: int, *, instants: bool) -> float:
    """Returns a time in seconds: from the file's own zero, or since 1970."""
    if not instants:
        value = read_number(text, "s")
        if isinstance(value, BadReading):
            raise _Refused(LoggerFault.DECIMAL_COMMA if "," in text else LoggerFault.NOT_A_NUMBER, number)
        return float(value)
    try:
        when = datetime.fromisoformat(text)
    except ValueError as fault:
        raise _Refused(LoggerFault.NOT_A_TIME, number) from fault
    if when.utcoffset() is None:
        raise _Refused(LoggerFault.NOT_A_TIME, number)
    return when.timestamp()


def _trace(times: list[float], temperatures: list[float]) -> Trace:
    for number, (before, after) in enumerate(pairwise(times), start=3):
        if after == before:
            raise _Refused(LoggerFault.REPEATED, number)
        if after < before:
            raise _Refused(LoggerFault.SHUFFLED, number)
        if after - before > GAP_S_MAX:
            raise _Refused(LoggerFault.GAP, number)
    found = checked(zip(times, temperatures, strict=True), gap_s_max=GAP_S_MAX)
    if isinstance(found, BadTrace):
        fault = LoggerFault.EMPTY if found.fault is TraceFault.TOO_FEW else LoggerFault.IMPLAUSIBLE
        raise _Refused(fault, found.sample + 1)
    return found
