"""Sign-in and tokens: what tries, sessions and withdrawals put on record, and who decides about them (D10, A07, A08).

Whether a PIN is right is found out beside the record (`signing_in`); here only what follows from it.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final, Literal

from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision
from reprocess.engine.request.access import IssueToken, RotateKey, SetPin, UnlockSignIn, WithdrawToken
from reprocess.record import words
from reprocess.record.access import Access, Token
from reprocess.record.entry import Draft
from reprocess.record.keys import KEYS, KEYS_MAX
from reprocess.record.people import Person
from reprocess.record.places import Station
from reprocess.rules import competence, permissions
from reprocess.rules.answer import Reason
from reprocess.rules.guessing import LOCKED_AFTER, LOCKS_MANY, LOCKS_S
from reprocess.rules.scene import Scene
from reprocess.terms import DAY_S, SECOND_US, StreamKind, stream

TOKEN_DAYS: Final = 365
"""The longest life of a token, and of a screen's (our choice)."""

Failed = Literal["pin", "no-pin", "left", "badge"]


@dataclass(frozen=True, slots=True)
class Tried:
    """Is a try that failed.

    Attributes:
        access: how the sign-in of the person stood, or None where the badge means nobody.
        station: where it was tried; site: that station's site.
        signing: whether it was a signature of somebody who is signed in.
        locks: how many were locked within the last hour.
    """

    access: Access | None
    because: Failed
    station: str
    site: str
    signing: bool = False
    locks: int = 0


def failed(tried: Tried) -> list[Draft]:
    """Returns what a try that failed puts on record: one entry, and the lock where it was one too many."""
    body = words.SignInFailed(because=tried.because, signing=True if tried.signing else None)
    if tried.access is None:
        return [Draft(stream(StreamKind.STATION, tried.station), body)]
    own = stream(StreamKind.ACCESS, tried.access.person)
    failures = tried.access.failures + 1
    drafts = [Draft(own, body)]
    if failures >= LOCKED_AFTER:
        drafts.append(Draft(own, words.SignInLocked(failures=failures)))
        if (tried.locks + 1) % LOCKS_MANY == 0:
            many = words.LocksMany(times=tried.locks + 1, within_s=LOCKS_S)
            drafts.append(Draft(stream(StreamKind.SITE, tried.site), many))
    return drafts


def set_pin(scene: Scene, request: SetPin) -> Decision:
    """Decides whether an office may choose a PIN for a person: the first one, or in place of a forgotten one (A08)."""
    about = stream(StreamKind.ACCESS, request.person)
    reasons = _offices(scene, request.asked)
    if not scene.state(StreamKind.PERSON, request.person, Person).active:
        reasons.append(Reason("P06", "not-known-yet", {"subject": stream(StreamKind.PERSON, request.person)}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    return deciding.accept(scene, request, [Draft(about, words.PinSet(first=True))], about=about)


def unlock(scene: Scene, request: UnlockSignIn) -> Decision:
    """Decides whether a locked person may try again: a supervisor says so, and never for themselves."""
    about = stream(StreamKind.ACCESS, request.person)
    reasons = _offices(scene, request.asked)
    actor = scene.bench.actor
    if actor is not None and actor.person == request.person:
        reasons.append(Reason("D10", "own-sign-in", {}, role="supervisor"))
    if not scene.state(StreamKind.ACCESS, request.person, Access).failures:
        reasons.append(Reason("D10", "not-locked", {"person": request.person}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    body = words.SignInUnlocked(reason=request.reason)
    return deciding.accept(scene, request, [Draft(about, body)], about=about)


def issue_token(scene: Scene, request: IssueToken) -> Decision:
    """Decides whether a program is let in: known scopes, known sites, an end within a year, nothing beyond its issuers.

    What the issuer may not do, a second person gives who may. A screen is enrolled instead: it holds one scope, at the
    site of its station, and an office of that site enrols it.
    """
    about, now_us = stream(StreamKind.TOKEN, request.token), scene.bench.now_us
    place = scene.state(StreamKind.STATION, request.station, Station) if request.station is not None else None
    sites = request.sites if place is None else (place.site,)
    reasons = _of_program(scene, request) if place is None else _of_screen(scene, request, place)
    if not now_us < request.until_us <= now_us + TOKEN_DAYS * DAY_S * SECOND_US:
        reasons.append(Reason("D10", "token-too-long", {"most": TOKEN_DAYS}))
    if scene.state(StreamKind.TOKEN, request.token, Token).number:
        reasons.append(Reason("D10", "token-known", {"token": request.token}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    body = words.TokenIssued(
        label=request.label,
        scopes=tuple(sorted(set(request.scopes))),
        sites=tuple(sorted(set(sites))),
        until_us=request.until_us,
        station=request.station,
    )
    return deciding.accept(scene, request, [Draft(about, body)], about=about)


def _of_program(scene: Scene, request: IssueToken) -> list[Reason]:
    """Returns why a program is not let in."""
    reasons = _offices(scene, request.asked) + _strange(request, permissions.SCOPES)
    if not reasons:
        reasons = permissions.may_hand_on(competence.signers(scene.bench), request.scopes, request.sites)
    return reasons + [
        Reason("P06", "not-known-yet", {"subject": stream(StreamKind.SITE, one)})
        for one in request.sites
        if not scene.states[stream(StreamKind.SITE, one)].number
    ]


def _of_screen(scene: Scene, request: IssueToken, place: Station) -> list[Reason]:
    """Returns why a screen is not enrolled at a station."""
    reasons = _offices(scene, permissions.ENROL_SCREEN) + _strange(request, {permissions.SCREEN})
    if not place.number:
        return [*reasons, Reason("P06", "not-known-yet", {"subject": stream(StreamKind.STATION, place.station)})]
    actor = scene.bench.actor
    bar = permissions.may_at(actor.sites, place.site) if actor is not None else None
    strange = sorted(set(request.sites) - {place.site})
    if bar is None and strange:
        bar = Reason("D10", "not-your-site", {"site": strange})
    return [*reasons, bar] if bar is not None else reasons


def _strange(request: IssueToken, known: Collection[str]) -> list[Reason]:
    """Returns that a token would hold a scope that there is not for its sort, or none at all."""
    unknown = [one for one in request.scopes if one not in known]
    if request.scopes and not unknown:
        return []
    return [Reason("D10", "no-such-scope", {"scope": unknown or ["none"], "scopes": sorted(known)})]


def withdraw_token(scene: Scene, request: WithdrawToken) -> Decision:
    """Decides whether a token counts no more."""
    about = stream(StreamKind.TOKEN, request.token)
    reasons = _offices(scene, request.asked)
    if not scene.state(StreamKind.TOKEN, request.token, Token).counts(scene.bench.now_us):
        reasons.append(Reason("D10", "no-such-token", {"token": request.token}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=about)
    body = words.TokenWithdrawn(reason=request.reason)
    return deciding.accept(scene, request, [Draft(about, body)], about=about)


def rotate_key(scene: Scene, request: RotateKey) -> Decision:
    """Decides whether the record goes on under a new key: two people, one of them a system administrator (A08).

    Where nobody who works here has that role, sign-in is not used, and the offices that enrol decide.
    """
    people = [one for one in scene.states.values() if isinstance(one, Person) and one.active]
    administered = any(permissions.SYSTEM in one.roles for one in people)
    roles = {permissions.SYSTEM} if administered else permissions.OFFICE
    reasons = competence.two_with_role(scene.bench, tuple(sorted(roles)), "A08", two=True)
    if scene.new_key is None:
        reasons.append(Reason("D10", "no-key-left", {"most": KEYS_MAX}))
    if reasons or scene.new_key is None:
        return deciding.refuse(scene, request, reasons, about=KEYS)
    new = scene.new_key
    body = words.KeyRotated(number=new.number, key_id=new.key_id, before=new.before)
    return deciding.accept(scene, request, [Draft(KEYS, body)], about=KEYS)


def _offices(scene: Scene, operation: str) -> list[Reason]:
    """Returns why whoever acts may not: nobody is known, or the table gives it to other roles (A01, A08)."""
    reasons = competence.known(scene.bench)
    if reasons or scene.bench.actor is None:
        return reasons
    bar = permissions.may_person(scene.bench.actor.roles, operation)
    return [bar] if bar is not None else []
