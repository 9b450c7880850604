"""Places: setting them up, putting items away, what sensors show and what follows for what lies there."""

from __future__ import annotations

from typing import Literal, cast, get_args

from reprocess.engine import decision as deciding
from reprocess.engine import exposing
from reprocess.engine.decision import Decision, on_item, on_site
from reprocess.engine.enrolling import ENROLLING_ROLES
from reprocess.engine.request.further import Further
from reprocess.engine.request.places import AlarmVapour, OpenPlace, PutAway, ReadPlace, TakeOut
from reprocess.errors import WrongUseError
from reprocess.quantities.reading import BadReading, read_number
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.stores import Place
from reprocess.record.words import Body
from reprocess.record.words.places import PlaceSort
from reprocess.rules import competence, hold, places
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.scene import Contact, Part, Scene
from reprocess.terms import Stage, StreamKind, stream

SORTS = get_args(PlaceSort)
ZONES = ("clean", "dirty")
VAPOURS = tuple(places.VAPOUR_LIMITS)
PAR_MOST = 10_000


def on_place(place: str, body: Body) -> Draft:
    """Returns a draft for a place's stream."""
    return Draft(stream(StreamKind.PLACE, place), body)


def open_place(scene: Scene, request: OpenPlace) -> Decision:
    """Decides that a place is known from now on, or set up anew, by a role that enrols (A08).

    Raises:
        WrongUseError: sort, class, limits or grade are none.
    """
    about = stream(StreamKind.PLACE, request.place)
    _must_mean_something(request)
    reasons = competence.two_with_role(scene.bench, ENROLLING_ROLES, "A08", two=False)
    if request.every_months is not None and not 0 < request.every_months <= places.MONTHS_MOST:
        reasons.append(Reason("Q06", "interval-too-long", {"months": request.every_months, "most": places.MONTHS_MOST}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    months = places.MONTHS if request.sort == "cabinet" else None
    body = words.PlaceOpened(
        title=request.title,
        sort=cast("PlaceSort", request.sort),
        zone=cast("Literal['clean', 'dirty']", request.zone),
        site=scene.bench.site.site,
        par=request.par,
        limits=dict(request.limits),
        seal=request.seal,
        every_months=request.every_months if request.every_months is not None else months,
        asks=request.asks,
        grade=request.grade,
    )
    return deciding.accept(scene, request, [on_place(request.place, body)], about=about)


def _must_mean_something(request: OpenPlace) -> None:
    known = {"sort": (request.sort, SORTS), "class": (request.zone, ZONES)}
    if request.grade is not None:
        known["water"] = (request.grade, places.GRADES)
    for name, (said, allowed) in known.items():
        if said not in allowed:
            message = f"The {name} of a place is one of {', '.join(allowed)}, not {said}."
            raise WrongUseError(message, place=request.place)
    for limit in request.limits.values():
        places.range_of(limit)
    if request.par is not None and not 0 <= request.par <= PAR_MOST:
        message = f"A par level is a number from 0 to {PAR_MOST}."
        raise WrongUseError(message, place=request.place)


def put_away(scene: Scene, request: PutAway) -> Decision:
    """Decides where an item is put: only what is released goes into a clean store (Q01, H01)."""
    item = scene.item
    if not item.known:
        return deciding.refuse(scene, request, [Reason("P05", "unknown-item", {"item": item.item})])
    place = places.named(scene, request.place)
    if place is None:
        return deciding.refuse(scene, request, [Reason("Q01", "place-unknown", {"place": request.place})])
    reasons = places.may_lie(scene.as_part(), place, scene.bench.now_us)
    if reasons:
        return deciding.refuse(scene, request, reasons)
    return deciding.accept(scene, request, [lies(item.item, place)])


def lies(item: str, place: Place) -> Draft:
    """Returns the entry by which an item lies at a place."""
    return on_item(item, words.ItemPlaced(place=place.place, sort=cast("PlaceSort", place.sort)))


def take_out(scene: Scene, request: TakeOut) -> Decision:
    """Records that an item was taken out of its place; told is what should have gone first (Q08)."""
    item = scene.item
    if not item.known or item.place is None:
        key = "unknown-item" if not item.known else "lies-nowhere"
        return deciding.refuse(scene, request, [Reason("P05", key, {"item": item.item})])
    told = places.due_before(item, [one.standing for one in scene.parts.values()])
    drafts = [on_item(item.item, words.ItemTakenOut(place=item.place))]
    return deciding.accept(scene, request, drafts, warnings=told)


def noted(scene: Scene, request: Further, place: str, said: dict[str, str]) -> Decision:
    """Keeps a fact about a place that is not on record, in the site's stream."""
    about = stream(StreamKind.PLACE, place)
    body = words.FactNoted(subject=about, asked=request.asked, words=said)
    told = Reason("Q01", "place-unknown", {"place": place})
    return deciding.found(scene, request, [on_site(scene.bench, body)], [told], (), about=about)


def read_place(scene: Scene, request: ReadPlace) -> Decision:
    """Records what a sensor shows; what is out of its limits bars soaks, holds rinsed items, or rechecks a store.

    Raises:
        WrongUseError: no limits are kept for such a reading at this place.
    """
    about = stream(StreamKind.PLACE, request.place)
    place = places.named(scene, request.place)
    if place is None:
        return noted(scene, request, request.place, {"reading": request.reading, "value": request.value})
    limit = places.limit_of(place, request.reading)
    if limit is None:
        message = f"No limits are kept for {request.reading} at {place.place}."
        raise WrongUseError(message, place=place.place)
    value = read_number(request.value, request.reading)
    if isinstance(value, BadReading):
        told = Reason("M08", "not-a-number", {"reading": request.reading, "because": value.sentence})
        return deciding.refuse(scene, request, [told], about=about)
    good = places.range_of(limit).holds(value)
    held = _rechecked(scene, place, request.reading)
    body = words.PlaceRead(
        reading=request.reading,
        value=request.value,
        good=good,
        limit=limit,
        instrument=request.instrument,
        rechecked=True if held else None,
    )
    reasons: list[Reason] = []
    drafts = [on_place(place.place, body), *held]
    facts: dict[str, Fact] = {"place": place.place, "reading": request.reading, "value": request.value, "limit": limit}
    if held:
        items = [draft.stream.partition(":")[2] for draft in held]
        reasons.append(Reason("Q02", "store-out-for-long", {**facts, "items": items}))
    elif not good and place.sort in places.CLEAN_STORES and request.reading not in VAPOURS:
        reasons.append(Reason("Q02", "store-out", facts))
    more, alarms = _vapour(scene, request, limit, good=good)
    water, doubts = _water(scene, place, request) if not good and place.sort == "water-point" else ([], [])
    reasons += [*alarms, *doubts]
    return deciding.found(scene, request, [*drafts, *more, *water], reasons, (), about=about)


def _rechecked(scene: Scene, place: Place, reading: str) -> list[Draft]:
    """Returns the holds of what lies in a store that has been out of its limits for more than an hour (Q02)."""
    before = place.seen.get(reading)
    if place.sort not in places.CLEAN_STORES or before is None or before.out_us is None or before.rechecked:
        return []
    if reading in VAPOURS or scene.bench.now_us - before.out_us <= places.OUT_US:
        return []
    because = f"{place.place} was out of its limits ({reading} {before.value}): look at it again"
    return [one for part in scene.parts.values() for one in _held(part, "administrative", "Q02", because)]


def _held(part: Part, sort: str, rule: str, because: str, ahead: int = 1) -> list[Draft]:
    item = part.standing
    if item.stage == Stage.CONDEMNED:
        return []
    body = hold.placed(deciding.hold_id(item, sort, ahead), sort, rule, because, "supervisor")
    return [on_item(item.item, body)]


def _vapour(scene: Scene, request: ReadPlace, limit: str, *, good: bool) -> tuple[list[Draft], list[Reason]]:
    if request.reading not in VAPOURS:
        return [], []
    facts: dict[str, Fact] = {"place": request.place, "value": request.value, "limit": limit}
    if not good:
        alarm = words.VapourAlarmed(place=request.place, vapour=request.reading, value=request.value, limit=limit)
        return [on_site(scene.bench, alarm)], [Reason("L14", "vapour-alarm", facts)]
    if f"{request.place} {request.reading}" not in scene.bench.site.vapour:
        return [], []
    clear = words.VapourCleared(place=request.place, vapour=request.reading, value=request.value, limit=limit)
    return [on_site(scene.bench, clear)], []


def alarm_vapour(scene: Scene, request: AlarmVapour) -> Decision:
    """Records a vapour alarm without a reading; no soak begins at the site until a reading is within limits (L14).

    Raises:
        WrongUseError: there is no such vapour.
    """
    if request.vapour not in VAPOURS:
        message = f"A vapour is one of {', '.join(VAPOURS)}, not {request.vapour}."
        raise WrongUseError(message, place=request.place)
    limit = places.VAPOUR_LIMITS[request.vapour]
    facts: dict[str, Fact] = {"place": request.place, "value": "an alarm", "limit": limit}
    drafts = [on_site(scene.bench, words.VapourAlarmed(place=request.place, vapour=request.vapour))]
    about = stream(StreamKind.PLACE, request.place)
    return deciding.found(scene, request, drafts, [Reason("L14", "vapour-alarm", facts)], (), about=about)


def _water(scene: Scene, place: Place, request: ReadPlace) -> tuple[list[Draft], list[Reason]]:
    """Returns what befalls everything that was rinsed since the water was last known to be good (L11)."""
    because = f"the water of {place.place} was out of its limits ({request.reading} {request.value})"
    by_item: dict[str, list[Contact]] = {}
    for one in scene.contacts:
        by_item.setdefault(one.part.standing.item, []).append(one)
    drafts: list[Draft] = []
    for item, contacts in sorted(by_item.items()):
        drafts += _void_rinse(scene, item, contacts, because)
    case = f"{place.place}-{place.number + 1}"
    drafts += exposing.case_opened(scene, case, "L11", because)
    held = [name for name, ones in by_item.items() if ones[0].part.standing.stage != Stage.CONDEMNED]
    told = Reason("L11", "water-failed", {"place": place.place, "items": sorted(held) or ["none"]})
    return drafts, [told, *exposing.told(case, scene.uses)]


def _void_rinse(scene: Scene, item: str, contacts: list[Contact], because: str) -> list[Draft]:
    """Returns how a rinse in bad water falls with all that rests on it, and how its item is held."""
    part = contacts[0].part
    standing = part.standing
    steps = tuple(one.step for one in contacts if one.cycle == standing.cycle and one.step in standing.satisfied)
    fell = [] if not steps else [_falls(part, steps, because)]
    held = _held(part, "solution", "L11", because, len(fell) + 1)
    wholes = deciding.whole_falls(scene, standing, "L11", f"{item}: {because}") if fell else []
    return [*fell, *held, *(wholes or deciding.whole_held(scene, standing, "solution", because, "supervisor"))]


def _falls(part: Part, steps: tuple[str, ...], because: str) -> Draft:
    fallen = deciding.fall(part, steps)
    body = words.StepsFell(rule="L11", stage=fallen.stage, fell=fallen.fell, because=because)
    return on_item(part.standing.item, body)
