"""What an invalid competency makes doubtful, and what a certificate found later settles (A06, E39)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reprocess.engine import decision as deciding
from reprocess.engine.decision import on_item
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.rules import hold
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Bench, Part, Scene


@dataclass(frozen=True, slots=True)
class Worked:
    """Is one step of a person, in whatever cycle of the item it was.

    Attributes:
        entry: the number of its latest entry in the item's stream.
        holding: whether the item's site holds what was done without a valid competency.
    """

    part: Part
    step: str
    entry: int
    cycle: int
    at_us: int
    holding: bool


@dataclass(frozen=True, slots=True)
class Flag:
    """Is a flagged step that waits for review, and of what kind and model its item is."""

    item: str
    body: words.StepFlagged
    item_kind: str
    model: str


def competency_of(part: Part, step: str) -> str | None:
    """Returns what a step of an item asks for; None where no version at hand has the step."""
    found = part.workflow.step_named(step) or part.current.step_named(step)
    return None if found is None else found.competency_needed


def flagged(
    bench: Bench, person: str, body: words.CompetencyWithdrawn, worked: Sequence[Worked], wholes: Mapping[str, Part]
) -> list[Draft]:
    """Returns one flag for each step done since the competency was not valid, and the holds that the sites ask for.

    A step that no version at hand knows is flagged too: nobody can tell what it asked for.
    """
    drafts: list[Draft] = []
    held: set[str] = set()
    for one in worked:
        if competency_of(one.part, one.step) not in {None, body.competency}:
            continue
        item = one.part.standing
        flag = words.StepFlagged(
            person=person,
            competency=body.competency,
            step=one.step,
            entry=one.entry,
            cycle=one.cycle,
            at_us=one.at_us,
            because=body.reason,
        )
        drafts.append(on_item(item.item, flag))
        stands = (one.cycle == item.cycle and (one.step in item.satisfied or _runs(one))) or _counts_on(one)
        if one.holding and stands and item.item not in held:
            held.add(item.item)
            drafts += _held(bench, one, body, wholes, len(drafts))
    return drafts


def _runs(one: Worked) -> bool:
    dwell = one.part.standing.dwell
    return dwell is not None and dwell.step == one.step


def _counts_on(one: Worked) -> bool:
    """Tells whether the step is a recurring one that still counts, in whatever cycle it was done."""
    latest = one.part.standing.passes.get(one.step)
    return latest is not None and latest.at_us is not None and latest.number == one.entry


def _held(
    bench: Bench, one: Worked, body: words.CompetencyWithdrawn, wholes: Mapping[str, Part], ahead: int
) -> list[Draft]:
    item = one.part.standing
    cause = f"{one.step} was done without a valid competency: {body.reason}"
    placed = hold.placed(deciding.hold_id(item, "competency", ahead + 1), "competency", "A06", cause, "supervisor")
    around = Scene(bench=bench, item=item, wholes=wholes)
    return [
        on_item(item.item, placed),
        *deciding.whole_held(around, item, "competency", cause, "supervisor"),
    ]


def settled(person: str, body: words.CompetencyGranted, flags: Sequence[Flag]) -> list[Draft]:
    """Returns what is settled by a competency entered later with its effective date and a verifier (E39)."""
    if body.verifier is None or body.level is not None:
        return []
    return [
        on_item(
            one.item,
            words.FlagSettled(
                person=person, competency=one.body.competency, entry=one.body.entry, verifier=body.verifier
            ),
        )
        for one in flags
        if one.body.person == person
        and one.body.competency == body.competency
        and body.from_us <= one.body.at_us < body.until_us
        and (not body.item_kinds or one.item_kind in body.item_kinds)
        and (body.models is None or one.model in body.models)
    ]


def told(name: str, drafts: Sequence[Draft]) -> list[Reason]:
    """Returns how many steps were flagged, and of how many items that are held now."""
    flags = sum(1 for draft in drafts if isinstance(draft.body, words.StepFlagged))
    held = sorted({draft.stream.partition(":")[2] for draft in drafts if isinstance(draft.body, words.HoldPlaced)})
    if not flags:
        return []
    return [Reason("A06", "steps-flagged", {"name": name, "steps": flags, "held": held or ["none"]}, role="supervisor")]


def told_settled(name: str, drafts: Sequence[Draft]) -> list[Reason]:
    """Returns how many flags a certificate settled; holds stay until somebody lifts them."""
    return [Reason("E39", "flags-settled", {"name": name, "steps": len(drafts)})] if drafts else []
