"""The scan that a good technician would make next, read off the oracle's world and never off the engine."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from reprocess.engine import request as ask
from reprocess.engine.request import Request
from reprocess.record.moment import Moment
from tests.oracle import clocks, contact, files, lawful
from tests.oracle.fold import Item, World, stage
from tests.oracle.lawful import RENEWED
from tests.oracle.rows import Row

DAY_US = 86_400 * 1_000_000
CLEANER = {"LMG": "B-ANNA-1", "SAL": "B-BEN-1"}
INSPECTOR = {"LMG": "B-IRIS-1", "SAL": "B-FINN-1"}
KIT = ("KIT-BLW", "KIT-TUB", "KIT-HED", "KIT-FLT-1", "KIT-FLT-2", "KIT-BAT", "KIT-BLT")
"""The parts of a respirator with two cartridges and one plug."""
BARRING = {"recall", "exposure", "identity", "administrative"}
"""Holds under which nothing is done to the item."""
TOOLS = {
    ("LMG", "flow-indicator"): "FLOW-1",
    ("SAL", "flow-indicator"): "FLOW-3",
    ("LMG", "charger-bay"): "BAY-1",
    ("SAL", "charger-bay"): "BAY-3",
}
TEMPERATURE = {"hypochlorite-50ppm": "30", "iodine-50ppm": "30", "opa-055": "22.5", "glutaraldehyde-25": "25"}
STRENGTH = {"hypochlorite-50ppm": "50", "opa-055": "0.3", "glutaraldehyde-25": "1.5"}


@dataclass(frozen=True, slots=True)
class Scan:
    """Is one request with the badges and the station it is made at, and the seconds that pass before it."""

    request: Request
    station: str
    badge: str | None
    second: str | None = None
    wait_s: float = 5


def next_scan(world: World, name: str, moment: Moment, choice: int, *, trusting: bool = False) -> Scan | None:
    """Returns what brings an item nearer to ready, or None when nothing does.

    Args:
        world: what is on record.
        name: the item.
        moment: what the clocks read.
        choice: picks the chemical.
        trusting: whether a solution is taken as it is, tested or not.
    """
    item: Item = world["items"][name]
    site = item["site"]
    workflow = world["files"][item["digest"]]
    for hold, placed in item["holds"].items():
        if placed["body"]["sort"] in BARRING:
            return Scan(ask.LiftHold(name, hold, "looked into and settled"), f"{site}-A", "B-CARA-1", "B-GINA-1")
        if placed["body"]["sort"] == "battery-hazard":
            return Scan(ask.LiftHold(name, hold, "judged sound"), f"{site}-A", "B-CARA-1", "B-HUGO-1")
    every = files.steps_of(workflow)
    if item["aside"] == "condemned":
        return None
    if item["aside"]:
        cause = "returned-from-repair" if item["aside"] == "in repair" else "found"
        return Scan(ask.Contaminate(name, cause), f"{site}-D", CLEANER[site])
    if item["dwell"]:
        return _running(item, name, {"moment": tuple(moment.as_list())}, every)
    if workflow["item_class"] == "assembly":
        for part in (*KIT, *item["members"].values()):
            if stage(world, world["items"][part]) != "ready" or world["items"][part]["holds"]:
                return next_scan(world, part, moment, choice, trusting=trusting)
    # A test that recurs is done now and then before it is due, as people do.
    again = [line["step"] for line in workflow.get("recurring", []) if choice % 3 == 0]
    due = {step for step, _ in lawful.overdue(world, item, workflow, moment.wall_us)}
    wanted = {*files.mandated(workflow, item["class"]), *again, *due}
    for step in every.values():
        done = step["step"] in item["satisfied"] and step["step"] not in due
        lacking = files.needs(workflow, step["step"], item["class"]) - set(item["satisfied"])
        if done or step["step"] not in wanted or lacking:
            continue
        if step.get("reaches") == "ready" and item["holds"]:
            return _lift(item, name, every)
        scan = _step(world, item, name, step, moment.wall_us, choice)
        return _trusting(world, name, step, scan) if trusting else scan
    return Scan(ask.Contaminate(name, "used"), f"{site}-A", CLEANER[site])


def _lift(item: Item, name: str, every: dict[str, files.File]) -> Scan:
    """Returns the end of a hold after a new inspection; where that is older than the hold, everything starts again."""
    hold, placed = next(iter(item["holds"].items()))
    looks = [step for step, told in every.items() if told.get("reaches") == "inspected"]
    inspected = max(item["satisfied"][step]["number"] for step in looks)
    if inspected < placed["number"] and placed["body"]["sort"] in RENEWED:
        return Scan(ask.Contaminate(name, "touched"), f"{item['site']}-A", CLEANER[item["site"]])
    return Scan(ask.LiftHold(name, hold, "looked at and settled"), f"{item['site']}-A", "B-CARA-1", "B-HUGO-1")


def _running(item: Item, name: str, now: Row, every: dict[str, files.File]) -> Scan:
    """Returns the re-wet or the end of the dwell that runs, at a good time."""
    start, wet = item["dwell"]["start"], item["dwell"]["wet"]
    step, site = every[start["body"]["step"]], item["site"]
    left_s = start["body"]["least_s"] - clocks.passed_us(start, now) / clocks.SECOND_US
    film_s = start["body"].get("film_s")
    badge, second = _badges(step, site)
    if film_s is not None:
        wet_s = film_s * 0.8 - clocks.passed_us(wet[-1], now) / clocks.SECOND_US
        if wet_s < left_s:
            return Scan(ask.Rewet(name), f"{site}-A", badge, wait_s=max(wet_s, 0))
    temp = start["body"].get("temp_c")
    request = ask.EndDwell(name, step["step"], temp, checks_of(step), readings_of(step))
    return Scan(request, f"{site}-A", badge, second, wait_s=max(left_s, 0))


def _badges(step: files.File, site: str, barred: Collection[str] = ()) -> tuple[str, str | None]:
    """Returns who does a step, the first who is not barred from it, and who signs too where two are needed."""
    one, other = CLEANER[site], INSPECTOR[site]
    if step.get("not_by") or step.get("reaches") == "ready":
        free = [badge for badge in (other, "B-CARA-1", "B-BEN-1", one) if badge[2:-2] not in barred]
        one, other = (free or [other])[0], one
    return one, other if step.get("two_people") == "true" else None


def _step(world: World, item: Item, name: str, step: files.File, now_us: int, choice: int) -> Scan:
    site = item["site"]
    place = f"{site}-{step.get('zone', 'any')[0].upper()}"
    barred = {person for other in step.get("not_by", []) for person in item["hands"].get(other, ())}
    badge, second = _badges(step, site, barred)
    if badge[2:-2] in barred and not world["sites"][site].get("self_inspection"):
        return Scan(ask.Contaminate(name, "touched"), place, badge)
    wait_s = float(step.get("fastest", {}).get("least_s", 5))
    if step.get("assembles") == "true":
        kit = ["KIT-BLW", "KIT-TUB", "KIT-HED", "KIT-FLT-1", "KIT-FLT-2", "KIT-BAT", "KIT-BLT"]
        counts = {"gaskets": 2, "plugs": 1}
        request: Request = ask.Assemble(name, "three-port-hepa", tuple(kit), counts, checks_of(step))
    elif step.get("reaches") == "ready":
        request = ask.Release(name, checks_of(step))
    elif "dwell" in step:
        scan = _begin(world, item, name, step, now_us, choice, place, badge)
        return replace(scan, second=second)
    else:
        tool = TOOLS.get((site, step.get("instrument", "")))
        request = ask.DoStep(name, step["step"], checks_of(step), readings_of(step), counts_of(step), tool)
    return Scan(request, place, badge, second, wait_s)


def _begin(
    world: World, item: Item, name: str, step: files.File, now_us: int, choice: int, place: str, badge: str
) -> Scan:
    """Returns the start of a dwell, or what its bath needs first: made up, tested."""
    agents = step["dwell"].get("agents")
    if not agents:
        tool = TOOLS.get((item["site"], step.get("instrument", "")))
        return Scan(ask.StartDwell(name, step["step"], instrument=tool), place, badge)
    turned = (*agents[choice % len(agents) :], *agents)
    made = [(agent, newest(world, agent)) for agent in turned]
    free = ((agent, one) for agent, one in made if one is None or not any(contact.mixing(world, item, name, one)))
    agent, solution = next(free, (None, None))
    if agent is None:
        return Scan(ask.Contaminate(name, "touched"), place, badge)
    if solution is None:
        return Scan(making(world, agent, now_us), place, badge)
    told = list(contact.why_not(world, place, solution, now_us))
    if any("test" in one and "failed" not in one for one in told):
        return Scan(testing(solution, agent, now_us), place, badge)
    if told:
        return Scan(making(world, agent, now_us), place, badge)
    return Scan(ask.StartDwell(name, step["step"], solution, None, TEMPERATURE.get(agent)), place, badge)


def _trusting(world: World, name: str, step: files.File, scan: Scan) -> Scan:
    """Returns the start of the dwell instead of what its bath would need first."""
    if not isinstance(scan.request, ask.MakeSolution | ask.TestSolution):
        return scan
    made = [row for row in world["solutions"].get(scan.request.solution, ()) if row["kind"] == "solution-made"]
    agent = made[-1]["body"]["agent"] if made else getattr(scan.request, "agent", "")
    solution = newest(world, agent)
    return replace(scan, request=ask.StartDwell(name, step["step"], solution, None, TEMPERATURE.get(agent)))


def newest(world: World, agent: str) -> str | None:
    """Returns the solution of an agent that was made up last."""
    found = [name for name in world["solutions"] if contact.made(world, name)["body"]["agent"] == agent]
    return found[-1] if found else None


def making(world: World, agent: str, now_us: int) -> ask.MakeSolution:
    """Returns the making of the next solution of an agent."""
    name = f"{agent.upper()[:12]}-{len(world['solutions']) + 1}"
    return ask.MakeSolution(name, agent, "LOT-1", now_us + 300 * DAY_US, temp_c=TEMPERATURE.get(agent))


def testing(solution: str, agent: str, now_us: int) -> ask.TestSolution:
    """Returns a test that passes, just."""
    read_s = 80 if agent == "hypochlorite-50ppm" else None
    until_us, strength = now_us + DAY_US, STRENGTH[agent]
    return ask.TestSolution(solution, "STRIP-1", until_us, strength, control_run=True, read_after_s=read_s)


def checks_of(step: files.File) -> dict[str, bool]:
    return {line["check"]: True for line in step.get("checks", [])}


def readings_of(step: files.File) -> dict[str, str]:
    lines = step.get("readings", [])
    return {line["reading"]: str(line.get("least") or line.get("most") or line["plausible_most"]) for line in lines}


def counts_of(step: files.File) -> dict[str, int]:
    return {line["count"]: int(line["exactly"]) for line in step.get("counts", []) if "exactly" in line}
