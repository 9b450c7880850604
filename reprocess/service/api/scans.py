"""Scans over HTTP: what a station's scanner read, and the answer that the station shows."""

from __future__ import annotations

import asyncio
import hashlib
from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal

import anyio.to_thread
from fastapi import APIRouter, Depends
from pydantic import BaseModel, ConfigDict, Field, StringConstraints
from pydantic.json_schema import SkipJsonSchema
from starlette.requests import Request as HttpRequest

from reprocess.engine.request import Request
from reprocess.errors import KeyReusedError, ReprocessError
from reprocess.gathering import part_of
from reprocess.ledger.append import looking
from reprocess.rules.answer import Answer, Reason
from reprocess.scan.command import Command
from reprocess.service import scanning, who
from reprocess.service.answers import AnswerOut, ClockOut, ReasonOut, answer_fields
from reprocess.service.asking import ask, zone_of
from reprocess.service.problems import WRITING, ProblemError, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.rehearsing import Action, Rehearsed, rehearse
from reprocess.service.scanning import Scan, Wanted
from reprocess.service.seeing import NAME, may_not, place_of, unknown
from reprocess.service.served import Served, served
from reprocess.service.showing import line, reason_fields
from reprocess.service.who import Caller, Signs
from reprocess.service.writing import Key
from reprocess.station import Call

router = APIRouter(route_class=StrictRoute, tags=["scans"])
CODES_MAX: Final = 100
CODE_MAX: Final = 256
"""Longer strings are refused with the schema; what a tag or a label can hold ends long before it."""
TOLD_MAX: Final = 5
"""Items for which every command is rehearsed (our choice, so that a scan answers at once)."""
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


@dataclass(frozen=True, slots=True)
class _Acting:
    """Is who acts where, with which second person."""

    who: Caller
    station: str
    badge: str | None
    second: str | None
    site: str
    zone: str


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
    parts = served(request)
    read = await anyio.to_thread.run_sync(_understood, parts, who_asks, body)
    acting = await _acting(parts, who_asks, read, body.station)
    found = scanning.wanted(read, acting.station)
    outcomes = await _asked(request, acting, found, key, body)
    coming = await anyio.to_thread.run_sync(_coming, parts, acting, read, found)
    return _told(acting, read, found, outcomes, coming)


def _understood(parts: Served, who_asks: Caller, body: ScanIn) -> Scan:
    department = parts.department
    with looking(department.ledger) as read:
        now_us = department.clock.now().wall_us
        return scanning.understood(read, department.library, who_asks, body.codes, now_us)


async def _acting(parts: Served, who_asks: Caller, scan: Scan, station: str | None) -> _Acting:
    """Returns who acts: of a session its own person, of a token the first badge; another badge is the second person.

    Raises:
        ProblemError: no station is known, or there are more badges than people who can act.
        UnknownSubjectError: there is no such station.
    """
    badges = [one for one in dict.fromkeys(scan.badges) if one != who_asks.badge]
    first = badges.pop(0) if who_asks.kind == "token" and badges else None
    own, badge = place_of(who_asks, station, first)
    if len(badges) > 1:
        message = "Two people act together at most; nothing was recorded."
        raise ProblemError("wrong-use", message)
    site = await anyio.to_thread.run_sync(parts.department.site_of_station, own)
    if not site:
        raise unknown(own)
    return _Acting(who_asks, own, badge, next(iter(badges), None), site, await zone_of(parts, own))


async def _asked(request: HttpRequest, acting: _Acting, found: Wanted, key: str, body: ScanIn) -> list[dict[str, Any]]:
    """Returns the outcome of each request, all of them asked at the same time.

    Raises:
        ReprocessError: nothing could be recorded, or the key belongs to another scan.
    """
    if not found.requests:
        return []
    operations = dict.fromkeys(one.asked for _, one in found.requests)  # one command can mean two, by workflow
    bars = [may_not(acting.who, one, acting.badge, acting.site) for one in operations]
    bar = next((one for one in bars if one is not None), None)
    if bar is not None:
        return [_barred(subject, one, bar, acting.zone) for subject, one in found.requests]
    given = Signs(None, acting.second, body.second_pin, acting.badge, acting.station)
    identity = acting.who.identity
    for operation in operations:
        identity = await anyio.to_thread.run_sync(who.signs, request, acting.who, operation, given)
    whole = hashlib.sha256(ascii(body.codes).encode()).hexdigest()
    calls = [
        Call(one, acting.station, acting.badge, acting.second, f"{key}/{number}", identity=identity, within=whole)
        for number, (_, one) in enumerate(found.requests, start=1)
    ]
    parts = served(request)
    await anyio.to_thread.run_sync(parts.department.desk.must_be_unused, calls)
    answers = await asyncio.gather(*(ask(parts, one) for one in calls), return_exceptions=True)
    for one in answers:
        if isinstance(one, BaseException) and not _is_about_one(one):
            raise one
    return [
        _outcome(subject, call.request, answer, acting.zone)
        for (subject, _), call, answer in zip(found.requests, calls, answers, strict=True)
    ]


def _is_about_one(fault: BaseException) -> bool:
    """Tells whether an error is about one thing of the scan only."""
    return isinstance(fault, ReprocessError) and fault.exit_code == _USE and not isinstance(fault, KeyReusedError)


_USE: Final = 2


def _barred(subject: str, one: Request, bar: Reason, zone: str) -> dict[str, Any]:
    told = {"subject": subject, "asked": one.asked, "verdict": "refused", "answer": None, "fault": None}
    return told | {"reasons": [reason_fields(bar, zone)]}


def _outcome(subject: str, one: Request, answer: Answer | BaseException, zone: str) -> dict[str, Any]:
    told: dict[str, Any] = {"subject": subject, "asked": one.asked, "reasons": [], "fault": None, "answer": None}
    if isinstance(answer, Answer):
        return told | {"verdict": str(answer.verdict), "answer": answer_fields(answer, zone)}
    return told | {"verdict": "refused", "fault": getattr(answer, "sentence", str(answer))}


def _coming(parts: Served, acting: _Acting, scan: Scan, found: Wanted) -> list[dict[str, Any]]:
    """Returns where each item stands now, and what each command would be answered where none was scanned."""
    department = parts.department
    now = department.clock.now()
    names = list(scan.parts)
    with looking(department.ledger) as read:
        standing = [part_of(read, department.library, read.item(name)) for name in names]
    told = []
    for part in (one for one in standing if one is not None):
        fields = line(part, now)
        commands = [] if found.command is not None or len(names) > TOLD_MAX else _commands(parts, acting, scan, part)
        kept = {name: fields[name] for name in ("item", "stage", "holds", "clock", "next_steps")}
        told.append(kept | {"commands": commands})
    return told


def _commands(parts: Served, acting: _Acting, scan: Scan, part: Any) -> list[dict[str, Any]]:
    fitting = scanning.fitting(scan, part.standing.item, acting.station)
    actions = [Action(request, command.word) for command, request in fitting]
    told = rehearse(parts.department, actions, acting.station, acting.badge, acting.second)
    return [_command(acting, command, one) for (command, _), one in zip(fitting, told, strict=True)]


def _command(acting: _Acting, command: Command, one: Rehearsed) -> dict[str, Any]:
    bar = may_not(acting.who, one.action.request.asked, acting.badge, acting.site)
    waits = [reason.wait_s for reason in one.reasons if reason.wait_s is not None]
    return {
        "command": command.name,
        "word": command.word,
        "state": "refused" if bar is not None else one.state,
        "wait_s": max(waits, default=None),
    }


def _told(
    acting: _Acting, scan: Scan, found: Wanted, outcomes: list[dict[str, Any]], coming: list[dict[str, Any]]
) -> dict[str, Any]:
    verdicts = {one["verdict"] for one in outcomes}
    if found.refused is not None or (scan.unread and not outcomes) or _lost(scan, outcomes):
        verdicts.add("refused")
    gravest = next((one for one in ("held", "refused", "accepted") if one in verdicts), None)
    return {
        "station": acting.station,
        "verdict": gravest,
        "sentence": _sentence(scan, found, outcomes),
        "command": found.command.name if found.command is not None else None,
        "codes": [{"seen": one.seen, "sort": one.sort, "name": one.name, "reason": one.reason} for one in scan.codes],
        "outcomes": outcomes,
        "next": coming,
        "ask": {"what": found.ask.what, "sentence": found.ask.sentence} if found.ask is not None else None,
    }


def _lost(scan: Scan, outcomes: list[dict[str, Any]]) -> bool:
    """Tells whether something that is not on record was scanned and nothing was asked about it."""
    return not outcomes and any(one.sort == scanning.UNKNOWN for one in scan.codes)


def _sentence(scan: Scan, found: Wanted, outcomes: list[dict[str, Any]]) -> str:
    if found.refused is not None:
        return found.refused
    for one in outcomes:
        if one["verdict"] != "accepted":
            told = one["reasons"] or (one["answer"] or {}).get("reasons", [])
            return str(one["fault"] or (told[0]["sentence"] if told else "See the answer."))
    if outcomes:
        return "Recorded." if len(outcomes) == 1 else f"Recorded: {len(outcomes)}."
    reasons = [one.reason for one in scan.codes if one.reason is not None]
    if reasons:
        return reasons[0]
    return found.ask.sentence if found.ask is not None else "Understood."
