"""Issue, return and journeys as random scripts ask for them: well, and often badly."""

from __future__ import annotations

from reprocess.engine import request as ask
from reprocess.engine.request import Request
from tests.oracle import files
from tests.oracle.fold import World
from tests.properties import scans
from tests.properties.script import CLASSES


def issued(world: World, name: str, choice: int) -> ask.IssueItem:
    """Returns an issue in an emergency with every line of the look-over good."""
    item = world["items"][name]
    looks = files.looks_of(world["files"][item["digest"]])
    checks = {check: good for look in looks for check, good in scans.checks_of(look).items()}
    readings = {key: value for look in looks for key, value in scans.readings_of(look).items()}
    tools = [scans.TOOLS.get((item["site"], look.get("instrument", ""))) for look in looks]
    counts = {"gaskets": 2, "plugs": 1} if any(look.get("counts") for look in looks) else {}
    tool = next((tool for tool in tools if tool is not None), None)
    return ask.IssueItem(name, None, "ward-7", "emergency", choice * 2 or None, checks, readings, counts, tool)


def returned(world: World, name: str, choice: int) -> ask.ReturnItem:
    """Returns a return, with all of the parts, some of them, or one that belongs elsewhere; or nobody looked."""
    out = world["items"][name]["out"]
    went = out["body"].get("members", {}) if out else world["items"][name]["members"]
    parts = (*sorted(went.values()), "BAT-1")[choice % 3 : -1 if choice % 4 else None] if choice % 2 else None
    return ask.ReturnItem(name, "bin-3", parts, contamination_class=CLASSES[choice // 5 % 5], used=bool(choice % 4))


def request_of(world: World, what: str, name: str, choice: int) -> Request:
    """Returns what befalls an item that goes out, comes back, or travels."""
    match what:
        case "issue":
            asked = issued(world, name, choice)
            bad = dict.fromkeys(asked.checks, False)
            wrong = (
                asked,
                ask.IssueItem(name, None, "ward-7", "emergency", None, bad, asked.readings, asked.counts),
                ask.IssueItem(name, None, "ward-7", "care", None, asked.checks, asked.readings, asked.counts),
                ask.IssueItem(name, "W-NOBODY", "ward-7", "care", None, asked.checks),
            )
            return wrong[choice % 4] if choice % 3 == 0 else asked
        case "return":
            return returned(world, name, choice)
        case "send":
            container = "BOX-1" if choice % 5 else None
            return ask.SendItem(name, ("SAL", "LMG")[choice % 2], container, clean=bool(choice % 3))
        case _:
            return ask.ReceiveItem(name, intact=bool(choice % 3))
