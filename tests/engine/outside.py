"""What tests of custody share: wearers who may be issued anything, a second respirator, and what touched what."""

from __future__ import annotations

from reprocess.engine import request as asking
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.touching import Touched
from reprocess.timetable import Due
from tests.engine.floor import LATER_US, Floor
from tests.engine.worn import write

NEW = "BLW-3 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-3"
"""Ready parts of a second respirator."""


def wearers(floor: Floor, *names: str) -> None:
    """Makes wearers known who are trained and cleared until long after any test."""
    for name in names:
        told = (
            words.WearerRegistered(unit="ward-7", site="LMG"),
            words.WearerTrained(until_us=LATER_US),
            words.WearerCleared(cleared=True),
        )
        write(floor, *(Draft(f"wearer:{name}", body) for body in told))


def second_kit(floor: Floor) -> None:
    """Builds KIT-1 from new parts and brings it to ready, a minute or two after KIT-7."""
    for part in NEW.split():
        floor.bring(part, "ready")
    assert floor.build("KIT-1", "three-port-hepa", NEW).accepted
    floor.bring("KIT-1", "ready")


def parts_of(floor: Floor, kit: str) -> dict[str, str]:
    """Returns the parts of an assembly as it was issued, or as it stands."""
    item = floor.item(kit)
    return dict(item.custody.members if item.custody is not None else item.members)


def scanned(floor: Floor, kit: str, **instead: str) -> str:
    """Returns the parts of an assembly as they would be scanned, some of them replaced by slot, or left out as `-`."""
    parts = {**parts_of(floor, kit), **instead}
    return " ".join(name for name in parts.values() if name != "-")


def worn_by(floor: Floor, item: str) -> list[tuple[str, bool]]:
    """Returns who had an item on record, oldest first, and whether they still have it."""
    with looking(floor.department.ledger) as read:
        return [(row.name, row.open_now) for row in read.touches.by(item) if row.sort == Touched.WEARER]


def dues(floor: Floor, item: str, *rules: str) -> list[Due]:
    """Returns the reminders of an item under these rules, the soonest first."""
    with looking(floor.department.ledger) as read:
        rows = [row.due for row in read.dues.coming(2**62)]
    return [due for due in rows if due.subject == f"item:{item}" and due.rule in rules]


def hold_rules(floor: Floor, item: str) -> set[str]:
    """Returns the rules under which an item is held."""
    return {one.rule for one in floor.item(item).holds.values()}


def took_off(floor: Floor, kit: str = "KIT-7") -> None:
    """Takes a respirator off, step by step."""
    for step in ("gloves-and-gown", "head-cover", "unbuckle", "hands"):
        floor.ask(asking.TakeOff(kit, step), "gus")
