"""Where items may lie and what must hold there: Q01-Q08, H01, L11, L14."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from reprocess.definitions.model import Step
from reprocess.errors import WrongUseError
from reprocess.quantities.reading import BadReading, read_number
from reprocess.record.standing import Standing
from reprocess.record.stores import Place
from reprocess.rules import life
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import SECOND_US, Stage, StreamKind, stream

OUT_US: Final = 60 * 60 * SECOND_US
"""A store may be out of its limits for so long (Q02, catalogue)."""
CLEAN_STORES: Final = ("store", "cabinet")
"""The sorts of place from which items are issued: nothing but what is ready goes in (Q01)."""
STORE_LIMITS: Final = {"temp_c": "5..30", "humidity_percent": "..65"}
"""What a clean store or cabinet must show where nothing else was said (Q02, invented example of the catalogue)."""
VAPOUR_LIMITS: Final = {"vapour_aldehyde_ppm": "..0.05", "vapour_peroxide_ppm": "..1"}
"""The most vapour at any place: an aldehyde's ceiling of 0.05 ppm (ACGIH), hydrogen peroxide's 1 ppm as a mean over
eight hours, here taken as a ceiling, to be on the safe side.

Source: CDC, Guideline for Disinfection and Sterilization in Healthcare Facilities, 2008, sections on glutaraldehyde and
hydrogen peroxide. https://www.cdc.gov/infection-control/hcp/disinfection-and-sterilization/index.html
"""
GRADES: Final = ("drinking", "filtered", "critical")
"""The qualities of water, from the least to the best; a better one does for a lesser (common practice, no source)."""
MONTHS: Final = 1
"""How often a unit in a cabinet is inspected where nothing else was said: monthly (Q03)."""
MONTHS_MOST: Final = 3
"""The longest interval between inspections of a unit in a cabinet (Q06: up to three months where use is occasional)."""


@dataclass(frozen=True, slots=True)
class Range:
    """Is what a reading must be within; both ends belong to it."""

    least: Decimal | None
    most: Decimal | None

    def holds(self, value: Decimal) -> bool:
        """Tells whether a value is within the limits."""
        return (self.least is None or value >= self.least) and (self.most is None or value <= self.most)


def range_of(text: str) -> Range:
    """Returns the limits that a text such as `5..30`, `..65` or `12..` says.

    Raises:
        WrongUseError: it says none, or the least is more than the most.
    """
    least, dots, most = text.partition("..")
    ends = [None if not end else read_number(end, "limit") for end in (least, most)]
    low, high = ends
    if not dots or (low is None and high is None) or isinstance(low, BadReading) or isinstance(high, BadReading):
        message = f"Limits are written least..most, such as 5..30 or ..65, not {text[:20]!r}."
        raise WrongUseError(message)
    if low is not None and high is not None and low > high:
        message = f"The least of {text[:20]!r} is more than the most."
        raise WrongUseError(message)
    return Range(low, high)


def limit_of(place: Place, reading: str) -> str | None:
    """Returns the limits of a reading at a place: its own, of a vapour, of a clean store; None where none is kept."""
    known = {**VAPOUR_LIMITS, **(STORE_LIMITS if place.sort in CLEAN_STORES else {}), **place.limits}
    return known.get(reading)


def named(scene: Scene, name: str | None) -> Place | None:
    """Returns the place of that name where it is on record."""
    found = scene.states.get(stream(StreamKind.PLACE, name or ""))
    return found if isinstance(found, Place) and found.known else None


def may_lie(part: Part, place: Place, now_us: int) -> list[Reason]:
    """Returns why an item may not be put in a place: only what is released goes into a clean store (Q01)."""
    item = part.standing
    facts: dict[str, Fact] = {"item": item.item, "place": place.place, "stage": str(item.stage)}
    reasons = []
    if item.site != place.site:
        reasons.append(Reason("Q01", "place-elsewhere", facts))
    if item.custody is not None:
        reasons.append(Reason("Q01", "still-issued", facts))
    if place.sort in CLEAN_STORES:
        if item.stage != Stage.READY:
            reasons.append(Reason("Q01", "not-released", facts))
        if place.zone != "clean":
            reasons.append(Reason("Q01", "place-not-clean", facts))
        if item.stage == Stage.READY:
            reasons += life.unusable(part.workflow, item, now_us)
    elif item.stage == Stage.READY and place.zone == "dirty" and not item.holds:
        reasons.append(Reason("Q01", "place-not-clean", facts))
    return reasons


def due_before(item: Standing, others: Iterable[Standing]) -> list[Reason]:
    """Returns that another item of the same model in the same place runs out first (Q08)."""
    mine = item.ready_until_us
    alike = [
        one
        for one in others
        if (one.item_kind, one.model, one.place) == (item.item_kind, item.model, item.place)
        and one.item != item.item
        and one.stage == Stage.READY
        and not one.holds
        and one.ready_until_us is not None
    ]
    first = min(alike, key=lambda one: (one.ready_until_us or 0, one.item), default=None)
    if first is None or first.ready_until_us is None or (mine is not None and mine <= first.ready_until_us):
        return []
    return [Reason("Q08", "due-later", {"item": item.item, "next": first.item, "at_us": first.ready_until_us})]


def missing_fields(findings: str | None, action: str | None, asks: Iterable[str], given: Iterable[str]) -> list[Reason]:
    """Returns what the record of an inspection still lacks: findings, remedial action (Q04), asked readings (Q06)."""
    lacking = [name for name, said in (("findings", findings), ("action", action)) if said is None]
    reasons = [Reason("Q04", "field-missing", {"field": name}) for name in lacking]
    absent = [name for name in asks if name not in set(given)]
    return reasons + [Reason("Q06", "inspection-reading-missing", {"reading": name}) for name in absent]


def water(scene: Scene, step: Step, named_place: str | None) -> tuple[str | None, list[Reason]]:
    """Returns the place that the water of a rinse came from, and why that water does not do (L11).

    Where no place is named, the only water point of the site is taken. Every reading that the place has limits for
    must have been within them, and lately enough. A site without any water point on record has only the step's own
    checklist to go by, and is told so (`unmeasured`).
    """
    needed = step.needs_water
    if needed is None:
        return None, []
    if named_place is None and not _points(scene):
        return None, []
    place = named(scene, named_place) if named_place is not None else _only_point(scene)
    if place is None or place.sort != "water-point" or place.grade not in GRADES:
        return None, [Reason("L11", "water-unknown", {"place": named_place or "none", "grade": needed.grade})]
    facts: dict[str, Fact] = {"place": place.place, "grade": place.grade, "wanted": needed.grade}
    reasons = []
    if GRADES.index(place.grade) < GRADES.index(needed.grade):
        reasons.append(Reason("L11", "water-too-poor", facts))
    since_us = scene.bench.now_us - needed.within_s * SECOND_US
    for name in place.limits or {"any": ""}:
        seen = place.seen.get(name)
        if seen is None or seen.at_us < since_us:
            reasons.append(Reason("L11", "water-not-read", {**facts, "reading": name}))
        elif not seen.good:
            reasons.append(Reason("L11", "water-out", {**facts, "reading": name, "value": seen.value}))
    return place.place, reasons


def unmeasured(scene: Scene, step: Step, named_place: str | None) -> list[Reason]:
    """Returns that nobody measures the water of this rinse, because the site has no water point on record (L11)."""
    if step.needs_water is None or named_place is not None or _points(scene):
        return []
    return [Reason("L11", "water-unmeasured", {"grade": step.needs_water.grade})]


def _points(scene: Scene) -> list[Place]:
    site = scene.bench.site.site
    found = (one for one in scene.states.values() if isinstance(one, Place) and one.site == site)
    return [one for one in found if one.sort == "water-point"]


def _only_point(scene: Scene) -> Place | None:
    points = _points(scene)
    return points[0] if len(points) == 1 else None


def no_vapour(scene: Scene) -> list[Reason]:
    """Returns why no soak may begin at this site: the vapour of a disinfectant is too strong (L14)."""
    where = scene.bench.site.vapour
    return [Reason("L14", "vapour-in-air", {"places": list(where)})] if where else []
