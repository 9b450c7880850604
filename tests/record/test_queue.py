"""The queue of a station that was cut off: any change, gap, reorder or cut is seen (D09).

The seals are made a second time with `hmac` and `json` of the standard library alone (RFC 2104, RFC 6234).
"""

from __future__ import annotations

import hashlib
import hmac
import json
from dataclasses import replace

import pytest

from reprocess.record.queue import FORMAT, Broken, Queue, QueueLine, read_queue, sealed, station_of, written

KEY = bytes(range(32))
LINES = tuple(
    QueueLine(
        number,
        1_772_700_000_000_000 + number,
        number * 1_000_000,
        "boot-1",
        "B-ANNA",
        None,
        {"item": "BLW-2", "did": did},
    )
    for number, did in enumerate(("clean", "clean-check", "disinfect start"), start=1)
)
TEXT = written("Q-SINK-1", "SINK", LINES, KEY)


def by_the_standard_library(text: str) -> list[str]:
    before, found = "", []
    for row in text.splitlines():
        fields = json.loads(row)
        fields.pop("seal")
        plain = json.dumps(fields, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        before = hmac.new(KEY, before.encode() + plain.encode(), hashlib.sha256).hexdigest()
        found.append(before)
    return found


def test_a_stranger_makes_the_same_seals() -> None:
    assert [json.loads(row)["seal"] for row in TEXT.splitlines()] == by_the_standard_library(TEXT)


def test_a_queue_comes_back_as_it_was_written() -> None:
    queue = read_queue(TEXT, KEY)
    assert isinstance(queue, Queue)
    assert (queue.queue, queue.station, queue.lines, queue.closed) == ("Q-SINK-1", "SINK", LINES, True)
    assert queue.digest == hashlib.sha256(TEXT.encode()).hexdigest()
    assert station_of(TEXT) == "SINK"


def test_a_queue_without_its_end_is_read_and_known_to_be_open() -> None:
    queue = read_queue(written("Q-SINK-1", "SINK", LINES, KEY, closed=False), KEY)
    assert isinstance(queue, Queue)
    assert not queue.closed


ROWS = TEXT.splitlines()


@pytest.mark.parametrize(
    ("rows", "line"),
    [
        (ROWS[1:], 1),
        ([ROWS[0], *ROWS[2:]], 2),
        ([ROWS[0], ROWS[2], ROWS[1], *ROWS[3:]], 2),
        ([*ROWS[:3], ROWS[3].replace("start", "ended"), ROWS[4]], 4),
        ([*ROWS[:2], ROWS[1], *ROWS[2:]], 3),
        ([*ROWS, ROWS[-1]], 6),
        ([*ROWS[:3], ROWS[4]], 4),
        ([*ROWS[:2], "no json", *ROWS[2:]], 3),
        ([*ROWS[:2], "[1]", *ROWS[2:]], 3),
        ([*ROWS[:2], '"' + "x" * 5000 + '"'], 3),
        ([], 1),
        (["{}"] * 6000, 1),
    ],
)
def test_what_was_changed_is_found_at_its_line(rows: list[str], line: int) -> None:
    broken = read_queue("\n".join(rows), KEY)
    assert isinstance(broken, Broken)
    assert broken.line == line


def test_another_key_opens_nothing() -> None:
    assert isinstance(read_queue(TEXT, bytes(32)), Broken)


@pytest.mark.parametrize(
    ("number", "changed"),
    [
        (1, {"number": 3}),
        (2, {"mono_us": 999_999}),
        (0, {"words": {"shout": "loud"}}),
        (0, {"words": {}}),
        (0, {"badge": None}),
        (0, {"second": 7}),
        (0, {"at_us": True}),
    ],
)
def test_a_well_sealed_line_must_still_make_sense(number: int, changed: dict[str, object]) -> None:
    lines = list(LINES)
    lines[number] = replace(lines[number], **changed)  # type: ignore[arg-type]
    broken = read_queue(written("Q-SINK-1", "SINK", lines, KEY), KEY)
    assert isinstance(broken, Broken)
    assert broken.line == number + 2


def test_another_boot_begins_its_clock_anew() -> None:
    lines = [LINES[0], replace(LINES[1], boot="boot-2", mono_us=1)]
    assert isinstance(read_queue(written("Q-SINK-1", "SINK", lines, KEY), KEY), Queue)


def test_a_wrong_count_or_heading_is_no_queue() -> None:
    wrong = written("Q-SINK-1", "SINK", LINES, KEY).replace('"queue":"Q-SINK-1"', '"queue":7')
    assert isinstance(read_queue(wrong, KEY), Broken)
    assert station_of("no queue") is None
    assert station_of('{"format":"another"}') is None


def test_a_heading_or_an_end_that_is_sealed_but_wrong_is_found() -> None:
    def of(*rows: dict[str, object]) -> str:
        texts, before = [], ""
        for fields in rows:
            text, before = sealed(fields, before, KEY)
            texts.append(text)
        return "\n".join(texts)

    head: dict[str, object] = {"format": FORMAT, "queue": "Q-1", "station": "SINK"}
    for rows, line in (([{**head, "format": "other"}], 1), ([{**head, "queue": 7}], 1), ([head, {"end": 2}], 2)):
        broken = read_queue(of(*rows), KEY)
        assert isinstance(broken, Broken)
        assert broken.line == line
