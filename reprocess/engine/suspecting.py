"""What an instrument that was found faulty makes suspect: every standing result that rests on it (H08).

Results from before its last verification fall too: which of them were still good nobody can tell from the bench, and
testing an item again costs minutes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from reprocess.engine import decision as deciding
from reprocess.engine.decision import on_item
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.standing import Standing
from reprocess.record.words import ExposedUse
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Part
from reprocess.terms import Stage, subject_of


def rests_on(item: Standing, instrument: str) -> tuple[str, ...]:
    """Returns the steps of an item, done or running, whose evidence rests on the instrument; recurring ones too."""
    named = [(step, one.instrument) for step, one in item.satisfied.items()]
    named += [(step, one.instrument) for step, one in item.passes.items()]
    if item.dwell is not None:
        named.append((item.dwell.step, item.dwell.instrument))
    if item.wear is not None:
        named += [(step, used) for used in item.wear.instruments for step in item.wear.put_on]
    return tuple(dict.fromkeys(step for step, used in named if used == instrument))


def suspected(instrument: str, parts: Sequence[Part], wholes: Mapping[str, Part]) -> list[Draft]:
    """Returns the entries by which what rests on the instrument falls, with the assemblies built on it, one an item."""
    falling: dict[str, tuple[Part, set[str]]] = {}
    for part in parts:
        item = part.standing
        falling.setdefault(item.item, (part, set()))[1].update(rests_on(item, instrument))
        whole = wholes.get(item.assembly or "")
        if whole is not None:
            built = {step.step for step in whole.workflow.steps if step.assembles}
            falling.setdefault(whole.standing.item, (whole, set()))[1].update(built)
    return [draft for part, steps in falling.values() for draft in _falls(part, tuple(sorted(steps)), instrument)]


def _falls(part: Part, steps: tuple[str, ...], instrument: str) -> list[Draft]:
    fallen = deciding.fall(part, steps)
    void = [step for step, one in part.standing.passes.items() if one.instrument == instrument]
    fell = tuple(sorted({*fallen.fell, *void}))
    wear = part.standing.wear
    if not fell and (wear is None or instrument not in wear.instruments):
        return []
    body = words.StepsFell(rule="H08", stage=fallen.stage, fell=fell, because=f"{instrument} was found faulty")
    return [on_item(part.standing.item, body)]


def told(
    instrument: str,
    drafts: Sequence[Draft],
    parts: Sequence[Part] = (),
    wholes: Mapping[str, Part] | None = None,
    uses: Sequence[ExposedUse] = (),
) -> Reason:
    """Returns the list of what must be tested again: what is out first, then what was ready, then the rest; by uses."""
    known = {part.standing.item: part for part in (*parts, *(wholes or {}).values())}
    often = Counter(use.item for use in uses)
    items = [subject_of(draft.stream) for draft in drafts]
    items.sort(key=lambda item: (_rank(known.get(item), wholes or {}), -often[item], item))
    return Reason("H08", "results-suspect", {"instrument": instrument, "items": items or ["none"]})


def _rank(part: Part | None, wholes: Mapping[str, Part]) -> int:
    if part is None:
        return 2
    whole = wholes.get(part.standing.assembly or "")
    if part.standing.custody is not None or (whole is not None and whole.standing.custody is not None):
        return 0
    return 1 if part.standing.stage == Stage.READY else 2
