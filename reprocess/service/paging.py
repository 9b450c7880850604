"""Pages by cursor: how many at most, after which id, and where the next page is (RFC 8288)."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import islice
from typing import Annotated, Any, Final, TypeVar

from fastapi import Depends, Query
from starlette.requests import Request
from starlette.responses import Response

LIMIT_MAX: Final = 200
LIMIT: Final = 50

One = TypeVar("One")


@dataclass(frozen=True, slots=True)
class Cursor:
    """Is which page is asked for: so many at most, after the one of that id."""

    limit: int
    after: str | None


def cursor(
    limit: Annotated[int, Query(ge=1, le=LIMIT_MAX, description="How many at most.")] = LIMIT,
    after: Annotated[
        str | None,
        Query(min_length=1, max_length=64, pattern=r"^[!-~]+$", description="The last id of the page before."),
    ] = None,
) -> Cursor:
    """Returns the page that is asked for; a dependency of listing routes."""
    return Cursor(limit, after)


def numbered(
    limit: Annotated[int, Query(ge=1, le=LIMIT_MAX, description="How many at most.")] = LIMIT,
    after: Annotated[int, Query(ge=0, le=2**53 - 1, description="The last number of the page before.")] = 0,
) -> Cursor:
    """Returns the page that is asked for, where entries are told by number; a dependency of listing routes."""
    return Cursor(limit, str(after) if after else None)


Paged = Annotated[Cursor, Depends(cursor)]
Numbered = Annotated[Cursor, Depends(numbered)]


def page(
    request: Request, response: Response, found: Iterable[One], name: Callable[[One], str], asked: Cursor
) -> tuple[list[One], str | None]:
    """Returns one page and the id after which the next begins, or None; the response gets its `Link`.

    Args:
        request: what was asked.
        response: gets the header.
        found: everything, by id; no more of it is read than the page needs.
        name: the id of one.
        asked: which page.
    """
    after = asked.after
    following = (one for one in found if after is None or name(one) > after)
    return _one_page(request, response, list(islice(following, asked.limit + 1)), name, asked)


def page_of_numbers(
    request: Request, response: Response, found: Iterable[One], number: Callable[[One], int], asked: Cursor
) -> tuple[list[One], str | None]:
    """Returns one page of what is told by number, as `page` does."""
    after = int(asked.after or 0)
    following = (one for one in found if number(one) > after)
    rows = list(islice(following, asked.limit + 1))
    return _one_page(request, response, rows, lambda one: str(number(one)), asked)


def _one_page(
    request: Request, response: Response, rows: list[One], name: Callable[[One], str], asked: Cursor
) -> tuple[list[One], str | None]:
    if len(rows) <= asked.limit:
        return rows, None
    last = name(rows[asked.limit - 1])
    address = request.url.include_query_params(after=last)
    response.headers["Link"] = f'<{address.path}?{address.query}>; rel="next"'
    return rows[: asked.limit], last


PAGE_HEADERS: Final[dict[str, Any]] = {
    "Link": {"description": 'The next page, `rel="next"` (RFC 8288).', "schema": {"type": "string"}}
}
