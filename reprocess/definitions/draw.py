"""A workflow as a picture (Mermaid) and as a table (Markdown), for the README, the pages and whoever approves it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from reprocess.definitions.block import Sourced
from reprocess.definitions.graph import failings_of
from reprocess.definitions.label import Agent
from reprocess.definitions.labels import rows_for
from reprocess.definitions.lines import Count, Reading
from reprocess.definitions.model import Step, Workflow
from reprocess.definitions.times import Dwell
from reprocess.terms import Stage

_COLUMNS = ("Step", "After", "By whom", "Must hold", "Least", "Greatest", "Source")
_NOTHING = "-"


@dataclass(frozen=True, slots=True)
class Node:
    """Is one box of the picture: a stage, or a step with what stands in its box."""

    node: str
    sort: Literal["stage", "step"]
    title: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Edge:
    """Is one arrow: `words` says when a way back is taken; a way on needs none."""

    before: str
    after: str
    words: str | None = None


def nodes(workflow: Workflow) -> list[Node]:
    """Returns the boxes: the stages, then the steps, each in the workflow's order."""
    stages = [*workflow.stages, *((Stage.CONDEMNED,) if workflow.single_wearer else ())]
    found = [Node(_stage_id(stage), "stage", str(stage)) for stage in stages]
    found += [Node(_step_id(step.step), "step", step.step, _lines(step)) for step in workflow.steps]
    return found


def edges(workflow: Workflow) -> list[Edge]:
    """Returns the arrows: step by step the ways on, then the ways back."""
    found: list[Edge] = []
    for step in workflow.steps:
        found += [Edge(before, _step_id(step.step)) for before in _before(workflow, step)]
        if step.reaches is not None:
            found.append(Edge(_step_id(step.step), _stage_id(step.reaches)))
    return [*found, *_ways_back(workflow)]


def mermaid(workflow: Workflow) -> str:
    """Returns a Mermaid flowchart: stages rounded, steps as boxes, ways back dotted; the same text every time."""
    lines = ["flowchart TD"]
    lines += [f"    {_box(one)}" for one in nodes(workflow)]
    for one in edges(workflow):
        arrow = "-->" if one.words is None else f"-. {one.words} .->"
        lines.append(f"    {one.before} {arrow} {one.after}")
    return "\n".join(lines) + "\n"


def _stage_id(stage: Stage) -> str:
    return "stage_" + stage.replace(" ", "_")


def _step_id(name: str) -> str:
    return "step_" + name.replace("-", "_")


def _lines(step: Step) -> tuple[str, ...]:
    limits = [f"only {', '.join(step.for_classes)}"] if step.for_classes else []
    limits += ["only before first use"] if step.new_only else []
    return (step.title, *limits)


def _box(one: Node) -> str:
    if one.sort == "stage":
        return f"{one.node}([{one.title}])"
    title, *limits = one.lines
    words = [f"<b>{one.title}</b>", _for_mermaid(title), *limits]
    return f'{one.node}["{"<br/>".join(words)}"]'


def _for_mermaid(text: str) -> str:
    escaped = text.replace("#", "#35;").replace('"', "#quot;")
    return escaped.replace("<", "#lt;").replace(">", "#gt;")


def _before(workflow: Workflow, step: Step) -> Iterator[str]:
    """Yields where the arrows to a step come from: used, or the last of its prerequisites or their stage."""
    if not step.after:
        yield _stage_id(Stage.USED)
    for name in step.after:
        others = [workflow.step_named(other) for other in step.after if other != name]
        # A step that exists for some classes only does not make the arrow past it superfluous.
        if any(one and not one.for_classes and one.step in workflow.resting_on(name) for one in others):
            continue
        one = workflow.step_named(name)
        reached = one.reaches if one is not None else None
        yield _stage_id(reached) if reached is not None else _step_id(name)


def _ways_back(workflow: Workflow) -> Iterator[Edge]:
    for step in workflow.steps:
        back = [failing.back_to for failing in failings_of(step) if failing.back_to is not None]
        back += [step.promptly.back_to] if step.promptly is not None else []
        for name in dict.fromkeys(back):
            if name != step.step:
                yield Edge(_step_id(step.step), _step_id(name), "fails")
    if workflow.single_wearer:
        yield Edge(_stage_id(Stage.READY), _stage_id(Stage.CONDEMNED), "after its one use")
    else:
        yield Edge(_stage_id(Stage.READY), _stage_id(Stage.USED), "used or contaminated")


def table(workflow: Workflow, agents: Mapping[str, Agent]) -> str:
    """Returns a Markdown table with a row a step, in the file's order; agents that are not known show no time."""
    return as_table(_COLUMNS, (_row(workflow, step, agents) for step in workflow.steps))


def as_table(columns: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    """Returns a Markdown table; the cells are written as they come."""
    lines = [columns, tuple("---" for _ in columns), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


def _row(workflow: Workflow, step: Step, agents: Mapping[str, Agent]) -> tuple[str, ...]:
    reached = f", reaches **{step.reaches}**" if step.reaches is not None else ""
    greatest_s = step.dwell.greatest_s if step.dwell is not None else None
    return (
        f"`{step.step}` {for_table(step.title)}{reached}",
        ", ".join(f"`{name}`" for name in step.after) or _NOTHING,
        "; ".join(_by_whom(step)),
        "<br>".join(for_table(line) for line in [*_comes_back(workflow, step), *_must_hold(step)]) or _NOTHING,
        "<br>".join(_least(step, agents)) or _NOTHING,
        duration(greatest_s) if greatest_s is not None else _NOTHING,
        "<br>".join(for_table(line) for line in dict.fromkeys(_sources(workflow, step, agents))) or _NOTHING,
    )


def for_table(text: str) -> str:
    """Returns words as a cell of a Markdown table shows them."""
    escaped = text.replace("\\", "\\\\").replace("|", "\\|")
    return escaped.replace("<", "&lt;").replace(">", "&gt;")


def duration(seconds: int) -> str:
    """Returns seconds as people say them: `45 s`, `15 min`, `2 h`, `3 d`; never rounded."""
    for size, unit in ((86_400, "d"), (3_600, "h"), (60, "min")):
        if seconds % size == 0:
            return f"{seconds // size} {unit}"
    return f"{seconds} s"


def _by_whom(step: Step) -> Iterator[str]:
    yield f"competent in {step.competency_needed}"
    if step.zone != "any":
        yield f"{step.zone} side"
    if step.not_by:
        yield f"nobody who did {', '.join(step.not_by)}"
    if step.not_alone:
        yield "not the only one of the cycle"
    if step.two_people:
        yield "two people"


def _comes_back(workflow: Workflow, step: Step) -> Iterator[str]:
    """Yields how long a pass of a recurring step counts."""
    for one in workflow.recurring:
        spans = [f"{one.every_days} d"] if one.every_days is not None else []
        spans += [f"{one.every_charge_cycles} charge cycles"] if one.every_charge_cycles is not None else []
        if one.step == step.step:
            yield f"Passed again every {' or '.join(spans)}, whichever cycle."


def _must_hold(step: Step) -> Iterator[str]:
    if step.for_classes:
        yield f"Only for items of the class {', '.join(step.for_classes)}."
    if step.new_only:
        yield "Only before the first use."
    for check in step.checks:
        yield check.text
    for reading in step.readings:
        yield _reading(reading)
    for count in step.counts:
        yield _count(count)
    if step.instrument is not None:
        yield f"Instrument named: {step.instrument}."
    if step.assembles:
        yield "Parts and numbers as an approved configuration says."
    if step.promptly is not None:
        most = duration(step.promptly.most_s)
        yield f"Begun within {most} of the end of {step.promptly.of}."
    if step.dwell is not None:
        yield from _clock(step.dwell)


def _reading(reading: Reading) -> str:
    limits = [f"at least {reading.least}"] if reading.least is not None else []
    limits += [f"at most {reading.most}"] if reading.most is not None else []
    wanted = " and ".join(limits) or "on record"
    return f"{reading.reading}: {wanted} ({reading.unit})."


def _count(count: Count) -> str:
    if count.exactly is not None:
        return f"{count.count}: exactly {count.exactly}."
    return f"{count.count}: as many {count.from_configuration} as the configuration says."


def _clock(dwell: Dwell) -> Iterator[str]:
    words = dwell.kind.replace("-", " ")
    claim = f" against {dwell.claim}" if dwell.claim is not None else ""
    yield f"{words}{claim}, without a break, its end confirmed."
    if dwell.thermal is not None:
        yield f"A0 of at least {dwell.thermal.a0_least_s} s, from {dwell.thermal.floor_c} °C up."
    if dwell.temp_most_c is not None:
        yield f"Liquid at most {dwell.temp_most_c} °C."


def _least(step: Step, agents: Mapping[str, Agent]) -> Iterator[str]:
    if step.dwell is not None and step.dwell.least_s is not None:
        yield duration(step.dwell.least_s)
    if step.fastest is not None:
        yield f"{duration(step.fastest.least_s)} by hand"
    for name in step.dwell.agents if step.dwell is not None else ():
        rows = rows_for(step.dwell, agents[name]) if step.dwell is not None and name in agents else ()
        for row in rows:
            at = f" from {row.temp_least_c} °C" if row.temp_least_c is not None else ""
            yield f"{duration(row.contact_s)} with {name}{at}"


def _sources(workflow: Workflow, step: Step, agents: Mapping[str, Agent]) -> Iterator[str]:
    blocks: list[Sourced] = [*step.readings, *step.counts]
    blocks += [one for one in workflow.recurring if one.step == step.step]
    blocks += [one for one in (step.dwell, step.promptly, step.fastest) if one is not None]
    if step.dwell is not None:
        blocks += [step.dwell.thermal] if step.dwell.thermal is not None else []
        for name in step.dwell.agents:
            blocks += rows_for(step.dwell, agents[name]) if name in agents else ()
    for block in blocks:
        if block.source is not None:
            yield block.source
        if block.example:
            yield "example"
