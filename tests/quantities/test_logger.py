"""A logger's file is taken whole, or a line is named and the reason given; nothing of a bad file is used."""

from __future__ import annotations

from itertools import pairwise
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.lethality import a0_as_evidence
from reprocess.quantities.logger import BadLogger, LoggerFault, LoggerRecord, read_logger

GOOD = "seconds,degC\n0,80\n30,80.0\n60,80.5\n"


def read(text: str) -> LoggerRecord:
    record = read_logger(text)
    assert isinstance(record, LoggerRecord), record
    return record


@pytest.mark.parametrize(
    ("text", "fault", "line"),
    [
        ("", LoggerFault.EMPTY, 1),
        ("\n\n", LoggerFault.EMPTY, 1),
        ("seconds,degC\n", LoggerFault.EMPTY, 1),
        ("seconds,degC\n0,80\n", LoggerFault.EMPTY, 2),
        ("0,80\n30,80\n60,80\n", LoggerFault.NO_UNITS, 1),
        ("seconds,temperature\n0,80\n30,80\n", LoggerFault.NO_UNITS, 1),
        ("seconds\n0\n30\n", LoggerFault.NO_UNITS, 1),
        ("degC,seconds\n80,0\n80,30\n", LoggerFault.NO_UNITS, 1),
        ("seconds,degF\n0,176\n30,176\n", LoggerFault.WRONG_UNIT, 1),
        ("seconds,K\n0,353\n30,353\n", LoggerFault.WRONG_UNIT, 1),
        ("minutes,degC\n0,80\n1,80\n", LoggerFault.WRONG_UNIT, 1),
        ("seconds,degC\n0,80\n\n60,80\n", LoggerFault.COLUMNS, 3),
        ("seconds,degC\n0,80\n30\n60,80\n", LoggerFault.COLUMNS, 3),
        ("seconds,degC\n0,80\n30,80,5\n", LoggerFault.DECIMAL_COMMA, 3),
        ("seconds;degC\n0;80,5\n30;80,5\n", LoggerFault.DECIMAL_COMMA, 2),
        ("seconds;degC\n0,5;80\n30;80\n", LoggerFault.DECIMAL_COMMA, 2),
        ("seconds,degC\n0,80\n30,hot\n", LoggerFault.NOT_A_NUMBER, 3),
        ("seconds,degC\n0,80\n30,\n", LoggerFault.NOT_A_NUMBER, 3),
        ("seconds,degC\n0,80\n30,nan\n", LoggerFault.NOT_A_NUMBER, 3),
        ("seconds,degC\n0,80\n30,8e1\n", LoggerFault.NOT_A_NUMBER, 3),
        ("seconds,degC\n0,80\nx,80\n", LoggerFault.NOT_A_NUMBER, 3),
        ("time,degC\n2026-03-05T07:00:00Z,80\n2026-03-05T07:00:30,80\n", LoggerFault.NOT_A_TIME, 3),
        ("time,degC\n0,80\n30,80\n", LoggerFault.NOT_A_TIME, 2),
        ("time,degC\n2026-03-05T07:00:00Z,80\n2026-02-30T07:00:30Z,80\n", LoggerFault.NOT_A_TIME, 3),
        ("seconds,degC\n0,80\n30,200.1\n", LoggerFault.IMPLAUSIBLE, 3),
        ("seconds,degC\n0,-40.1\n30,80\n", LoggerFault.IMPLAUSIBLE, 2),
        ("seconds,degC\n0,80\n30,80\n30,80\n", LoggerFault.REPEATED, 4),
        ("seconds,degC\n0,80\n40,80\n30,80\n", LoggerFault.SHUFFLED, 4),
        ("seconds,degC\n0,80\n60,80\n121,80\n", LoggerFault.GAP, 4),
        ("seconds,degC\n0,80\n3\x000,80\n", LoggerFault.NOT_TEXT, 3),
        ("seconds,degC\n0,80\n\ufeff30,80\n", LoggerFault.NOT_TEXT, 3),
        ("sec\x00onds,degC\n0,80\n30,80\n", LoggerFault.NOT_TEXT, 1),
        ("s\x00e\x00c\x00o\x00n\x00d\x00s\x00,\x00d\x00\n0,80\n30,80\n", LoggerFault.NOT_TEXT, 1),
    ],
)
def test_a_bad_file_names_its_line_and_the_reason(text: str, fault: LoggerFault, line: int) -> None:
    answer = read_logger(text)
    assert answer == BadLogger(fault, line)
    assert "{" not in answer.sentence
    assert answer.sentence.endswith(".")


def test_a_good_file_is_taken_whole() -> None:
    record = read(GOOD)
    assert [(one.at_s, one.celsius) for one in record.trace.samples] == [(0.0, 80.0), (30.0, 80.0), (60.0, 80.5)]
    assert (record.lowest_c, record.hottest_c, record.lasted_s, record.gap_s_most) == ("80", "80.5", 60.0, 30)
    assert not record.instants


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff" + GOOD,
        GOOD.replace("\n", "\r\n"),
        GOOD.replace(",", ";"),
        GOOD.replace(",", "\t"),
        GOOD.replace("seconds,degC", '"Time_s" , "Temp_C"'),
        GOOD + "\n\n",
        "seconds,degC,probe 2\n0,80,79\n30,80.0,79\n60,80.5,79\n",
    ],
)
def test_what_differs_only_in_its_writing_is_the_same_record(text: str) -> None:
    record = read(text)
    assert (record.trace, record.lowest_c, record.hottest_c) == (read(GOOD).trace, "80", "80.5")


def test_instants_count_by_the_clock_whatever_their_offset() -> None:
    """The clocks of Halifax went forward at 06:00 UTC on 8 March 2026 (time zone database)."""
    text = "time,degC\n2026-03-08T01:59:30-04:00,80\n2026-03-08T03:00:00-03:00,80\n2026-03-08T06:01:00Z,80\n"
    record = read(text)
    assert record.instants
    assert [part.seconds for part in record.trace.intervals()] == [30.0, 60.0]


def test_a_gap_of_just_a_minute_is_none() -> None:
    assert read("seconds,degC\n0,80\n60,80\n120,80\n").gap_s_most == 60


@pytest.mark.parametrize(
    ("celsius", "minutes", "a0_s"),
    [
        # Reckoned from EN ISO 15883-1, Annex B (A0 = sum of 10 ** ((T - 80) / 10) dt), to whole seconds.
        ("70", 100, 600),
        ("80", 10, 600),
        ("90", 1, 600),
        ("90", 5, 3000),
        ("65", 30, 57),
    ],
)
def test_a_held_temperature_gives_its_a0_through_a_file(celsius: str, minutes: int, a0_s: int) -> None:
    rows = "".join(f"{second},{celsius}\n" for second in range(0, minutes * 60 + 1, 30))
    dose = a0_as_evidence(read("seconds,degC\n" + rows).trace, floor_c=65.0)
    assert round(dose.equivalent_s) == a0_s
    assert dose.gap_s_max < inf


@given(st.text(max_size=200))
def test_any_text_has_an_answer(text: str) -> None:
    assert isinstance(read_logger(text), LoggerRecord | BadLogger)


@given(st.lists(st.tuples(st.integers(0, 600), st.integers(-60, 230)), min_size=2, max_size=20))
def test_a_file_is_taken_only_where_every_line_of_it_is_good(rows: list[tuple[int, int]]) -> None:
    record = read_logger("seconds,degC\n" + "".join(f"{at},{celsius}\n" for at, celsius in rows))
    steps = [after[0] - before[0] for before, after in pairwise(rows)]
    good = all(0 < step <= 60 for step in steps) and all(-40 <= celsius <= 200 for _, celsius in rows)
    assert isinstance(record, LoggerRecord) == good
    if isinstance(record, LoggerRecord):
        assert len(record.trace.samples) == len(rows)
