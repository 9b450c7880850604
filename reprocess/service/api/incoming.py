"""Results in: washers, chargers and sensors report by themselves, each signed by a sender that is known here."""

from __future__ import annotations

import secrets
from typing import Annotated, Final

import anyio.to_thread
from fastapi import APIRouter, Path
from starlette.requests import Request
from starlette.responses import Response

from reprocess.clock import Clock
from reprocess.errors import NotSignedInError
from reprocess.receiving.results import BODY_MOST, SCHEMAS, key_of, request_of
from reprocess.receiving.sources import Source
from reprocess.reminders.signing import secret_from, verified
from reprocess.service.answers import AnswerOut, answered
from reprocess.service.asking import ask, zone_of
from reprocess.service.problems import ProblemError, responses
from reprocess.service.served import served
from reprocess.service.writing import Name
from reprocess.settings import Settings, secret_in
from reprocess.station import Call
from reprocess.terms import SECOND_US

NOBODYS: Final = secrets.token_bytes(32)
"""What an unknown source's signature is compared with, so that it takes as long as a known one's."""
SENDERS_CLOCK: Final = "senders' clock"
"""The part of a node that says what time it is outside, where the department lives in a time of its own: the demo."""
IDENTITY: Final = "machine"
"""How the entries say that whoever reported them is known: by a signature of a registered sender."""
_SCHEMA: Final = {"oneOf": [one.model_json_schema() for one in SCHEMAS.values()]}

router = APIRouter(tags=["results"])


@router.post(
    "/results/{source}",
    operation_id="report-result",
    summary="Report a result",
    response_class=Response,
    responses={
        200: {"description": "On record.", "model": AnswerOut},
        **responses("not-signed-in", "refused", "held", "key-reused", "wrong-use", "too-large", "ledger-busy"),
    },
    openapi_extra={"requestBody": {"required": True, "content": {"application/json": {"schema": _SCHEMA}}}},
)
async def result(request: Request, source: Annotated[Name, Path()]) -> Response:
    """Report the end of a load, a charge or a reading, signed as Standard Webhooks 1.0.0 says.

    `webhook-id` is kept for ever: the same message is answered with the same answer, another one under its id is
    refused. Nobody is told whether the source or the signature is unknown. A result carries no more than its record:
    what a person must see or do, a person says.
    """
    parts = served(request)
    body = await _bounded(request)
    known = await anyio.to_thread.run_sync(source_of, parts.settings, source)
    senders: Clock = parts.parts.get(SENDERS_CLOCK, parts.department.clock)
    now_s = senders.now().wall_us // SECOND_US
    keys = known.secrets if known is not None else (NOBODYS,)
    message = verified(keys, dict(request.headers), body, now_s)
    if known is None or message is None:
        refusal = "This result is not signed by a known sender; nothing was recorded."
        raise NotSignedInError(refusal)
    asked = request_of(known, body)
    key = key_of(known, message)
    call = Call(asked, known.station, None, None, key, identity=IDENTITY, sender=known.instrument)
    answer = await ask(parts, call)
    return answered(request, answer, await zone_of(parts, known.station))


def source_of(settings: Settings, name: str) -> Source | None:
    """Returns a registered sender, or None; its secrets are read anew, so that an exchange needs no restart.

    Raises:
        WrongUseError: a secret cannot be read.
    """
    found = settings.sources.get(name)
    if found is None:
        return None
    return Source(
        source=name,
        sort=found.sort,
        instrument=found.instrument,
        station=found.station,
        secrets=tuple(secret_from(secret_in(path)) for path in found.secret_files),
        checks=frozenset(found.checks),
        logger=found.logger,
    )


async def _bounded(request: Request) -> bytes:
    """Returns the body, unless it is longer than any result is.

    Raises:
        ProblemError: it is.
    """
    found = bytearray()
    async for chunk in request.stream():
        found += chunk
        if len(found) > BODY_MOST:
            message = f"A result has at most {BODY_MOST} bytes; nothing was recorded."
            raise ProblemError("too-large", message)
    return bytes(found)
