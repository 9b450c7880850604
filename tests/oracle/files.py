"""Workflow, agent and configuration files as plain dicts of text, and what follows from a workflow's steps."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from ruamel.yaml import YAML

File = dict[str, Any]
SPINE = ("used", "cleaned", "disinfected", "dried", "inspected", "ready")


def parse(text: str) -> File:
    """Returns a file with every scalar left as text."""
    parsed: File = YAML(typ="base", pure=True).load(text)
    return parsed


def steps_of(workflow: File) -> dict[str, File]:
    """Returns the steps of a workflow by name, in the file's order."""
    return {step["step"]: step for step in workflow["steps"]}


def exists_for(step: File, contamination_class: str) -> bool:
    """Tells whether a step exists after a contamination of that class."""
    return not step.get("for_classes") or contamination_class in step["for_classes"]


def mandated(workflow: File, contamination_class: str) -> set[str]:
    """Returns the names of the steps that ready needs, the release among them."""
    every = steps_of(workflow).items()
    return {name for name, step in every if step.get("mandated") != "false" and exists_for(step, contamination_class)}


def needs(workflow: File, name: str, contamination_class: str) -> set[str]:
    """Returns the steps that must be satisfied before a step."""
    every = steps_of(workflow)
    return {one for one in every[name].get("after", []) if exists_for(every[one], contamination_class)}


def resting_on(workflow: File, names: set[str]) -> set[str]:
    """Returns the steps named and everything that rests on them, directly or through others."""
    fallen = set(names)
    while True:
        more = {name for name, step in steps_of(workflow).items() if fallen & set(step.get("after", []))}
        if more <= fallen:
            return fallen
        fallen |= more


def stage_of(workflow: File, satisfied: set[str]) -> str:
    """Returns the furthest stage to which the satisfied steps lead without a gap."""
    makers = {step["reaches"]: name for name, step in steps_of(workflow).items() if step.get("reaches")}
    reached = "used"
    for stage in [one for one in SPINE if one in workflow["stages"]][1:]:
        if makers.get(stage) not in satisfied:
            break
        reached = stage
    return reached


def fallings(step: File, defects: set[str]) -> set[str]:
    """Returns the steps to which these defects of a step send the item back, the step itself among them."""
    told = _told(step)
    return {step["step"]} | {one["back_to"] for one in told if one["defect"] in defects and one.get("back_to")}


def holding(step: File, defects: set[str], checks: dict[str, bool]) -> set[str]:
    """Returns the defects found for which the item is held; of a line that was answered yes, none."""
    lines = [line for line in step.get("checks", []) if not checks or checks.get(line["check"]) is False]
    told = _told({**step, "checks": lines})
    softer = {one["defect"] for one in told if one.get("hold") != "true"}
    return {one["defect"] for one in told if one.get("hold") == "true"} & defects - (set() if checks else softer)


def _told(step: File) -> list[File]:
    lines = [*step.get("checks", []), *step.get("readings", []), *step.get("counts", []), step.get("dwell", {})]
    return [line["failing"] for line in lines if line.get("failing")]


def within(text: str | None, least: str | None, most: str | None) -> bool:
    """Tells whether a value is a plain finite number within limits; equality counts."""
    if text is None or not re.fullmatch(r"-?[0-9]+([.][0-9]+)?", text):
        return False
    number = Decimal(text)
    return (least is None or number >= Decimal(least)) and (most is None or number <= Decimal(most))


def looks_of(workflow: File) -> list[File]:
    """Returns what is looked over at issue: the steps of putting on up to the last that counts or measures (U03)."""
    steps = workflow.get("wearing", {}).get("put_on", [])
    measured = [number for number, step in enumerate(steps) if {"counts", "readings", "instrument"} & set(step)]
    return list(steps[: measured[-1] + 1]) if measured else []
