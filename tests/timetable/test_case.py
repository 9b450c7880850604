"""The reminders of an exposure case: to decide it, and the last day on which a report is in time (H07)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from reprocess.record.cases import Case
from reprocess.reminders.wording import sentence
from reprocess.terms import as_text
from reprocess.timetable import for_case
from reprocess.timetable.case import report_day, work_days_after

NOON_US = 1_772_712_000_000_000
"""2026-03-05T12:00:00Z, a Thursday."""
OPEN = Case("C-1", opened_us=NOON_US, asked_us=NOON_US, asked_number=1, number=1)


@pytest.mark.parametrize(
    ("aware", "last"),
    [
        (date(2026, 3, 5), date(2026, 3, 19)),  # Thursday: 6, 9-13, 16-19
        (date(2026, 3, 6), date(2026, 3, 20)),  # Friday: 9-13, 16-20
        (date(2026, 3, 7), date(2026, 3, 20)),  # Saturday: 9-13, 16-20
        (date(2026, 3, 8), date(2026, 3, 20)),  # Sunday
        (date(2026, 3, 9), date(2026, 3, 23)),  # Monday: 10-13, 16-20, 23
        (date(2026, 12, 24), date(2027, 1, 7)),  # holidays are not known, so that the day is never too late
    ],
)
def test_a_report_is_in_time_for_ten_work_days(aware: date, last: date) -> None:
    """21 CFR 803.30(a): "no later than 10 work days after the day that you become aware" (from memory).

    The days were counted on a calendar of 2026.
    """
    assert report_day(aware) == last


def test_ten_work_days_are_two_weeks_from_any_weekday() -> None:
    """Whatever the weekday, ten days from Monday to Friday lie in the two weeks that follow it."""
    monday = date(2026, 3, 2)
    for number in range(5):
        day = monday + timedelta(days=number)
        assert work_days_after(day, 10) == day + timedelta(days=14)
        assert work_days_after(day, 0) == day


def test_an_open_case_is_brought_to_mind_until_it_is_decided_and_settled() -> None:
    """H07: at once to whoever decides; three work days ahead and on the last morning to risk management."""
    dues = for_case(OPEN, "LMG", "Europe/London")
    assert [(due.words["say"], as_text(due.due_us)) for due in dues] == [
        ("case-undecided", "2026-03-05T12:00:00Z"),
        ("case-report", "2026-03-16T07:00:00Z"),
        ("case-report-last", "2026-03-19T07:00:00Z"),
    ]
    assert len({due.key for due in dues}) == 3
    assert [sentence(due, str) for due in dues][1].startswith("Case C-1: risk management decides by 2026-03-19")
    says = [due.words["say"] for due in for_case(replace(OPEN, notify=True), "LMG", "Europe/London")]
    assert says == ["case-report", "case-report-last"]
    assert for_case(replace(OPEN, notify=True, report=False), "LMG", "Europe/London") == ()
    assert for_case(replace(OPEN, closed_us=NOON_US), "LMG", "Europe/London") == ()
    assert for_case(Case("C-2"), "LMG", "Europe/London") == ()


def test_uses_that_were_added_ask_anew() -> None:
    again = replace(OPEN, asked_number=9, asked_us=NOON_US + 1)
    keys = {due.key for case in (OPEN, again) for due in for_case(case, "LMG", "Europe/London")}
    assert len(keys) == 6
