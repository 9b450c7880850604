"""What the record says, as plain dicts: one `World`, folded from the entries in the order of the feed.

This is a second reading of the documents, made without the engine: nothing under `reprocess` is imported, so that
one misunderstanding cannot stand on both sides. Only stored words, YAML texts and clock readings go in.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from tests.oracle import files
from tests.oracle.rows import Row

Item = dict[str, Any]
World = dict[str, Any]

HANDS = {"step-done", "step-failed", "dwell-started", "dwell-wetted", "dwell-ended", "item-released"}
"""Entries whose persons had a hand in the step they name."""


def empty() -> World:
    """Returns the record before its first entry."""
    kinds = ("files", "texts", "people", "sites", "stations", "instruments", "solutions", "items", "rows")
    return {kind: {} for kind in kinds}


def learn(world: World, row: Row) -> None:
    """Takes one more entry into the world."""
    kind, _, name = row["stream"].partition(":")
    body = row["body"]
    if kind == "item":
        rows = world["rows"].setdefault(name, [])
        rows.append(row)
        undone = row["kind"] == "entry-undone"
        world["items"][name] = refold(world, rows) if undone else step_on(world, world["items"].get(name), row)
    elif kind == "workflow" and row["kind"] == "workflow-published":
        world["files"][body["digest"]] = files.parse(body["text"])
        world["texts"][body["digest"]] = body["text"]
    elif kind == "person":
        person(world["people"].setdefault(name, {"sites": (), "roles": (), "granted": [], "active": False}), row)
    elif kind in {"site", "station"} and row["kind"] == f"{kind}-opened":
        world[f"{kind}s"][name] = body
    elif kind == "instrument":
        instrument = world["instruments"].setdefault(name, {"sort": None, "until_us": None, "faulty": 0})
        instrument |= {key: body[key] for key in ("sort", "until_us") if key in body}
        if row["kind"] == "instrument-faulty":
            instrument |= {"until_us": None, "faulty": row["feed"]}
    elif kind == "solution":
        world["solutions"].setdefault(name, []).append(row)


def person(held: dict[str, Any], row: Row) -> None:
    """Takes one more entry about a person."""
    body, at_us = row["body"], row["moment"][0]
    match row["kind"]:
        case "person-registered":
            temporary = bool(body.get("temporary"))
            held |= {"sites": body["sites"], "roles": body["roles"], "active": True, "temporary": temporary}
        case "person-left":
            held["active"] = False
        case "competency-granted":
            held["granted"].append(dict(body))
        case "competency-withdrawn":
            for one in held["granted"]:
                if one["competency"] == body["competency"]:
                    one["until_us"] = min(one["until_us"], body.get("from_us") or at_us, at_us)
        case _:
            pass


def refold(world: World, rows: Iterable[Row]) -> Item:
    """Returns an item from all its entries; what was undone is left out as if it had never been."""
    rows = list(rows)
    undone = {number for row in rows if row["kind"] == "entry-undone" for number in row["body"]["numbers"]}
    item = None
    for row in rows:
        if row["number"] not in undone:
            item = step_on(world, item, row)
    return item or {}


def workflow_of(world: World, item: Item) -> files.File:
    """Returns the workflow under which the item's cycle began."""
    workflow: files.File = world["files"][item["digest"]]
    return workflow


def stage(world: World, item: Item) -> str:
    """Returns where the item stands."""
    return item["aside"] or files.stage_of(workflow_of(world, item), set(item["satisfied"]))


def step_on(world: World, before: Item | None, row: Row) -> Item:
    """Returns the item after one more entry."""
    item = dict(before or _fresh())
    body, kind = row["body"], row["kind"]
    if kind in HANDS:
        already = item["hands"].get(body["step"], frozenset())
        people = {person for person in (row["actor"], row["second"]) if person}
        item["hands"] = {**item["hands"], body["step"]: already | people}
    match kind:
        case "item-commissioned":
            keep = (
                "item_kind",
                "model",
                "site",
                "digest",
                "quantity",
                "in_service_us",
                "opened_us",
                "sealed_expiry_us",
            )
            item |= {key: body.get(key) for key in keep} | {"cycle": 1, "contaminated": row}
        case "item-contaminated":
            item |= {"satisfied": {}, "hands": {}, "dwell": None, "corrected": {}, "contaminated": row}
            item |= {"digest": body["digest"], "cycle": body["cycle"], "class": body["contamination_class"]}
            item |= {"aside": item["aside"] if item["aside"] == "condemned" else None, "worn": (), "begun": set()}
            item |= {"used": item["used"] or body["cause"] == "used"}
        case "delay-found":
            item["class"] = body["contamination_class"]
        case "step-done" | "item-released":
            item = _tested(world, _satisfied(world, item, row), row, row["moment"][0])
            if kind == "item-released":
                item["releases"] += 1
        case "dwell-ended":
            charging = item["dwell"] and item["dwell"]["start"]["body"]["dwell"] == "charging"
            item = _satisfied(world, item, row) | {"dwell": None}
            item["charge_cycles"] += 1 if charging else 0
        case "dwell-started":
            item |= {"dwell": {"start": row, "wet": [row]}, "begun": {*item["begun"], body["step"]}}
        case "dwell-wetted":
            item["dwell"] = {**item["dwell"], "wet": [*item["dwell"]["wet"], row]}
        case "dwell-broken":
            item["dwell"] = None
        case "step-failed":
            step = files.steps_of(workflow_of(world, item))[body["step"]]
            item = _fallen(world, item, files.fallings(step, set(body["defects"])) | set(body["fell"]))
            item = _tested(world, item, row, None)
        case "cycle-moved":
            # What fell is what the old version says rests on it; the rest is judged under the new one.
            item = _fallen(world, item, set(body["fell"])) | {"digest": body["digest"]}
        case "steps-fell" | "entry-corrected":
            item = _fallen(world, item, set(body.get("fell", ())))
            if kind == "steps-fell":
                void = {name: {**one, "at_us": None} for name, one in item["tests"].items() if name in body["fell"]}
                item["tests"] = {**item["tests"], **void}
            if kind == "entry-corrected":
                item["corrected"] = {**item["corrected"], body["number"]: body}
                item["tests"] = {name: _corrected(one, body) for name, one in item["tests"].items()}
        case "hold-placed":
            item["holds"] = {**item["holds"], body["hold"]: row}
        case "hold-lifted":
            item["holds"] = {name: hold for name, hold in item["holds"].items() if name != body["hold"]}
        case "item-sent-to-repair" | "item-condemned" | "item-lost":
            now = {"item-sent-to-repair": "in repair", "item-condemned": "condemned", "item-lost": "lost"}[kind]
            item |= {"dwell": None, "aside": "condemned" if item["aside"] == "condemned" else now}
            item["repaired"] = row["number"] if now == "in repair" else item["repaired"]
        case "item-opened":
            item["opened_us"] = item["opened_us"] or row["moment"][0]
        case "item-worked":
            item["charge_cycles"] += body.get("charge_cycles", 0)
            item["minutes"] += body.get("minutes", 0)
        case "wear-step-done":
            item["worn"] = (*(() if body.get("begins") else item["worn"]), row)
        case "item-issued" | "item-lent" | "item-sent" | "part-kept":
            item["out"] = row
        case "item-returned":
            item["out"] = None
        case "item-received":
            item |= {"out": None, "site": body["site"]}
        case "worn-again":
            item["worn"] = ()
        case "part-swapped":
            item["members"] = {**item["members"], body["slot"]: body["into"]}
        case "assembly-built":
            item |= {"members": body["members"], "configuration": body["digest"], "worn": ()}
        case "assembly-dissolved":
            item |= {"members": {}, "configuration": None}
        case "member-joined":
            item["assembly"] = body["assembly"]
        case "member-left":
            item["assembly"] = None
        case _:
            pass
    return item


def _fresh() -> Item:
    return {
        "cycle": 0,
        "class": "routine",
        "satisfied": {},
        "hands": {},
        "holds": {},
        "corrected": {},
        "dwell": None,
        "aside": None,
        "used": False,
        "releases": 0,
        "charge_cycles": 0,
        "minutes": 0,
        "tests": {},
        "worn": (),
        "begun": set(),
        "repaired": 0,
        "members": {},
        "configuration": None,
        "assembly": None,
        "out": None,
    }


def _tested(world: World, item: Item, row: Row, at_us: int | None) -> Item:
    """Returns the item after a test that recurs: passed at an instant, or failed."""
    name = row["body"]["step"]
    known = name in [line["step"] for line in workflow_of(world, item).get("recurring", [])]
    if not known or row["body"].get("paper"):
        return item
    result = {
        "number": row["number"],
        "at_us": at_us,
        "charges": item["charge_cycles"],
        "row": row,
        "said": row["body"],
    }
    return item | {"tests": {**item["tests"], name: result}}


def _corrected(test: dict[str, Any], body: dict[str, Any]) -> dict[str, Any]:
    """Returns a test with what a correction of its entry says of it."""
    if test["number"] != body["number"]:
        return test
    said = {key: test["said"].get(key, {}) | body.get(key, {}) for key in ("checks", "readings")}
    return {**test, "said": {**test["said"], **said}}


def _satisfied(world: World, item: Item, row: Row) -> Item:
    name = row["body"]["step"]
    redone = files.resting_on(workflow_of(world, item), {name}) - {name}
    kept = {step: held for step, held in item["satisfied"].items() if step not in redone}
    return item | {"satisfied": {**kept, name: row}, "begun": {*item["begun"], name}}


def _fallen(world: World, item: Item, steps: set[str]) -> Item:
    workflow = workflow_of(world, item)
    last = {name for name, step in files.steps_of(workflow).items() if step.get("reaches") == "ready"}
    fell = files.resting_on(workflow, steps | last) if steps else set()
    running = item["dwell"]
    if running and running["start"]["body"]["step"] in fell:
        running = None
    kept = {step: held for step, held in item["satisfied"].items() if step not in fell}
    return item | {"satisfied": kept, "dwell": running}
