"""Everything that can happen beside good scans: facts, holds, undoing, corrections, baths, people, tools."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from reprocess.engine import request as ask
from reprocess.engine.enrolling import Enrol
from reprocess.engine.request import Request
from reprocess.record import words
from tests.oracle import files
from tests.oracle.fold import Item, World
from tests.properties import outside, scans
from tests.properties.bending import a_solution
from tests.properties.clocks import SECOND_US
from tests.properties.scans import CLEANER, DAY_US, Scan
from tests.properties.script import CAUSES, CLASSES, VALUES, Event

ABOUT_SOLUTIONS = {"tested", "topped", "ended", "remade"}
TWO_BADGES = {
    "lift": ("B-CARA-1", "B-HUGO-1"),
    "condemn": ("B-CARA-1", "B-HUGO-1"),
    "correct": ("B-CARA-1", "B-IRIS-1"),
}


def scan_of(world: World, event: Event, name: str, now_us: int) -> Scan | None:
    """Returns the scan by which something happens, or None where it cannot."""
    item: Item = world["items"][name]
    solution = _solution(world, event, item)
    if event.what in ABOUT_SOLUTIONS:
        request = _about_solution(world, event, solution, now_us) if solution else None
    else:
        request = _about_item(world, event, name, now_us)
    if request is None:
        return None
    badge, second = event.badge, event.second
    if badge is None:
        badge, second = TWO_BADGES.get(event.what, (CLEANER[item["site"]], second))
        if event.what == "undo":
            badge = _badge_of(world["rows"][name][-1]["actor"])
    return Scan(request, event.station or f"{item['site']}-A", badge, second, wait_s=event.choice % 3)


def _badge_of(person: str | None) -> str | None:
    return None if person is None else f"B-{person}-1"


def _solution(world: World, event: Event, item: Item) -> str | None:
    """Returns the solution that the item is or was in, or any."""
    if item["dwell"] and event.choice % 4:
        return item["dwell"]["start"]["body"].get("solution") or a_solution(world, event.choice)
    return a_solution(world, event.choice)


def _about_item(world: World, event: Event, name: str, now_us: int) -> Request | None:
    item, choice = world["items"][name], event.choice
    match event.what:
        case "contaminate":
            claimed = None if event.claimed_s is None else now_us - event.claimed_s * SECOND_US
            return ask.Contaminate(name, CAUSES[choice % len(CAUSES)], CLASSES[choice // 7 % len(CLASSES)], claimed)
        case "method":
            return ask.ReportMethod(name, ("immerse", "heat", "spray", "wash", "wipe-only")[choice % 5])
        case "hold":
            sorts = ("administrative", "defect", "recall", "identity", "exposure", "missing-part", "solution")
            return ask.PlaceHold(name, sorts[choice % 7], "a doubt", "supervisor")
        case "lift":
            held = sorted(item["holds"]) or ["no-hold"]
            return ask.LiftHold(name, held[choice % len(held)], "looked at and settled")
        case "undo":
            return ask.Undo(name)
        case "correct":
            return _correction(world["rows"][name], name, choice)
        case "condemn":
            return ask.Condemn(name, "beyond repair") if choice % 3 == 0 else None
        case "aside":
            return ask.SetAside(name, ("repair", "lost")[choice % 2], "a note")
        case "note":
            return ask.NoteItem(name, opened=choice % 3 == 0, charge_cycles=choice * 2, minutes=90 * choice)
        case "found-in-store":
            return ask.NoteItem(name, findings="a crack", action="taken out", passed=bool(choice % 4 == 0))
        case "put-on" | "take-off" | "signal" | "swap":
            return _about_wearing(world, event.what, name, choice)
        case "issue" | "return" | "send" | "receive":
            return outside.request_of(world, event.what, name, choice)
        case "assemble":
            return ask.Assemble(name, "three-port-hepa", ("KIT-BLW",), {}, {})
        case "release":
            return ask.Release(name, {"same-item": True})
        case _:
            return _about_step(world, event, name, item)


def _about_wearing(world: World, what: str, name: str, choice: int) -> Request | None:
    """Returns the next step of putting on, often another one or badly done; or anything that a wearer can tell."""
    item = world["items"][name]
    wearing = world["files"][item["digest"]].get("wearing")
    if wearing is None:
        return None
    match what:
        case "put-on":
            done = [one["body"]["step"] for one in item["worn"]]
            left = [step for step in wearing["put_on"] if step["step"] not in done] or wearing["put_on"]
            step = left[0] if choice % 4 else wearing["put_on"][choice // 4 % len(wearing["put_on"])]
            checks = scans.checks_of(step) if choice % 5 else {}
            tool = scans.TOOLS.get(("LMG", step.get("instrument", "")))
            counts = {"gaskets": 2, "plugs": 1} if step.get("counts") else {}
            return ask.PutOn(name, step["step"], checks, scans.readings_of(step), counts, tool)
        case "take-off":
            step = wearing["take_off"][choice % len(wearing["take_off"])]
            return ask.TakeOff(name, step["step"], {}, ("blood",) if choice % 3 == 0 else ())
        case "signal":
            return ask.TellSignal(name, wearing["signals"][choice % len(wearing["signals"])]["signal"])
        case _:
            part = ("BAT-1", "KIT-BAT", "KIT-FLT-3", "BLW-1")[choice % 4]
            checks = scans.checks_of(wearing["swaps"][0]) if choice % 5 else {}
            return ask.SwapPart(name, ("battery", "filter-1")[choice // 4 % 2], part, checks)


def _about_step(world: World, event: Event, name: str, item: Item) -> Request:
    steps, choice = list(files.steps_of(world["files"][item["digest"]])), event.choice
    match event.what:
        case "fail":
            defects = (("SOIL",), ("PART-WET",), ("BLW-CRACK",), ("RESIDUE", "SOIL"))[choice % 4]
            return ask.FailStep(name, steps[choice // 4 % len(steps)], defects)
        case "break":
            return ask.BreakDwell(name, ("dried", "removed", "rinsed", "moved", "opened")[choice % 5])
        case "rewet":
            return ask.Rewet(name)
        case "end":
            return ask.EndDwell(name, undisturbed=bool(choice % 2))
        case _:
            return ask.StartDwell(name, steps[choice % len(steps)], a_solution(world, choice), None, "22")


def _correction(rows: list[dict[str, Any]], name: str, choice: int) -> Request:
    """Corrects one of the item's entries: a check, a reading or a count, to good or to bad."""
    row = rows[-1 - choice // 3 % min(len(rows), 8)]
    said = row["body"]
    if said.get("readings") and choice % 3:
        readings = {line: VALUES[choice % len(VALUES)] for line in said["readings"]}
        return ask.Correct(name, row["number"], "misread", readings=readings)
    if said.get("counts") and choice % 3 == 2:
        return ask.Correct(name, row["number"], "miscounted", counts=dict.fromkeys(said["counts"], choice % 4))
    checks = dict.fromkeys(said.get("checks") or {}, bool(choice % 3))
    return ask.Correct(name, row["number"], "misheard", checks=checks, note="looked again")


def _about_solution(world: World, event: Event, solution: str, now_us: int) -> Request:
    made = [row for row in world["solutions"][solution] if row["kind"] == "solution-made"]
    agent, choice = str(made[-1]["body"]["agent"]), event.choice
    match event.what:
        case "tested":
            expiry = now_us + (DAY_US if choice % 5 else -DAY_US)
            known = agent in scans.STRENGTH
            reading = ("49.99", "50", "0.29", "0.3", "1.4", "200", "NaN", "20,5")[choice % 8] if known else None
            passed = None if known else bool(choice % 2)
            read_s = None if choice % 7 == 0 else 74 + choice % 18
            return ask.TestSolution(solution, "STRIP-2", expiry, reading, passed, control_run=True, read_after_s=read_s)
        case "topped":
            return ask.TopUpSolution(solution, "LOT-2", now_us + DAY_US, "1")
        case "ended":
            return ask.EndSolution(solution, ("dumped", "spilled", "empty", "dry", "expired")[choice % 5])
        case _:
            making = replace(scans.making(world, agent, now_us), solution=solution if choice % 2 else "BATH-NEW")
            return replace(making, lot_expiry_us=now_us + (choice + 1) * 100 * SECOND_US)


def enrolment(event: Event, now_us: int) -> Enrol:
    """Returns a change in who may do what and what measures."""
    person, choice = ("ANNA", "BEN", "IRIS", "FINN")[event.choice % 4], event.choice
    tool = f"instrument:FLOW-{1 if choice % 2 else 3}"
    match event.what:
        case "withdraw":
            step = ("disinfect", "inspect", "release", "clean")[choice // 4 % 4]
            return Enrol(f"person:{person}", words.CompetencyWithdrawn(competency=step, reason="lapse"))
        case "badge-lost":
            return Enrol(f"person:{person}", words.BadgeWithdrawn(badge=f"B-{person}-1", reason="lost"))
        case "faulty":
            return Enrol(tool, words.InstrumentFaulty(finding="sticks"))
        case _:
            return Enrol(tool, words.InstrumentVerified(until_us=now_us + DAY_US, reference="new"))
