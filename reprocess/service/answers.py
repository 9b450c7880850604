"""Answers, instants and standings as JSON: the facts, and beside each reason its sentence and the next action."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Annotated, Any, Final, Literal

import orjson
from pydantic import AfterValidator, AwareDatetime, BaseModel, BeforeValidator, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.gathering import local
from reprocess.rules import words
from reprocess.rules.answer import Answer, Verdict, as_fields
from reprocess.rules.cautions import CAUTIONS
from reprocess.service.problems import problem
from reprocess.terms import SECOND_US, as_text


def through_us(at: datetime) -> int:
    """Returns the last microsecond of an instant: told to the second, as ours go out, it means that whole second."""
    return as_us(through(at))


def through(at: datetime) -> datetime:
    """Returns the last instant of the second that an instant names, where it names no part of one."""
    return at.replace(microsecond=at.microsecond or SECOND_US - 1)


def as_us(at: datetime) -> int:
    """Returns an instant as microseconds since 1970 in UTC."""
    whole = at.astimezone(UTC) - _EPOCH
    return (whole.days * 86_400 + whole.seconds) * SECOND_US + whole.microseconds


_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


def _within_reach(at: datetime) -> datetime:
    if not _FIRST <= at.year <= _LAST:
        message = f"years from {_FIRST} to {_LAST}"
        raise ValueError(message)
    return at


_FIRST, _LAST = 1970, 2200


def _written_out(at: Any) -> Any:
    """Raises where an instant is a number: a date and a time are written out, so that nobody guesses the unit."""
    if not isinstance(at, datetime) and not (isinstance(at, str) and _RFC_3339.fullmatch(at)):
        message = "an instant as RFC 3339 writes it, such as 2026-03-05T07:05:00Z"
        raise ValueError(message)
    return at


_RFC_3339: Final = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d(\.\d{1,9})?)?([Zz]|[+-]\d\d:\d\d)", re.ASCII)
"""RFC 3339, section 5.6; the seconds may be left out, as people do."""
Instant = Annotated[AwareDatetime, AfterValidator(_within_reach), BeforeValidator(_written_out)]
"""An instant in RFC 3339 with its offset, whichever; without one it is refused."""


def instant(at_us: int) -> str:
    """Returns an instant in RFC 3339, in UTC with Z."""
    return as_text(at_us)


class ReasonOut(BaseModel):
    """Is one reason why not, or one warning."""

    rule: str = Field(description="The rule's id in the catalogue.", examples=["T01"])
    key: str = Field(description="Which sentence says it; stable, for a caller's own translations.")
    facts: dict[str, Any] = Field(default_factory=dict)
    wait_s: int | None = Field(default=None, description="Seconds after which the same request passes this rule.")
    competency: str | None = None
    item_kind: str | None = None
    role: str | None = None
    helpers: list[str] = Field(default_factory=list, description="Who can help.")
    sentence: str
    next_action: str


class ClockOut(BaseModel):
    """Is a running clock."""

    step: str
    left_s: int
    rewet_s: int | None = None
    most_s: int | None = None
    attempt: int = 1


class SignatureOut(BaseModel):
    """Is what a signature shows."""

    name: str
    meaning: str
    utc: str
    local: str
    shown: str
    second: str | None = None
    quoted: bool = False


class AnswerOut(BaseModel):
    """Is what a station says to one request; empty members are left out."""

    verdict: Literal["accepted", "refused", "held"]
    subject: str = Field(examples=["item:BLW-0041"])
    asked: str = Field(examples=["do-step"])
    step: str | None = None
    reasons: list[ReasonOut] = Field(default_factory=list)
    warnings: list[ReasonOut] = Field(default_factory=list)
    found: list[str] = Field(default_factory=list)
    stage: str | None = None
    next_steps: list[str] = Field(default_factory=list)
    clock: ClockOut | None = None
    caution: str | None = None
    cautions: list[str] = Field(default_factory=list)
    caution_texts: list[str] = Field(default_factory=list, description="The usual cautions, as they are shown.")
    key: str = ""
    repeated: bool = Field(default=False, description="Whether this answers a repetition; nothing was recorded anew.")
    signature: SignatureOut | None = None


def answer_fields(answer: Answer, zone: str) -> dict[str, Any]:
    """Returns an answer as JSON values, with sentences beside the facts; local times are those of the zone."""

    def show(at_us: int) -> str:
        return local(zone, at_us).strftime("%Y-%m-%d %H:%M:%S %z")

    told: dict[str, Any] = as_fields(answer)
    for name in ("reasons", "warnings"):
        for kept, reason in zip(told.get(name, []), getattr(answer, name), strict=True):
            kept["sentence"] = words.sentence(reason, show)
            kept["next_action"] = words.next_action(reason, show)
    keys = [one for one in (answer.caution, *answer.cautions) if one in CAUTIONS]
    if keys:
        told["caution_texts"] = [CAUTIONS[one] for one in keys]
    return told


def answered(request: Request, answer: Answer, zone: str) -> Response:
    """Returns an answer as a response: 200 where it is on record, else a problem that carries all of it."""
    told = answer_fields(answer, zone)
    if answer.verdict is Verdict.ACCEPTED:
        return Response(orjson.dumps(told), 200, media_type="application/json")
    reasons = told.get("reasons", [])
    first = [one for one in reasons if one["key"] in OUTRUN] if answer.verdict is Verdict.REFUSED else []
    kind = "held" if answer.verdict is Verdict.HELD else "outrun" if first else "refused"
    detail = next((one["sentence"] for one in (*first, *reasons)), "Nothing more is known.")
    waits = [one["wait_s"] for one in reasons if one.get("wait_s")]
    headers = {"Retry-After": str(max(waits))} if waits else None
    return problem(request, kind, detail, headers=headers, answer=told)


OUTRUN: Final = frozenset({"already-done", "already-ready", "changed-since", "issued-already"})
"""Keys of reasons that say that it was done meanwhile, by somebody else or by an earlier request of one's own (E16)."""
