"""What is printed, over HTTP: sheets of codes, tags, slips and forms as PDF/A, and the label of a released item."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query
from starlette.requests import Request
from starlette.responses import Response

from reprocess import papers
from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.gathering import local
from reprocess.languages import LANGUAGES
from reprocess.ledger.append import Transaction
from reprocess.papers import NotReleased, Released, Sheet
from reprocess.record.places import Station
from reprocess.rules.answer import Answer, Verdict
from reprocess.service.answers import answered
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Named, department_of, each_seen, item_seen, reading, seen, zone_of
from reprocess.service.who import Caller, needs
from reprocess.terms import StreamKind, stream

router = APIRouter(route_class=StrictRoute, tags=["papers"])

PDF: Final = "application/pdf"
"""As registered with IANA (RFC 8118)."""
TAGS_MOST: Final = 60
"""Tags, slips or stations of one request (our choice: a few pages, well under a second)."""
FORMS_MOST: Final = 20
"""Forms of one request (our choice)."""

Reader = Annotated[Caller, Depends(needs("read-items"))]
Language = Annotated[
    str, Query(pattern=rf"^({'|'.join(LANGUAGES)})$", description="The language of the words on it.", examples=["es"])
]
Id = Annotated[str, Query(min_length=1, max_length=64, pattern=r"^[!-~]+$")]
Items = Annotated[
    list[Id], Query(min_length=1, max_length=TAGS_MOST, description="Which items; name it once for each.")
]


def _told(*kinds: str) -> dict[int | str, dict[str, Any]]:
    """Returns what the documentation says of a route that hands out a PDF."""
    content = {PDF: {"schema": {"type": "string", "format": "binary"}}}
    headers = {"Content-Disposition": {"description": "Its name.", "schema": {"type": "string"}}}
    return {200: {"description": "PDF/A-2a.", "content": content, "headers": headers}, **responses(*READING, *kinds)}


@router.get(
    "/sheets/commands",
    operation_id="print-commands",
    summary="Print the sheet of commands",
    responses=_told(),
    response_class=Response,
)
def commands(request: Request, _who: Reader, language: Language = "en") -> Response:
    """One A4 page: a code, a word and a shape for each command, in bands that grey print keeps apart."""
    return _sent(papers.command_sheet(language), _today(request), "commands")


@router.get(
    "/sheets/defects",
    operation_id="print-defects",
    summary="Print the sheet of defects",
    responses=_told(),
    response_class=Response,
)
def defects(request: Request, _who: Reader, language: Language = "en") -> Response:
    """One A4 page: scan Fail first, then the defect."""
    return _sent(papers.defect_sheet(language), _today(request), "defects")


@router.get(
    "/sheets/forms",
    operation_id="print-forms",
    summary="Print numbered forms for downtime",
    responses=_told("wrong-use"),
    response_class=Response,
)
def forms(
    request: Request,
    _who: Reader,
    first: Annotated[
        str,
        Query(
            max_length=32,
            pattern=r"^[A-Z0-9]+(-[A-Z0-9]+)*-[0-9]+$",
            description="The first form's number.",
            examples=["FEN-0101"],
        ),
    ],
    count: Annotated[int, Query(ge=1, le=FORMS_MOST, description="How many, numbered on.")] = 1,
    language: Language = "en",
) -> Response:
    """One a page; whoever prints sees to it that no number is printed twice."""
    return _sent(papers.form_sheet(papers.numbers_from(first, count), language), _today(request), "forms")


@router.get(
    "/sheets/tags",
    operation_id="print-tags",
    summary="Print the tags of items",
    responses=_told("unknown-subject", "wrong-use"),
    response_class=Response,
)
def tags(
    request: Request,
    who: Reader,
    item: Items,
    size: Annotated[
        str,
        Query(
            pattern=rf"^({'|'.join(papers.SIZES)})$", description="Cut from A4, or a roll in mm.", examples=["50x30"]
        ),
    ] = "a4",
    language: Language = "en",
) -> Response:
    """A Data Matrix code, the id in large letters, its check character and what kind of part it is."""
    kinds = _kinds(request, who, item)
    made = papers.tag_sheet(list(kinds), kinds=kinds, size=size, language=language, banner=_banner(request))
    return _sent(made, _today(request), "tags")


@router.get(
    "/sheets/slips",
    operation_id="print-slips",
    summary="Print slips that go with items during downtime",
    responses=_told("unknown-subject", "wrong-use"),
    response_class=Response,
)
def slips(request: Request, who: Reader, item: Items, language: Language = "en") -> Response:
    """From when to when it was kept wet, who did it and who saw it; the slip names the line of a form."""
    kinds = _kinds(request, who, item)
    made = papers.slip_sheet(list(kinds), kinds=kinds, language=language, banner=_banner(request))
    return _sent(made, _today(request), "slips")


@router.get(
    "/sheets/stations",
    operation_id="print-stations",
    summary="Print the codes of stations",
    responses=_told("unknown-subject", "wrong-use"),
    response_class=Response,
)
def stations(
    request: Request,
    who: Reader,
    station: Annotated[
        list[Id], Query(max_length=TAGS_MOST, description="Which stations; all that the caller sees where absent.")
    ] = [],  # noqa: B006 - the framework copies a default
    language: Language = "en",
) -> Response:
    """Large codes, to be scanned from the place where one works."""
    with reading(request) as read:
        found = [seen(read, who, StreamKind.STATION, one, Station) for one in station] or list(
            each_seen(read, who, StreamKind.STATION, Station)
        )
    titles = {one.station: one.title for one in found}
    made = papers.station_sheet(list(titles), titles=titles, language=language, banner=_banner(request))
    return _sent(made, _today(request), "stations")


@router.get(
    "/items/{item}/label",
    operation_id="print-label",
    summary="Print the label of a released item",
    responses=_told("unknown-subject", "refused", "wrong-use"),
    response_class=Response,
)
def label(request: Request, who: Reader, item: Named, language: Language = "en") -> Response:
    """Made from the release on record; refused while the item is not ready, held, out of date, out, or a part is.

    The same release gives the same label each time.
    """
    with reading(request) as read:
        found, zone = _released(read, department_of(request), who, item)
    if isinstance(found, NotReleased):
        subject = stream(StreamKind.ITEM, found.item)
        return answered(request, Answer(Verdict.REFUSED, subject, "print-label", reasons=found.reasons), zone)
    banner = [*_banner(request), *(["example"] if department_of(request).rests_on_examples() else [])]
    released_on = local(zone, found.sealed.entry.at_us).date()
    return _sent(papers.label_sheet([found], language, banner), released_on, f"label-{found.item.item}")


def _released(read: Transaction, department: Department, who: Caller, name: str) -> tuple[Released | NotReleased, str]:
    """Returns an item with its release, or why it gets no label, and the time zone of its site."""
    item = item_seen(read, who, name)
    now_us = department.clock.now().wall_us
    return papers.released(read, department.library, item.item, now_us), zone_of(read, item.site)


def _kinds(request: Request, who: Caller, names: list[str]) -> dict[str, str]:
    """Returns what each item is, in the order in which they were named.

    Raises:
        UnknownSubjectError: one is not on record, or not for this caller.
    """
    with reading(request) as read:
        found = [item_seen(read, who, name) for name in names]
    return {one.item: one.item_kind for one in found}


def _banner(request: Request) -> list[str]:
    return ["demo"] if isinstance(department_of(request).clock, StoryClock) else []


def _today(request: Request) -> date:
    """Returns the day that a sheet bears: today at the first site."""
    department = department_of(request)
    return local(department.zone(), department.clock.now().wall_us).date()


def _sent(sheet: Sheet, day: date, name: str) -> Response:
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"', "Cache-Control": "private, no-store"}
    return Response(papers.as_pdf(sheet, day), 200, headers, PDF)
