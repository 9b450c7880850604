"""Between two sites: sent, on its way, received. What the journey voids is decided where it arrives (E15, C12)."""

from __future__ import annotations

from reprocess.definitions.model import Workflow
from reprocess.engine import decision as deciding
from reprocess.engine import facts
from reprocess.engine.decision import Decision, on_item, on_site
from reprocess.engine.request import Contaminate
from reprocess.engine.request.custody import ReceiveItem, SendItem
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.places import Site
from reprocess.record.standing import Standing
from reprocess.rules import competence, custody, hold, override, wearing
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import ASIDE, Stage, StreamKind


def send(scene: Scene, request: SendItem) -> Decision:
    """Decides a transfer to another site; a contact or a drying that runs is void from then on (E15, P11, C11)."""
    item = scene.item
    if not item.known:
        return deciding.refuse(scene, request, [Reason("P05", "unknown-item", {"item": item.item})])
    reasons = [
        *competence.known(scene.bench),
        *custody.issued_already(item, scene),
        *override.left(scene.bench, custody.stays(item, request.to, scene.bench)),
        *_where(scene, request),
        *_packed(scene, request),
    ]
    if item.assembly is not None:
        reasons.append(Reason("C09", "in-another", {"item": item.item, "assembly": item.assembly}))
    if item.load is not None:
        reasons.append(Reason("W05", "in-a-load", {"item": item.item, "load": item.load.load}))
    if reasons:
        return deciding.refuse(scene, request, reasons)
    drafts: list[Draft] = []
    if item.dwell is not None:
        opened = item.dwell
        broken = words.DwellBroken(step=opened.step, cause="moved", rule="E15", wet_s=0, least_s=opened.least_s)
        drafts.append(on_item(item.item, broken))
    sent = words.ItemSent(to=request.to, clean=request.clean, container=request.container)
    drafts.append(on_item(item.item, sent))
    warnings = hold.told(item)
    if item.stage == Stage.USED and request.container is None:
        warnings.append(Reason("P11", "container-wanted", {"item": item.item}))
    return deciding.accept(scene, request, drafts, warnings=warnings)


def _where(scene: Scene, request: SendItem) -> list[Reason]:
    item, site = scene.item, scene.state(StreamKind.SITE, request.to, Site)
    reasons = []
    if item.site != scene.bench.site.site:
        reasons.append(Reason("C12", "other-site", {"item": item.item, "site": item.site}))
    if not site.number or request.to == item.site:
        reasons.append(Reason("C12", "no-such-site", {"item": item.item, "site": request.to}))
    if item.stage in ASIDE and item.stage != Stage.IN_REPAIR:
        reasons.append(Reason("P01", "aside", {"item": item.item, "stage": str(item.stage)}))
    return reasons


def _packed(scene: Scene, request: SendItem) -> list[Reason]:
    """Returns why it may not travel like this: clean only in a closed container, semi-critical and used only so too."""
    item, semi = scene.item, scene.as_part().workflow.item_class == "semi-critical"
    open_and_used = semi and item.stage == Stage.USED
    if request.container is None and (request.clean or open_and_used):
        return [Reason("P11", "container-needed", {"item": item.item})]
    if request.clean and item.stage == Stage.USED:
        return [Reason("P11", "not-clean-yet", {"item": item.item})]
    return wearing.worn_since(item) if request.clean else []


def receive(scene: Scene, request: ReceiveItem) -> Decision:
    """Records an arrival: what is ready stays so in clean closed packaging, what is on its way keeps its cleaning only.

    In other packaging, or in one that was opened, it starts again, and so does what nobody had sent (E15).
    """
    item, here = scene.item, scene.bench.site.site
    if not item.known:
        body = words.FactNoted(subject=deciding.subject(scene), asked=request.asked, words={"site": here})
        told = Reason("P05", "unknown-item", {"item": item.item})
        return deciding.found(scene, request, [on_site(scene.bench, body)], [told], ())
    moving = item.custody if item.custody is not None and item.custody.sort == "moving" else None
    if moving is not None and moving.place != here:
        told = Reason("C12", "for-another-site", {"item": item.item, "site": moving.place})
        return deciding.refuse(scene, request, [told])
    if moving is None and item.site == here:
        return deciding.refuse(scene, request, [Reason("C12", "here-already", {"item": item.item})])
    clean = moving is not None and moving.clean and request.intact
    parts = [part for part in scene.parts.values() if part.standing.assembly == item.item]
    drafts: list[Draft] = []
    reasons: list[Reason] = []
    if item.stage in ASIDE:
        pass
    elif not clean:
        drafts += _again(scene, parts)
        reasons.append(Reason("E15", "starts-again", {"item": item.item}))
    elif item.stage != Stage.READY:
        drafts += _only_cleaned(scene.as_part(), reasons)
    if moving is None:
        cause = f"custody gap: nobody had sent it to {here}"
        name = f"administrative-p07-{item.number + 1}"
        drafts.append(on_item(item.item, hold.placed(name, "administrative", "P07", cause, "supervisor")))
        reasons.append(Reason("P07", "never-sent", {"item": item.item}, role="supervisor"))
    came = words.ItemReceived(site=here, came_from=item.site, intact=request.intact)
    drafts += [on_item(one.item, came) for one in (item, *(part.standing for part in parts))]
    if reasons:
        return deciding.found(scene, request, drafts, reasons, ())
    return deciding.accept(scene, request, drafts)


def _again(scene: Scene, parts: list[Part]) -> list[Draft]:
    """Returns that the item starts again with its parts: nobody knows what touched it on its way."""
    item = scene.item
    with_somebody = item.custody is not None and item.custody.sort != "moving"
    sort, note = "used" if with_somebody else "other", "not in clean closed packaging on its way"
    cause = Contaminate(item.item, sort, item.contamination_class, note=note)
    drafts = facts.start_again(scene.as_part(), cause, _whole(scene, item))
    drafts += deciding.whole_falls(scene, item, "E15", f"{item.item} was moved")
    for part in parts:
        drafts += facts.start_again(part, cause, item)
    return drafts


def _whole(scene: Scene, item: Standing) -> Standing | None:
    whole = scene.wholes.get(item.assembly or "")
    return whole.standing if whole is not None else None


def _only_cleaned(part: Part, reasons: list[Reason]) -> list[Draft]:
    """Returns that every step after cleaning falls (E15)."""
    kept = up_to_cleaned(part.workflow)
    gone = tuple(name for name in part.standing.satisfied if name not in kept)
    fallen = deciding.fall(part, gone)
    if not fallen.fell:
        return []
    item = part.standing.item
    reasons.append(Reason("E15", "steps-void", {"item": item, "fell": list(fallen.fell)}))
    body = words.StepsFell(rule="E15", stage=fallen.stage, fell=fallen.fell, because="moved to another site")
    return [on_item(item, body)]


def up_to_cleaned(workflow: Workflow) -> frozenset[str]:
    """Returns the steps of a workflow that end with clean, and all that come before them; none where it has no such."""
    kept = {one.step for one in workflow.steps if one.reaches is Stage.CLEANED}
    for _ in workflow.steps:
        kept |= {name for one in workflow.steps if one.step in kept for name in one.after}
    return frozenset(kept)
