"""Unloading and counting: what came out against what went in, claims and recounts (W03, W04; E18)."""

from __future__ import annotations

from reprocess.engine import decision as deciding
from reprocess.engine import facts, load_failing
from reprocess.engine.decision import Decision, on_item
from reprocess.engine.request import Contaminate, RemoveFromLoad, UnloadLoad
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.loads import Load, LoadState
from reprocess.rules import competence
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Scene
from reprocess.terms import Stage, StreamKind, stream


def unload(scene: Scene, request: UnloadLoad) -> Decision:
    """Records what was scanned out of a load; where it is not what went in, everything in it is held (W04)."""
    load = scene.state(StreamKind.LOAD, request.load, Load)
    about = stream(StreamKind.LOAD, request.load)
    if load.state in (LoadState.OPEN, LoadState.RUNNING):
        told = [Reason("W04", "load-not-ended", {"load": load.load, "state": load.state})]
        return deciding.refuse(scene, request, told, about=about)
    names = tuple(dict.fromkeys(request.items))
    if not load.known:
        return _of_no_load(scene, request, names)
    if request.recount:
        return _recount(scene, request, load, names)
    own = tuple(name for name in names if name in load.items)
    strange = tuple(sorted(name for name in names if name not in load.items))
    left = sorted(set(load.still_in) - set(own))
    missing = tuple(left) if not request.more else ()
    body = words.LoadUnloaded(items=own, finished=not request.more, missing=missing, strange=strange)
    drafts = [Draft(about, body)]
    drafts += [
        on_item(name, words.ItemUnloaded(load=load.load, cause="unloaded")) for name in own if name in load.still_in
    ]
    drafts += _strangers(scene, load, strange)
    if not missing and not strange:
        return deciding.accept(scene, request, drafts, about=about)
    drafts += _held(scene, load, frozenset(own) & frozenset(load.still_in))
    reason = _mismatch(load, len(set(load.unloaded) | set(own)), missing, strange)
    return deciding.found(scene, request, drafts, [reason], (), about=about)


def _of_no_load(scene: Scene, request: UnloadLoad, names: tuple[str, ...]) -> Decision:
    """Keeps what was scanned out of a load that is not on record; its items start again, for nobody knows the cycle."""
    about = stream(StreamKind.LOAD, request.load)
    told = [Reason("W01", "load-unknown", {"load": request.load})]
    if request.recount:
        return deciding.refuse(scene, request, told, about=about)
    noted = words.FactNoted(subject=about, asked=request.asked, words={"items": ", ".join(names)})
    drafts = [deciding.on_site(scene.bench, noted), *_strangers(scene, Load(request.load), tuple(sorted(names)))]
    return deciding.found(scene, request, drafts, told, (), about=about)


def _mismatch(load: Load, out: int, missing: tuple[str, ...], strange: tuple[str, ...]) -> Reason:
    told: dict[str, Fact] = {
        "load": load.load,
        "in": len(load.items),
        "out": out,
        "missing": list(missing) or ["none"],
        "strange": list(strange) or ["none"],
    }
    return Reason("W04", "count-differs", told, role="supervisor")


def _strangers(scene: Scene, load: Load, strange: tuple[str, ...]) -> list[Draft]:
    """Returns how what was never scanned in starts again: nobody knows what it came with (E18)."""
    drafts: list[Draft] = []
    for name in strange:
        part = scene.parts.get(name)
        if part is None:
            noted = words.FactNoted(
                subject=stream(StreamKind.ITEM, name), asked="unload-load", words={"load": load.load}
            )
            drafts.append(deciding.on_site(scene.bench, noted))
            continue
        item = part.standing
        drafts.append(on_item(name, words.ItemUnloaded(load=load.load, cause="found")))
        if item.stage == Stage.CONDEMNED:
            continue
        request = Contaminate(name, "mixed", note=f"found in {load.load}")
        whole = scene.wholes.get(item.assembly or "")
        drafts += facts.start_again(part, request, whole.standing if whole is not None else None)
        drafts += _members_again(scene, name, request)
        if whole is not None:
            drafts += deciding.whole_falls(scene, item, "W04", f"{name} found in {load.load}")
    return drafts


def _members_again(scene: Scene, name: str, request: Contaminate) -> list[Draft]:
    """Returns how the parts of an assembly that was found in a load start again with it (U11)."""
    item = scene.parts[name].standing
    members = [scene.parts[one] for one in item.members.values() if one in scene.parts]
    own = [one for one in members if one.standing.assembly == name]
    return [draft for one in own for draft in facts.start_again(one, request, item)]


def _held(scene: Scene, load: Load, coming_out: frozenset[str]) -> list[Draft]:
    """Returns the hold on every item of a load whose count is not right (W04)."""
    because = f"{load.load}: what came out is not what went in"
    cause_id = _count_cause(load)
    drafts: list[Draft] = []
    wholes: dict[str, list[Draft]] = {}
    for name in sorted(load.items):
        part = scene.parts.get(name)
        if part is None or part.standing.stage == Stage.CONDEMNED or _count_holds(scene, load, name):
            continue
        item = part.standing
        drafts += load_failing.held(item, "W04", because, cause_id, 1 if name in coming_out else 0)
        if item.assembly is not None and item.assembly not in wholes:
            wholes[item.assembly] = deciding.whole_held(scene, item, "load", because, "supervisor")
    return drafts + [draft for one in wholes.values() for draft in one]


def _count_cause(load: Load) -> str:
    """Returns the id of a wrong count; one that was settled is another one than the next (E25)."""
    return f"{stream(StreamKind.LOAD, load.load)}/count-{load.number}"


def _count_holds(scene: Scene, load: Load, name: str) -> list[str]:
    """Returns the holds that an item has because this load was counted wrong."""
    part = scene.parts.get(name)
    prefix = f"{stream(StreamKind.LOAD, load.load)}/count-"
    holds = part.standing.holds.values() if part is not None else ()
    return [one.hold for one in holds if (one.cause_id or "").startswith(prefix)]


def _lifted(scene: Scene, load: Load, items: list[str]) -> list[Draft]:
    """Returns the end of the holds that only the count had called for."""
    return [
        on_item(name, words.HoldLifted(hold=one, disposition=f"{load.load} counted again by two people"))
        for name in items
        for one in _count_holds(scene, load, name)
    ]


def _recount(scene: Scene, request: UnloadLoad, load: Load, names: tuple[str, ...]) -> Decision:
    """Decides a recount: two people, and exactly what is on record for the load (W04)."""
    about = stream(StreamKind.LOAD, load.load)
    reasons = _two(scene)
    missing = tuple(sorted(set(load.items) - set(names)))
    strange = tuple(sorted(set(names) - set(load.items)))
    if missing or strange:
        reasons.append(_mismatch(load, len(names) - len(strange), missing, strange))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    drafts = [Draft(about, words.LoadRecounted(items=tuple(sorted(names))))]
    drafts += [
        on_item(name, words.ItemUnloaded(load=load.load, cause="unloaded")) for name in names if name in load.still_in
    ]
    drafts += _lifted(scene, load, sorted(names))
    return deciding.accept(scene, request, drafts, about=about)


def _two(scene: Scene) -> list[Reason]:
    reasons = competence.known(scene.bench)
    if not reasons and scene.bench.second is None:
        reasons.append(Reason("W03", "two-must-count", {}))
    return reasons


def claim_absent(scene: Scene, request: RemoveFromLoad, load: Load, names: tuple[str, ...]) -> Decision:
    """Decides the claim that items never were in a load that has begun: two people and a recount (W03)."""
    about = stream(StreamKind.LOAD, load.load)
    reasons = _two(scene)
    came_out = sorted(set(names) & set(load.unloaded))
    if came_out:
        reasons.append(Reason("W03", "was-scanned-out", {"items": came_out}))
    left = len(load.items) - len(names)
    if request.counted != left:
        counted = "nothing" if request.counted is None else str(request.counted)
        reasons.append(Reason("W03", "recount-differs", {"counted": counted, "left": left}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    drafts = [Draft(about, words.LoadRemoved(items=names, cause="not-present", counted=request.counted))]
    for name in names:
        drafts += _never_in(scene, load, name)
    if not set(load.missing) - set(names) and not load.strange:
        drafts += _lifted(scene, load, sorted(set(load.items) - set(names)))
    return deciding.accept(scene, request, drafts, about=about)


def _never_in(scene: Scene, load: Load, name: str) -> list[Draft]:
    """Returns how an item that was not in the load loses what the load gave it."""
    part = scene.parts[name]
    resting = tuple(step for step, one in part.standing.satisfied.items() if one.load == load.load)
    gone = words.ItemUnloaded(load=load.load, cause="not-present")
    if not resting:
        return [on_item(name, gone)]
    because = f"it was not in {load.load}"
    return [load_failing.fell(part, load.load, "W03", because, resting), on_item(name, gone)]
