"""The proof against two referees that share no code with it: a plain search over sets, and networkx on the same sets.

The plain search plays an item: it does steps, fails them, contaminates it, and looks at what it called ready. It judges
thousands of workflows that were spoilt on purpose; the proof must call wrong exactly those that the search does.
"""

from collections.abc import Callable, Iterable, Iterator
from itertools import chain

import networkx as nx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reprocess.definitions.model import Step, Workflow
from reprocess.definitions.prove import prove
from reprocess.definitions.read import digest_of
from reprocess.terms import SPINE, Stage
from tests.definitions.texts import ONE_WEARER, SOUND, WIPE, agent, workflow

DIGEST = digest_of("")
AGENTS = {"wipe": agent(WIPE)}
CLASSES = ("routine", "late")


# The referee.


def here(step: Step, cls: str) -> bool:
    return not step.for_classes or cls in step.for_classes


def waits_for(flow: Workflow, step: Step, cls: str) -> set[str]:
    return {one.step for one in flow.steps if one.step in step.after and here(one, cls)}


def falls_with(flow: Workflow, name: str) -> set[str]:
    fallen = {name}
    while more := {one.step for one in flow.steps if one.step not in fallen and fallen & set(one.after)}:
        fallen |= more
    return fallen


def ways_back(flow: Workflow) -> Iterator[tuple[str, str]]:
    for step in flow.steps:
        yield step.step, step.step
        for check in step.checks:
            yield step.step, check.failing.back_to or step.step
        for reading in step.readings:
            if reading.failing is not None:
                yield step.step, reading.failing.back_to or step.step
        if step.promptly is not None:
            yield step.step, step.promptly.back_to


def histories(flow: Workflow, cls: str, *, used: bool) -> dict[frozenset[str], list[frozenset[str]]]:
    """Returns every set of satisfied steps that can come about, with those that one more step leads to."""
    after: dict[frozenset[str], list[frozenset[str]]] = {}
    waiting = [frozenset[str]()]
    while waiting:
        now = waiting.pop()
        if now in after:
            continue
        after[now] = [
            now | {step.step}
            for step in flow.steps
            if step.step not in now
            and here(step, cls)
            and not (used and step.new_only)
            and waits_for(flow, step, cls) <= now
        ]
        waiting += after[now]
        waiting += [now - falls_with(flow, back) for _, back in ways_back(flow)]
    return after


def shows_ready(flow: Workflow, now: frozenset[str]) -> bool:
    return all(any(one.reaches is stage and one.step in now for one in flow.steps) for stage in flow.stages[1:])


def is_wrong(flow: Workflow) -> bool:
    """Returns whether something that must not happen can, by playing everything."""
    releases = [step.step for step in flow.steps if step.reaches is Stage.READY]
    if len(releases) != 1 or any(releases[0] in step.after for step in flow.steps):
        return True
    if any(step.reaches is not None and step.reaches not in flow.stages[1:] for step in flow.steps):
        return True
    if any(failed not in falls_with(flow, back) for failed, back in ways_back(flow)):
        return True
    done: set[str] = set()
    for cls in CLASSES:
        for used in (False, True):
            after = histories(flow, cls, used=used)
            done |= set(chain.from_iterable(after))
            if plays_wrong(flow, cls, after, releases[0], worn=used and flow.single_wearer):
                return True
    return done != {step.step for step in flow.steps}


def plays_wrong(
    flow: Workflow, cls: str, after: dict[frozenset[str], list[frozenset[str]]], release: str, *, worn: bool
) -> bool:
    mandated = {one.step for one in flow.steps if one.mandated and here(one, cls)}
    makers = [[s for s in flow.steps if s.reaches is stage and here(s, cls)] for stage in flow.stages[1:]]
    if any(len(one) != 1 or one[0].step not in mandated for one in makers):
        return True
    for now in after:
        if worn and release in now:
            return True
        if release in now and not mandated <= now:
            return True
        reached = [one[0].step in now for one in makers]
        if reached != sorted(reached, reverse=True):
            return True
        if any(looks_nowhere(step, now, cls, flow) for step in flow.steps if step.step in now):
            return True
    return not worn and not all(leads_to_ready(flow, after, now) for now in after)


def looks_nowhere(step: Step, now: frozenset[str], cls: str, flow: Workflow) -> bool:
    """Returns whether a step stands before one it looks back at: at who did it, or at when it ended."""
    others = {one.step for one in flow.steps if one.step in step.not_by and here(one, cls)}
    others |= {step.promptly.of} if step.promptly is not None else set()
    return not others <= now


def leads_to_ready(flow: Workflow, after: dict[frozenset[str], list[frozenset[str]]], now: frozenset[str]) -> bool:
    while after[now]:
        now = after[now][0]
    return shows_ready(flow, now)


# The spoiling.


def with_steps(flow: Workflow, steps: Iterable[Step]) -> Workflow:
    """Returns the workflow with other steps; made anew, since a copy would keep what the old one has worked out."""
    held = {name: getattr(flow, name) for name in Workflow.model_fields}
    return Workflow.model_construct(**{**held, "steps": tuple(steps)})


def with_step(flow: Workflow, step: Step, **changes: object) -> Workflow:
    return with_steps(flow, (one.model_copy(update=changes) if one.step == step.step else one for one in flow.steps))


def less_before(flow: Workflow, step: Step) -> Iterator[Workflow]:
    for name in step.after:
        yield with_step(flow, step, after=tuple(one for one in step.after if one != name))


def more_before(flow: Workflow, step: Step) -> Iterator[Workflow]:
    for other in flow.steps:
        if other.step not in (step.step, *step.after):
            yield with_step(flow, step, after=(*step.after, other.step))


def other_before(flow: Workflow, step: Step) -> Iterator[Workflow]:
    for other in flow.steps:
        if step.after and other.step not in (step.step, *step.after):
            yield with_step(flow, step, after=(*step.after[1:], other.step))


def other_stage(flow: Workflow, step: Step) -> Iterator[Workflow]:
    for stage in (None, *SPINE):
        if stage is not step.reaches:
            yield with_step(flow, step, reaches=stage)


def other_duty(flow: Workflow, step: Step) -> Iterator[Workflow]:
    yield with_step(flow, step, mandated=not step.mandated)
    yield with_step(flow, step, new_only=not step.new_only)
    yield with_step(flow, step, for_classes=() if step.for_classes else ("late",))


def other_way_back(flow: Workflow, step: Step) -> Iterator[Workflow]:
    for other in flow.steps:
        for number, check in enumerate(step.checks):
            failing = check.failing.model_copy(update={"back_to": other.step})
            one = check.model_copy(update={"failing": failing})
            yield with_step(flow, step, checks=(*step.checks[:number], one, *step.checks[number + 1 :]))


def without(flow: Workflow, step: Step) -> Iterator[Workflow]:
    """Takes a step out; what rested on it rests on what it rested on."""
    steps = []
    for one in flow.steps:
        if one.step != step.step:
            after = [name for name in one.after if name != step.step]
            after += [name for name in step.after if step.step in one.after and name not in after]
            steps.append(one.model_copy(update={"after": tuple(after)}))
    if any(step.step in (*one.not_by, *(promptly_names(one))) for one in steps):
        return
    yield with_steps(flow, steps)


def promptly_names(step: Step) -> tuple[str, ...]:
    back = [check.failing.back_to for check in step.checks if check.failing.back_to is not None]
    back += [
        one.failing.back_to for one in step.readings if one.failing is not None and one.failing.back_to is not None
    ]
    return (step.promptly.of, step.promptly.back_to, *back) if step.promptly is not None else tuple(back)


SPOILINGS: tuple[Callable[[Workflow, Step], Iterator[Workflow]], ...] = (
    less_before,
    more_before,
    other_before,
    other_stage,
    other_duty,
    other_way_back,
    without,
)
# What a contact must be is not the referee's matter: the lamp's contact stays, yet `disinfected` may move elsewhere.
APART = {"contact", "disinfection", "holds", "size"}


def is_called_wrong(flow: Workflow) -> bool:
    wrong = prove(flow, AGENTS, digest=DIGEST).counter_examples
    return any(one.fails not in APART and not is_about_two(one.sentence) for one in wrong)


def is_about_two(sentence: str) -> bool:
    return sentence.startswith("Two people cannot")


@pytest.fixture(scope="module", params=[SOUND, ONE_WEARER], ids=["lamp", "visor"])
def a_sound_workflow(request: pytest.FixtureRequest) -> Workflow:
    return workflow(request.param)


def test_the_referee_finds_nothing_wrong_with_a_sound_workflow(a_sound_workflow: Workflow) -> None:
    assert not is_wrong(a_sound_workflow)
    assert not is_called_wrong(a_sound_workflow)


def test_every_single_spoiling_is_called_wrong_exactly_when_it_is(a_sound_workflow: Workflow) -> None:
    verdicts = []
    for spoil in SPOILINGS:
        for step in a_sound_workflow.steps:
            for spoilt in spoil(a_sound_workflow, step):
                verdicts.append(is_wrong(spoilt))
                assert is_called_wrong(spoilt) == verdicts[-1], (spoil.__name__, step.step)
    assert sum(verdicts) > len(verdicts) / 2
    assert not all(verdicts)


LAMP = workflow(SOUND)


@given(data=st.data())
@settings(max_examples=2000, deadline=None, suppress_health_check=list(HealthCheck))
def test_a_workflow_spoilt_several_times_is_called_wrong_exactly_when_it_is(data: st.DataObject) -> None:
    spoilt = LAMP
    for _ in range(data.draw(st.integers(2, 4))):
        spoil = data.draw(st.sampled_from(SPOILINGS))
        ways = list(spoil(spoilt, data.draw(st.sampled_from(spoilt.steps))))
        spoilt = data.draw(st.sampled_from(ways)) if ways else spoilt
    assert is_called_wrong(spoilt) == is_wrong(spoilt)


# The second referee.


def drawn(flow: Workflow, cls: str, *, used: bool) -> "nx.DiGraph[object]":
    """Returns the sets as nodes, and every step as a node of its own between two sets, so that none can hide."""
    graph: nx.DiGraph[object] = nx.DiGraph()
    after = histories(flow, cls, used=used)
    release = next(step.step for step in flow.steps if step.reaches is Stage.READY)
    for now, nexts in after.items():
        graph.add_node(now)
        for then in nexts:
            (name,) = then - now
            graph.add_edges_from([(now, (name, now)), ((name, now), then)])
        for _, back in ways_back(flow):
            graph.add_edge(now, now - falls_with(flow, back))
        if release in now:
            graph.add_edge(now, "ready")
    return graph


@pytest.mark.parametrize("cls", CLASSES)
def test_no_way_to_ready_is_left_when_the_doings_of_a_mandated_step_are_cut_out(cls: str) -> None:
    graph = drawn(LAMP, cls, used=True)
    start = frozenset[str]()
    assert nx.has_path(graph, start, "ready")
    for name in LAMP.mandated_for(cls):
        cut = graph.copy()
        cut.remove_nodes_from([node for node in graph if isinstance(node, tuple) and node[0] == name])
        assert not nx.has_path(cut, start, "ready"), name


@pytest.mark.parametrize("cls", CLASSES)
def test_every_way_to_ready_passes_the_mandated_steps_in_the_order_of_the_stages(cls: str) -> None:
    """Dominators of ready in the graph of single steps: what comes on every way, nearest last."""
    graph = drawn(LAMP, cls, used=True)
    parents = nx.immediate_dominators(graph, frozenset[str]())
    way: list[object] = ["ready"]
    while (before := parents.get(way[-1], way[-1])) is not None and before != way[-1]:
        way.append(before)
    passed = [node[0] for node in reversed(way) if isinstance(node, tuple)]
    beside = {"inspect", "charge"}
    serial = [step.step for step in LAMP.steps if step.step not in beside and here(step, cls)]
    assert passed == serial
    joined = max((node for node in graph if isinstance(node, frozenset)), key=len)
    assert beside <= joined


def test_a_bypass_edge_is_seen_by_the_dominators_too() -> None:
    release = LAMP.steps[-1]
    spoilt = with_step(LAMP, release, after=("dry",))
    graph = drawn(spoilt, "routine", used=True)
    cut = graph.copy()
    cut.remove_nodes_from([node for node in graph if isinstance(node, tuple) and node[0] == "inspect"])
    assert nx.has_path(cut, frozenset[str](), "ready")
    assert is_called_wrong(spoilt)
