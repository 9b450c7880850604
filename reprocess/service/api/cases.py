"""Exposure cases, for occupational health, infection prevention and risk management (H07).

The list and a case in short tell nobody's pseudonym. Looking into a case, and the list of those to be told, are asked
by POST: that somebody looked is on record, and a repetition shows nothing, since nothing is recorded anew.
"""

from __future__ import annotations

from typing import Annotated, Any

import anyio.to_thread
from fastapi import APIRouter, Depends
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.department import Department
from reprocess.engine.request import ListNames, ReadCase
from reprocess.gathering import local, state_as
from reprocess.ledger.append import looking
from reprocess.ledger.names import Name
from reprocess.record.cases import Case
from reprocess.record.people import Person
from reprocess.service import who
from reprocess.service.answers import AnswerOut, answered, instant
from reprocess.service.asking import ask, zone_of
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, WRITING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Named, department_of, reading, seen
from reprocess.service.served import served
from reprocess.service.shapes import InstantOut
from reprocess.service.who import Caller
from reprocess.service.writing import Envelope, Key, call_by_hand
from reprocess.terms import StreamKind, stream
from reprocess.timetable.case import report_day

router = APIRouter(route_class=StrictRoute, tags=["cases"])
Reader = Annotated[Caller, Depends(who.needs("read-cases"))]


class CaseBriefOut(BaseModel):
    """Is a case in short: what is in doubt and how far it is settled; never whose."""

    case: str
    state: str = Field(description="`undecided`, `decided` or `closed`.")
    rule: str
    cause: str
    opened: InstantOut
    items: list[str]
    uses: int
    ungraded: int
    wearers: int
    untold: int | None = Field(description="Wearers still to be told; null where nobody is told.")
    notify: bool | None = Field(description="Whether the wearers are told; null while nobody decided.")
    report: bool | None = Field(description="Whether an authority is told; null while that is not settled.")
    report_by: str = Field(description="The last day to report, 10 work days (21 CFR 803.30).")
    closed: InstantOut | None


class CasesOut(BaseModel):
    """Is one page of cases, by id."""

    cases: list[CaseBriefOut]
    next: str | None = None


class ExposedOut(BaseModel):
    """Is one use in doubt."""

    use: int = Field(description="Its number in the case, by which it is graded.")
    item: str
    whole: str
    cycle: int
    wearer: str
    place: str | None
    since: InstantOut
    until: InstantOut | None
    grade: str | None


class CaseOut(CaseBriefOut):
    """Is a whole case, by pseudonym."""

    exposed: list[ExposedOut]
    told: dict[str, str] = Field(description="How each wearer was told, by pseudonym.")
    actions: list[str]
    copies: int = Field(description="How often the list with names was given out.")


class CaseReadOut(BaseModel):
    """Is what looking into a case answers."""

    answer: AnswerOut
    case: CaseOut | None = Field(description="Null for a repetition: ask again with a new key.")


class ToTellOut(BaseModel):
    """Is one wearer who is to be told, with the name."""

    wearer: str
    name: str | None = Field(description="Null where no name is kept.")
    badge: str | None
    contact: str | None
    grade: str = Field(description="The graver one of their uses: `gross` or `lower`.")
    told: str | None


class CaseNamesOut(BaseModel):
    """Is one copy of the list of those to be told."""

    answer: AnswerOut
    copy_number: int | None = Field(description="Null for a repetition.")
    wearers: list[ToTellOut] = Field(description="Empty for a repetition: ask again with a new key.")


@router.get(
    "/cases",
    operation_id="list-cases",
    summary="Every exposure case in short",
    response_model=CasesOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def cases(request: Request, response: Response, caller: Reader, asked: Paged) -> dict[str, Any]:
    """Lists the cases; who is concerned is not told here."""
    del caller
    with reading(request) as read:
        found = [one for one in read.states_of(StreamKind.CASE) if isinstance(one, Case) and one.number]
    zone = department_of(request).zone()
    rows, following = page(request, response, found, lambda one: one.case, asked)
    return {"cases": [_brief(one, zone) for one in rows], "next": following}


@router.get(
    "/cases/{case}",
    operation_id="read-case-brief",
    summary="One exposure case in short",
    response_model=CaseBriefOut,
    responses=responses(*READING, "unknown-subject"),
)
def case_brief(request: Request, caller: Reader, case: Named) -> dict[str, Any]:
    """Returns what is in doubt and how far the case is settled."""
    with reading(request) as read:
        found = seen(read, caller, StreamKind.CASE, case, Case)
    return _brief(found, department_of(request).zone())


@router.post(
    "/cases/{case}/read",
    operation_id="read-case",
    summary="Look into a case; that one did is on record",
    response_model=CaseReadOut,
    responses=responses(*WRITING),
)
async def case_read(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("read-case"))],
    body: Envelope,
    case: Named,
) -> Response:
    """Asks first whether the caller may see it, which is an entry, and then shows the case."""
    parts = served(request)
    call = await call_by_hand(request, caller, body, key, ReadCase(case))
    answer = await ask(parts, call)
    zone = await zone_of(parts, call.station)
    response = answered(request, answer, zone)
    if not answer.accepted:
        return response
    found = None if answer.repeated else await anyio.to_thread.run_sync(parts.department.case, case)
    told = AnswerOut.model_validate_json(bytes(response.body))
    shown = None if found is None else CaseOut.model_validate(_whole(found, zone))
    return private(CaseReadOut(answer=told, case=shown))


@router.post(
    "/cases/{case}/names",
    operation_id="list-names",
    summary="The list of those to be told, with names; every copy is on record",
    response_model=CaseNamesOut,
    responses=responses(*WRITING),
)
async def names(
    request: Request,
    key: Key,
    caller: Annotated[Caller, Depends(who.needs("list-names"))],
    body: Envelope,
    case: Named,
) -> Response:
    """Gives out a copy of the list once it is decided that wearers are told."""
    parts = served(request)
    call = await call_by_hand(request, caller, body, key, ListNames(case))
    answer, shown = await anyio.to_thread.run_sync(parts.department.desk.reveal, call)
    response = answered(request, answer, await zone_of(parts, call.station))
    if not answer.accepted:
        return response
    told = AnswerOut.model_validate_json(bytes(response.body))
    found = CaseNamesOut(answer=told, copy_number=None, wearers=[])
    if not answer.repeated:
        found = await anyio.to_thread.run_sync(_list, parts.department, case, shown, told)
    return private(found)


def private(told: BaseModel) -> Response:
    """Returns what holds names: nobody on the way keeps a copy (RFC 9111, 5.2.2.5)."""
    return Response(told.model_dump_json(), 200, {"Cache-Control": "no-store"}, "application/json")


def _list(department: Department, name: str, shown: dict[str, Name], answer: AnswerOut) -> CaseNamesOut:
    case = department.case(name)
    rows = []
    for wearer in case.wearers:
        known = shown.get(wearer) or _of_staff(department, wearer)
        rows.append(
            ToTellOut(
                wearer=wearer,
                name=known.name if known is not None else None,
                badge=known.badge if known is not None else None,
                contact=known.contact if known is not None else None,
                grade="gross" if "gross" in _grades(case, wearer) else "lower",
                told=case.told.get(wearer),
            )
        )
    return CaseNamesOut(answer=answer, copy_number=case.copies, wearers=rows)


def _grades(case: Case, wearer: str) -> set[str]:
    return {case.grades[str(number)] for number, use in enumerate(case.uses, 1) if use.wearer == wearer}


def _of_staff(department: Department, person: str) -> Name | None:
    """Returns the name of somebody who works here and wore it, or None where it is nobody of the staff."""
    with looking(department.ledger) as read:
        found = state_as(read, stream(StreamKind.PERSON, person), Person)
    return Name(found.name) if found.number else None


def _brief(case: Case, zone: str) -> dict[str, Any]:
    state = "closed" if case.closed_us is not None else "undecided" if case.notify is None else "decided"
    return {
        "case": case.case,
        "state": state,
        "rule": case.rule,
        "cause": case.cause,
        "opened": instant(case.opened_us),
        "items": list(case.items),
        "uses": len(case.uses),
        "ungraded": len(case.ungraded),
        "wearers": len(case.wearers),
        "untold": len(case.untold) if case.notify else None,
        "notify": case.notify,
        "report": case.report,
        "report_by": report_day(local(zone, case.asked_us).date()).isoformat(),
        "closed": None if case.closed_us is None else instant(case.closed_us),
    }


def _whole(case: Case, zone: str) -> dict[str, Any]:
    exposed = [
        {
            "use": number,
            "item": use.item,
            "whole": use.whole,
            "cycle": use.cycle,
            "wearer": use.wearer,
            "place": use.place,
            "since": instant(use.from_us),
            "until": None if use.until_us is None else instant(use.until_us),
            "grade": case.grades.get(str(number)),
        }
        for number, use in enumerate(case.uses, 1)
    ]
    more = {"exposed": exposed, "told": dict(case.told), "actions": list(case.actions), "copies": case.copies}
    return _brief(case, zone) | more
