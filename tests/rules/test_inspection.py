"""A unit that goes out although its monthly inspection is overdue is told of, and goes (Q03)."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from reprocess.definitions.model import Workflow
from reprocess.record.moment import Moment
from reprocess.record.places import Site, Station
from reprocess.record.standing import Standing
from reprocess.rules.inspection import overdue
from reprocess.rules.scene import Bench, Scene
from reprocess.shipped import files_in, folder
from reprocess.terms import instant

WORKFLOWS = {one.holds.workflow: one.holds for one in files_in(folder()) if isinstance(one.holds, Workflow)}


def told(released: datetime, today: date, workflow: str) -> list[str]:
    now_us = instant(datetime(today.year, today.month, today.day, 9, tzinfo=UTC))
    site = Site("LMG", "Larkmoor General", "Europe/London", number=1)
    bench = Bench(Moment(now_us, 0, None, "b", "n"), site, Station("B"), None, None, local_day=today.toordinal())
    item = Standing("KIT-1", number=9, stage="ready", since_us=instant(released))
    file = WORKFLOWS[workflow]
    return [one.rule for one in overdue(Scene(bench, item, site, file, "d", file, "d"))]


@pytest.mark.parametrize(
    ("today", "rules"),
    [(date(2026, 2, 28), []), (date(2026, 3, 1), ["Q03"])],
)
def test_the_day_itself_is_in_time_the_day_after_is_not(today: date, rules: list[str]) -> None:
    """Q03: released on 31 January, due on 28 February, the month's last day (the anchor stays 31)."""
    assert told(datetime(2026, 1, 31, 12, tzinfo=UTC), today, "respirator") == rules


def test_what_asks_for_no_inspection_is_never_overdue() -> None:
    assert told(datetime(2020, 1, 1, tzinfo=UTC), date(2026, 3, 1), "blower") == []
