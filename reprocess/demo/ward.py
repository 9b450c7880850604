"""What a ward finds in the demo beside the story's day: places, a ready respirator, a spare battery, a wearer."""

from __future__ import annotations

from typing import Final

from reprocess.clock import StoryClock
from reprocess.demo.crew import Crew, all_good
from reprocess.demo.story import assemble, lasting
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.errors import InvariantError
from reprocess.ledger.names import Name
from reprocess.rules.answer import Answer

KIT, NUMBER, SPARE, TUBE = "KIT-047", 47, "BAT-043", "TUB-117"
PARTS: Final = (TUBE, "BLW-047", "HCV-047", "FLT-094", "FLT-095", "BAT-047", "BLT-047", SPARE)
WEARER, BADGE, NAME = "W-LMG-07", "WB-LMG-07", "Ilse Varga"
PLACES: Final = (
    ("LMG-ST1", "Clean store, level 2", "store", "clean", 4),
    ("LMG-CAB4", "Cabinet, ward 4", "cabinet", "clean", 1),
    ("LMG-Q1", "Quarantine shelf", "quarantine", "dirty", None),
    ("LMG-BIN2", "Return bin, ward 2", "drop-point", "dirty", None),
)
HATCH: Final = "LMG-HATCH"
TRAINED_DAYS: Final = 300


def prepare(department: Department, clock: StoryClock) -> None:
    """Goes on after the story's day until a ward can be served: the tube dries, one respirator is assembled and ready.

    Raises:
        InvariantError: the story's day does not end as this evening needs it.
    """
    crew = Crew(department, clock)
    for place, title, sort, zone, par in PLACES:
        seal = "S-0413" if sort == "cabinet" else None
        _must(crew.scan("bram", asking.OpenPlace(place, title, sort, zone, par=par, seal=seal)))
    _ready(crew)
    bench = crew.bench("bram", station=HATCH)
    _must(bench.register(Name(NAME, BADGE), "ward 4", wearer=WEARER))
    for asked in (asking.TrainWearer(WEARER, lasting(TRAINED_DAYS)), asking.ClearWearer(WEARER, cleared=True)):
        _must(crew.scan("bram", asked, station=HATCH))


def _ready(crew: Crew) -> None:
    part = crew.department.part(TUBE)
    step = part.workflow.step_named("dry") if part is not None else None
    if step is None:
        message = f"{TUBE} has no drying to end."
        raise InvariantError(message)
    _must(crew.scan("petra", asking.EndDwell(TUBE, "dry", None, all_good(step))))
    for item in PARTS:
        crew.take(item, "ready")
    _must(assemble(crew, KIT, NUMBER, plugs=1, gaskets=2))
    crew.take(KIT, "ready")


def _must(answer: Answer) -> None:
    if not answer.accepted:
        message = f"The evening of the demo stops: {answer.asked}, {', '.join(answer.rules())}."
        raise InvariantError(message)
