"""The queue file of a station that was cut off: lines of JSON, numbered, with its clocks, each sealed upon the last.

A line's seal is HMAC-SHA-256, under the station's own key, over the seal before it and the canonical JSON of the line
without its seal (keys sorted, no spaces). The first line names the queue and its station; the last one counts the
lines, so that a tail that was cut off is seen. The words of a line are those of `reprocess log`.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import orjson

FORMAT: Final = "reprocess-queue-1"
LINES_MOST: Final = 5_000
CHARACTERS_MOST: Final = 4_000
"""Lines of one queue and characters of one line at most (our choice)."""
START: Final = ""
_WORDS: Final = ("item", "did", "in", "temp", "answers", "defects", "readings", "instrument", "note")


@dataclass(frozen=True, slots=True)
class QueueLine:
    """Is one scan at the station: its clocks, the badges shown, and its words.

    Attributes:
        at_us: the station's wall clock; mono_us its monotonic clock, comparable within one boot only.
    """

    number: int
    at_us: int
    mono_us: int
    boot: str
    badge: str
    second: str | None
    words: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Queue:
    """Is a queue whose seals are whole; `closed` says that its last line counts what is there."""

    queue: str
    station: str
    lines: tuple[QueueLine, ...]
    closed: bool
    digest: str


@dataclass(frozen=True, slots=True)
class Broken:
    """Is a queue that cannot be believed: which line, counted from 1, and why."""

    line: int
    because: str


def sealed(fields: Mapping[str, Any], before: str, key: bytes) -> tuple[str, str]:
    """Returns (the line as text, its seal); `before` is the seal of the line before, empty for the first."""
    seal = hmac.new(key, before.encode() + _canonical(fields), hashlib.sha256).hexdigest()
    return orjson.dumps({**fields, "seal": seal}, option=orjson.OPT_SORT_KEYS).decode(), seal


def written(queue: str, station: str, lines: Sequence[QueueLine], key: bytes, *, closed: bool = True) -> str:
    """Returns the text of a queue file."""
    texts, before = [], START
    head: list[Mapping[str, Any]] = [{"format": FORMAT, "queue": queue, "station": station}]
    tail: list[Mapping[str, Any]] = [{"end": len(lines)}] if closed else []
    for fields in (*head, *(_fields(one) for one in lines), *tail):
        text, before = sealed(fields, before, key)
        texts.append(text)
    return "".join(f"{text}\n" for text in texts)


def _fields(line: QueueLine) -> dict[str, Any]:
    clocks = {"n": line.number, "at_us": line.at_us, "mono_us": line.mono_us, "boot": line.boot}
    return {**clocks, "badge": line.badge, "second": line.second, "words": dict(line.words)}


def _canonical(fields: Mapping[str, Any]) -> bytes:
    return orjson.dumps(dict(fields), option=orjson.OPT_SORT_KEYS)


def station_of(text: str) -> str | None:
    """Returns the station that a queue names, so that its key can be found; nothing is believed yet."""
    first = _read(text.partition("\n")[0])
    station = first.get("station") if first is not None and first.get("format") == FORMAT else None
    return station if isinstance(station, str) else None


def read_queue(text: str, key: bytes) -> Queue | Broken:
    """Returns the queue, or the first line that cannot be believed and why."""
    rows = text.splitlines()
    if not 0 < len(rows) <= LINES_MOST + 2:
        return Broken(1, f"it has no line or more than {LINES_MOST}")
    before, head, end = START, dict[str, Any](), None
    lines: list[QueueLine] = []
    for number, row in enumerate(rows, start=1):
        fields = _read(row)
        because = "it is no line of a queue" if fields is None or end is not None else _unsealed(fields, before, key)
        if because is not None or fields is None:
            return Broken(number, because or "")
        before = str(fields["seal"])
        if number == 1:
            head = fields
        elif "end" in fields:
            end = fields["end"]
        else:
            line = _line(fields, lines)
            if isinstance(line, str):
                return Broken(number, line)
            lines.append(line)
    if head.get("format") != FORMAT or not all(isinstance(head.get(one), str) for one in ("queue", "station")):
        return Broken(1, "it does not begin like a queue")
    if end is not None and end != len(lines):
        return Broken(len(rows), f"it counts {end} lines, there are {len(lines)}")
    digest = hashlib.sha256(text.encode()).hexdigest()
    return Queue(str(head["queue"]), str(head["station"]), tuple(lines), end is not None, digest)


def _read(row: str) -> dict[str, Any] | None:
    try:
        fields = orjson.loads(row) if len(row) <= CHARACTERS_MOST else None
    except orjson.JSONDecodeError:
        return None
    return fields if isinstance(fields, dict) else None


def _unsealed(fields: dict[str, Any], before: str, key: bytes) -> str | None:
    """Returns why a line's seal is not the station's, upon the line before."""
    plain = {name: value for name, value in fields.items() if name != "seal"}
    wanted = sealed(plain, before, key)[1]
    if hmac.compare_digest(wanted.encode(), str(fields.get("seal")).encode()):
        return None
    return "its seal is not the station's: it was changed, or a line before it is missing"


def _line(fields: dict[str, Any], lines: list[QueueLine]) -> QueueLine | str:
    """Returns one scan, or why it cannot follow the one before."""
    words = fields.get("words")
    whole = all(type(fields.get(one)) is int for one in ("n", "at_us", "mono_us"))
    said = isinstance(words, dict) and all(name in _WORDS and isinstance(one, str) for name, one in words.items())
    texts = isinstance(fields.get("boot"), str) and isinstance(fields.get("badge"), str)
    second = fields.get("second")
    if not (whole and said and texts and (second is None or isinstance(second, str)) and words):
        return "it lacks a number, a clock, a badge or its words"
    line = QueueLine(
        fields["n"], fields["at_us"], fields["mono_us"], fields["boot"], fields["badge"], second, dict(words)
    )
    if line.number != len(lines) + 1:
        return f"it is number {line.number}, {len(lines) + 1} should follow"
    if lines and lines[-1].boot == line.boot and line.mono_us < lines[-1].mono_us:
        return "its running clock went back"
    return line
