"""Turns that random choice seldom takes: what befalls a bath with an item in it, or a part of a ready whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from reprocess.engine import request as ask
from reprocess.engine.enrolling import Enrol
from reprocess.engine.request import Request
from reprocess.record import words
from tests.oracle import files
from tests.oracle.fold import World, stage
from tests.properties import outside, scans
from tests.properties.clocks import TwoNodes
from tests.properties.scans import CLEANER, DAY_US, INSPECTOR, Scan
from tests.properties.script import IN_PIECES, IN_SOLUTION, Twist


def there(world: World, name: str, what: str) -> bool:
    """Tells whether an item is where a twist can happen."""
    item = world["items"][name]
    if what in IN_SOLUTION:
        return bool(item["dwell"] and item["dwell"]["start"]["body"].get("solution"))
    ready = item["aside"] is None and stage(world, item) == "ready"
    if what in IN_PIECES:
        parts = [world["items"][part] for part in scans.KIT]
        return (
            _whole(world, name)
            and not ready
            and all(stage(world, one) == "ready" and not one["holds"] for one in parts)
        )
    return ready


def scans_of(world: World, name: str, twist: Twist, clock: TwoNodes) -> Iterator[Scan | Enrol]:
    """Yields what happens, one scan after another; each is made before the next is looked for."""
    if twist.what in IN_SOLUTION:
        yield from _in_solution(world, name, twist, clock)
    elif twist.what in IN_PIECES:
        yield from _in_pieces(world, name, twist)
    else:
        yield from _when_ready(world, name, twist, clock)


def _next(world: World, name: str, clock: TwoNodes) -> Iterator[Scan]:
    scan = scans.next_scan(world, name, clock.now(), 0)
    if scan is not None:
        yield scan


def _in_solution(world: World, name: str, twist: Twist, clock: TwoNodes) -> Iterator[Scan | Enrol]:
    item = world["items"][name]
    start = item["dwell"]["start"]["body"]
    solution, place, badge = start["solution"], f"{item['site']}-A", CLEANER[item["site"]]
    fails = Scan(_failing(solution, start["agent"], clock.now().wall_us), place, badge)
    dumped = Scan(ask.EndSolution(solution, ("dumped", "spilled", "empty")[twist.choice % 3]), place, badge)
    undone = Scan(ask.Undo(name), place, badge)
    match twist.what:
        case "bath-fails":
            yield fails
        case "bath-dumped":
            yield dumped
            again = scans.next_scan(world, name, clock.now(), twist.choice, trusting=True)
            if again is not None:
                yield again
        case "dumped-and-undone":
            yield from (dumped, undone)
        case "other-fails-then-bath":
            last = list(files.steps_of(world["files"][item["digest"]]))[-2]
            yield Scan(ask.FailStep(name, last, ("SOIL-NOWHERE",)), place, badge)
            yield fails if twist.choice % 2 else dumped
        case "broken-and-undone":
            yield from (Scan(ask.BreakDwell(name, "moved"), place, badge), undone)
        case "held-meanwhile":
            yield Scan(ask.PlaceHold(name, "recall", "a letter", "supervisor"), place, badge)
        case "wall-back-then-bath-fails":
            clock.step(-86_400)
            for _ in range(4):
                if world["items"][name]["dwell"]:
                    yield from _next(world, name, clock)
            yield fails
        case "too-warm":
            end = next(_next(world, name, clock))
            if isinstance(end.request, ask.EndDwell):
                warm = ("43.1", "60", "19", "25.5")[twist.choice % 4]
                yield replace(end, request=replace(end.request, temp_c=warm))
        case "over-soaked-and-fails":
            clock.push(4_000)
            yield from _next(world, name, clock)
            yield fails
        case _:
            # Only who began may finish after a competency ended (A05).
            step = files.steps_of(world["files"][item["digest"]])[start["step"]]
            needed = str(step.get("competency", step["step"]))
            for person in ("BEN", "ANNA")[: twist.choice % 2 + 1]:
                withdrawn = words.CompetencyWithdrawn(competency=needed, reason="lapse")
                yield Enrol(f"person:{person}", withdrawn)
                yield from (replace(scan, badge=f"B-{person}-1") for scan in _next(world, name, clock))
    yield from _next(world, name, clock)


def _when_ready(world: World, name: str, twist: Twist, clock: TwoNodes) -> Iterator[Scan]:
    item = world["items"][name]
    place, badge, choice = f"{item['site']}-A", CLEANER[item["site"]], twist.choice
    members = sorted(item["members"].values()) or [name]
    part = members[choice % len(members)]
    match twist.what:
        case "all-baths-fail":
            for solution in sorted(world["solutions"]):
                made = [row for row in world["solutions"][solution] if row["kind"] == "solution-made"]
                yield Scan(_failing(solution, made[-1]["body"]["agent"], clock.now().wall_us), place, badge)
        case "part-corrected":
            rows = [row for row in world["rows"][part] if row["body"].get("checks")]
            row = rows[-1 - choice % min(3, len(rows))]
            wrong = dict.fromkeys(row["body"]["checks"], False)
            yield Scan(ask.Correct(part, row["number"], "misheard", checks=wrong), place, "B-CARA-1", "B-IRIS-1")
        case "whole-used":
            yield Scan(ask.Contaminate(name, "used"), place, badge)
        case "undone":
            yield Scan(ask.Undo(name), place, INSPECTOR[item["site"]])
        case "issued":
            yield Scan(outside.issued(world, name, choice), place, badge)
            yield from _while_out(world, name, twist, clock)
        case _:
            yield from _to_part(world, part, twist.what, choice)
    yield Scan(ask.Release(name, {"same-item": True, "gaskets-in-place": True}), place, badge)


def _while_out(world: World, name: str, twist: Twist, clock: TwoNodes) -> Iterator[Scan]:
    """Yields what befalls an item that was issued, and then the next scans of a cycle as if it were here."""
    item, choice = world["items"][name], twist.choice
    place, badge = f"{item['site']}-A", CLEANER[item["site"]]
    members = sorted(item["members"].values()) or [name]
    part = members[choice % len(members)]
    befallen: tuple[Request, ...] = (
        outside.returned(world, name, choice),
        outside.issued(world, name, choice),
        outside.issued(world, part, choice),
        ask.Contaminate(name, "dropped"),
        ask.Contaminate(part, "dropped"),
        ask.ReturnItem(part, "bin-3"),
        ask.PlaceHold(part, "recall", "a letter", "supervisor"),
        ask.SendItem(name, "SAL", "BOX-1", clean=True),
        ask.SetAside(name, "lost", "gone"),
    )
    yield Scan(befallen[choice % len(befallen)], place, badge)
    yield from _next(world, name, clock)
    yield from _next(world, part, clock)
    yield Scan(outside.returned(world, name, choice // 2), place, badge)
    yield from _next(world, name, clock)


def _in_pieces(world: World, name: str, twist: Twist) -> Iterator[Scan]:
    """Yields what befalls a part, then the assembly as if nothing had."""
    part, what = scans.KIT[twist.choice % len(scans.KIT)], twist.what.removeprefix("before: ")
    together = (scans.KIT, {"gaskets": 2, "plugs": 1}, scans.checks_of(_assembling(world, name)))
    if what == "part-elsewhere":
        yield Scan(ask.Assemble("RSP-2", "three-port-hepa", *together), "LMG-C", "B-ANNA-1")
    else:
        yield from _to_part(world, part, what, twist.choice)
    yield Scan(ask.Assemble(name, "three-port-hepa", *together), "LMG-C", "B-ANNA-1")


def _assembling(world: World, name: str) -> files.File:
    steps = files.steps_of(world["files"][world["items"][name]["digest"]]).values()
    return next(step for step in steps if step.get("assembles") == "true")


def _to_part(world: World, part: str, what: str, choice: int) -> Iterator[Scan]:
    """Yields what befalls a part; one that went away is worked on all the same."""
    item = world["items"][part]
    place, badge = f"{item['site']}-A", CLEANER[item["site"]]
    steps = files.steps_of(world["files"][item["digest"]])
    first = next(iter(steps.values()))
    happened: dict[str, Request] = {
        "part-found-cracked": ask.NoteItem(part, findings="a crack", action="taken out", passed=False),
        "part-dropped": ask.Contaminate(part, "dropped"),
        "part-held": ask.PlaceHold(part, "recall", "a letter", "supervisor"),
        "part-condemned": ask.Condemn(part, "beyond repair"),
        "part-lost": ask.SetAside(part, ("lost", "repair")[choice % 2], "gone"),
        "part-fails": ask.FailStep(part, list(steps)[choice // 2 % len(steps)], ("A-CRACK",)),
        "part-forbidden": ask.ReportMethod(part, ("immerse", "heat", "wash", "spray")[choice % 4]),
    }
    if what == "part-condemned":
        yield Scan(happened[what], place, "B-CARA-1", "B-HUGO-1" if choice % 2 else None)
        yield Scan(ask.Contaminate(part, "found"), place, badge)
    else:
        yield Scan(happened[what], place, badge)
    if what in {"part-lost", "part-condemned"}:
        said = scans.checks_of(first), scans.readings_of(first), scans.counts_of(first)
        yield Scan(ask.DoStep(part, first["step"], *said), place, badge, wait_s=60)


def _failing(solution: str, agent: str, now_us: int) -> ask.TestSolution:
    strip = "0" if agent in scans.STRENGTH else None
    passed = None if strip else False
    return ask.TestSolution(solution, "STRIP-3", now_us + DAY_US, strip, passed, control_run=True, read_after_s=80)


def _whole(world: World, name: str) -> bool:
    return bool(world["files"][world["items"][name]["digest"]]["item_class"] == "assembly")
