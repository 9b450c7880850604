"""Master data as CSV: a dry run unless it is said otherwise, every fault with its line, then all of it or nothing."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any, Final, Literal

import anyio.to_thread
from fastapi import APIRouter, Header, Path, Query
from pydantic import BaseModel, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.exchange.reading import Fault, held
from reprocess.rules.answer import Answer
from reprocess.service import who
from reprocess.service.answers import answered
from reprocess.service.asking import zone_of
from reprocess.service.problems import READING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import NAME
from reprocess.service.served import Served, served
from reprocess.service.tables import Given, Looked, look_through, take
from reprocess.service.who import Known, Signs, may_of, must
from reprocess.service.writing import WITH_ROLES, place_of

router = APIRouter(route_class=StrictRoute, tags=["imports"])
FAULTS_MAX: Final = 500
"""Faults that one answer lists; the rest are counted (our choice)."""
CSV: Final = "text/csv"
Table = Literal["items", "people", "competencies", "lots", "places", "wearers"]
OPERATIONS: Final[dict[str, str]] = {
    "items": "commission",
    "people": WITH_ROLES,
    "competencies": "competency-granted",
    "lots": "receive-lot",
    "places": "open-place",
    "wearers": "register-wearer",
}
"""What each table asks for. People come with roles, so that two people sign their table."""


class LineFaultOut(BaseModel):
    """Is one thing that is wrong with a table."""

    line: int = Field(description="The headings are line 1.")
    column: str | None = Field(description="Null where the whole line is meant.")
    what: str
    write: str = Field(description="What to write instead.")


class ImportOut(BaseModel):
    """Is what came of a table."""

    table: str
    dry_run: bool
    lines: int
    new: int
    known: int = Field(description="Lines of which all is on record already.")
    taken: int
    faults_total: int
    faults: list[LineFaultOut]


Short = Annotated[str | None, Query(min_length=1, max_length=64, pattern=NAME)]
Secret = Annotated[str | None, Header(min_length=1, max_length=100)]


@router.post(
    "/imports/{table}",
    operation_id="import-table",
    summary="Look through a CSV table, or take it whole",
    response_model=ImportOut,
    responses=responses(
        *READING,
        "refused",
        "unknown-subject",
        "wrong-use",
        "too-large",
        "media-type",
        "wrong-origin",
        "ledger-full",
    ),
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {CSV: {"schema": {"type": "string"}, "example": "id,name,sites\nP-07,Orla Finch,LMG\n"}},
        }
    },
)
async def import_table(
    request: Request,
    caller: Known,
    table: Annotated[Table, Path(description="Which one; its headings are those of the table that goes out.")],
    *,
    dry_run: Annotated[bool, Query(description="Only look: tell every fault, take nothing.")] = True,
    station: Short = None,
    badge: Short = None,
    second_badge: Short = None,
    x_pin: Secret = None,
    x_second_pin: Secret = None,
) -> Response | ImportOut:
    """Takes what exists, never that anything is ready. The same table taken twice changes nothing the second time.

    PINs come in the headers X-Pin and X-Second-Pin, since the body is the table.
    """
    operation = OPERATIONS[table]
    must(may_of(caller, operation))
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != CSV:
        message = f"Send the table as {CSV}. Nothing was recorded."
        raise ProblemError("media-type", message)
    parts = served(request)
    place = place_of(caller, {"station": station, "badge": badge, "second_badge": second_badge})
    identity = caller.identity
    if not dry_run:
        signs = Signs(x_pin, second_badge, x_second_pin, badge, station)
        identity = await anyio.to_thread.run_sync(who.signs, request, caller, operation, signs)
    text = partial(held, await request.body())
    given = Given(table, text, None, *place, identity, caller.sites)
    return await anyio.to_thread.run_sync(_through, request, parts, given, dry_run, await zone_of(parts, place[0]))


def _through(request: Request, parts: Served, given: Given, dry: bool, zone: str) -> Response | ImportOut:
    faults: list[Fault] = []

    def keep(one: Fault) -> None:
        if len(faults) < FAULTS_MAX:
            faults.append(one)

    looked = look_through(parts.department, given, keep)
    if looked.faults or dry or not looked.new:
        return _told(given, looked, faults, taken=0, dry=dry)
    refused: Answer | None = take(parts.department, given)
    if refused is not None:
        return answered(request, refused, zone)
    return _told(given, looked, [], taken=looked.new, dry=False)


def _told(given: Given, looked: Looked, faults: list[Fault], *, taken: int, dry: bool) -> ImportOut:
    told: dict[str, Any] = {name: count for name, count in looked.fields().items() if name != "faults"}
    rows = [LineFaultOut(line=one.line, column=one.column, what=one.what, write=one.write) for one in faults]
    return ImportOut(table=given.sort, dry_run=dry, taken=taken, faults_total=looked.faults, faults=rows, **told)
