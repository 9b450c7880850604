"""Local text and the marks of a time line, with the clock changes of two zones.

Clock changes of 2026: Europe/London on 29 March, 01:00 UTC (forward) and 25 October, 01:00 UTC (back), by the
IANA time zone database 2025b and later, file `europe`, rules `EU`; Asia/Kolkata is at +05:30 all year, file `asia`.
"""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise

import pytest

from reprocess.gathering import local_text
from reprocess.pictures.instants import TICKS_MOST, length, ticks
from reprocess.terms import instant


def us(text: str) -> int:
    return instant(datetime.fromisoformat(text).replace(tzinfo=UTC))


def test_an_hour_that_comes_twice_is_told_apart_by_its_offset() -> None:
    assert local_text("Europe/London", us("2026-10-25T00:30")) == "2026-10-25 01:30 +01:00"
    assert local_text("Europe/London", us("2026-10-25T01:30")) == "2026-10-25 01:30 +00:00"
    assert local_text("Europe/London", us("2026-07-01T11:05")) == "2026-07-01 12:05"


def test_lengths_are_whole_seconds_rounded_down() -> None:
    assert length(0, 3_723_999_999) == "1:02:03"
    assert length(0, 90_000_000_000) == "25:00:00"
    assert length(5, 0) == "0:00:00"


def test_marks_stand_at_round_local_times_and_tell_the_day_once() -> None:
    found = ticks("Asia/Kolkata", us("2026-03-05T17:10"), us("2026-03-05T20:50"))
    assert [one.label for one in found] == [
        ("23:00", "2026-03-05"),
        ("23:30",),
        ("00:00", "2026-03-06"),
        ("00:30",),
        ("01:00",),
        ("01:30",),
        ("02:00",),
    ]
    assert found[0].at_us == us("2026-03-05T17:30")


def test_a_clock_change_skips_or_repeats_an_hour() -> None:
    forward = ticks("Europe/London", us("2026-03-28T23:00"), us("2026-03-29T04:00"))
    assert [one.label[0] for one in forward] == ["23:00", "00:00", "02:00", "03:00", "04:00", "05:00"]
    back = ticks("Europe/London", us("2026-10-24T23:00"), us("2026-10-25T03:00"))
    hours = [one for one in back if one.label[0].endswith(":00")]
    assert [one.label[0] for one in hours] == ["00:00", "01:00", "01:00", "02:00", "03:00"]
    gaps = {two.at_us - one.at_us for one, two in pairwise(hours)}
    assert gaps == {3_600_000_000}


@pytest.mark.parametrize("days", [1, 5, 30, 90, 400, 3000, 20_000])
def test_there_are_at_most_eight_marks_however_long_it_is(days: int) -> None:
    begin = us("2020-01-01T09:17")
    found = ticks("Europe/London", begin, begin + days * 86_400_000_000)
    assert 1 <= len(found) <= TICKS_MOST
    assert [one.at_us for one in found] == sorted({one.at_us for one in found})


def test_a_line_of_no_length_has_at_most_its_own_mark() -> None:
    noon = us("2026-03-05T12:00")
    assert [one.at_us for one in ticks("UTC", noon, noon)] == [noon]
    assert ticks("UTC", noon + 1, noon + 2) == ()
