"""The machine moves and never judges; what it and the satisfied steps disagree about is never written (I1, I2)."""

from dataclasses import replace

import pytest

from reprocess.definitions.model import Workflow
from reprocess.engine import decision as deciding
from reprocess.engine import machine as machines
from reprocess.engine import steps
from reprocess.errors import InvariantError
from reprocess.record.places import Site, Station
from reprocess.record.standing import Standing
from reprocess.rules.scene import Bench, Part, Scene
from reprocess.terms import Stage
from tests.engine.floor import Floor, files


@pytest.fixture(scope="module")
def workflows() -> list[Workflow]:
    return [file.holds for file in files() if isinstance(file.holds, Workflow)]


def test_ready_is_reached_by_the_release_step_alone(workflows: list[Workflow]) -> None:
    for workflow in workflows:
        machine = machines.compiled(workflow)
        release = workflow.release_step.step
        for event in machines.events_of(machine):
            moves = [(move.source, move.dest) for one in machine.events[event].transitions.values() for move in one]
            into = {source for source, dest in moves if dest == "ready"} - {"ready"}
            assert not into or event == release, (workflow.workflow, event)


def test_no_event_but_a_fall_to_used_leads_out_of_aside_and_none_out_of_condemned(workflows: list[Workflow]) -> None:
    for workflow in workflows:
        machine = machines.compiled(workflow)
        for event in machines.events_of(machine):
            sources = set(machine.events[event].transitions)
            assert "condemned" not in sources
            if sources & {"in repair", "lost"}:
                assert event == machines.FALL + "used" or event.startswith(machines.ASIDE_EVENT), event


def test_no_step_of_the_library_s_own_exists(workflows: list[Workflow]) -> None:
    """`to_ready` and the like would skip every rule."""
    for workflow in workflows:
        names = {step.step for step in workflow.steps}
        for event in machines.events_of(machines.compiled(workflow)):
            assert event in names or event.startswith((machines.FALL, machines.ASIDE_EVENT)), event


def test_a_move_that_does_not_exist_is_an_error_and_never_a_stage(workflows: list[Workflow]) -> None:
    machine = machines.compiled(workflows[0])
    with pytest.raises(InvariantError):
        machines.moved(machine, "used", "to_ready")
    with pytest.raises(InvariantError):
        machines.moved(machine, "ready", workflows[0].steps[0].step)
    machine.add_transition("stuck", "used", "ready", conditions=[lambda: False])
    with pytest.raises(InvariantError):
        machines.moved(machine, "used", "stuck")


def test_a_workflow_with_too_many_orders_is_not_walked(
    workflows: list[Workflow], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(machines, "STATES_MAX", 2)
    with pytest.raises(InvariantError, match="too many orders"):
        machines.compiled(workflows[0])


def scene_of(floor: Floor, item: str, standing: Standing) -> Scene:
    part = floor.department.part(item)
    assert part is not None
    bench = Bench(floor.clock.now(), Site("LMG"), Station("BENCH"), actor=None, badge=None)
    return Scene(
        bench=bench,
        item=standing,
        workflow=part.workflow,
        digest=part.digest,
        current=part.current,
        current_digest=part.current_digest,
    )


def test_a_stage_that_its_steps_do_not_show_is_never_written(floor: Floor) -> None:
    """I1: stays on in production, whatever Python is told."""
    lying = replace(floor.item("BLW-2"), stage="used")
    scene = scene_of(floor, "BLW-2", lying)
    step = scene.step("disinfect")
    assert step is not None
    with pytest.raises(InvariantError, match="No move"):
        deciding.stage_after(scene, step)
    evidence = {name: one for name, one in lying.satisfied.items() if name != "clean-check"}
    gap = replace(scene, item=replace(lying, stage="cleaned", satisfied=evidence))
    with pytest.raises(InvariantError, match="the machine says disinfected, the satisfied steps say used"):
        deciding.stage_after(gap, step)
    with pytest.raises(InvariantError, match="no workflow"):
        deciding.stage_after(replace(scene, workflow=None), step)


def test_ready_is_never_written_without_its_evidence(floor: Floor) -> None:
    """I1: even where every gate had been open."""
    workflow = floor.workflow("BLW-2")
    with pytest.raises(InvariantError, match="without its evidence"):
        steps._prove_ready(workflow, floor.item("BLW-2"))
    steps._prove_ready(workflow, floor.item("BLW-3"))


def test_nothing_falls_of_what_is_aside(floor: Floor) -> None:
    part = floor.department.part("BLW-3")
    assert part is not None
    for stage in ("condemned", "lost", "in repair"):
        aside = Part(replace(part.standing, stage=stage), part.workflow, part.digest, part.current, part.current_digest)
        assert deciding.fall(aside, ("clean",)) == deciding.Fall((), Stage(stage))
