"""Published intervals come out of `quantities.calendar`; what is reckoned in hours, of `reprocess.terms`."""

from datetime import date, datetime, timedelta

import pytest

from reprocess.quantities.calendar import Reading, annual, every_days, next_due, overdue_days
from reprocess.terms import as_text, instant
from tests.published.report import Agrees
from tests.published.source import Published


@pytest.mark.parametrize(
    ("trained", "due"),
    [(date(2025, 3, 15), date(2026, 3, 15)), (date(2024, 2, 29), date(2025, 2, 28))],
)
def test_v01_19_training_is_repeated_within_twelve_months(agrees: Agrees, trained: date, due: date) -> None:
    row = Published(
        id="V01-19",
        statement=f"trained on {trained}: the last day of the 12 months, and whether the day after is late",
        unit="date",
        condition="to the day; sooner when the workplace or the respirator changes or knowledge is inadequate",
        source="29 CFR 1910.134(k)(4)-(5)",
        address=(
            "http://www2.byui.edu/Safety/Respiratory_Training.htm (copied from OSHA, 2006); "
            "https://ccicomply.com/osha-required-annual-refresher-training/"
        ),
        evidence="seen",
        basis="published",
    )
    ours = next_due(annual(Reading.SAME_DAY), trained)
    agrees(row, theirs=due, ours=ours)
    agrees(row, theirs=(0, 1), ours=(overdue_days(ours, due), overdue_days(ours, due + timedelta(days=1))))


@pytest.mark.parametrize(
    ("reading", "due"),
    [(Reading.SAME_DAY, date(2025, 2, 10)), (Reading.WITHIN_THE_MONTH, date(2025, 2, 28))],
)
def test_v01_21_two_readings_of_annual(agrees: Agrees, reading: Reading, due: date) -> None:
    row = Published(
        id="V01-21",
        statement=f"trained on 10 February 2024: the last day of a year, read {reading}",
        unit="date",
        condition="the reading is the department's choice",
        source="US Department of Energy, precedent RECORD ID D99-03-008, on 29 CFR 1910.134",
        address=(
            "https://webarchive.library.unt.edu/eot2008/20090116211506/"
            "http://www.hss.energy.gov/healthsafety/wshp/il/pres/docs/D9903008.htm"
        ),
        evidence="seen",
        basis="published",
    )
    agrees(row, theirs=due, ours=next_due(annual(reading), date(2024, 2, 10)))


@pytest.mark.parametrize(("hours", "expected"), [(168, "2024-02-07"), (336, "2024-02-14")])
def test_v09_10_when_a_stored_item_is_due_in_days(agrees: Agrees, hours: int, expected: str) -> None:
    row = stored(f"{hours} h later, as days")
    days, over = divmod(hours, 24)
    assert over == 0
    agrees(row, theirs=expected, ours=next_due(every_days(days), date(2024, 1, 31)).isoformat())


def test_v09_10_when_a_stored_item_is_due_in_hours(agrees: Agrees) -> None:
    stored_us = instant(datetime.fromisoformat("2024-01-31T10:00:00+00:00"))
    ours = [as_text(stored_us + hours * 3_600_000_000) for hours in (3, 168, 336)]
    agrees(
        stored("3, 168 and 336 h later"),
        theirs=("2024-01-31T13:00:00Z", "2024-02-07T10:00:00Z", "2024-02-14T10:00:00Z"),
        ours=ours,
    )


def stored(statement: str) -> Published:
    return Published(
        id="V09-10",
        statement=f"stored on 31 January 2024 at 10:00 UTC: due {statement}",
        unit="date or instant",
        condition="none stated",
        source="our own working",
        address="",
        evidence="computed",
        basis="derived",
    )
