"""What a caller may see and at which station it acts: sites, wearers' pseudonyms, and things by name."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from typing import Annotated, Any, Final, TypeVar

import orjson
from fastapi import Path, Query
from starlette.requests import Request
from starlette.responses import Response

from reprocess.department import Department
from reprocess.errors import UnknownSubjectError
from reprocess.gathering import state_as
from reprocess.gathering.identity import bearer_of
from reprocess.ledger.append import Transaction, looking
from reprocess.record.places import Site
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.rules import permissions
from reprocess.rules.answer import Reason
from reprocess.service.problems import ProblemError
from reprocess.service.served import Served, served
from reprocess.service.shapes import WITHHELD
from reprocess.service.who import Caller
from reprocess.terms import StreamKind, stream

NAME: Final = r"^[!-~]+$"
"""A name that stands in an address: printable ASCII without spaces."""
Named = Annotated[str, Path(min_length=1, max_length=64, pattern=NAME)]
Asked = Annotated[str | None, Query(min_length=1, max_length=64, pattern=NAME)]

Kind = TypeVar("Kind", bound=State)


def department_of(request: Request) -> Department:
    """Returns the department that a request is about."""
    return served(request).department


@contextmanager
def reading(request: Request) -> Iterator[Transaction]:
    """Yields one reading transaction on the department of a request."""
    with looking(department_of(request).ledger) as read:
        yield read


def in_sight(who: Caller, site: str) -> bool:
    """Tells whether a caller may see what belongs to a site; what belongs to none is for everybody."""
    return not who.sites or not site or site in who.sites


def seen(read: Transaction, who: Caller, kind: StreamKind, name: str, state: type[Kind]) -> Kind:
    """Returns a thing by its name.

    Raises:
        UnknownSubjectError: it is not on record, or belongs to a site that the caller may not see.
    """
    found = state_as(read, stream(kind, name), state)
    if found.number == 0 or not in_sight(who, getattr(found, "site", "")):
        raise unknown(name)
    return found


def each_seen(read: Transaction, who: Caller, kind: StreamKind, state: type[Kind]) -> Iterator[Kind]:
    """Yields everything of a kind that is on record and that the caller may see, by id."""
    for _, _, found in read.each_of(kind):
        if isinstance(found, state) and found.number and in_sight(who, getattr(found, "site", "")):
            yield found


def item_seen(read: Transaction, who: Caller, name: str) -> Standing:
    """Returns an item by its id, or by a tag that means it.

    Raises:
        UnknownSubjectError: it is not on record, or belongs to a site that the caller may not see.
    """
    item = read.item(name)
    if not item.known:
        bearer = bearer_of(read, name)
        item = read.item(bearer) if bearer is not None else item
    if not item.known or not in_sight(who, item.site):
        raise unknown(name)
    return item


_NAMED: Final = {
    "item": StreamKind.ITEM,
    "load": StreamKind.LOAD,
    "lot": StreamKind.LOT,
    "place": StreamKind.PLACE,
    "solution": StreamKind.SOLUTION,
    "instrument": StreamKind.INSTRUMENT,
}
"""What a writing request is about, by the name of its member."""


def must_be_in_sight(parts: Served, who: Caller, named: Mapping[str, Any]) -> None:
    """Raises where a request is about something of a site that the caller does not see; reading tells them the same.

    Raises:
        UnknownSubjectError: it is another site's.
    """
    with looking(parts.department.ledger) as read:
        for member, kind in _NAMED.items():
            name = named.get(member)
            if not isinstance(name, str):
                continue
            bearer = bearer_of(read, name) if kind is StreamKind.ITEM else None
            site = getattr(read.state(stream(kind, bearer or name)), "site", "")
            if site and not in_sight(who, site):
                raise unknown(name)


def unknown(name: str) -> UnknownSubjectError:
    """Returns the error of a name that is not on record, or not for this caller; the two are never told apart."""
    return UnknownSubjectError(f"{name} is not on record.", subject=name)


def zone_of(read: Transaction, site: str) -> str:
    """Returns the time zone of a site; UTC where the site is not known."""
    return state_as(read, stream(StreamKind.SITE, site), Site).zone if site else "UTC"


def for_caller(item: Standing, who: Caller) -> Standing:
    """Returns an item as this caller may see it: who wears it stands there only for the scope `wearers:read` (D13)."""
    if who.names_wearers:
        return item
    custody, wear, kept = item.custody, item.wear, item.dedication
    if custody is not None and custody.wearer is not None:
        item = replace(item, custody=replace(custody, wearer=WITHHELD))
    if wear is not None and wear.wearer is not None:
        item = replace(item, wear=replace(wear, wearer=WITHHELD))
    if kept is not None and kept.wearer is not None:
        item = replace(item, dedication=replace(kept, wearer=WITHHELD))
    return item


def without_wearers(value: Any, who: Caller) -> Any:
    """Returns the values of an entry's body as this caller may see them."""
    if who.names_wearers:
        return value
    if isinstance(value, dict):
        return {name: _hidden(one) if name in WEARING else without_wearers(one, who) for name, one in value.items()}
    return [without_wearers(one, who) for one in value] if isinstance(value, list) else value


WEARING: Final = frozenset({"wearer", "wearers"})
"""The members of an entry that hold pseudonyms."""


def _hidden(value: Any) -> Any:
    if isinstance(value, list):
        return [WITHHELD for _ in value]
    return WITHHELD if value is not None else None


def place_of(who: Caller, station: str | None, badge: str | None) -> tuple[str, str | None]:
    """Returns the station and the badge with which a caller acts.

    Raises:
        ProblemError: no station is known, or another one is named than that of the session.
    """
    own, shown = station or who.station, badge or who.badge
    if own is None:
        message = "Say at which station."
        raise ProblemError("invalid", message, errors=[{"pointer": "/station", "detail": "missing"}])
    if who.kind == "person" and (own, shown) != (who.station, who.badge):
        message = f"This session is at {who.station}, under its own badge."
        raise ProblemError("not-allowed", message)
    return own, shown


def may_not(who: Caller, operation: str, badge: str | None, site: str) -> Reason | None:
    """Returns why a caller may not ask for an operation at a site, or None where they may (A08, D10)."""
    if who.kind == "person":
        told = permissions.may_person(who.roles, operation)
    else:
        told = permissions.may_token(who.scopes, operation, badge=badge is not None)
    return told or permissions.may_at(who.sites, site)


def tagged(request: Request, number: int, told: Callable[[], dict[str, Any]]) -> Response:
    """Returns master data with its ETag, or 304 where the caller has it already (RFC 9110, section 13.1.2)."""
    tag = f'"{number}"'
    known = {one.strip().removeprefix("W/") for one in request.headers.get("if-none-match", "").split(",")}
    if tag in known or "*" in known:
        return Response(status_code=304, headers={"ETag": tag})
    return Response(orjson.dumps(told()), 200, {"ETag": tag}, "application/json")


TAGGED: Final[dict[int | str, dict[str, Any]]] = {
    304: {"description": "It did not change since the ETag that was sent."},
}
ETAG: Final[dict[str, Any]] = {"ETag": {"description": "Its version, for If-Match.", "schema": {"type": "string"}}}
