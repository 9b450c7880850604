"""May this wearer be issued this item: trained, medically cleared, and fit-tested where it is tight-fitting (A09).

The parts that sit tight on the face are those in the slots of the configuration that say `tight_fitting`; their model
must be one that was found to fit. An occupational health professional decides; here only yes or no, and until when,
is known.
"""

from __future__ import annotations

from typing import Final

from reprocess.record.wearers import Wearer
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.assembly import names_of
from reprocess.rules.scene import Scene

TRAINING: Final = "training"
FIT_TEST: Final = "fit-test"
"""Purposes for which somebody is given equipment who is not trained yet, or has no fit test yet (U15).

Clearance comes before both (29 CFR 1910.134(e)(1), from memory).
"""
_HEALTH: Final = "occupational-health"
_PROGRAMME: Final = "programme-administrator"


def eligible(scene: Scene, wearer: Wearer, purpose: str | None = None) -> list[Reason]:
    """Returns every reason why the wearer may not be issued the scene's item; empty when the wearer may.

    Args:
        scene: with the item, its configuration and its parts.
        wearer: where the wearer stands.
        purpose: what it is issued for; for training no training is asked, for training and fit test no fit test.
    """
    who: dict[str, Fact] = {"wearer": wearer.wearer}
    if not wearer.known:
        return [Reason("A09", "wearer-unknown", who, role=_PROGRAMME)]
    if not wearer.active:
        return [Reason("A09", "wearer-left", who, role=_PROGRAMME)]
    now = scene.bench.now_us
    reasons = []
    if purpose != TRAINING and not wearer.is_trained(now):
        reasons.append(Reason("A09", "wearer-untrained", who, role=_PROGRAMME))
    if not wearer.is_cleared(now):
        reasons.append(Reason("A09", "wearer-not-cleared", who, role=_HEALTH))
    if purpose not in (TRAINING, FIT_TEST):
        missing = [model for model in tight_fitting(scene) if not wearer.has_fit(model, now)]
        reasons += [Reason("A09", "wearer-no-fit", {**who, "model": model}, role=_HEALTH) for model in missing]
    return reasons


def tight_fitting(scene: Scene) -> tuple[str, ...]:
    """Returns the models among the item's parts that sit tight on the face, each once."""
    if scene.configuration is None:
        return ()
    places = {name for slot in scene.configuration.slots if slot.tight_fitting for name in names_of(slot)}
    items = [item for name, item in scene.item.members.items() if name in places]
    return tuple(dict.fromkeys(scene.parts[item].standing.model for item in items if item in scene.parts))
