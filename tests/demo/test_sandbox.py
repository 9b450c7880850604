"""The demo as a place to try: after its evening there is something to issue, and people who can sign in."""

from __future__ import annotations

from pathlib import Path

import pytest

from reprocess.demo import sandbox, ward
from reprocess.department import Department
from reprocess.errors import WrongUseError
from reprocess.signing_in.sessions import Door


@pytest.fixture(scope="module")
def tried(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Returns the file of a demo that was opened once."""
    path = tmp_path_factory.mktemp("sandbox") / "larkmoor.db"
    department, clock = sandbox.opened(path)
    clock.keep()
    department.close()
    return path


@pytest.fixture
def department(tried: Path):  # type: ignore[no-untyped-def]
    """Yields the demo, opened a second time."""
    opened, _ = sandbox.opened(tried)
    with opened:
        yield opened


def test_a_ward_finds_a_ready_respirator_a_spare_battery_and_a_wearer(department: Department) -> None:
    assert department.item(ward.KIT).stage == "ready"
    assert not department.item(ward.KIT).held
    assert department.item(ward.SPARE).stage == "ready"
    assert department.wearer_of_badge(ward.BADGE) == ward.WEARER


def test_four_people_can_sign_in_and_each_must_choose_an_own_pin(department: Department) -> None:
    pins = sandbox.first_pins(department)
    assert set(pins) == set(sandbox.WHO)
    door = Door(department.ledger, department.clock)
    _, known = door.sign_in("B-HQ", pins["B-HQ"], "LMG-C2", new_pin="73910584")
    assert known.person.roles == ("supervisor",)


def test_a_department_is_never_taken_for_a_demo(tmp_path: Path) -> None:
    path = tmp_path / "department.db"
    path.write_bytes(b"")
    with pytest.raises(WrongUseError, match="not a demo"):
        sandbox.opened(path)
