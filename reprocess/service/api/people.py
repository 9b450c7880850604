"""People: who works here, what they may do until when, and who can do which step now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.definitions.model import Step, Workflow
from reprocess.enrolment import files_in_force
from reprocess.ledger.append import Transaction
from reprocess.record.people import Person
from reprocess.rules import permissions
from reprocess.service import who
from reprocess.service.answers import Instant, as_us, instant
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import ETAG, TAGGED, Asked, Named, department_of, reading, tagged, unknown
from reprocess.service.shapes import InstantOut
from reprocess.service.who import Caller
from reprocess.terms import StreamKind, stream

router = APIRouter(route_class=StrictRoute, tags=["people"])
Reader = Annotated[Caller, Depends(who.needs("read-people"))]
OVERSEEING: Final = frozenset({permissions.SUPERVISOR, *permissions.OFFICE})
"""Who sees badges: a badge is what somebody is known by at a station."""


class CompetencyOut(BaseModel):
    """Is one finding that a person can do a step, until when it counts."""

    competency: str
    item_kinds: list[str] = Field(description="The kinds of item; empty means all.")
    models: list[str] | None = Field(description="The only models that it is for; null means all.")
    level: str = Field(description="`full`, or `trainee` where a competent person must stand by (A03).")
    since: InstantOut
    until: InstantOut
    assessor: str


class PersonOut(BaseModel):
    """Is a person who works here, or did."""

    person: str
    name: str
    active: bool
    temporary: bool = Field(description="Sent by an agency, or lent for a time (A04).")
    sites: list[str] = Field(description="Empty means every site.")
    roles: list[str]
    competencies: list[CompetencyOut]
    badges: list[str] | None = Field(default=None, description="For supervisors only; else null.")


class PeopleOut(BaseModel):
    """Is one page of people."""

    people: list[PersonOut]
    next: str | None = None


class AbleOut(BaseModel):
    """Is one person in one row of the matrix."""

    person: str
    name: str
    until: InstantOut | None = Field(description="Until when it counts, or since when it counts no more.")


class CapabilityOut(BaseModel):
    """Is who can do one step on one kind of item."""

    workflow: str
    item_kind: str
    step: str
    competency: str
    able: list[AbleOut]
    trainees: list[AbleOut] = Field(description="Only beside a competent person (A03).")
    lapsed: list[AbleOut]


class CapabilitiesOut(BaseModel):
    """Is the matrix of who can do what at one instant; separate hands (S01, S02) are judged at each item."""

    at: InstantOut
    rows: list[CapabilityOut]


def in_sight(caller: Caller, person: Person) -> bool:
    """Tells whether a caller may see a person: one who works at a site of theirs, or at every site."""
    return not caller.sites or not person.sites or bool(caller.sites & set(person.sites))


def told(person: Person, caller: Caller) -> dict[str, Any]:
    """Returns a person as this caller may see them."""
    shown = PersonOut(
        person=person.person,
        name=person.name,
        active=person.active,
        temporary=person.temporary,
        sites=list(person.sites),
        roles=list(person.roles),
        competencies=[
            CompetencyOut(
                competency=one.competency,
                item_kinds=list(one.item_kinds),
                models=None if one.models is None else list(one.models),
                level=one.level or "full",
                since=instant(one.from_us),
                until=instant(one.until_us),
                assessor=one.assessor,
            )
            for one in person.competencies
        ],
        badges=list(person.badges) if _oversees(caller) else None,
    )
    return shown.model_dump()


def _oversees(caller: Caller) -> bool:
    return caller.kind == "person" and bool(caller.roles & OVERSEEING)


@router.get(
    "/people",
    operation_id="list-people",
    summary="Everybody on record, by id",
    response_model=PeopleOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def people(
    request: Request, response: Response, caller: Reader, asked: Paged, site: Asked = None, role: Asked = None
) -> dict[str, Any]:
    """Lists people; of one site (those of every site with them) or one role only where asked."""
    with reading(request) as read:
        found = (
            one
            for one in read.people()
            if in_sight(caller, one)
            and (site is None or not one.sites or site in one.sites)
            and (role is None or role in one.roles)
        )
        rows, following = page(request, response, found, lambda one: one.person, asked)
        return {"people": [told(one, caller) for one in rows], "next": following}


@router.get(
    "/people/capabilities",
    operation_id="read-capabilities",
    summary="Who can do what, now or then",
    response_model=CapabilitiesOut,
    responses=responses(*READING),
)
def capabilities(
    request: Request,
    caller: Reader,
    step: Asked = None,
    item_kind: Asked = None,
    at: Annotated[Instant | None, Query(description="Then; now where left out.")] = None,
) -> CapabilitiesOut:
    """Lists every step of the workflows in force with the people who may do it."""
    department = department_of(request)
    at_us = as_us(at) if at is not None else department.clock.now().wall_us
    with reading(request) as read:
        staff = [one for one in read.people() if one.active and in_sight(caller, one)]
        steps = _steps(files_in_force(read, department.library, Workflow).values())
        rows = [
            _row(workflow, one, staff, at_us)
            for workflow, one in steps
            if step in (None, one.step) and item_kind in (None, workflow.item_kind)
        ]
    return CapabilitiesOut(at=instant(at_us), rows=rows)


def _steps(workflows: Iterable[Workflow]) -> Iterator[tuple[Workflow, Step]]:
    for workflow in sorted(workflows, key=lambda one: (one.item_kind, one.workflow)):
        for one in workflow.steps:
            yield workflow, one


def _row(workflow: Workflow, step: Step, staff: list[Person], at_us: int) -> CapabilityOut:
    kind, needed = workflow.item_kind, step.competency_needed
    able = [one for one in staff if one.may(needed, kind, at_us)]
    trainees = [one for one in staff if one not in able and one.learns(needed, kind, at_us)]
    lapsed = [
        (one, ended) for one in staff if one not in (*able, *trainees) and (ended := one.lapsed(needed, kind, at_us))
    ]
    return CapabilityOut(
        workflow=workflow.workflow,
        item_kind=kind,
        step=step.step,
        competency=needed,
        able=[_able(one, _until_us(one, needed, kind, at_us)) for one in able],
        trainees=[_able(one, _until_us(one, needed, kind, at_us)) for one in trainees],
        lapsed=[_able(one, ended) for one, ended in lapsed],
    )


def _until_us(person: Person, competency: str, kind: str, at_us: int) -> int:
    return max(one.until_us for one in person.competencies if one.holds(competency, kind, at_us))


def _able(person: Person, until_us: int) -> AbleOut:
    return AbleOut(person=person.person, name=person.name, until=instant(until_us))


@router.get(
    "/people/{person}",
    operation_id="read-person",
    summary="One person, with competencies and their ends",
    response_model=PersonOut,
    responses={200: {"headers": ETAG}, **TAGGED, **responses(*READING, "unknown-subject")},
)
def person(request: Request, caller: Reader, person: Named) -> Response:
    """Returns one person; the ETag is what a change names in If-Match."""
    with reading(request) as read:
        found = known(read, caller, person)
    return tagged(request, found.number, lambda: told(found, caller))


def known(read: Transaction, caller: Caller, name: str) -> Person:
    """Returns a person on record whom the caller may see.

    Raises:
        UnknownSubjectError: there is none.
    """
    found = read.state(stream(StreamKind.PERSON, name))
    if not isinstance(found, Person) or not found.number or not in_sight(caller, found):
        raise unknown(name)
    return found
