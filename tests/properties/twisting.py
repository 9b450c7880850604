"""Turns that random choice seldom takes: what befalls a bath with an item in it, or a part of a ready whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from reprocess.engine import request as ask
from reprocess.engine.enrolling import Enrol
from reprocess.record import entry as words
from tests.oracle import files
from tests.oracle.fold import World, stage
from tests.properties import scans
from tests.properties.clocks import TwoNodes
from tests.properties.scans import CLEANER, DAY_US, Scan
from tests.properties.script import IN_SOLUTION, Twist


def there(world: World, name: str, what: str) -> bool:
    """Tells whether an item is where a twist can happen."""
    item = world["items"][name]
    if what in IN_SOLUTION:
        return bool(item["dwell"] and item["dwell"]["start"]["body"].get("solution"))
    return bool(item["aside"] is None and stage(world, item) == "ready")


def scans_of(world: World, name: str, twist: Twist, clock: TwoNodes) -> Iterator[Scan | Enrol]:
    """Yields what happens, one scan after another; each is made before the next is looked for."""
    turns = _in_solution if twist.what in IN_SOLUTION else _when_ready
    yield from turns(world, name, twist, clock)


def _next(world: World, name: str, clock: TwoNodes) -> Iterator[Scan]:
    scan = scans.next_scan(world, name, clock.now(), 0)
    if scan is not None:
        yield scan


def _in_solution(world: World, name: str, twist: Twist, clock: TwoNodes) -> Iterator[Scan | Enrol]:
    item = world["items"][name]
    start = item["dwell"]["start"]["body"]
    solution, place, badge = start["solution"], f"{item['site']}-A", CLEANER[item["site"]]
    now = clock.now().wall_us
    agent = start["agent"]
    strip = "0" if agent in scans.STRENGTH else None
    failing = ask.TestSolution(
        solution, "STRIP-3", now + DAY_US, strip, None if strip else False, control_run=True, read_after_s=80
    )
    fails = Scan(failing, place, badge)
    dumped = Scan(ask.EndSolution(solution, ("dumped", "spilled", "empty")[twist.choice % 3]), place, badge)
    undone = Scan(ask.Undo(name), place, badge)
    match twist.what:
        case "bath-fails":
            yield fails
        case "bath-dumped":
            yield dumped
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


def _when_ready(world: World, name: str, twist: Twist, clock: TwoNodes) -> Iterator[Scan | Enrol]:
    item = world["items"][name]
    place, badge, choice = f"{item['site']}-A", CLEANER[item["site"]], twist.choice
    members = sorted(item["members"].values()) or [name]
    part = members[choice % len(members)]
    steps = list(files.steps_of(world["files"][world["items"][part]["digest"]]))
    happened: dict[str, Any] = {
        "part-found-cracked": ask.NoteItem(part, findings="a crack", action="taken out", passed=False),
        "part-dropped": ask.Contaminate(part, "dropped"),
        "part-held": ask.PlaceHold(part, "recall", "a letter", "supervisor"),
        "part-condemned": ask.Condemn(part, "beyond repair"),
        "part-lost": ask.SetAside(part, ("lost", "repair")[choice % 2], "gone"),
        "part-fails": ask.FailStep(part, steps[choice // 2 % len(steps)], ("A-CRACK",)),
        "part-forbidden": ask.ReportMethod(part, ("immerse", "heat", "wash", "spray")[choice % 4]),
        "whole-used": ask.Contaminate(name, "used"),
        "undone": ask.Undo(name),
    }
    if twist.what == "all-baths-fail":
        now = clock.now().wall_us
        for solution in sorted(world["solutions"]):
            made = [row for row in world["solutions"][solution] if row["kind"] == "solution-made"]
            strip = "0" if made[-1]["body"]["agent"] in scans.STRENGTH else None
            passed = None if strip else False
            after_s = 80
            failing = ask.TestSolution(solution, "STRIP", now + DAY_US, strip, passed, True, after_s)  # noqa: FBT003
            yield Scan(failing, place, badge)
    elif twist.what == "part-corrected":
        rows = [row for row in world["rows"][part] if row["body"].get("checks")]
        row = rows[-1 - choice % min(3, len(rows))]
        wrong = dict.fromkeys(row["body"]["checks"], False)
        yield Scan(ask.Correct(part, row["number"], "misheard", checks=wrong), place, "B-CARA-1", "B-IRIS-1")
    else:
        second = "B-HUGO-1" if twist.what == "part-condemned" else None
        yield Scan(happened[twist.what], place, "B-CARA-1" if second else INSPECTS_TOO.get(twist.what, badge), second)
    yield Scan(ask.Release(name, {"same-item": True}), place, badge)


INSPECTS_TOO = {"undone": "B-IRIS-1"}
"""Who takes back a release: the person who made it."""
