"""Who stands at a bench: the station, its screen, and the person who is signed in there."""

from __future__ import annotations

from dataclasses import dataclass, replace

import anyio.to_thread
from starlette.requests import Request

from reprocess.errors import NotAllowedError, NotSignedInError
from reprocess.ledger.append import looking
from reprocess.record.places import Station
from reprocess.service import who
from reprocess.service.asking import zone_of
from reprocess.service.seeing import unknown
from reprocess.service.served import Served, served
from reprocess.service.who import Caller
from reprocess.signing_in.sessions import Known
from reprocess.terms import StreamKind, stream


@dataclass(frozen=True, slots=True)
class Place:
    """Is one bench as a request finds it.

    Attributes:
        caller: the person at it, or its screen where nobody is signed in.
        zone: the site's time zone.
        screen: whether the request comes from the station's own screen.
        name: who is signed in, in words; None where nobody is.
        since_us: since when.
    """

    caller: Caller
    station: Station
    zone: str
    screen: bool
    name: str | None = None
    since_us: int | None = None

    @property
    def person(self) -> bool:
        """Tells whether somebody is signed in, so that something can be recorded."""
        return self.caller.kind == "person"


async def place_of(request: Request, station: str) -> Place:
    """Returns the bench of a request.

    Raises:
        NotSignedInError: nobody is signed in, and it comes from no screen.
        NotAllowedError: whoever asks is at another station, or may not read items.
        UnknownSubjectError: there is no such station.
    """
    parts = served(request)
    found = await anyio.to_thread.run_sync(_station, parts, station)
    screen = who.screen_at(request, station) is not None
    caller = await _caller(request, station)
    who.must(who.may_of(caller, "read-items"))
    who.must_see(caller, found.site)
    known = await anyio.to_thread.run_sync(_known, request) if caller.kind == "person" else None
    zone = await zone_of(parts, station)
    if known is None:
        return Place(caller, found, zone, screen)
    return Place(caller, found, zone, screen, known.person.name, known.session.began_us)


def _station(parts: Served, name: str) -> Station:
    with looking(parts.department.ledger) as read:
        found = read.state(stream(StreamKind.STATION, name))
    if not isinstance(found, Station) or not found.number:
        raise unknown(name)
    return found


async def _caller(request: Request, station: str) -> Caller:
    """Returns who is signed in at the station, else the station's screen."""
    caller = await who.caller_or_screen(request)
    if caller.station == station and caller.kind in {"person", "screen"}:
        return caller
    screen = who.screen_of(request)
    if screen is not None and screen.station == station:
        request.state.caller = found = who.of_screen(screen)
        return found
    if caller.kind == "token":
        message = "A bench is for people. Sign in with badge and PIN."
        raise NotSignedInError(message)
    message = f"You are signed in at {caller.station}. Sign in at {station} to work there."
    raise NotAllowedError(message, station=station)


def _known(request: Request) -> Known | None:
    secret = who.secret_of(request)
    return who.door_of(served(request)).still(secret) if secret is not None else None


def taken_over(request: Request, place: Place, secret: str) -> Place:
    """Returns a bench once somebody else took it over, under the id of their new session."""
    known = who.door_of(served(request)).still(secret)
    if known is None:
        return place
    caller = who.of_person(known)
    request.state.caller = caller
    return replace(place, caller=caller, name=known.person.name, since_us=known.session.began_us)


async def stations_of(request: Request, caller: Caller) -> list[Station]:
    """Returns the stations that a caller may see, by id."""
    return await anyio.to_thread.run_sync(_stations, served(request), caller)


def _stations(parts: Served, caller: Caller) -> list[Station]:
    with looking(parts.department.ledger) as read:
        found = [one for one in read.states_of(StreamKind.STATION) if isinstance(one, Station)]
    return [one for one in found if not caller.sites or one.site in caller.sites]
