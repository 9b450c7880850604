"""Whole tables out: CSV, Parquet, and the record as EPCIS events. Each is written whole before it is sent.

Pseudonyms of wearers go out for the scope `wearers:read` alone, names of wearers never (D13).
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from tempfile import SpooledTemporaryFile
from typing import IO, Annotated, Any, Final

from fastapi import APIRouter, Depends, Path, Query
from starlette.requests import Request
from starlette.responses import StreamingResponse

from reprocess.exchange import epcis
from reprocess.exchange.parquet import SHEETS, site_of, write_file
from reprocess.exchange.writing import TABLES, write_table
from reprocess.ledger.append import Transaction
from reprocess.record.entry import Entry
from reprocess.record.places import Site
from reprocess.service.problems import READING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import department_of, in_sight, reading
from reprocess.service.who import Caller, may_of, must, must_see, needs
from reprocess.terms import StreamKind

router = APIRouter(prefix="/exports", route_class=StrictRoute, tags=["exports"])

NAMES_WEARERS: Final = frozenset({"wearers", "entries", "touches", "due"})
"""Tables in which pseudonyms stand."""
NAMES_PEOPLE: Final = frozenset({"people", "competencies"})
IN_MEMORY: Final = 4 * 1024 * 1024
"""Bytes of an export that are held in memory; more goes into a temporary file without a name (our choice)."""
CHUNK: Final = 64 * 1024
PARQUET: Final = "application/vnd.apache.parquet"
"""As registered with IANA (from memory)."""

Exporting = Annotated[Caller, Depends(needs("read-exports"))]
Written = Callable[[IO[bytes], Transaction], object]


def _file(media_type: str) -> dict[int | str, dict[str, Any]]:
    schema = {"type": "object"} if media_type.endswith("json") else {"type": "string", "format": "binary"}
    return {200: {"description": "The whole file.", "content": {media_type: {"schema": schema}}}, **responses(*READING)}


@router.get(
    "/epcis", operation_id="export-events", responses=_file("application/ld+json"), response_class=StreamingResponse
)
def events(
    request: Request,
    who: Exporting,
    after: Annotated[int, Query(ge=0, le=2**53 - 1, description="Only entries after that one of the record.")] = 0,
) -> StreamingResponse:
    """Returns what happened as one EPCIS 2.0 document (JSON-LD); nobody who wears is named in it."""
    now_us = department_of(request).clock.now().wall_us

    def written(file: IO[bytes], read: Transaction) -> None:
        entries = (one for one in _entries(read, who) if one.feed > after)
        for part in epcis.document(epcis.events(entries, read.entries_of), now_us):
            file.write(part)

    return _sent(request, written, "application/ld+json", "events.jsonld")


def _entries(read: Transaction, who: Caller) -> Iterator[Entry]:
    """Yields the entries of the sites that a caller may see, in the order of the record."""
    known: dict[str, str] = {}
    for one in read.each_entry():
        if not who.sites or site_of(read, one.stream, one.envelope.station, known) in who.sites:
            yield one


@router.get("/{table}.csv", operation_id="export-csv", responses=_file("text/csv"), response_class=StreamingResponse)
def csv(
    request: Request, who: Exporting, table: Annotated[str, Path(pattern=rf"^({'|'.join(sorted(TABLES))})$")]
) -> StreamingResponse:
    """Returns a table as CSV (RFC 4180) with stable headings; formulas of spreadsheets are disarmed."""
    _must_name(table, who)

    def written(file: IO[bytes], read: Transaction) -> None:
        _must_see_all(read, who, by_line="site" in TABLES[table])
        text = io.TextIOWrapper(file, encoding="utf-8", newline="", write_through=True)
        write_table(text, table, read, who.sites)
        text.detach()

    return _sent(request, written, "text/csv; charset=utf-8", f"{table}.csv")


@router.get(
    "/{table}.parquet", operation_id="export-parquet", responses=_file(PARQUET), response_class=StreamingResponse
)
def parquet(
    request: Request,
    who: Exporting,
    table: Annotated[str, Path(pattern=rf"^({'|'.join(sorted(SHEETS))})$")],
    site: Annotated[str | None, Query(min_length=1, max_length=64, description="Only that site.")] = None,
    month: Annotated[
        str | None, Query(pattern=r"^\d{4}-(0[1-9]|1[0-2])$", description="Only that month of UTC.")
    ] = None,
) -> StreamingResponse:
    """Returns a table as Parquet, with what each column means in the file's metadata."""
    _must_name(table, who)
    if site is not None:
        must_see(who, site)

    def written(file: IO[bytes], read: Transaction) -> None:
        _must_see_all(read, who, by_line=site is not None)
        write_file(file, table, read, site=site, month=month)

    return _sent(request, written, PARQUET, f"{table}.parquet")


def _must_name(table: str, who: Caller) -> None:
    """Raises where a table names somebody whom the caller may not read."""
    if table in NAMES_PEOPLE:
        must(may_of(who, "read-people"))
    if table in NAMES_WEARERS and not who.names_wearers:
        message = "Wearers' pseudonyms stand in that table. Ask with the scope wearers:read."
        raise ProblemError("not-allowed", message)


def _must_see_all(read: Transaction, who: Caller, *, by_line: bool) -> None:
    """Raises where a caller is limited to some sites and the table cannot be cut down to them."""
    sites = [one.site for one in read.states_of(StreamKind.SITE) if isinstance(one, Site) and one.number]
    if not by_line and not all(in_sight(who, one) for one in sites):
        message = "That table holds every site, and you may see some. Name one site, or take another table."
        raise ProblemError("not-allowed", message)


def _sent(request: Request, written: Written, media_type: str, name: str) -> StreamingResponse:
    """Returns what was written, once it is whole: what fails on the way is told as such and never sent in part."""
    file = SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115 - it is closed when it is sent
    try:
        with reading(request) as read:
            written(file, read)
        size = file.tell()
        file.seek(0)
    except BaseException:
        file.close()
        raise
    headers = {
        "Content-Length": str(size),
        "Content-Disposition": f'attachment; filename="{name}"',
        "Cache-Control": "no-store",
    }
    return StreamingResponse(_chunks(file), headers=headers, media_type=media_type)


def _chunks(file: IO[bytes]) -> Iterator[bytes]:
    with file:
        while chunk := file.read(CHUNK):
            yield chunk
