"""Rules that the shipped workflow files carry: run time (M10), lamp and magnifier (M12), fabric (C10)."""

from __future__ import annotations

import pytest

from reprocess.definitions.lines import Failing
from reprocess.definitions.model import Workflow
from reprocess.shipped import files_in, folder

FILES = {one.holds.workflow: one.holds for one in files_in(folder()) if isinstance(one.holds, Workflow)}


def failing(workflow: Workflow) -> list[Failing]:
    checks = [one.failing for step in workflow.steps for one in step.checks]
    readings = [one.failing for step in workflow.steps for one in step.readings]
    return [one for one in (*checks, *readings) if one is not None]


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        ("battery-pack", "M10"),
        ("channelled-device", "M12"),
        ("channelled-device", "M11"),
        ("channelled-device", "M06"),
        ("blower", "M03"),
        ("blower", "M04"),
    ],
)
def test_a_file_carries_the_rule(name: str, rule: str) -> None:
    """M10: run time in the capacity test; M12: magnified; M11: leak; M06: residue; M03, M04: flow and alarm."""
    assert rule in {one.rule for one in failing(FILES[name])}


def test_a_fabric_belt_is_laundered_and_never_wiped_to_ready() -> None:
    """C10: its file has no wet contact with an agent, and laundering is mandated."""
    belt = FILES["belt-fabric"]
    assert "launder" in belt.mandated_for("routine")
    assert not [step.step for step in belt.steps if step.dwell is not None and step.dwell.kind == "wet-contact"]
