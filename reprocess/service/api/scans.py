"""Scans over HTTP: what a station's scanner read, and the answer that the station shows."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field, StringConstraints
from pydantic.json_schema import SkipJsonSchema
from starlette.requests import Request as HttpRequest

from reprocess.service import who
from reprocess.service.answers import AnswerOut, ClockOut, ReasonOut, answer_fields
from reprocess.service.problems import WRITING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import NAME
from reprocess.service.showing import line, reason_fields
from reprocess.service.taking_scans import Coming, Given, Outcome, Possible, Taken, take_scan
from reprocess.service.who import Caller
from reprocess.service.writing import Key

router = APIRouter(route_class=StrictRoute, tags=["scans"])
CODES_MAX: Final = 100
CODE_MAX: Final = 256
"""Longer strings are refused with the schema; what a tag or a label can hold ends long before it."""
Name = Annotated[str, StringConstraints(min_length=1, max_length=64, pattern=NAME)]


class ScanIn(BaseModel):
    """Is what was scanned, in the order in which it was: items then a command, or a command then items."""

    model_config = ConfigDict(
        extra="forbid", json_schema_extra={"examples": [{"station": "LMG-D1", "codes": ["I:BLW-0041.W", "C:RINSED"]}]}
    )

    codes: list[Annotated[str, StringConstraints(max_length=CODE_MAX)]] = Field(
        min_length=1, max_length=CODES_MAX, description="Each string as the scanner sent it."
    )
    station: Name | SkipJsonSchema[None] = Field(default=None, description="Where; a session knows its own.")
    second_pin: Annotated[str, StringConstraints(min_length=1, max_length=64)] | SkipJsonSchema[None] = Field(
        default=None, description="The PIN of the second person, whose badge is among the codes."
    )


class CodeOut(BaseModel):
    """Is what one string means."""

    seen: str = Field(description="A harmless, shortened copy of what was scanned; nothing of a badge.")
    sort: Literal[
        "item",
        "badge",
        "command",
        "defect",
        "solution",
        "station",
        "place",
        "form",
        "load",
        "instrument",
        "lot",
        "number",
        "unknown",
        "unreadable",
    ]
    name: str | None
    reason: str | None = Field(description="Why it cannot be read or is not known, and what to do.")


class OutcomeOut(BaseModel):
    """Is what one thing was answered."""

    subject: str = Field(examples=["item:BLW-0041"])
    asked: str
    verdict: Literal["accepted", "refused", "held"]
    answer: AnswerOut | None = Field(description="The station's whole answer; none where nothing was asked.")
    reasons: list[ReasonOut] = Field(description="Why nothing was asked, where the caller may not.")
    fault: str | None = Field(description="Why the request means nothing for this thing.")


class CommandOut(BaseModel):
    """Is one command that may be scanned next, as it would be answered now."""

    command: str = Field(examples=["CONTACT-DONE"])
    word: str
    state: Literal["allowed", "asks", "refused", "held"]
    wait_s: int | None = Field(description="Seconds after which no clock stands against it.")


class ComingOut(BaseModel):
    """Is one item and what may come next for it."""

    item: str
    stage: str
    holds: list[str]
    clock: ClockOut | None
    next_steps: list[str]
    commands: list[CommandOut] = Field(description="Each command that means something for it; none for many items.")


class AskOut(BaseModel):
    """Is what is to be scanned, or entered, next."""

    what: Literal["item", "command", "defect", "solution", "load", "form", "help"]
    sentence: str


class ScanOut(BaseModel):
    """Is the answer of a station to one scan."""

    station: str
    verdict: Literal["accepted", "refused", "held"] | None = Field(
        description="The gravest of the outcomes; none where nothing was asked and everything was understood."
    )
    sentence: str = Field(description="What is shown first.")
    command: str | None
    codes: list[CodeOut]
    outcomes: list[OutcomeOut]
    next: list[ComingOut]
    ask: AskOut | None


@router.post(
    "/scans",
    operation_id="scan",
    summary="Tell what was scanned, and hear what comes next",
    response_model=ScanOut,
    responses=responses(*WRITING),
)
async def scan(
    request: HttpRequest, key: Key, who_asks: Annotated[Caller, Depends(who.needs("read-items"))], body: ScanIn
) -> dict[str, Any]:
    """Items and a command are asked of the department; without a command it is told what may come next.

    One command for several items is one request for each, under the key with `/1`, `/2` and so on; they share a
    transaction where they can, and each is judged on its own; under the key of another scan none is asked. So the
    status is 200 whenever the scan was understood or refused as a scan: see `verdict`.
    """
    return _told(await take_scan(request, who_asks, Given(body.codes, key, body.station, None, body.second_pin)))


def _told(taken: Taken) -> dict[str, Any]:
    zone, wanted = taken.acting.zone, taken.wanted
    codes = taken.scan.codes
    return {
        "station": taken.acting.station,
        "verdict": taken.verdict,
        "sentence": _sentence(taken),
        "command": wanted.command.name if wanted.command is not None else None,
        "codes": [{"seen": one.seen, "sort": one.sort, "name": one.name, "reason": one.reason} for one in codes],
        "outcomes": [_outcome(one, zone) for one in taken.outcomes],
        "next": [_coming(taken, one) for one in taken.coming],
        "ask": {"what": wanted.ask.what, "sentence": wanted.ask.sentence} if wanted.ask is not None else None,
    }


def _outcome(one: Outcome, zone: str) -> dict[str, Any]:
    return {
        "subject": one.subject,
        "asked": one.asked,
        "verdict": one.verdict,
        "answer": answer_fields(one.answer, zone) if one.answer is not None else None,
        "reasons": [reason_fields(one.bar, zone)] if one.bar is not None else [],
        "fault": one.fault,
    }


def _coming(taken: Taken, one: Coming) -> dict[str, Any]:
    fields = line(one.part, taken.now)
    kept = {name: fields[name] for name in ("item", "stage", "holds", "clock", "next_steps")}
    return kept | {"commands": [_command(possible) for possible in one.possible]}


def _command(one: Possible) -> dict[str, Any]:
    return {"command": one.command.name, "word": one.command.word, "state": one.state, "wait_s": one.wait_s}


def _sentence(taken: Taken) -> str:
    if taken.wanted.refused is not None:
        return taken.wanted.refused
    for one in taken.outcomes:
        if one.verdict != "accepted":
            return _why(one, taken.acting.zone)
    if taken.outcomes:
        return "Recorded." if len(taken.outcomes) == 1 else f"Recorded: {len(taken.outcomes)}."
    reasons = [one.reason for one in taken.scan.codes if one.reason is not None]
    if reasons:
        return reasons[0]
    return taken.wanted.ask.sentence if taken.wanted.ask is not None else "Understood."


def _why(one: Outcome, zone: str) -> str:
    """Returns the first reason why not, in words."""
    if one.fault is not None:
        return one.fault
    reasons = [one.bar] if one.bar is not None else list(one.answer.reasons if one.answer is not None else ())
    return str(reason_fields(reasons[0], zone)["sentence"]) if reasons else "See the answer."
