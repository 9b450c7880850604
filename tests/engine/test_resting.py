"""What rests too long after its last step is told (T14)."""

import pytest

from reprocess.engine import request as asking
from reprocess.terms import SECOND_US
from reprocess.timetable.resting import of_rest
from tests.engine.benches import play
from tests.engine.floor import Floor


@pytest.mark.parametrize(("until", "hours"), [("clean-check", 8), ("disinfect", 8), ("inspect", 24), ("release", 24)])
def test_an_item_in_the_middle_of_its_cycle_is_told_of(floor: Floor, until: str, hours: int) -> None:
    """T14: eight hours at the bench, a day once it is dry; defaults of ours."""
    floor.ask(asking.Contaminate("TUB-5", "used"))
    floor.bring("TUB-5", until)
    item = floor.item("TUB-5")
    (due,) = of_rest(item)
    assert item.change is not None
    assert (due.rule, due.words["hours"]) == ("T14", hours)
    assert due.due_us == item.change.moment.wall_us + hours * 3600 * SECOND_US


def test_whatever_waits_by_its_nature_is_left_alone(floor: Floor) -> None:
    """T14: a used item has its own delay (T11), a running clock its own reminders, a ready item its shelf life."""
    floor.ask(asking.Contaminate("TUB-5", "used"))
    floor.bring("TUB-5", "take-apart")
    assert of_rest(floor.item("TUB-5")) == []
    floor.bring("TUB-3", "ready")
    assert of_rest(floor.item("TUB-3")) == []


def test_what_waits_in_repair_is_told_after_three_days(floor: Floor) -> None:
    play(floor, "+0 | anna | BLW-3 repair | accepted")
    (due,) = of_rest(floor.item("BLW-3"))
    assert (due.words["hours"], due.words["stage"]) == (72, "in repair")
