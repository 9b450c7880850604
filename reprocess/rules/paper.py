"""What a line of a form says that cannot have been so by the record: D07. Such a line is kept and moves nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reprocess.definitions.model import Step
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.standing import Standing
from reprocess.rules import waiting
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.asked import Late
from reprocess.rules.scene import Scene
from reprocess.terms import SECOND_US, Stage


@dataclass(frozen=True, slots=True)
class Told:
    """Is what a line says, as the rules look at it: `step` is None for a fact."""

    did: str
    late: Late
    step: Step | None = None
    moves: bool = True

    @property
    def began_us(self) -> int:
        """Returns when it began, or happened."""
        return self.late.began_us if self.late.began_us is not None else self.late.occurred_us


def contradictions(scene: Scene, told: Told) -> list[Reason]:
    """Returns everything in which a line contradicts the record (D07)."""
    if told.began_us > told.late.occurred_us or told.late.occurred_us > scene.bench.now_us:
        return []  # no time at all; that is refused, and contradicts nothing
    found = [*_elsewhere(scene, told)]
    if told.step is not None:
        late = waiting.late(told.late, told.step, scene.item, scene.bench)
        found += [one for one in late if one.rule == "D07"]
        found += [*_not_in_work(scene.item, told), *_overlapping(scene, told), *_not_made(scene, told)]
    elif told.did == "used":
        found += _not_out(scene.item, told)
    return found


def in_time(item: Standing, step: Step, began_us: int | None, ended_us: int) -> list[Reason]:
    """Returns what the times on the form say against a step: faster than a hand (T15), or too long after (T08)."""
    reasons = []
    floor, rule = step.fastest, step.promptly
    if floor is not None and began_us is not None and ended_us - began_us < floor.least_s * SECOND_US:
        took = (ended_us - began_us) // SECOND_US
        reasons.append(Reason("T15", "too-fast", {"step": step.step, "took": took, "least": floor.least_s}))
    before = item.satisfied.get(rule.of) if rule is not None else None
    if rule is not None and before is not None:
        since_s = ((began_us if began_us is not None else ended_us) - before.occurred_us) // SECOND_US
        if since_s > rule.most_s:
            facts: dict[str, Fact] = {
                "step": step.step,
                "since": since_s,
                "warn": rule.warn_s,
                "most": rule.most_s,
                "back_to": rule.back_to,
            }
            reasons.append(Reason("T08", "too-late", facts))
    return reasons


def _elsewhere(scene: Scene, told: Told) -> Iterator[Reason]:
    """Yields where the person was scanned at another site while the line was done."""
    for one in scene.form_line.scans:
        if one.site != scene.bench.site.site and told.began_us <= one.at_us <= told.late.occurred_us:
            yield Reason("D07", "person-elsewhere", {"name": one.name, "station": one.station, "at_us": one.at_us})


def _not_in_work(item: Standing, told: Told) -> Iterator[Reason]:
    """Yields where the item was by the record instead of at a bench: with a wearer, or ready in the store."""
    facts: dict[str, Fact] = {"item": item.item, "did": told.did, "at_us": told.late.occurred_us}
    if item.custody is not None and item.custody.since_us <= told.late.occurred_us:
        yield Reason("D07", "was-elsewhere", {**facts, "where": "out of the department"})
    elif item.stage == Stage.READY and _ready_us(item) <= told.late.occurred_us:
        yield Reason("D07", "was-elsewhere", {**facts, "where": "ready in the store"})


def _not_made(scene: Scene, told: Told) -> Iterator[Reason]:
    """Yields that the bath was made only later, so that the line means one that is gone and may have failed."""
    bath = scene.solution
    if bath is not None and bath.known and told.began_us < bath.made_us:
        yield Reason("D07", "bath-made-later", {"solution": bath.solution, "at_us": bath.made_us})


def _not_out(item: Standing, told: Told) -> Iterator[Reason]:
    """Yields why nobody can have used it then: before this cycle began, or it had not been handed out."""
    at_us = told.late.occurred_us
    if at_us < item.contaminated_us:
        yield Reason("D07", "earlier-cycle", {"at_us": at_us, "since_us": item.contaminated_us})
    elif item.custody is None or item.custody.since_us > at_us:
        where = "ready in the store" if item.stage == Stage.READY else f"{item.stage}, at a bench"
        facts: dict[str, Fact] = {"item": item.item, "did": told.did, "at_us": at_us, "where": where}
        yield Reason("D07", "was-elsewhere", facts)


def _ready_us(item: Standing) -> int:
    return max((one.occurred_us for one in item.satisfied.values()), default=0)


def _overlapping(scene: Scene, told: Told) -> Iterator[Reason]:
    """Yields the clocks of this item on record, or lines kept, that ran while this line did."""
    for did, began_us, ended_us in _spans(scene.recent):
        if did != told.did and told.began_us < ended_us and began_us < told.late.occurred_us:
            facts: dict[str, Fact] = {"did": told.did, "before": did, "since_us": began_us, "until_us": ended_us}
            yield Reason("D07", "overlaps", facts)


def _spans(recent: tuple[Entry, ...]) -> Iterator[tuple[str, int, int]]:
    """Yields (what, began, ended) of every clock that was confirmed and of every kept line with two times."""
    began: dict[str, int] = {}
    for entry in recent:
        body = entry.body
        match body:
            case words.DwellStarted():
                began[body.step] = entry.occurred_us
            case words.DwellEnded() if body.step in began:
                yield body.step, began[body.step], entry.occurred_us
            case words.PaperLineKept() if body.began_us is not None:
                yield body.did, body.began_us, body.ended_us
            case _:
                pass
