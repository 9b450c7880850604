"""Who asks: a person at a station after badge and PIN, a token, or a screen; and whether they may.

The interface that the routes build on: `Caller`, `caller`, `needs` and `signs`; for pages also `screen_of`,
`caller_or_screen` and `by_badge`. Nobody is believed for what a request says of its sender: a session stands for a
person whose PIN was compared, a token for a program, a screen's secret for a browser at one station (D10).
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
from reprocess.rules.permissions import CLAIM, PERMISSIONS, SCREEN
from reprocess.service.limits import source_of
from reprocess.service.problems import ProblemError
from reprocess.service.served import Served, served
from reprocess.signing_in import tokens
from reprocess.signing_in.programs import Programs
from reprocess.signing_in.sessions import NOBODY, SIGNED, SIGNED_IN, Door, told
from reprocess.signing_in.sessions import Known as SignedIn
from reprocess.signing_in.sources import Sources
from reprocess.terms import StreamKind, stream

BEARER: Final = "bearer "
READS: Final = frozenset({"GET", "HEAD", "OPTIONS"})
OF_A_PAGE: Final = "x-fragment"
"""The header with which the pages' own script asks for a part of a page."""
PREFIXED: Final = "__Host-session"
PLAIN: Final = "session"
"""The cookie's name on loopback without TLS, where a browser takes no `__Host-` cookie."""
SCREEN_PREFIXED: Final = "__Host-screen"
SCREEN_PLAIN: Final = "screen"
NO_SCREEN: Final = "This is no enrolled screen. Sign in with badge and PIN."
NO_SECOND: Final = "The second person gives badge and PIN."


@dataclass(frozen=True, slots=True)
class Caller:
    """Is whoever asks.

    Attributes:
        kind: `person` in a session, `token`, or `screen` where nobody is signed in at one.
        person: who it is, for a session.
        badge: the badge of the session.
        station: the station of the session, or of the screen.
        roles: what the person is.
        scopes: what a token holds; for a person, the scopes that the roles open.
        sites: the sites that it is limited to; empty means all.
        token: the id of the token, or of the screen.
        identity: what entries keep: `signed-in`, `signed`, or `token:ID`, `claimed:ID` with the token's id; a screen
            writes none.
    """

    kind: Literal["person", "token", "screen"]
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
class Screen:
    """Is a browser at a station which an office enrolled.

    Attributes:
        token: its id, by which it is listed and withdrawn.
        station: where it stands; site: that station's site.
        label: where exactly, in the words of whoever enrolled it.
    """

    token: str
    station: str
    site: str
    label: str


@dataclass(frozen=True, slots=True)
class Signs:
    """Is what a request brings to say who did it.

    Attributes:
        pin: the caller's own, once more.
        second_badge: the badge of a second person, and second_pin: their PIN, which a screen does not always need.
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
    found = again(request) if by_itself(request) else _whose(parts, secret)
    if found is None:
        raise NotSignedInError(NOBODY)
    request.state.caller = found
    return found


def by_itself(request: Request) -> bool:
    """Tells whether an open page asks without anybody at it, which is no use of its session."""
    return request.method in READS and OF_A_PAGE in request.headers


def _whose(parts: Served, secret: str) -> Caller:
    """Returns who holds a secret.

    Raises:
        NotSignedInError: nobody does, or no longer.
    """
    if secret.startswith(tokens.TOKEN):
        return of_program(programs_of(parts).whose(secret))
    return of_person(door_of(parts).whose(secret))


async def caller_or_screen(request: Request) -> Caller:
    """Returns who asks: whoever is signed in, else the screen that the request comes from.

    Raises:
        NotSignedInError: nobody is signed in, and it comes from no screen.
        ProblemError: a browser sends the request on behalf of another site.
    """
    try:
        return await caller(request)
    except NotSignedInError:
        screen = screen_of(request)
        if screen is None:
            raise
    request.state.caller = found = of_screen(screen)
    return found


def screen_of(request: Request) -> Screen | None:
    """Returns the enrolled screen that a request comes from, or None; a withdrawn one is none.

    Raises:
        ProblemError: a browser sends the screen's cookie on behalf of another site.
    """
    parts = served(request)
    secret = _bearer_of(request)
    if secret is None or not secret.startswith(tokens.SCREEN):
        secret = request.cookies.get(screen_cookie_name(parts))
        if secret is None:
            return None
        must_be_our_own(request)
    token = programs_of(parts).screen(secret)
    if token is None or token.station is None:
        return None
    return Screen(token.token, token.station, next(iter(token.sites), ""), token.label)


def by_badge(request: Request, badge: str, station: str | None = None) -> tuple[str, SignedIn]:
    """Returns (the new session's id, who it is) of somebody in their shift, at the screen that a request comes from.

    It is the only way to `Door.by_badge`.

    Args:
        request: the HTTP request; it brings the screen's secret.
        badge: the badge as scanned.
        station: the station that the request names, which must be the screen's own; None where it names none.

    Raises:
        NotSignedInError: it comes from no screen of that station, or the badge alone does not prove enough.
        TooManyTriesError: too many tries come from this address.
    """
    screen = screen_of(request)
    if screen is None or station not in {None, screen.station}:
        raise NotSignedInError(NO_SCREEN)
    must_not_hurry(request)
    return door_of(served(request)).by_badge(badge, screen.station)


def must_not_hurry(request: Request) -> None:
    """Counts one try of whoever asks: of the screen that it comes from, else of its address of the network.

    Nobody who shares an address with a screen, as behind one router, keeps that screen from taking badges and PINs.

    Raises:
        TooManyTriesError: too many tries came from there.
    """
    screen = screen_of(request)
    source = source_of(request.scope) if screen is None else f"screen {screen.token}"
    sources_of(served(request)).tries(source)


def screen_at(request: Request, station: str) -> str | None:
    """Returns the id of the screen that a request comes from, where it is the screen of that station; else None."""
    screen = screen_of(request)
    return screen.token if screen is not None and screen.station == station else None


def end_before(request: Request) -> None:
    """Ends the session that a browser brought when somebody signed in there anew (ASVS 5.0, 7.2.4, from memory)."""
    parts = served(request)
    before, door = request.cookies.get(cookie_name(parts)), door_of(parts)
    if before is not None and door.still(before) is not None:
        door.sign_out(before, "switched")


def end_shown_by(request: Request, caller: Caller, token: str) -> None:
    """Ends the session at the station of a screen that was withdrawn: a badge alone may have opened it there.

    Whoever withdrew it goes on, where they did so at that very station; there is one session at a time at each.
    """
    parts = served(request)
    with looking(parts.department.ledger) as read:
        station = state_as(read, stream(StreamKind.TOKEN, token), Token).station
    if station is not None and station != caller.station:
        door_of(parts).end_at(station)


def again(request: Request) -> Caller | None:
    """Returns who asks as it stands now, for what takes long; None where they may ask nothing any more.

    It does not count as use: a session that nobody uses ends, however long a stream or a page stays open.
    """
    parts, secret = served(request), secret_of(request)
    if secret is None:
        return None
    if secret.startswith(tokens.TOKEN):
        token = programs_of(parts).still(secret)
        return of_program(token) if token is not None else None
    known = door_of(parts).still(secret)
    return of_person(known) if known is not None else None


def still_there(request: Request) -> Caller | None:
    """Returns whoever is signed in, else the screen that a request comes from, or None; it does not count as use."""
    found = again(request)
    if found is None and (screen := screen_of(request)) is not None:
        return of_screen(screen)
    return found


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


def of_screen(screen: Screen) -> Caller:
    """Returns the caller that a screen is where nobody is signed in: it shows its own site, and writes nothing."""
    sites, scopes = frozenset({screen.site}), frozenset({SCREEN})
    return Caller("screen", station=screen.station, scopes=scopes, sites=sites, token=screen.token, identity="")


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
    if who.kind == "screen":
        return permissions.may_screen(operation)
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

    At an enrolled screen a second person in their shift is known by the badge alone, where nobody signs.

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
    if given.second_badge is not None and given.second_pin is None and (row.second or row.signed):
        raise NotSignedInError(NO_SECOND, rule="S08")
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
    screen = screen_at(request, station)
    if given.second_badge is not None and given.second_pin is None and screen is None:
        raise NotSignedInError(NO_SECOND, rule="S08")
    must_not_hurry(request)
    if given.second_badge is not None and given.second_pin is None:
        door_of(parts).second_by_badge(given.second_badge, station)
    elif given.second_badge is not None:
        door_of(parts).second(given.second_badge, given.second_pin or "", station, screen)
    if given.pin is None:
        return who.identity
    door_of(parts).second(who.badge or "", given.pin, station, screen)
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
    if request.headers.get("authorization", ""):
        return _bearer_of(request)
    cookie = request.cookies.get(cookie_name(served(request)))
    if cookie is not None:
        must_be_our_own(request)
    return cookie


def _bearer_of(request: Request) -> str | None:
    """Returns the secret in a request's header, or None where it brings none there (RFC 6750)."""
    header = request.headers.get("authorization", "")
    return header[len(BEARER) :].strip() if header.lower().startswith(BEARER) else None


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


def screen_cookie_name(parts: Served) -> str:
    """Returns the name of the screen's cookie."""
    return SCREEN_PREFIXED if parts.secret_links else SCREEN_PLAIN


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
