"""Who asks: a person at a station after badge and PIN, or a token; and whether they may.

The interface that the routes build on: `Caller`, `caller`, `needs` and `signs`. Nobody is believed for what a request
says of its sender: a session stands for a person whose PIN was compared, a token for a program (D10).
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, Final, Literal

from fastapi import Depends
from starlette.requests import Request

from reprocess.errors import NotAllowedError, NotSignedInError
from reprocess.gathering import person_by_badge, state_as
from reprocess.ledger.append import looking
from reprocess.record.access import Token
from reprocess.record.places import Station
from reprocess.rules import permissions
from reprocess.rules.answer import Reason
from reprocess.rules.permissions import CLAIM, PERMISSIONS
from reprocess.service.limits import source_of
from reprocess.service.problems import ProblemError
from reprocess.service.served import Served, served
from reprocess.signing_in import tokens
from reprocess.signing_in.programs import Programs
from reprocess.signing_in.sessions import SIGNED, SIGNED_IN, Door, told
from reprocess.signing_in.sessions import Known as SignedIn
from reprocess.signing_in.sources import Sources
from reprocess.terms import StreamKind, stream

BEARER: Final = "bearer "
READS: Final = frozenset({"GET", "HEAD", "OPTIONS"})
PREFIXED: Final = "__Host-session"
PLAIN: Final = "session"
"""The cookie's name on loopback without TLS, where a browser takes no `__Host-` cookie."""


@dataclass(frozen=True, slots=True)
class Caller:
    """Is whoever asks.

    Attributes:
        kind: `person` in a session, or `token`.
        person: who it is, for a session.
        badge: the badge of the session.
        station: the station of the session.
        roles: what the person is.
        scopes: what a token holds; for a person, the scopes that the roles open.
        sites: the sites that it is limited to; empty means all.
        token: the id of the token.
        identity: what entries keep: `signed-in`, `signed`, or `token:ID`, `claimed:ID` with the token's id.
    """

    kind: Literal["person", "token"]
    person: str | None = None
    badge: str | None = None
    station: str | None = None
    roles: frozenset[str] = frozenset()
    scopes: frozenset[str] = frozenset()
    sites: frozenset[str] = frozenset()
    token: str | None = None
    identity: str = SIGNED_IN

    @property
    def names_wearers(self) -> bool:
        """Tells whether pseudonyms of wearers may be shown to this caller."""
        return "wearers:read" in self.scopes


@dataclass(frozen=True, slots=True)
class Signs:
    """Is what a request brings to say who did it.

    Attributes:
        pin: the caller's own, once more.
        second_badge: the badge of a second person, and second_pin: their PIN.
        badge: the badge that a token names.
        station: the station that the request names, where it is not the session's.
    """

    pin: str | None = None
    second_badge: str | None = None
    second_pin: str | None = None
    badge: str | None = None
    station: str | None = None


async def caller(request: Request) -> Caller:
    """Returns who asks.

    Raises:
        NotSignedInError: nobody is known to ask.
        ProblemError: a browser sends the request on behalf of another site.
    """
    parts = served(request)
    secret = secret_of(request)
    if secret is None:
        message = "Nobody is signed in. Sign in, or send a token."
        raise NotSignedInError(message)
    request.state.caller = found = _whose(parts, secret)
    return found


def _whose(parts: Served, secret: str) -> Caller:
    """Returns who holds a secret.

    Raises:
        NotSignedInError: nobody does, or no longer.
    """
    if secret.startswith(tokens.TOKEN):
        return of_program(programs_of(parts).whose(secret))
    return of_person(door_of(parts).whose(secret))


def again(request: Request) -> Caller | None:
    """Returns who asks as it stands now, for what takes long; None where they may ask nothing any more.

    It does not count as use: a session that nobody uses ends, however long a stream stays open.
    """
    parts, secret = served(request), secret_of(request)
    if secret is None:
        return None
    if secret.startswith(tokens.TOKEN):
        token = programs_of(parts).still(secret)
        return of_program(token) if token is not None else None
    known = door_of(parts).still(secret)
    return of_person(known) if known is not None else None


def of_program(token: Token) -> Caller:
    """Returns the caller that a program with a token is."""
    scopes, sites = frozenset(token.scopes), frozenset(token.sites)
    return Caller("token", scopes=scopes, sites=sites, token=token.token, identity=f"token:{token.token}")


def of_person(known: SignedIn) -> Caller:
    """Returns the caller that somebody is who is signed in."""
    person = known.person
    return Caller(
        "person",
        person=person.person,
        badge=known.session.badge,
        station=known.session.station,
        roles=frozenset(person.roles),
        scopes=permissions.scopes_of(person.roles),
        sites=frozenset(person.sites),
    )


Known = Annotated[Caller, Depends(caller)]


@lru_cache(maxsize=1024)
def needs(operation: str) -> Callable[[Caller], Coroutine[Any, Any, Caller]]:
    """Returns a dependency that gives the caller where they may do an operation (rules/permissions.py).

    The dependency raises NotAllowedError where they may not. What only the request's own members tell (a badge that
    a token names, a PIN, a station) `signs` looks at.
    """

    async def may(who: Known) -> Caller:
        must(may_of(who, operation))
        return who

    return may


def may_of(who: Caller, operation: str) -> Reason | None:
    """Returns why a caller may not ask for an operation at all, or None where they may."""
    if who.kind == "person":
        return permissions.may_person(who.roles, operation)
    return permissions.may_token(who.scopes, operation, badge=CLAIM in who.scopes)


def must(bar: Reason | None) -> None:
    """Raises where there is a reason why not.

    Raises:
        NotAllowedError: with the reason in words.
    """
    if bar is not None:
        raise NotAllowedError(told(bar), rule=bar.rule, key=bar.key)


def must_see(who: Caller, site: str) -> None:
    """Raises where a caller is limited to other sites.

    Raises:
        NotAllowedError: with the site.
    """
    must(permissions.may_at(who.sites, site))


def signs(request: Request, who: Caller, operation: str, given: Signs) -> str:
    """Returns the identity word for one request: checks the PINs that it must bring, or brings.

    Raises:
        NotSignedInError: a PIN is missing or wrong.
        TooManyTriesError: wait first.
        NotAllowedError: the caller may not do this, or not at this station, or not for this badge.
    """
    must(may_of(who, operation))
    if who.kind == "token":
        return _of_token(request, who, operation, given)
    row = PERMISSIONS[operation]
    if row.signed and given.pin is None:
        message = "This is signed. Give your PIN in the same request."
        raise NotSignedInError(message, rule="D10")
    if row.second and given.second_badge is None:
        message = "A second person signs too. They give badge and PIN in the same request."
        raise NotSignedInError(message, rule="S08")
    if given.second_badge is not None and given.second_pin is None:
        message = "The second person gives badge and PIN."
        raise NotSignedInError(message, rule="S08")
    return _compared(request, who, given)


def waits(who: Caller, operation: str, given: Signs) -> bool:
    """Tells whether `signs` compares or reads anything for a request, so that it should run in a thread."""
    row = PERMISSIONS[operation]
    return who.kind == "token" or row.signed or row.second or bool(given.pin or given.second_badge)


def _compared(request: Request, who: Caller, given: Signs) -> str:
    """Returns the identity word after the PINs that were given are found right."""
    parts, station = served(request), who.station or ""
    if given.pin is None and given.second_badge is None:
        return who.identity
    sources_of(parts).tries(source_of(request.scope))
    if given.second_badge is not None:
        door_of(parts).second(given.second_badge, given.second_pin or "", station)
    if given.pin is None:
        return who.identity
    door_of(parts).second(who.badge or "", given.pin, station)
    return SIGNED


def _of_token(request: Request, who: Caller, operation: str, given: Signs) -> str:
    badge = given.badge is not None or given.second_badge is not None
    must(permissions.may_token(who.scopes, operation, badge=badge))
    if given.badge is not None or who.sites:
        _must_be_theirs(request, who, operation, given)
    return f"claimed:{who.token}" if badge else who.identity


def _must_be_theirs(request: Request, who: Caller, operation: str, given: Signs) -> None:
    """Raises where a token names a person who may not do this, or a station of a site that is not its own."""
    with looking(served(request).department.ledger) as read:
        person = person_by_badge(read, given.badge) if given.badge is not None else None
        place = state_as(read, stream(StreamKind.STATION, given.station or ""), Station)
    if person is not None:
        must(permissions.may_person(person.roles, operation))
    if place.number:
        must_see(who, place.site)


def secret_of(request: Request) -> str | None:
    """Returns the session's id or the token that a request brings: in its header, else in its cookie.

    Raises:
        ProblemError: a browser sends the cookie on behalf of another site.
    """
    header = request.headers.get("authorization", "")
    if header:
        return header[len(BEARER) :].strip() if header.lower().startswith(BEARER) else None
    cookie = request.cookies.get(cookie_name(served(request)))
    if cookie is not None:
        must_be_our_own(request)
    return cookie


def must_be_our_own(request: Request) -> None:
    """Raises where a writing request with a cookie does not come from a page of this server (ASVS 5.0, 3.5.1-3.5.3).

    Raises:
        ProblemError: it comes from elsewhere, or does not say from where.
    """
    if request.method in READS:
        return
    fetched = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    own = origin is not None and origin.partition("://")[2] == request.headers.get("host")
    if (fetched == "same-origin" and origin is None) or (own and fetched in (None, "same-origin")):
        return
    message = "The request does not come from this server's own pages; nothing was recorded."
    raise ProblemError("wrong-origin", message)


def cookie_name(parts: Served) -> str:
    """Returns the name of the session's cookie."""
    return PREFIXED if parts.secret_links else PLAIN


def door_of(parts: Served) -> Door:
    """Returns what lets people in at this node; there is one, so that its turns are counted together."""
    with _MAKING:
        if "door" not in parts.parts:
            parts.parts["door"] = Door(parts.department.ledger, parts.department.clock)
    found: Door = parts.parts["door"]
    return found


def programs_of(parts: Served) -> Programs:
    """Returns what knows the programs with a token."""
    return Programs(parts.department.ledger, parts.department.clock)


def sources_of(parts: Served) -> Sources:
    """Returns what counts tries by address of the network, in the memory of this node."""
    with _MAKING:
        if "sources" not in parts.parts:
            parts.parts["sources"] = Sources(parts.department.clock)
    found: Sources = parts.parts["sources"]
    return found


_MAKING: Final = threading.Lock()
