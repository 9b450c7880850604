"""When a unit in store is to be inspected again (Q03), on its site's calendar."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

from reprocess.quantities.calendar import Months, Reading, next_due
from reprocess.record.standing import Standing
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import as_datetime


def local_date(zone: str, at_us: int) -> date:
    """Returns the site's date at an instant."""
    return as_datetime(at_us).astimezone(ZoneInfo(zone)).date()


def inspection_day(item: Standing, every_months: int, zone: str) -> date:
    """Returns the local date on which an item in store is to be inspected again (Q03).

    The inspection on which it was released counts as the first.
    """
    months = Months(every_months, Reading.SAME_DAY)
    looked_us = item.inspected_us
    if looked_us is None or looked_us < item.since_us:
        return next_due(months, local_date(zone, item.since_us))
    return next_due(months, local_date(zone, looked_us), anchor_day=item.anchor_day)


def overdue(scene: Scene) -> list[Reason]:
    """Returns that a unit goes out although its inspection is overdue: it may be the only one (Q03)."""
    reinspection = scene.as_part().workflow.reinspection
    if reinspection is None or scene.home is None:
        return []
    day = inspection_day(scene.item, reinspection.every_months, scene.home.zone)
    if day.toordinal() >= scene.bench.local_day:
        return []
    return [Reason("Q03", "inspection-overdue", {"item": scene.item.item, "day": day.isoformat()})]
