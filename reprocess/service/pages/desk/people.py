"""People at the desk: who works here, who may do which step until when, badges, first PINs and locked sign-ins."""

from __future__ import annotations

from datetime import time
from functools import partial
from typing import Annotated, Any, Final

import anyio.to_thread
from fastapi import APIRouter, Depends
from starlette.requests import Request
from starlette.responses import Response

from reprocess.definitions.model import Workflow
from reprocess.engine.enrolling import Enrol
from reprocess.engine.request import SetPin, UnlockSignIn
from reprocess.enrolment import files_in_force
from reprocess.ledger.append import Transaction
from reprocess.pictures.competencies import competencies as plot
from reprocess.pictures.drawing import drawn
from reprocess.pictures.picture import frame_in
from reprocess.pictures.rows.competencies import grid
from reprocess.record import words
from reprocess.record.access import Access
from reprocess.record.words import Body
from reprocess.rules.answer import Answer
from reprocess.rules.permissions import ROLES, TECHNICIAN
from reprocess.service import who
from reprocess.service.api import people as api
from reprocess.service.api.sessions import take_of
from reprocess.service.pages import acting, rendering
from reprocess.service.pages.desk.instants import day_us
from reprocess.service.pages.desk.life import full_minute
from reprocess.service.pages.forms import Form, PageRoute, Typed, comes_back, fitting, form_of
from reprocess.service.problems import ProblemError
from reprocess.service.seeing import Named, reading
from reprocess.service.served import served
from reprocess.service.who import Caller
from reprocess.service.writing import WITH_ROLES
from reprocess.signing_in import offices
from reprocess.station import Call
from reprocess.terms import DAY_S, SECOND_US, StreamKind, stream

router = APIRouter(route_class=PageRoute, include_in_schema=False, prefix="/desk")
Reader = Annotated[Caller, Depends(who.needs("read-people"))]
Sent = Annotated[Form, Depends(form_of)]
SOON_S: Final = 30 * DAY_S
"""A competency that ends within a month is marked (our choice)."""


@router.get("/people")
def listed(request: Request, caller: Reader, kind: str = "") -> Response:
    """Show everybody, and for one kind of item the grid of who may do which step now."""
    return _list(request, caller, kind)


def _list(request: Request, caller: Caller, kind: str = "", *, status: int = 200, **more: Any) -> Response:
    department = served(request).department
    with reading(request) as read:
        found = sorted(
            (one for one in read.people() if api.in_sight(caller, one)), key=lambda one: (not one.active, one.person)
        )
        locked = {one.person for one in found if _locked(read, one.person)}
        workflows = list(files_in_force(read, department.library, Workflow).values())
    kinds = sorted({one.item_kind for one in workflows})
    chosen = kind if kind in kinds else next(iter(kinds), "")
    rows = grid(found, [one for one in workflows if one.item_kind == chosen], full_minute(department.clock.now()))
    frame = frame_in(rendering.words_for(request).texts, department.zone_of_station(caller.station or ""), "can")
    told = {
        "people": found,
        "locked": locked,
        "kinds": kinds,
        "chosen": chosen,
        "picture": drawn(plot(rows, frame)),
        "roles": sorted(ROLES),
        "key": acting.new_key(request),
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/people.html", status=status, caller=caller, **told | more)


def _locked(read: Transaction, person: str) -> bool:
    access = read.state(stream(StreamKind.ACCESS, person))
    return isinstance(access, Access) and access.locked_us is not None


@router.get("/people/{person}")
def shown(request: Request, caller: Reader, person: Named) -> Response:
    """Show one person, with the forms of what can be done about them."""
    return _person(request, caller, person)


def _person(request: Request, caller: Caller, name: str, *, status: int = 200, **more: Any) -> Response:
    with reading(request) as read:
        found = api.known(read, caller, name)
        access = read.state(stream(StreamKind.ACCESS, name))
        competencies = sorted({one.competency for person in read.people() for one in person.competencies})
    department = served(request).department
    told = {
        "person": found,
        "access": access,
        "known_competencies": competencies,
        "overseeing": bool(caller.roles & api.OVERSEEING),
        "now_us": department.clock.now().wall_us,
        "soon_us": SOON_S * SECOND_US,
        "zone": department.zone_of_station(caller.station or ""),
        "key": acting.new_key(request),
        "shown": None,
        "typed": Typed(),
    }
    return rendering.page(request, "desk/person.html", status=status, caller=caller, **told | more)


@router.post("/people")
async def register(request: Request, caller: Reader, form: Sent) -> Response:
    """Register somebody; with roles that carry rights, two people sign it."""
    show = partial(_list, request, caller)
    comes_back(request, form, show)
    name, roles = form.name("person"), tuple(form.all("roles"))
    body = _registered(form, roles)
    operation = WITH_ROLES if set(roles) - {TECHNICIAN} else body.kind
    answer = await acting.act(request, caller, form, Enrol(stream(StreamKind.PERSON, name), body), operation=operation)
    return await acting.answered(request, caller, answer, show)


def _registered(form: Form, roles: tuple[str, ...]) -> words.PersonRegistered:
    """Returns what is written down about somebody new.

    Raises:
        ProblemError: a field is missing or cannot be taken.
    """
    with fitting():
        return words.PersonRegistered(name=form.must("name"), sites=tuple(form.must("sites").split()), roles=roles)


@router.post("/people/{person}/{deed}")
async def change(request: Request, caller: Reader, person: Named, deed: str, form: Sent) -> Response:
    """Give or withdraw a badge or a competency, let somebody leave, set a first PIN, or unlock a sign-in."""
    show = partial(_person, request, caller, person)
    comes_back(request, form, show)
    if deed == "pin":
        answer = await _first_pin(request, caller, person, form)
    elif deed == "unlock":
        answer = await acting.act(request, caller, form, UnlockSignIn(person, form.must("reason")))
    else:
        zone = await acting.zone_for(request, caller)
        with fitting():
            body = _body(deed, form, zone)
        asked = Enrol(stream(StreamKind.PERSON, person), body)
        answer = await acting.act(request, caller, form, asked, operation=body.kind)
    return await acting.answered(request, caller, answer, show)


async def _first_pin(request: Request, caller: Caller, person: str, form: Form) -> Answer:
    """Returns the answer to a first PIN, which two people set; it opens nothing but the choice of an own one."""
    parts, asked = served(request), SetPin(person)
    pin, key = form.must("first_pin"), form.key
    identity = await acting.signed(request, caller, asked.asked, form.signs)
    call = Call(asked, caller.station or "", caller.badge, form.signs.second_badge, key, identity=identity)
    opened, pins = parts.department, who.door_of(parts).pins
    return await anyio.to_thread.run_sync(
        lambda: offices.set_first(opened.ledger, opened.clock, pins, person, pin, take_of(parts, call))
    )


def _body(deed: str, form: Form, zone: str) -> Body:
    """Returns what is written down about a person.

    Raises:
        ProblemError: there is no such deed, or a field is missing or cannot be read.
    """
    match deed:
        case "badge":
            return words.BadgeGiven(badge=form.name("badge"))
        case "unbadge":
            return words.BadgeWithdrawn(badge=form.must("badge"), reason=form.must("reason"))
        case "left":
            return words.PersonLeft(reason=form.must("reason"))
        case "grant":
            return words.CompetencyGranted(
                competency=form.must("competency"),
                item_kinds=tuple((form.get("kinds") or "").split()),
                from_us=day_us(form.must("since"), zone, time.min),
                until_us=day_us(form.must("until"), zone, time(23, 59, 59)),
                assessor=form.must("assessor"),
                level="trainee" if form.get("trainee") else None,
            )
        case "withdraw":
            return words.CompetencyWithdrawn(competency=form.must("competency"), reason=form.must("reason"))
        case _:
            message = "There is no such form."
            raise ProblemError("not-found", message)
