"""What must be stated before an item goes to repair: which of its portions are still contaminated."""

from __future__ import annotations

from typing import Final

from reprocess.engine import decision as deciding
from reprocess.engine.decision import on_item
from reprocess.engine.request import SetAside
from reprocess.record.entry import Draft
from reprocess.rules import hold
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene
from reprocess.terms import Stage

STATEMENT: Final = "29 CFR 1910.1030(d)(2)(xiv)"
"""Equipment that may be contaminated is decontaminated before servicing or shipping; where that is not feasible a
label says which portions remain contaminated, and whoever services it is told.

Source: OSHA, Bloodborne pathogens, 29 CFR 1910.1030(d)(2)(xiv)(A)-(B).
https://www.osha.gov/laws-regs/regulations/standardnumber/1910/1910.1030
"""


def unstated(scene: Scene, request: SetAside, ahead: int) -> tuple[list[Draft], list[Reason]]:
    """Returns the hold of an item that goes to repair uncleaned and without a statement, and who is told."""
    item = scene.item
    clean = item.stage not in (Stage.USED, Stage.LOST, Stage.IN_REPAIR)
    if request.to != "repair" or clean or request.statement is not None:
        return [], []
    because = "went to repair contaminated, without a statement which portions are"
    body = hold.placed(deciding.hold_id(item, "administrative", ahead), "administrative", "H01", because, "supervisor")
    told = Reason("H01", "repair-unstated", {"item": item.item, "source": STATEMENT}, role="clinical-engineer")
    return [on_item(item.item, body)], [told]
