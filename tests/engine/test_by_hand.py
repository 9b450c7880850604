"""What is told about the hands that do a step (T16, P10), about filters that are no pair (C06)."""

import pytest

from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import BADGES, Floor


def used(floor: Floor, count: int) -> list[str]:
    """Returns that many more used tubes, taken apart."""
    names = [f"TUB-{number}" for number in range(200, 200 + count)]
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    for name in names:
        assert office.enrol(Commission(name, "breathing-tube-immersion", "LT-1")).accepted
        floor.bring(name, "clean")
    return names


def test_a_fourth_item_cleaned_within_a_minute_is_told(floor: Floor) -> None:
    """T16: three may be one batch at one sink, a fourth is a row of scans; a minute later the count begins anew."""
    used(floor, 8)
    play(
        floor,
        """
        +700 | anna | TUB-200 clean because a batch | accepted
        +719 | anna | TUB-201 clean because a batch | accepted
        +738 | anna | TUB-202 clean because a batch | accepted
        +757 | anna | TUB-203 clean because a batch | accepted, warns T16
        +757 | ben  | TUB-204 clean because a batch | accepted
        +900 | anna | TUB-205 clean because a batch | accepted
        """,
    )


def test_whoever_comes_from_the_dirty_side_is_told_of_clean_hands(floor: Floor) -> None:
    """P10: the hands that disinfected these blowers go on to rinse one of them; other hands are told nothing."""
    for item in ("BLW-2", "BLW-3"):
        floor.ask(asking.Contaminate(item, "used"))
        floor.bring(item, "rinse")
    play(
        floor,
        """
        +0 | anna | BLW-2 rinse | accepted, warns P10
        +0 | ben  | BLW-3 rinse | accepted
        """,
    )


def filter_opened(floor: Floor, item: str, days: int) -> None:
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    opened_us = floor.clock.now().wall_us - days * DAY_S * SECOND_US
    new = Commission(item, "hepa-cartridge", "LF-H", in_service_us=opened_us, opened_us=opened_us)
    assert office.enrol(new).accepted
    floor.bring(item, "ready")


@pytest.mark.parametrize(("days", "rules"), [(30, []), (31, ["C06"])])
def test_filters_opened_more_than_a_month_apart_are_told(floor: Floor, days: int, rules: list[str]) -> None:
    """C06."""
    filter_opened(floor, "FLT-80", 0)
    filter_opened(floor, "FLT-90", days)
    floor.bring("KIT-1", "assemble")
    answer = floor.build("KIT-1", "three-port-hepa", "BLW-3 TUB-3 HED-3 BAT-3 BLT-3 FLT-80 FLT-90")
    assert [one.rule for one in answer.warnings] == rules, answer.reasons
