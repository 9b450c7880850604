"""Whether an assembly may be put on, and what is told of taking it off: M01, U03, U06, U08, U12, H05."""

from __future__ import annotations

from collections.abc import Mapping

from reprocess.definitions.wearing import Swap, Wearing, WearStep
from reprocess.record.standing import Standing
from reprocess.rules import assembly, competence, life
from reprocess.rules.answer import Reason
from reprocess.rules.custody_out import itself_out
from reprocess.rules.scene import Scene
from reprocess.terms import SECOND_US, Stage

PUT_ON_US = 30 * 60 * SECOND_US
"""A putting on that was not finished within this time begins anew (our choice, site parameter with this default)."""


def begins(scene: Scene, wearing: Wearing, step: WearStep) -> bool:
    """Tells whether putting on begins with this step: nothing was begun, or it was left, or somebody starts again."""
    wear = scene.item.wear
    if wear is None or wear.worn:
        return wear is None
    left = not 0 <= scene.bench.now_us - wear.began_us <= PUT_ON_US
    return left or step.step == wearing.put_on[0].step


def issued(item: Standing) -> bool:
    """Tells whether a wearer has the assembly, known or not; what is lent or on its way nobody here has."""
    return item.custody is not None and item.custody.sort == "issued"


def may_put_on(scene: Scene, wearing: Wearing, step: WearStep) -> list[Reason]:
    """Returns every reason why this step of putting on cannot come now."""
    bench, item = scene.bench, scene.item
    reasons = [*competence.known(bench), *(itself_out(item) if not issued(item) else ()), *wearable(scene)]
    if step.observed and bench.second is None:
        reasons.append(Reason("S08", "second-needed", {"step": step.step}))
    wear = item.wear
    if wear is not None and wear.worn:
        return reasons
    anew = begins(scene, wearing, step)
    done = () if wear is None or anew else wear.put_on
    before = next(one for one in wearing.put_on if one.step not in done)
    if step.step in done:
        reasons.append(Reason("P01", "wear-done-already", {"step": step.step, "next": before.step}))
    elif step.step != before.step:
        reasons.append(Reason("P01", "wear-order", {"step": step.step, "next": before.step}))
    if wear is not None and not anew and bench.actor is not None and wear.wearer != bench.actor.person:
        reasons.append(Reason("U06", "other-wearer", {"item": item.item}))
    return reasons


def worn_since(item: Standing) -> list[Reason]:
    """Returns that the assembly was worn, never by whom; neither it nor a part goes on uncleaned (U06, D13)."""
    if item.wear is None or not item.wear.worn:
        return []
    return [Reason("U06", "worn-since", {"item": item.item})]


def wearable(scene: Scene) -> list[Reason]:
    """Returns why the assembly must not be worn now: not ready, held, past a limit, or because of a part (G02, T12)."""
    item, part = scene.item, scene.as_part()
    if item.stage != Stage.READY:
        return [Reason("M01", "not-ready-to-wear", {"item": item.item, "stage": str(item.stage)})]
    reasons = life.unusable(part.workflow, item, scene.bench.now_us)
    for name in item.members.values():
        member = scene.parts[name]
        if member.standing.stage != Stage.READY:
            reasons.append(Reason("C02", "part-not-ready", {"item": name, "stage": str(member.standing.stage)}))
        reasons += assembly.part_gates(member, scene.bench.now_us)
    return reasons


def strays(scene: Scene, wearing: Wearing, step: WearStep, checks: Mapping[str, bool]) -> list[Reason]:
    """Returns in what the taking off does not keep its sequence; a fact all the same, to be looked into (U08)."""
    item, bench = scene.item, scene.bench
    done = item.wear.taken_off if item.wear is not None else ()
    reasons = []
    if item.wear is None or item.wear.on_us is None:
        reasons.append(Reason("U12", "never-put-on", {"item": item.item}))
    names = [one.step for one in wearing.take_off]
    missing = [name for name in names[: names.index(step.step)] if name not in done]
    if missing:
        reasons.append(Reason("U08", "taken-off-in-disorder", {"step": step.step, "missing": missing}))
    if step.observed and (bench.second is None or bench.second == bench.actor):
        reasons.append(Reason("U08", "nobody-watched", {"step": step.step}))
    amiss = [one for one in step.checks if checks.get(one.check) is False]
    reasons += [Reason("U08", "taken-off-amiss", {"text": one.text}) for one in amiss]
    return reasons


def class_of(wearing: Wearing, traces: tuple[str, ...]) -> str:
    """Returns the contamination class that what was seen calls for: the gravest; routine where nothing was."""
    found = [one.contamination_class for one in wearing.traces if one.trace in traces]
    return found[0] if found else "routine"


def may_swap(scene: Scene, swap: Swap | None, slot: str, new: str) -> list[Reason]:
    """Returns every reason why the part may not be changed while the assembly is worn."""
    item, bench = scene.item, scene.bench
    reasons = list(competence.known(bench))
    if item.wear is None or item.wear.on_us is None or item.wear.off_us is not None:
        reasons.append(Reason("U12", "not-worn", {"item": item.item}))
    place = next((name for name in item.members if name == slot), None)
    if swap is None or place is None:
        return [*reasons, Reason("U12", "not-swapped-in-use", {"slot": slot})]
    part = scene.parts.get(new)
    if part is None or not part.standing.known:
        return [*reasons, Reason("P05", "unknown-item", {"item": new})]
    if new in item.members.values():
        return [*reasons, Reason("C09", "scanned-twice", {"item": new})]
    fitting = [
        one for one in (scene.configuration.slots if scene.configuration else ()) if slot in assembly.names_of(one)
    ]
    if not any(one.item_kind == part.standing.item_kind and part.standing.model in one.models for one in fitting):
        facts = {"item": new, "slot": slot}
        reasons.append(Reason("C03", "does-not-fit", {**facts}))
    return reasons + assembly.fit(part, scene)
