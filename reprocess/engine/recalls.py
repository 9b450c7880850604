"""Recalls: preview, commit, close (H03, H09); and putting a held item in quarantine (H01)."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Final

from reprocess.engine import decision as deciding
from reprocess.engine import exposing, lots, sighting
from reprocess.engine.decision import Decision, on_item, on_site
from reprocess.engine.request.recalls import CloseRecall, CommitRecall, PreviewRecall, PutInQuarantine
from reprocess.record import words
from reprocess.record.custody import Custody
from reprocess.record.entry import Draft
from reprocess.record.lots import Lot
from reprocess.record.recalls import Recall
from reprocess.record.touching import Touched
from reprocess.rules import competence, hold
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import StreamKind, stream

RECALL_ROLES: Final = (
    "programme-administrator",
    "supervisor",
    "infection-prevention",
    "clinical-engineer",
    "supply-coordinator",
)
"""Who may recall; anybody may place a hold on one item (common practice, no source)."""
IN_DEPARTMENT: Final = "department"
"""How custody is called where nobody outside has the item."""
NAMED_MAX: Final = 12
"""Items named in one sentence at most (our choice); the preview itself lists all."""


def digest_of(items: Iterable[str]) -> str:
    """Returns the digest of a list of items, whatever their order: SHA-256 over the sorted ids, a line each."""
    return hashlib.sha256("\n".join(sorted(items)).encode()).hexdigest()


def preview(scene: Scene, request: PreviewRecall) -> Decision:
    """Decides what a recall would hold: the exact list and where everything on it is; nothing is held by that."""
    about, recall = stream(StreamKind.RECALL, request.recall), _recall(scene, request.recall)
    reasons = competence.two_with_role(scene.bench, RECALL_ROLES, "H03", two=False)
    if recall.closed_us is not None:
        reasons.append(Reason("H03", "recall-closed", {"recall": request.recall}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    items = tuple(sorted(scene.parts))
    custody = custody_counts(scene)
    body = words.RecallPreviewed(
        sort=request.sort,
        name=request.name,
        cause=request.cause,
        owner=request.owner,
        from_us=request.from_us,
        until_us=request.until_us,
        notice=request.notice,
        items=items,
        digest=digest_of(items),
        stages=counted(str(part.standing.stage) for part in scene.parts.values()),
        custody=custody,
        places=counted(place_of(part, scene.wholes) for part in scene.parts.values()),
        wearers=len(_wearers(scene)),
    )
    facts: dict[str, Fact] = {
        "recall": request.recall,
        "items": len(items),
        "out": len(items) - custody.get(IN_DEPARTMENT, 0),
        "wearers": body.wearers,
    }
    told = Reason("H03", "recall-previewed", facts)
    if not items:
        told = Reason("H03", "recall-empty", {"sort": request.sort, "name": request.name})
    mistyped = [Reason("P05", "unknown-item", {"item": name}) for name in scene.unknown]
    return deciding.found(scene, request, [Draft(about, body)], [told, *mistyped], (), about=about)


def commit(scene: Scene, request: CommitRecall) -> Decision:
    """Decides to hold everything on the previewed list, in one transaction; what is settled is not held again (E25)."""
    about, recall = stream(StreamKind.RECALL, request.recall), _recall(scene, request.recall)
    reasons = competence.two_with_role(scene.bench, RECALL_ROLES, "H03", two=False)
    reasons += _uncommittable(scene, recall, request)
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    because = f"recall {recall.recall}: {recall.cause}"
    cause_id = about
    fresh = {name: part for name, part in sorted(scene.parts.items()) if not hold.answered(part.standing, cause_id)}
    holds = [_held(part, recall, because, cause_id) for part in fresh.values()]
    case = exposing.case_opened(scene, recall.recall, "H06", because)
    body = words.RecallCommitted(digest=recall.digest, held=tuple(fresh), case=recall.recall if case else None)
    drafts = [Draft(about, body), *holds, *_wholes_held(scene, fresh, because, recall.owner), *case]
    drafts += _lot_barred(scene, recall, because)
    facts: dict[str, Fact] = {
        "recall": recall.recall,
        "held": len(fresh),
        "out": sum(1 for part in fresh.values() if custody_of(part, scene.wholes) is not None),
    }
    told = [Reason("H03", "recall-committed", facts), *exposing.told(recall.recall, scene.uses)]
    return deciding.found(scene, request, drafts, told, (), about=about)


def _lot_barred(scene: Scene, recall: Recall, because: str) -> list[Draft]:
    """Returns the entries by which a recalled lot, and the baths that hold it, are used no more (L01, L12)."""
    if recall.sort != Touched.LOT:
        return []
    known = scene.states.get(stream(StreamKind.LOT, recall.name))
    if isinstance(known, Lot) and known.recalled is not None:
        return []
    return lots.recalled(scene, recall.name, recall.notice or because)


def _uncommittable(scene: Scene, recall: Recall, request: CommitRecall) -> list[Reason]:
    if recall.closed_us is not None:
        return [Reason("H03", "recall-closed", {"recall": request.recall})]
    if not recall.previewed:
        return [Reason("H03", "recall-not-previewed", {"recall": request.recall})]
    now = set(scene.parts)
    if digest_of(now) != recall.digest:
        gained, gone = sorted(now - set(recall.items)), sorted(set(recall.items) - now)
        return [Reason("H03", "recall-changed", {"gained": named(gained), "gone": named(gone)})]
    if not now:
        return [Reason("H03", "recall-empty", {"sort": recall.sort, "name": recall.name})]
    if len(now) >= scene.on_record and request.total != len(now):
        return [Reason("H03", "recall-everything", {"total": len(now)})]
    return []


def named(items: list[str]) -> list[str]:
    """Returns the first ids of a list for a sentence, with how many more there are."""
    if not items:
        return ["none"]
    more = len(items) - NAMED_MAX
    return items if more <= 0 else [*items[:NAMED_MAX], f"{more} more"]


def _held(part: Part, recall: Recall, because: str, cause_id: str) -> Draft:
    item = part.standing
    body = hold.placed(deciding.hold_id(item, "recall"), "recall", "H03", because, recall.owner)
    tied = {"cause_id": cause_id, "recall": recall.recall, "notice": recall.notice}
    return on_item(item.item, body.model_copy(update=tied))


def _wholes_held(scene: Scene, fresh: Mapping[str, Part], because: str, owner: str) -> list[Draft]:
    """Returns one hold for each assembly with a part that is held now, unless it is on the list itself (G02)."""
    found: dict[str, list[Draft]] = {}
    for part in fresh.values():
        whole = part.standing.assembly
        if whole is not None and whole not in found and whole not in fresh:
            found[whole] = deciding.whole_held(scene, part.standing, "recall", because, owner)
    return [draft for drafts in found.values() for draft in drafts]


def close(scene: Scene, request: CloseRecall) -> Decision:
    """Decides the end of a recall: only when everything was located, or condemned as lost by two people (H09)."""
    about, recall = stream(StreamKind.RECALL, request.recall), _recall(scene, request.recall)
    reasons = competence.two_with_role(scene.bench, RECALL_ROLES, "H09", two=False)
    if recall.closed_us is not None:
        reasons.append(Reason("H09", "recall-closed", {"recall": request.recall}))
    elif recall.committed_us is None:
        reasons.append(Reason("H09", "recall-not-committed", {"recall": request.recall}))
    missing = sorted(scene.parts)
    if missing:
        facts: dict[str, Fact] = {"missing": len(missing), "total": scene.on_record, "items": named(missing)}
        reasons.append(Reason("H09", "recall-not-located", facts))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    body = words.RecallClosed(total=scene.on_record, located=scene.on_record, note=request.note)
    return deciding.accept(scene, request, [Draft(about, body)], about=about)


def quarantine(scene: Scene, request: PutInQuarantine) -> Decision:
    """Records that a held item lies in a quarantine place: a sighting under every hold that is open (H01, H04)."""
    item = scene.item
    if not item.known:
        noted = words.FactNoted(subject=deciding.subject(scene), asked=request.asked, words={"place": request.place})
        told = [Reason("P05", "unknown-item", {"item": item.item})]
        return deciding.found(scene, request, [on_site(scene.bench, noted)], told, ())
    drafts = sighting.sightings(scene, place=request.place)
    if not drafts:
        told = [Reason("H04", "not-held", {"item": item.item})]
        note = words.FactNoted(subject=deciding.subject(scene), asked=request.asked, words={"place": request.place})
        return deciding.found(scene, request, [on_item(item.item, note), *drafts], told, ())
    return deciding.accept(scene, request, drafts)


def _recall(scene: Scene, name: str) -> Recall:
    return scene.state(StreamKind.RECALL, name, Recall)


def custody_of(part: Part, wholes: Mapping[str, Part]) -> Custody | None:
    """Returns who has an item outside the department: its own custody, or that of the assembly it is part of."""
    whole = wholes.get(part.standing.assembly or "")
    return part.standing.custody or (whole.standing.custody if whole is not None else None)


def place_of(part: Part, wholes: Mapping[str, Part]) -> str:
    """Returns where an item is: where it was issued to, else its site."""
    custody = custody_of(part, wholes)
    return custody.place if custody is not None else part.standing.site


def custody_counts(scene: Scene) -> dict[str, int]:
    """Returns how many of the items of a scene are with whom: in the department, issued, lent or on their way."""
    found = (custody_of(part, scene.wholes) for part in scene.parts.values())
    return counted(one.sort if one is not None else IN_DEPARTMENT for one in found)


def counted(names: Iterable[str]) -> dict[str, int]:
    """Returns how often each name comes, by name."""
    return dict(sorted(Counter(names).items()))


def _wearers(scene: Scene) -> set[str]:
    now = (custody_of(part, scene.wholes) for part in scene.parts.values())
    having = {one.wearer for one in now if one is not None and one.wearer is not None}
    return having | {use.wearer for use in scene.uses}
