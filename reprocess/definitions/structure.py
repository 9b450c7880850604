"""What can be seen in a workflow without a search: names, loops, stages, release, disinfection, holds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reprocess.definitions.graph import Graph, failings_of
from reprocess.definitions.holds import LIFTS, HoldType
from reprocess.definitions.label import Agent
from reprocess.definitions.model import CONTAMINATION_CLASSES, Step, Workflow
from reprocess.definitions.proof import CounterExample
from reprocess.terms import Stage

_DISINFECTING = frozenset({"wet-contact", "immersion", "thermal"})


def name_faults(workflow: Workflow, agents: Mapping[str, Agent]) -> Iterator[CounterExample]:
    """Yields every name that nothing has, and every step's name that two steps have."""
    steps = [step.step for step in workflow.steps]
    for name in sorted({one for one in steps if steps.count(one) > 1}):
        yield CounterExample("names", f"Two steps are called {name}.", name)
    for step in workflow.steps:
        yield from _names_of_others(step, steps, agents)
    for place, name in _steps_of_blocks(workflow):
        if name not in steps:
            yield CounterExample("names", f"{place} names the step {name}; there is none.")
    yield from _names_of_wearing(workflow)
    for never in workflow.never:
        if never.failing.back_to is not None and never.failing.back_to not in steps:
            sentence = f"{never.method} sends back to {never.failing.back_to}; there is no such step."
            yield CounterExample("names", sentence)


def _steps_of_blocks(workflow: Workflow) -> Iterator[tuple[str, str]]:
    for name in workflow.delay.until if workflow.delay is not None else ():
        yield "delay", name
    for one in workflow.recurring:
        yield "recurring", one.step


def _names_of_wearing(workflow: Workflow) -> Iterator[CounterExample]:
    if workflow.wearing is None:
        return
    wearing = workflow.wearing
    for place, names in (
        ("put_on", [one.step for one in wearing.put_on]),
        ("take_off", [one.step for one in wearing.take_off]),
        ("signals", [one.signal for one in wearing.signals]),
        ("swaps", [one.slot for one in wearing.swaps]),
        ("traces", [one.trace for one in wearing.traces]),
    ):
        for name in sorted({one for one in names if names.count(one) > 1}):
            yield CounterExample("names", f"{name} stands twice under wearing, {place}.")
    for trace in wearing.traces:
        if trace.contamination_class not in CONTAMINATION_CLASSES:
            known = ", ".join(CONTAMINATION_CLASSES)
            sentence = f"{trace.trace} names the class {trace.contamination_class}; the classes are {known}."
            yield CounterExample("names", sentence)


def recurring_faults(workflow: Workflow) -> Iterator[CounterExample]:
    """Yields each recurring step that use alone would call for, that runs on a clock, or that belongs to a batch."""
    for one in workflow.recurring:
        step = workflow.step_named(one.step)
        if step is None:
            continue
        if step.mandated or step.dwell is not None or step.for_classes or step.new_only or step.assembles:
            sentence = f"{one.step} recurs, so it must be a plain step without a clock, and not mandated by itself."
            yield CounterExample("recurring", sentence, one.step)
        if workflow.counted:
            sentence = f"{one.step} recurs, which nobody can follow on items without a serial number."
            yield CounterExample("recurring", sentence, one.step)


def _names_of_others(step: Step, steps: list[str], agents: Mapping[str, Agent]) -> Iterator[CounterExample]:
    for place, name in _steps_named(step):
        if name not in steps:
            sentence = f"{step.step} names the step {name} ({place}); there is none."
            yield CounterExample("names", sentence, step.step)
    for name in step.dwell.agents if step.dwell is not None else ():
        if name not in agents:
            sentence = f"{step.step} names the agent {name}; there is none."
            yield CounterExample("names", sentence, step.step)
    for name in step.for_classes:
        if name not in CONTAMINATION_CLASSES:
            known = ", ".join(CONTAMINATION_CLASSES)
            sentence = f"{step.step} names the class {name}; the classes are {known}."
            yield CounterExample("names", sentence, step.step)


def _steps_named(step: Step) -> Iterator[tuple[str, str]]:
    for name in step.after:
        yield "after", name
    for name in step.not_by:
        yield "not_by", name
    if step.promptly is not None:
        yield "promptly, of", step.promptly.of
        yield "promptly, back_to", step.promptly.back_to
    for failing in failings_of(step):
        if failing.back_to is not None:
            yield f"{failing.defect}, back_to", failing.back_to


def circles(workflow: Workflow) -> Iterator[CounterExample]:
    """Yields each step that waits for itself, with the way round."""
    for step in workflow.steps:
        way = _way_round(workflow, step.step)
        if way:
            sentence = f"{step.step} waits for itself: {' after '.join(way)}."
            yield CounterExample("order", sentence, step.step)


def _way_round(workflow: Workflow, name: str) -> list[str]:
    """Returns the shortest way from a step over its prerequisites back to it, or nothing."""
    ways = [[name]]
    seen: set[str] = set()
    for way in ways:
        step = workflow.step_named(way[-1])
        for before in step.after if step is not None else ():
            if before == name:
                return [*way, name]
            if before not in seen:
                seen.add(before)
                ways.append([*way, before])
    return []


def loop_faults(workflow: Workflow) -> Iterator[CounterExample]:
    """Yields each way back that would leave the failed step standing, and each prompt start after a stranger."""
    for step in workflow.steps:
        for place, name in _steps_named(step):
            if place in {"after", "not_by"} or step.step in workflow.resting_on(name):
                continue
            sentence = f"{step.step} does not rest on {name} ({place}), so it would not fall with it."
            yield CounterExample("loops", sentence, step.step)


def release_faults(workflow: Workflow) -> Iterator[CounterExample]:
    """Yields why the release is not the one last step."""
    makers = [step for step in workflow.steps if step.reaches is Stage.READY]
    if len(makers) != 1:
        names = ", ".join(step.step for step in makers) or "none"
        yield CounterExample("release", f"Exactly one step reaches ready; here: {names}.")
    for maker in makers:
        if maker.for_classes or not maker.mandated:
            sentence = f"{maker.step} reaches ready and must be mandated, for every class."
            yield CounterExample("release", sentence, maker.step)
        above = [step.step for step in workflow.steps if maker.step in step.after]
        if above:
            sentence = f"{maker.step} reaches ready, yet {', '.join(above)} rests on it."
            yield CounterExample("release", sentence, maker.step)


def stage_faults(workflow: Workflow, graph: Graph) -> Iterator[CounterExample]:
    """Yields each stage that is not reached by one mandated step resting on the step of the stage before."""
    for step in workflow.steps:
        if step.reaches is not None and step.reaches not in workflow.stages[1:]:
            sentence = f"{step.step} reaches {step.reaches}, which is not a stage of this workflow after used."
            yield CounterExample("stages", sentence, step.step)
    before = 0
    for stage, makers in graph.makers:
        names = graph.named(makers)
        if len(names) != 1:
            found = ", ".join(names) or "none"
            sentence = f"Exactly one step reaches {stage}; here: {found}."
            yield CounterExample("stages", sentence, names[0] if names else None, (graph.situation,))
        for number in graph.steps_in(makers):
            yield from _maker_faults(graph, number, stage, before)
        before = makers


def _maker_faults(graph: Graph, number: int, stage: Stage, before: int) -> Iterator[CounterExample]:
    name = graph.names[number]
    if not graph.mandated >> number & 1:
        yield CounterExample("stages", f"{name} reaches {stage} and is not mandated.", name)
    if before and not graph.below(number) & before:
        earlier = " or ".join(graph.named(before))
        sentence = f"{name} reaches {stage} without resting on {earlier}, which reaches the stage before."
        yield CounterExample("stages", sentence, name)


def disinfection_faults(workflow: Workflow, graph: Graph) -> Iterator[CounterExample]:
    """Yields why `disinfected` would be shown without a contact, or is missing where the item needs it."""
    if workflow.item_class == "semi-critical" and Stage.DISINFECTED not in workflow.stages:
        yield CounterExample("disinfection", "A semi-critical item needs the stage disinfected.")
    contacts = sum(
        1 << number
        for number, step in enumerate(workflow.steps)
        if step.dwell is not None and step.dwell.kind in _DISINFECTING
    )
    for stage, makers in graph.makers:
        for number in graph.steps_in(makers if stage is Stage.DISINFECTED else 0):
            if not (graph.below(number) | 1 << number) & contacts:
                name = graph.names[number]
                sentence = f"{name} reaches disinfected without a contact or a thermal dose."
                yield CounterExample("disinfection", sentence, name)


def hold_faults(workflow: Workflow) -> Iterator[CounterExample]:
    """Yields each hold that this item may get and nobody can lift (H10)."""
    looks = any(step.reaches is Stage.INSPECTED for step in workflow.steps)
    for sort in sorted(_holds_of(workflow)):
        lift = LIFTS[sort]
        if not lift.roles or (lift.renewed and not looks):
            who = " or ".join(lift.roles) or "nobody"
            sentence = f"A hold of type {sort} is lifted by {who} after a new inspection; no step reaches inspected."
            yield CounterExample("holds", sentence)


def _holds_of(workflow: Workflow) -> set[HoldType]:
    """Returns the holds that the file's own lines may place, and those that may befall any item."""
    holds = {HoldType.RECALL, HoldType.EXPOSURE, HoldType.IDENTITY, HoldType.COMPETENCY, HoldType.DEFECT}
    for step in workflow.steps:
        if any(failing.hold and failing.defect.endswith("MISSING") for failing in failings_of(step)):
            holds.add(HoldType.MISSING_PART)
        if step.dwell is not None:
            holds |= {HoldType.OVER_EXPOSED} if step.dwell.greatest_s else set()
            holds |= {HoldType.SOLUTION} if step.dwell.agents else set()
            holds |= {HoldType.LOAD} if step.dwell.method == "automated" else set()
    return holds | ({HoldType.ADMINISTRATIVE} if workflow.delay is not None else set())
