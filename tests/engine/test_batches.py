"""Counted batches: what moves between them takes with it what it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department, found_department
from reprocess.engine.request import MoveCounted, PlaceHold
from reprocess.errors import WrongUseError

FILE = """network: Larkmoor Health Network
sites: [{site: LMG, title: Larkmoor General, zone: Europe/London}]
stations: [{station: LMG-B1, title: Bench 1, site: LMG, side: any}]
people:
  - person: P-MT
    name: Mirela Tandy
    badges: [B-MT]
    competencies: [{competency: clean, since: "2026-01-01", until: "2030-01-01", assessor: Hedda Quist}]
  - person: P-PV
    name: Petra Vail
    badges: [B-PV]
    competencies:
      - {competency: inspect, since: "2026-01-01", until: "2030-01-01", assessor: Hedda Quist}
      - {competency: release, since: "2026-01-01", until: "2030-01-01", assessor: Hedda Quist}
  - {person: P-HQ, name: Hedda Quist, roles: [supervisor], badges: [B-HQ]}
files: {published_by: P-MT, approved_by: P-HQ}
items:
  - {item: GSK-A, workflow: filter-gasket, model: LG-1, site: LMG, quantity: 40}
  - {item: GSK-B, workflow: filter-gasket, model: LG-1, site: LMG, quantity: 10}
  - {item: BLW-1, workflow: blower, model: LB-3, site: LMG}
"""


@pytest.fixture
def department(tmp_path: Path) -> Department:
    return found_department(tmp_path / "d.db", FILE, clock=StoryClock(1_772_700_000_000_000))


def make_ready(department: Department, item: str) -> None:
    part = department.part(item)
    assert part is not None
    checks = {step.step: {one.check: True for one in step.checks} for step in part.workflow.steps}
    clean, look = department.station("LMG-B1", badge="B-MT"), department.station("LMG-B1", badge="B-PV")
    assert clean.log(item, "clean", checks=checks["clean"], reason="a whole tray at once").accepted
    assert look.log(item, "inspect", checks=checks["inspect"], reason="a whole tray at once").accepted
    assert look.release(item, checks=checks["release"]).accepted


def test_quantities_move_and_nothing_else_between_used_batches(department: Department) -> None:
    bench = department.station("LMG-B1", badge="B-MT")
    assert bench.ask(MoveCounted("GSK-A", "GSK-B", 4)).accepted
    assert (department.item("GSK-A").quantity, department.item("GSK-B").quantity) == (36, 14)


def test_a_ready_batch_that_used_parts_join_starts_again(department: Department) -> None:
    make_ready(department, "GSK-B")
    answer = department.station("LMG-B1", badge="B-MT").ask(MoveCounted("GSK-A", "GSK-B", 1))
    assert answer.rules() == ("P02",)
    assert department.item("GSK-B").stage == "used"
    assert department.verify(full=True).sound


def test_two_ready_batches_stay_ready(department: Department) -> None:
    make_ready(department, "GSK-A")
    make_ready(department, "GSK-B")
    assert department.station("LMG-B1", badge="B-MT").ask(MoveCounted("GSK-A", "GSK-B", 5)).accepted
    assert department.item("GSK-B").stage == "ready"


def test_a_hold_follows_the_parts(department: Department) -> None:
    bench = department.station("LMG-B1", badge="B-MT")
    bench.ask(PlaceHold("GSK-A", "recall", "lot letter", "supervisor"))
    bench.ask(MoveCounted("GSK-A", "GSK-B", 5))
    assert [one.sort for one in department.item("GSK-B").holds.values()] == ["recall"]


@pytest.mark.parametrize(
    ("item", "other", "quantity"), [("GSK-A", "GSK-B", 41), ("GSK-A", "BLW-1", 1), ("GSK-A", "GSK-A", 1)]
)
def test_what_cannot_be_moved_is_said(department: Department, item: str, other: str, quantity: int) -> None:
    with pytest.raises(WrongUseError):
        department.station("LMG-B1", badge="B-MT").ask(MoveCounted(item, other, quantity))
