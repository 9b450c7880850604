"""Files over HTTP: photos and statements kept beside the record, and handed out again as they came."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Final

import anyio.to_thread
import orjson
from fastapi import APIRouter, Depends, Path, Query
from pydantic import Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.engine.request import KeepFile
from reprocess.ledger import files
from reprocess.ledger.append import Transaction, looking
from reprocess.record.entry import Entry
from reprocess.record.states import FOLDINGS
from reprocess.record.words import FileKept
from reprocess.rules.answer import Answer
from reprocess.service import who
from reprocess.service.answers import AnswerOut, answer_fields, answered
from reprocess.service.asking import ask, zone_of
from reprocess.service.problems import READING, WRITING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Asked, department_of, in_sight, place_of, unknown
from reprocess.service.served import served
from reprocess.service.who import Caller, Signs
from reprocess.service.writing import Key
from reprocess.station import Call
from reprocess.terms import StreamKind, subject_of

router = APIRouter(route_class=StrictRoute, tags=["files"])

BYTES_MAX: Final = 10 * 1024 * 1024
"""Largest file that is taken over HTTP (our choice: a photo, not a film)."""


def _text(content: bytes) -> bool:
    try:
        return "\x00" not in content.decode("utf-8")
    except UnicodeDecodeError:
        return False


TYPES: Final[dict[str, Callable[[bytes], bool]]] = {
    "image/jpeg": lambda content: content.startswith(b"\xff\xd8\xff"),
    "image/png": lambda content: content.startswith(b"\x89PNG\r\n\x1a\n"),
    "image/webp": lambda content: content[:4] == b"RIFF" and content[8:12] == b"WEBP",
    "application/pdf": lambda content: content.startswith(b"%PDF-"),
    "text/csv": _text,
}
"""What is taken, and how its content begins: ITU-T T.81, B.1.1.3 (SOI, then a marker); W3C PNG, 5.2; RFC 9649, 2.4;
ISO 32000-2, 7.5.2. Nothing that a browser would run is among them."""
_RAW: Final[dict[str, Any]] = {
    "requestBody": {
        "required": True,
        "content": {one: {"schema": {"type": "string", "format": "binary"}} for one in TYPES},
    }
}
CASE, WEARER = f"{StreamKind.CASE}:", f"{StreamKind.WEARER}:"


class KeptFileOut(AnswerOut):
    """Is the answer to a file that was kept."""

    digest: str = Field(description="SHA-256 of its content in hexadecimal: its name from now on.")
    size: int = Field(description="Its bytes.")
    media_type: str = Field(examples=["image/jpeg"])


@router.post(
    "/files",
    operation_id="keep-file",
    summary="Keep a photo or a statement",
    response_class=Response,
    responses={
        200: {
            "description": "On record.",
            "model": KeptFileOut,
            "headers": {"Location": {"description": "Where it is read.", "schema": {"type": "string"}}},
        },
        **responses(*WRITING, "wrong-use"),
    },
    openapi_extra=_RAW,
)
async def keep(
    request: Request,
    key: Key,
    who_asks: Annotated[Caller, Depends(who.needs("keep-file"))],
    about: Annotated[
        str,
        Query(max_length=96, pattern=r"^[a-z]+:[!-~]{1,64}$", description="What it is about.", examples=["item:BLW-1"]),
    ],
    name: Annotated[
        str,
        Query(
            max_length=100,
            pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._()-]*$",
            description="What it is called; nobody's name should stand in it.",
            examples=["crack.jpg"],
        ),
    ],
    station: Asked = None,
    badge: Asked = None,
) -> Response:
    """The body is the file itself, up to 10 MiB; its content must be what its Content-Type says.

    It is kept under its digest first, then an entry names it. The same key with another content is refused.
    """
    own, shown = place_of(who_asks, station, badge)
    content, media_type = await _content(request)
    parts = served(request)
    await anyio.to_thread.run_sync(_must_be_on_record, request, who_asks, about)
    given = Signs(badge=badge, station=station)
    identity = await anyio.to_thread.run_sync(who.signs, request, who_asks, "keep-file", given)
    digest = await anyio.to_thread.run_sync(files.keep_file, parts.department.ledger, content)
    call = Call(KeepFile(about, digest, name, media_type, len(content)), own, shown, None, key, identity=identity)
    answer: Answer = await ask(parts, call)
    zone = await zone_of(parts, own)
    if not answer.accepted:
        return answered(request, answer, zone)
    told = answer_fields(answer, zone) | {"digest": digest, "size": len(content), "media_type": media_type}
    return Response(orjson.dumps(told), 200, {"Location": f"/v1/files/{digest}"}, "application/json")


async def _content(request: Request) -> tuple[bytes, str]:
    """Returns the file and its media type.

    Raises:
        ProblemError: it is too large, empty, of no type that is taken, or not what its type says.
    """
    media_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media_type not in TYPES:
        message = f"Send one of {', '.join(TYPES)}. Nothing was recorded."
        raise ProblemError("media-type", message)
    content = bytearray()
    async for chunk in request.stream():
        content += chunk
        if len(content) > BYTES_MAX:
            message = f"A file has at most {BYTES_MAX} bytes. Nothing was recorded."
            raise ProblemError("too-large", message)
    if not content or not TYPES[media_type](bytes(content)):
        message = f"The content is no {media_type}. Nothing was recorded."
        raise ProblemError("media-type", message)
    return bytes(content), media_type


def _must_be_on_record(request: Request, who_asks: Caller, about: str) -> None:
    """Raises where a file would be about nothing that the caller may see.

    Raises:
        UnknownSubjectError: nothing of that name is on record, or not for this caller.
    """
    with looking(department_of(request).ledger) as read:
        if not _visible(read, who_asks, about):
            raise unknown(subject_of(about))


def _visible(read: Transaction, who_asks: Caller, about: str) -> bool:
    """Tells whether a caller may see what a file is about: of cases and wearers only whoever may read those."""
    if about.partition(":")[0] not in FOLDINGS:
        return False
    if about.startswith(CASE) and who.may_of(who_asks, "read-cases") is not None:
        return False
    if about.startswith(WEARER) and not who_asks.names_wearers:
        return False
    state = read.state(about)
    return bool(state.number) and in_sight(who_asks, getattr(state, "site", ""))


@router.get(
    "/files/{digest}",
    operation_id="read-kept-file",
    summary="Hand out a kept file",
    response_class=Response,
    responses={
        200: {
            "description": "The file, as it came.",
            "content": {one: {"schema": {"type": "string", "format": "binary"}} for one in TYPES},
            "headers": {"Content-Disposition": {"description": "Its name.", "schema": {"type": "string"}}},
        },
        **responses(*READING, "unknown-subject"),
    },
)
def hand_out(
    request: Request,
    who_asks: Annotated[Caller, Depends(who.needs("read-history"))],
    digest: Annotated[str, Path(pattern=r"^[0-9a-f]{64}$", description="SHA-256 of its content.")],
) -> Response:
    """As an attachment, never to be shown in place; it is checked against its digest before it is sent."""
    body = _kept(request, who_asks, digest)
    content = files.read_file(department_of(request).ledger, digest)
    headers = {
        "Content-Disposition": f'attachment; filename="{_safe(body.name)}"',
        "X-Content-Type-Options": "nosniff",
        "Content-Security-Policy": "default-src 'none'; sandbox",
        "Cache-Control": "private, no-store",
    }
    media_type = body.media_type if body.media_type in TYPES else "application/octet-stream"
    return Response(content, 200, headers, media_type)


def _safe(name: str) -> str:
    """Returns a name that a header can carry."""
    return "".join(one if one.isascii() and (one.isalnum() or one in " ._()-") else "_" for one in name)[:100]


def _kept(request: Request, who_asks: Caller, digest: str) -> FileKept:
    """Returns what the record says of a file, as far as this caller may see it.

    Raises:
        UnknownSubjectError: no entry that the caller may see names it.
    """
    ledger = department_of(request).ledger
    with ledger.reading() as cursor:
        feeds = [one.feed for one in files.named(cursor) if one.digest == digest]
    with looking(ledger) as read:
        entries = (read.entry(feed) for feed in feeds)
        for entry in entries:
            if entry is not None and isinstance(entry.body, FileKept) and _shown(read, who_asks, entry):
                return entry.body
    raise unknown(digest)


def _shown(read: Transaction, who_asks: Caller, entry: Entry) -> bool:
    """Tells whether a caller may see a file by one entry that names it."""
    body = entry.body
    return (
        isinstance(body, FileKept)
        and in_sight(who_asks, subject_of(entry.stream))
        and _visible(read, who_asks, body.about)
    )
