"""What a request about a bath or an opened container is judged on, and what a failed test of it reaches."""

from __future__ import annotations

from dataclasses import replace

from reprocess.definitions.label import Agent
from reprocess.engine import request as asking
from reprocess.gathering.lots import with_lots
from reprocess.gathering.reading import (
    Library,
    file_of,
    local_day,
    part_of,
    published_stream,
    state_as,
    wholes_of,
)
from reprocess.ledger.append import Transaction
from reprocess.lookback.exposure import Doubt, exposed
from reprocess.record.places import Published
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.touching import Touched
from reprocess.rules.scene import Bench, Contact, Scene
from reprocess.terms import StreamKind, stream


def with_solution(read: Transaction, library: Library, scene: Scene, name: str | None) -> Scene:
    """Returns the scene with a solution, its agent, and the local day of its last passing test."""
    if name is None:
        return scene
    solution = state_as(read, stream(StreamKind.SOLUTION, name), Solution)
    if not solution.known:
        return replace(scene, solution=solution)
    agent = file_of(library, read, solution.digest, Agent)
    at = scene.bench
    if solution.passed_us is not None:
        at = replace(at, last_day=local_day(at.site.zone, solution.passed_us))
    return replace(scene, bench=at, solution=solution, agent=agent, agent_digest=solution.digest)


def for_solution(read: Transaction, library: Library, at: Bench, request: asking.SolutionRequest) -> Scene:
    """Returns what a request about a solution is judged on."""
    scene = Scene(bench=at, item=Standing(item=""))
    if not isinstance(request, asking.EndSolution):
        lot = request.strip_lot if isinstance(request, asking.TestSolution) else request.lot
        scene = with_lots(read, scene, lot)
    scene = with_solution(read, library, scene, request.solution)
    if isinstance(request, asking.MakeSolution):
        digest = state_as(read, published_stream("agent", request.agent), Published).in_force
        if digest is None:
            return replace(scene, agent=None)
        return replace(scene, agent=file_of(library, read, digest, Agent), agent_digest=digest)
    solution = scene.solution
    if solution is None or not solution.known:
        return scene
    if isinstance(request, asking.TestSolution):
        return in_doubt(read, library, scene, solution)
    contacts = _contacts(read, library, solution)
    wholes = wholes_of(read, library, [one.part.standing for one in contacts])
    return replace(scene, contacts=tuple(contacts), wholes=wholes)


def in_doubt(read: Transaction, library: Library, scene: Scene, solution: Solution) -> Scene:
    """Returns the scene with every contact that a failed test of the solution reaches, and who wore what (L07, H06)."""
    contacts = _contacts(read, library, solution)
    doubts = [Doubt(one.part.standing.item, one.cycle, one.feed, one.at_us) for one in contacts]
    scene = replace(scene, uses=exposed(doubts, read.touches.by_since))
    wholes = wholes_of(read, library, [one.part.standing for one in contacts])
    return replace(scene, contacts=tuple(contacts), wholes=wholes)


def _contacts(read: Transaction, library: Library, solution: Solution) -> list[Contact]:
    """Returns every contact that was open at or after the last valid pass, or since the bath was made (L07)."""
    found = []
    since_us = solution.passed_us if solution.passed_us is not None else solution.made_us
    reached = read.touches.of(Touched.SOLUTION, solution.solution, from_us=since_us, since_feed=solution.doubt_feed)
    for row in reached:
        part = part_of(read, library, read.item(row.item))
        if part is not None:
            found.append(Contact(part, row.cycle, row.step or "", row.open_now, row.from_feed, row.from_us))
    return found
