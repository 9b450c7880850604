"""Batteries and the bays that charge them: B01, B02, B04-B06, C08."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from reprocess.definitions.model import Step, Workflow
from reprocess.quantities.reading import BadReading, read_number
from reprocess.record.places import Instrument
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import ASIDE, DAY_S, SECOND_US, Stage, StreamKind, stream

HAZARD: Final = "battery-hazard"
"""The hold of a battery that is cracked, bulging, hot, hissing or leaking: nothing is done with it (B01)."""
IDLE_US: Final = 30 * DAY_S * SECOND_US
"""A charged pack that lay unused for so long is topped up (B04, invented example of the catalogue)."""
EARLY_PERCENT: Final = 80
"""A run in use that ends before this share of what is expected calls for a capacity test (B06, catalogue)."""


def charging_step(workflow: Workflow) -> Step | None:
    """Returns the step of a battery's workflow that charges it, or None where nothing does."""
    return next((one for one in workflow.steps if one.dwell is not None and one.dwell.kind == "charging"), None)


def hazards(workflow: Workflow) -> frozenset[str]:
    """Returns the defects of a workflow that make a battery a hazard, whichever step finds them (B01)."""
    steps = workflow.steps
    lines = [
        *(one.failing for step in steps for one in step.checks),
        *(one.failing for step in steps for one in step.readings),
        *(one.failing for step in steps for one in step.counts),
    ]
    return frozenset(one.defect for one in lines if one is not None and one.rule == "B01")


def may_charge(scene: Scene, step: Step, temp_c: str | None) -> list[Reason]:
    """Returns why a battery may not be charged now: a hazard (B01), wet or not clean, bay, charger, warmth (B02)."""
    if step.dwell is None or step.dwell.kind != "charging":
        return []
    item = scene.item
    reasons = [
        Reason("B01", "battery-hazard", {"item": item.item, "cause": one.cause}, role="clinical-engineer")
        for one in item.holds.values()
        if one.sort == HAZARD
    ]
    dry = [one.step for one in scene.as_part().workflow.steps if one.reaches is Stage.DRIED]
    if dry and not any(name in item.satisfied for name in dry):
        reasons.append(Reason("B02", "battery-wet", {"item": item.item, "stage": str(item.stage)}))
    bay = scene.instrument
    if bay is not None and bay.number:
        reasons += [*_fits(item, bay), *_charger(scene.states, bay), *_warmth(bay, temp_c)]
    return reasons


def _fits(item: Standing, bay: Instrument) -> list[Reason]:
    """Returns why the bay does not charge batteries of this model (C08)."""
    if not bay.models or item.model in bay.models:
        return []
    facts: dict[str, Fact] = {"item": item.item, "model": item.model, "bay": bay.instrument, "models": list(bay.models)}
    return [Reason("C08", "bay-other-model", facts)]


def _charger(states: Mapping[str, State], bay: Instrument) -> list[Reason]:
    """Returns why the charger of the bay may not be used: held, in repair, condemned or lost (B02)."""
    charger = states.get(stream(StreamKind.ITEM, bay.part_of or ""))
    if not isinstance(charger, Standing) or not charger.known:
        return []
    if charger.stage not in ASIDE and not charger.holds:
        return []
    return [Reason("B02", "charger-out", {"bay": bay.instrument, "charger": charger.item})]


def _warmth(bay: Instrument, temp_c: str | None) -> list[Reason]:
    """Returns why the battery is too cold or too warm for its bay, where the bay has limits (B02)."""
    if bay.least_c is None and bay.most_c is None:
        return []
    facts: dict[str, Fact] = {"bay": bay.instrument, "least": bay.least_c or "any", "most": bay.most_c or "any"}
    if temp_c is None:
        return [Reason("B02", "charge-temp-missing", facts)]
    value = read_number(temp_c, "degC")
    if isinstance(value, BadReading):
        return []  # said already, as a reading that cannot be read (M08)
    low, high = (None if end is None else read_number(end, "degC") for end in (bay.least_c, bay.most_c))
    cold = low is not None and not isinstance(low, BadReading) and value < low
    warm = high is not None and not isinstance(high, BadReading) and value > high
    return [Reason("B02", "charge-temp-out", {**facts, "temp": temp_c})] if cold or warm else []


@dataclass(frozen=True, slots=True)
class Early:
    """Is a battery whose run in use ended early: how long it lasted and how long was expected, in minutes."""

    part: Part
    slot: str
    ran_min: int
    expected_min: int


def early(scene: Scene, signal: str, now_us: int) -> Early | None:
    """Returns the battery whose low alarm came before 80 % of its expected run (B06), or None.

    The run began when the assembly was put on, or when the battery was changed; an unknown beginning proves nothing.
    """
    wearing, wear = scene.as_part().workflow.wearing, scene.item.wear
    one = next((one for one in wearing.signals if one.signal == signal), None) if wearing is not None else None
    if one is None or one.run_of is None or one.run_s is None or wear is None or wear.on_us is None:
        return None
    part = scene.parts.get(scene.item.members.get(one.run_of, ""))
    since_us = wear.swaps.get(one.run_of, wear.on_us)
    ran_s = (now_us - since_us) // SECOND_US
    if part is None or ran_s < 0 or ran_s * 100 >= one.run_s * EARLY_PERCENT:
        return None
    return Early(part, one.run_of, ran_s // 60, one.run_s // 60)


def at_issue(part: Part, now_us: int) -> list[Reason]:
    """Returns why a battery may not go out: not charged in this cycle (B03), or idle since for too long (B04)."""
    step, item = charging_step(part.workflow), part.standing
    if step is None:
        return []
    charged = item.satisfied.get(step.step)
    if charged is None:
        return [Reason("B03", "not-charged", {"item": item.item})]
    if now_us - charged.ended.wall_us > IDLE_US:
        days = (now_us - charged.ended.wall_us) // (DAY_S * SECOND_US)
        return [Reason("B04", "top-up", {"item": item.item, "days": days})]
    return []


def test_step(workflow: Workflow) -> str | None:
    """Returns the recurring step by which a battery's capacity is tested (B05), or None where it has none."""
    return next((one.step for one in workflow.recurring if one.rule == "B05"), None)
