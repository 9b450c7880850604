"""Whether a measuring instrument may be believed: M02 and M09."""

from __future__ import annotations

from reprocess.definitions.model import Step
from reprocess.definitions.wearing import WearStep
from reprocess.record.places import Instrument
from reprocess.record.standing import Standing
from reprocess.rules import override
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene


def used_for(item: Standing) -> frozenset[str]:
    """Returns the instruments on which the item's evidence rests, that of recurring steps included."""
    named = [one.instrument for one in item.satisfied.values()] + [one.instrument for one in item.passes.values()]
    return frozenset(name for name in named if name is not None)


def still_believable(scene: Scene) -> list[Reason]:
    """Returns the instruments of the evidence that were found faulty since, verified again or not (M02, H08)."""
    item = scene.item
    seen = [(one.instrument, one.ended.wall_us) for one in item.satisfied.values()]
    seen += [(one.instrument, one.at_us or 0) for one in item.passes.values()]
    told = {}
    for name, at_us in seen:
        tool = scene.instruments.get(name or "")
        if tool is not None and _went_bad(tool, at_us):
            told[tool.instrument] = Reason(
                "M02", "instrument-faulty", {"instrument": tool.instrument, "sort": tool.sort}
            )
    return [told[name] for name in sorted(told)]


def went_bad(scene: Scene, since_us: int) -> list[Reason]:
    """Returns that the instrument with which something began was found faulty since (M02)."""
    tool = scene.instrument
    if tool is None or not _went_bad(tool, since_us):
        return []
    return [Reason("M02", "instrument-faulty", {"instrument": tool.instrument, "sort": tool.sort})]


def _went_bad(tool: Instrument, at_us: int) -> bool:
    return tool.faulty or (tool.faulty_us is not None and at_us <= tool.faulty_us)


def believable(scene: Scene, step: Step | WearStep, named: str | None) -> list[Reason]:
    """Returns why the instrument of a step may not be used: none named, unknown, wrong sort, unverified, faulty."""
    if step.instrument is None:
        return []
    tool = scene.instrument
    if named is None or tool is None or tool.number == 0:
        return [Reason("M02", "instrument-needed", {"sort": step.instrument, "named": named or "none"})]
    facts: dict[str, str | int | list[str]] = {"instrument": tool.instrument, "sort": tool.sort}
    if tool.sort != step.instrument:
        return [Reason("M02", "instrument-sort", {**facts, "wanted": step.instrument})]
    if tool.faulty:
        return [Reason("M02", "instrument-faulty", facts)]
    if tool.verified_until_us is None or tool.verified_until_us <= scene.bench.now_us:
        at_us = tool.verified_until_us or 0
        # Nobody passes over the flow indicator's own rule (M02); the others may be excused once (M09).
        rule = "M02" if tool.sort == "flow-indicator" else "M09"
        unverified = Reason(rule, "instrument-unverified", {**facts, "at_us": at_us}, role="supervisor")
        return override.left(scene.bench, [unverified])
    return []
