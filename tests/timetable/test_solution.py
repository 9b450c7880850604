"""The reminders of baths and containers: tests as the label asks for them, expiry two hours ahead and at its time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from reprocess.definitions.label import Agent
from reprocess.record.solutions import Solution
from reprocess.terms import DAY_S, SECOND_US
from reprocess.timetable import Due, for_solution
from tests.timetable.moments import at

LONDON, HALIFAX = "Europe/London", "America/Halifax"
MADE_US = at("2026-03-28T16:00+00:00")
HOUR_US = 3600 * SECOND_US


def bath(**changed: Any) -> Solution:
    solution = Solution(
        solution="LMG-B2",
        agent="opa-055",
        form="bath",
        site="LMG",
        lot="L-1",
        lot_expiry_us=MADE_US + 90 * DAY_S * SECOND_US,
        expires_us=MADE_US + 14 * DAY_S * SECOND_US,
        made_us=MADE_US,
        number=1,
    )
    return replace(solution, **changed)


def asking_for(label: Agent, every: str) -> Agent:
    assert label.strength is not None
    return label.model_copy(update={"strength": label.strength.model_copy(update={"test_every": every})})


def rows(solution: Solution, label: Agent, zone: str = LONDON, changed_us: int = MADE_US) -> dict[str, Due]:
    return {str(due.words["say"]): due for due in for_solution(solution, label, zone, changed_us)}


@pytest.fixture
def opa(agent: Callable[[str], Agent]) -> Agent:
    return agent("opa-055")


def test_a_bath_rings_two_hours_before_it_expires_and_when_it_does(opa: Agent) -> None:
    found = rows(bath(passed_us=MADE_US), opa)
    over_us = MADE_US + 14 * DAY_S * SECOND_US
    assert {say: (due.rule, due.due_us) for say, due in found.items()} == {
        "solution-near": ("L05", over_us - 2 * HOUR_US),
        "solution-over": ("L05", over_us),
    }


def test_a_bath_made_for_an_hour_rings_only_at_its_end(opa: Agent) -> None:
    found = rows(bath(passed_us=MADE_US, expires_us=MADE_US + HOUR_US), opa)
    assert list(found) == ["solution-over"]


def test_a_lot_that_ends_sooner_than_the_bath_ends_it(opa: Agent) -> None:
    found = rows(bath(passed_us=MADE_US, lot_expiry_us=MADE_US + 5 * HOUR_US), opa)
    assert found["solution-over"].due_us == MADE_US + 5 * HOUR_US
    assert found["solution-over"].rule == "L01"


def test_a_bath_made_anew_under_its_old_name_rings_anew(opa: Agent) -> None:
    first = {due.key for due in rows(bath(), opa).values()}
    again = bath(made_us=MADE_US + 5, number=9)
    assert not first & {due.key for due in rows(again, opa).values()}


def test_a_new_bath_is_to_be_tested_at_once(opa: Agent) -> None:
    assert rows(bath(), opa)["test-due"].due_us == MADE_US


def test_a_bath_tested_before_each_use_is_due_again_once_it_was_used(opa: Agent) -> None:
    passed = bath(passed_us=MADE_US + 1)
    assert "test-due" not in rows(passed, opa)
    used = replace(passed, touched=1, touched_since_pass=1)
    due = rows(used, opa, changed_us=MADE_US + HOUR_US)["test-due"]
    assert due.due_us == MADE_US + HOUR_US
    twice = replace(used, touched=2)
    assert rows(twice, opa)["test-due"].key != due.key


def test_a_bath_whose_last_test_does_not_count_is_to_be_tested_again(opa: Agent) -> None:
    doubted = bath(passed_us=MADE_US + 1, doubted=True)
    due = rows(doubted, opa, changed_us=MADE_US + HOUR_US)["test-due"]
    assert due.due_us == MADE_US + HOUR_US
    assert rows(bath(doubted=True), opa)["test-due"].key != due.key


@pytest.mark.parametrize(
    ("zone", "passed", "due"),
    [
        (LONDON, "2026-03-28T16:00+00:00", "2026-03-29T07:00+01:00"),
        (LONDON, "2026-03-28T23:59+00:00", "2026-03-29T07:00+01:00"),
        (LONDON, "2026-03-29T00:59+00:00", "2026-03-30T07:00+01:00"),
        (LONDON, "2026-10-24T16:00+01:00", "2026-10-25T07:00+00:00"),
        (LONDON, "2026-10-25T01:30+01:00", "2026-10-26T07:00+00:00"),
        (LONDON, "2026-10-25T01:30+00:00", "2026-10-26T07:00+00:00"),
        (HALIFAX, "2026-03-07T16:00-04:00", "2026-03-08T07:00-03:00"),
        (HALIFAX, "2026-10-31T16:00-03:00", "2026-11-01T07:00-04:00"),
        (HALIFAX, "2026-03-05T02:00+00:00", "2026-03-05T07:00-04:00"),
    ],
)
def test_a_bath_tested_daily_is_due_on_the_next_morning_of_its_site(
    opa: Agent, zone: str, passed: str, due: str
) -> None:
    made_us = at(passed) - HOUR_US
    solution = bath(made_us=made_us, expires_us=made_us + 14 * DAY_S * SECOND_US, passed_us=at(passed))
    solution = replace(solution, lot_expiry_us=solution.expires_us)
    found = rows(solution, asking_for(opa, "day"), zone)
    assert found["test-due"].due_us == at(due)


def test_no_test_is_due_once_the_bath_is_over(opa: Agent) -> None:
    short = bath(passed_us=MADE_US, expires_us=MADE_US + 3 * HOUR_US)
    assert "test-due" not in rows(short, asking_for(opa, "day"))


def test_a_container_and_an_untested_bath_ask_for_no_test(opa: Agent, agent: Callable[[str], Agent]) -> None:
    assert "test-due" not in rows(bath(), asking_for(opa, "none"))
    wipes = rows(bath(form="container"), agent("quat-alcohol-wipe"))
    assert {due.rule for due in wipes.values()} == {"L09"}


@pytest.mark.parametrize("gone", [{"ended": "dumped"}, {"failed_us": MADE_US}, {"number": 0}])
def test_a_bath_that_is_no_longer_used_reminds_of_nothing(opa: Agent, gone: dict[str, Any]) -> None:
    assert rows(bath(**gone), opa) == {}
