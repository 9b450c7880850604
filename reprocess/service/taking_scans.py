"""Takes one scan: what its strings mean, what they ask, how each thing was answered, and what may come next.

The API tells it as JSON (`api/scans.py`), the bench as a page (`pages/bench.py`); both ask here.
"""

from __future__ import annotations

import asyncio
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import anyio.to_thread
from starlette.requests import Request as HttpRequest

from reprocess.engine.request import Request
from reprocess.errors import KeyReusedError, ReprocessError
from reprocess.gathering import part_of, state_as
from reprocess.ledger.append import Transaction, looking
from reprocess.record.moment import Moment
from reprocess.record.places import Site, Station
from reprocess.rules.answer import Answer, Reason
from reprocess.rules.scene import Part
from reprocess.scan.command import Command
from reprocess.service import scanning, who
from reprocess.service.asking import ask
from reprocess.service.problems import ProblemError
from reprocess.service.rehearsing import Action, Rehearsed, rehearse
from reprocess.service.scanning import Scan, Wanted
from reprocess.service.seeing import may_not, place_of, unknown
from reprocess.service.served import Served, served
from reprocess.service.who import Caller, Signs
from reprocess.station import Call
from reprocess.terms import StreamKind, stream

TOLD_MAX: Final = 5
"""Items for which every command is rehearsed (our choice, so that a scan answers at once)."""
_USE: Final = 2

Verdict = Literal["accepted", "refused", "held"]


@dataclass(frozen=True, slots=True)
class Given:
    """Is one scan as it came.

    Attributes:
        codes: each string as the scanner sent it, in their order.
        key: of the whole scan; each request has it with `/1`, `/2` and so on.
        station: where, or None for the session's own.
        pin: the caller's own, once more, where something is signed.
        second_pin: of the second person, whose badge is among the codes.
        offered: the step that was shown as the next one, and noes: the lines of its checklist that are not so.
    """

    codes: Sequence[str]
    key: str
    station: str | None = None
    pin: str | None = None
    second_pin: str | None = None
    offered: str | None = None
    noes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Acting:
    """Is who acts where, with which second person."""

    who: Caller
    station: str
    badge: str | None
    second: str | None
    site: str
    zone: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """Is how one thing was answered.

    Attributes:
        subject: its stream.
        asked: the request's word.
        answer: the station's whole answer; None where nothing was asked.
        bar: why nothing was asked, where the caller may not.
        fault: why the request means nothing for this thing.
    """

    subject: str
    asked: str
    answer: Answer | None = None
    bar: Reason | None = None
    fault: str | None = None

    @property
    def verdict(self) -> Verdict:
        """Returns the word of the answer."""
        if self.answer is None:
            return "refused"
        return self.answer.verdict.value


@dataclass(frozen=True, slots=True)
class Possible:
    """Is one command that may be scanned next, as it would be answered now.

    Attributes:
        state: allowed, asks, refused or held.
        wait_s: seconds after which no clock stands against it, or None.
    """

    command: Command
    state: str
    wait_s: int | None


@dataclass(frozen=True, slots=True)
class Coming:
    """Is one item with its workflow as it stands now, and the commands that mean something for it."""

    part: Part
    possible: tuple[Possible, ...] = ()


@dataclass(frozen=True, slots=True)
class Taken:
    """Is everything that one scan came to."""

    acting: Acting
    scan: Scan
    wanted: Wanted
    outcomes: tuple[Outcome, ...]
    coming: tuple[Coming, ...]
    now: Moment

    @property
    def verdict(self) -> Verdict | None:
        """Returns the gravest of the outcomes; None where nothing was asked and everything was understood."""
        found = {one.verdict for one in self.outcomes}
        if self.wanted.refused is not None or (not self.outcomes and (self.scan.unread or self._lost)):
            found.add("refused")
        order: tuple[Verdict, ...] = ("held", "refused", "accepted")
        return next((one for one in order if one in found), None)

    @property
    def _lost(self) -> bool:
        """Tells whether something that is not on record was scanned."""
        return any(one.sort == scanning.UNKNOWN for one in self.scan.codes)


@dataclass(frozen=True, slots=True)
class Understood:
    """Is a scan before anything is asked: who acts, what was scanned, and which requests that makes."""

    acting: Acting
    scan: Scan
    wanted: Wanted


async def take_scan(request: HttpRequest, caller: Caller, given: Given, rehearsed_most: int = TOLD_MAX) -> Taken:
    """Returns what a scan came to: understood, asked where it asks for something, and what may come next.

    Raises:
        ProblemError: no station is known, or there are more badges than people who can act.
        UnknownSubjectError: there is no such station.
        NotSignedInError: a PIN is missing or wrong.
        ReprocessError: nothing could be recorded, or the key belongs to another scan.
    """
    found = await understand(request, caller, given)
    outcomes = await answer(request, found, given)
    return await follow(request, found, outcomes, rehearsed_most)


async def understand(request: HttpRequest, caller: Caller, given: Given) -> Understood:
    """Returns what a scan means and who acts; nothing is asked.

    Raises:
        ProblemError: no station is known, or there are more badges than people who can act.
        UnknownSubjectError: there is no such station.
    """
    return await anyio.to_thread.run_sync(_understood, served(request), caller, given)


def _understood(parts: Served, caller: Caller, given: Given) -> Understood:
    department = parts.department
    with looking(department.ledger) as read:
        now_us = department.clock.now().wall_us
        scan = scanning.understood(read, department.library, caller, given.codes, now_us)
        acting = _acting(read, caller, scan, given.station)
    scan.offered, scan.noes = given.offered, given.noes
    return Understood(acting, scan, scanning.wanted(scan, acting.station))


def _acting(read: Transaction, caller: Caller, scan: Scan, station: str | None) -> Acting:
    """Returns who acts: of a session its own person, of a token the first badge; another badge is the second person."""
    badges = [one for one in dict.fromkeys(scan.badges) if one != caller.badge]
    first = badges.pop(0) if caller.kind == "token" and badges else None
    own, badge = place_of(caller, station, first)
    if len(badges) > 1:
        message = "Two people act together at most; nothing was recorded."
        raise ProblemError("wrong-use", message)
    site = state_as(read, stream(StreamKind.STATION, own), Station).site
    if not site:
        raise unknown(own)
    zone = state_as(read, stream(StreamKind.SITE, site), Site).zone
    return Acting(caller, own, badge, next(iter(badges), None), site, zone)


async def answer(request: HttpRequest, found: Understood, given: Given) -> tuple[Outcome, ...]:
    """Returns the outcome of each request, all of them asked at the same time.

    Raises:
        NotSignedInError: a PIN is missing or wrong.
        ReprocessError: nothing could be recorded, or the key belongs to another scan.
    """
    acting, requests = found.acting, found.wanted.requests
    if not requests:
        return ()
    operations = dict.fromkeys(one.asked for _, one in requests)  # one command can mean two, by workflow
    bars = (may_not(acting.who, one, acting.badge, acting.site) for one in operations)
    bar = next((one for one in bars if one is not None), None)
    if bar is not None:
        return tuple(Outcome(subject, one.asked, bar=bar) for subject, one in requests)
    identity = await _signed(request, acting, tuple(operations), given)
    whole = hashlib.sha256(ascii(list(given.codes)).encode()).hexdigest()  # one key is for one scan
    calls = [
        Call(one, acting.station, acting.badge, acting.second, f"{given.key}/{number}", identity=identity, within=whole)
        for number, (_, one) in enumerate(requests, start=1)
    ]
    parts = served(request)
    if len(calls) > 1:  # one alone finds out by itself
        await anyio.to_thread.run_sync(parts.department.desk.must_be_unused, calls)
    told = await asyncio.gather(*(ask(parts, one) for one in calls), return_exceptions=True)
    for one in told:
        if isinstance(one, BaseException) and not _is_about_one(one):
            raise one
    return tuple(_outcome(subject, one, said) for (subject, one), said in zip(requests, told, strict=True))


async def _signed(request: HttpRequest, acting: Acting, operations: Sequence[str], given: Given) -> str:
    """Returns the identity word of all requests of a scan, the PINs compared."""
    signs = Signs(given.pin, acting.second, given.second_pin, acting.badge, acting.station)
    identity = acting.who.identity
    for operation in operations:
        if who.waits(acting.who, operation, signs):
            identity = await anyio.to_thread.run_sync(who.signs, request, acting.who, operation, signs)
        else:
            identity = who.signs(request, acting.who, operation, signs)
    return identity


def _is_about_one(fault: BaseException) -> bool:
    """Tells whether an error is about one thing of the scan only."""
    return isinstance(fault, ReprocessError) and fault.exit_code == _USE and not isinstance(fault, KeyReusedError)


def _outcome(subject: str, one: Request, said: Answer | BaseException) -> Outcome:
    if isinstance(said, Answer):
        return Outcome(subject, one.asked, said)
    return Outcome(subject, one.asked, fault=getattr(said, "sentence", str(said)))


async def follow(
    request: HttpRequest, found: Understood, outcomes: Sequence[Outcome], rehearsed_most: int = TOLD_MAX
) -> Taken:
    """Returns a scan with its outcomes and with how each of its items stands now.

    Args:
        request: the HTTP request.
        found: the scan.
        outcomes: what was asked, and how it was answered.
        rehearsed_most: items for which every command is rehearsed where none was scanned; of more, none is.
    """
    parts = served(request)
    now = parts.department.clock.now()
    coming = await anyio.to_thread.run_sync(_coming, parts, found, rehearsed_most)
    return Taken(found.acting, found.scan, found.wanted, tuple(outcomes), coming, now)


def _coming(parts: Served, found: Understood, rehearsed_most: int) -> tuple[Coming, ...]:
    """Returns how each item stands now, and what each command would be answered where none was scanned."""
    department, names = parts.department, list(found.scan.parts)
    with looking(department.ledger) as read:
        standing = [part_of(read, department.library, read.item(name)) for name in names]
    told = found.wanted.command is None and len(names) <= rehearsed_most
    return tuple(Coming(part, _possible(parts, found, part) if told else ()) for part in standing if part is not None)


def _possible(parts: Served, found: Understood, part: Part) -> tuple[Possible, ...]:
    acting = found.acting
    fitting = scanning.fitting(found.scan, part.standing.item, acting.station)
    actions = [Action(request, command.word) for command, request in fitting]
    told = rehearse(parts.department, actions, acting.station, acting.badge, acting.second)
    return tuple(_told(acting, command, one) for (command, _), one in zip(fitting, told, strict=True))


def _told(acting: Acting, command: Command, one: Rehearsed) -> Possible:
    bar = may_not(acting.who, one.action.request.asked, acting.badge, acting.site)
    waits = [reason.wait_s for reason in one.reasons if reason.wait_s is not None]
    return Possible(command, "refused" if bar is not None else one.state, max(waits, default=None))
