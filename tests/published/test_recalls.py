"""A published recall rule comes out of what a failed bath holds: one day with a test before and after each item."""

from pathlib import Path

from reprocess.clock import StoryClock
from reprocess.engine import request as asking
from tests.ledger import small
from tests.ledger.day import LASTING_US, Asked, play
from tests.published.report import Agrees
from tests.published.source import Published


def soaked(item: str) -> tuple[Asked, ...]:
    return (
        Asked(f"{item}-clean", asking.DoStep(item, "clean")),
        Asked(f"{item}-start", asking.StartDwell(item, "disinfect", "W-1")),
        Asked(f"{item}-rewet", asking.Rewet(item), after_s=90),
        Asked(f"{item}-met", asking.EndDwell(item, "disinfect"), after_s=100),
    )


def bath_test(key: str, verdict: str, *, passed: bool) -> Asked:
    return Asked(key, asking.TestSolution("W-1", "T-1", LASTING_US, passed=passed), verdict)


DAY = (
    Asked("make", asking.MakeSolution("W-1", "wipe", "Q-1", LASTING_US)),
    *soaked("S-1"),
    bath_test("first", "accepted", passed=True),
    *soaked("S-2"),
    bath_test("second", "held", passed=False),
)


def test_v03_19_everything_since_the_last_good_test_is_recalled(agrees: Agrees, tmp_path: Path) -> None:
    row = Published(
        id="V03-19",
        statement="after a positive indicator everything since the last negative one is recalled",
        unit="items",
        condition="the rule of a steam sterilizer, applied to a bath and its test; two items, a good test between them",
        source=(
            "CDC/HICPAC, Guideline for Disinfection and Sterilization in Healthcare Facilities, "
            "2008 (web text updated to May 2019), Table 12"
        ),
        address="http://med.iiab.me/modules/en-cdc/www.cdc.gov/infectioncontrol/guidelines/disinfection/tables/table12.html",
        evidence="seen",
        basis="derived",
    )
    clock = StoryClock(small.START_US)
    with small.found(tmp_path / "department.db", clock) as department:
        answers = play(department, clock, DAY)
        assert [str(answers[asked.key].verdict) for asked in DAY] == [asked.verdict for asked in DAY]
        held = tuple(item for item in ("S-1", "S-2", "S-3") if department.item(item).holds)
    agrees(row, theirs=("S-2",), ours=held)
