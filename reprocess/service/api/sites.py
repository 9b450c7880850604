"""Sites: their time zones, their policies and the hours in which nobody is rung at."""

from __future__ import annotations

from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends
from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import Response

from reprocess.ledger.append import Transaction
from reprocess.record.places import Site
from reprocess.service import shapes
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import Named, in_sight, reading, unknown
from reprocess.service.who import Caller, needs
from reprocess.terms import StreamKind

router = APIRouter(route_class=StrictRoute, tags=["sites"])
Reader = Annotated[Caller, Depends(needs("read-places"))]
_HIDDEN: Final = ("number", "quiet")


class QuietOut(BaseModel):
    """Is the local hours in which a role is not rung at."""

    begins: str
    ends: str


SiteOut = shapes.model_of(Site, "SiteOut", leave=_HIDDEN, more={"quiet": (dict[str, QuietOut], ...)})


class SitesOut(BaseModel):
    """Is one page of sites, by id."""

    sites: list[SiteOut]  # type: ignore[valid-type]
    next: str | None = None


@router.get(
    "/sites",
    operation_id="list-sites",
    summary="Every site",
    response_model=SitesOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def sites(request: Request, response: Response, caller: Reader, asked: Paged) -> dict[str, Any]:
    """Lists the sites that the caller may see."""
    with reading(request) as read:
        rows, following = page(request, response, _seen(read, caller), lambda one: one.site, asked)
    return {"sites": [_fields(one) for one in rows], "next": following}


@router.get(
    "/sites/{site}",
    operation_id="read-site",
    summary="One site",
    response_model=SiteOut,
    responses=responses(*READING, "unknown-subject"),
)
def site(request: Request, caller: Reader, site: Named) -> dict[str, Any]:
    """Returns its title, its time zone, its policy and its quiet hours by role."""
    with reading(request) as read:
        found = next((one for one in _seen(read, caller) if one.site == site), None)
    if found is None:
        raise unknown(site)
    return _fields(found)


def _seen(read: Transaction, caller: Caller) -> list[Site]:
    found = (one for one in read.states_of(StreamKind.SITE) if isinstance(one, Site) and one.opened_us is not None)
    return [one for one in found if in_sight(caller, one.site)]


def _fields(one: Site) -> dict[str, Any]:
    quiet = {role: {"begins": begins, "ends": ends} for role, (begins, ends) in one.quiet.items()}
    return shapes.values_of(one, _HIDDEN) | {"quiet": quiet}
