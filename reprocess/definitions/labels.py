"""Whether each contact of a workflow can be done by the labels of its agents, and the least time a step takes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reprocess.definitions.label import Agent, Claim
from reprocess.definitions.model import Step, Workflow
from reprocess.definitions.proof import CounterExample
from reprocess.definitions.times import Dwell

FILM_LASTS_S = 60
"""A film is taken to stay wet this long without anything known about it.

Source: wipe physics of our own, a film stays wet for 1.5 to 2 minutes; a shorter time is on the safe side.
"""


def rows_for(dwell: Dwell, agent: Agent) -> tuple[Claim, ...]:
    """Returns the rows of a label that this contact can use: claim, method and a temperature the item bears."""
    return tuple(
        row
        for row in agent.claims
        if row.claim == dwell.claim
        and row.method == dwell.method
        and (row.temp_least_c is None or dwell.temp_most_c is None or row.temp_least_c <= dwell.temp_most_c)
    )


def contact_faults(workflow: Workflow, agents: Mapping[str, Agent]) -> Iterator[CounterExample]:
    """Yields what is wrong between each contact and the labels of its agents, all of them known (T01, T03, P14)."""
    for step in workflow.steps:
        if step.dwell is not None and step.dwell.kind in {"wet-contact", "immersion"}:
            for name in step.dwell.agents:
                for words in _agent_faults(step.dwell, agents[name]):
                    yield CounterExample("contact", f"{step.step} with {name}: {words}.", step.step)


def _agent_faults(dwell: Dwell, agent: Agent) -> Iterator[str]:
    rows = rows_for(dwell, agent)
    if not rows:
        yield f"its label has no row for {dwell.claim} by {dwell.method} at a temperature the item bears"
        return
    longest_s = max(*(row.contact_s for row in rows), dwell.least_s or 0)
    if dwell.greatest_s is not None and longest_s >= dwell.greatest_s:
        yield f"its least time of {longest_s} s is not below the greatest of {dwell.greatest_s} s"
    film_is_known = dwell.film_life_s is not None or agent.film is not None
    if dwell.kind == "wet-contact" and longest_s > FILM_LASTS_S and not film_is_known:
        yield f"the contact takes {longest_s} s and nobody says how long the film stays wet"


def least_s(step: Step, agents: Mapping[str, Agent]) -> int:
    """Returns the least time a step can take, in seconds: its clock with the fastest agent, or the hands' floor.

    Where a step has both, the longer counts: a lower bound must not add what may overlap. A thermal dose without a
    least time counts as zero, since heat enough is reached as fast as one likes.
    """
    hands_s = step.fastest.least_s if step.fastest is not None else 0
    if step.dwell is None:
        return hands_s
    fastest = [
        row.contact_s for name in step.dwell.agents if name in agents for row in rows_for(step.dwell, agents[name])
    ]
    return max(hands_s, step.dwell.least_s or 0, min(fastest, default=0))
