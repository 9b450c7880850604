"""Versions of master data: which one was read, and that a change is made to that one (RFC 9110, 8.8.3 and 13.1).

The ETag of a person, an instrument, a place, a station, a site or a file is the number of its latest entry.
"""

from __future__ import annotations

import re
from typing import Annotated, Final

from fastapi import Header
from pydantic.json_schema import SkipJsonSchema

from reprocess.service.problems import ProblemError
from reprocess.station import NEW

ANY: Final = "*"
_TAG: Final = re.compile(r'\s*(W/)?"([\x21\x23-\x7e\x80-\xff]*)"\s*')
_OURS: Final = re.compile(r"[0-9]{1,15}")
_TAGS_MAX: Final = 20
"""Tags that one header may name (our choice)."""

IfMatch = Annotated[
    str | SkipJsonSchema[None],
    Header(description='The ETag of what was read, such as `"7"`.', max_length=400),
]


def must_match(if_match: IfMatch = None) -> tuple[int, ...]:
    """Returns the versions that a change may be made to.

    Raises:
        ProblemError: the caller names none, or any.
    """
    if if_match is None or if_match.strip() == ANY:
        message = "Read it first and send its ETag as If-Match. Nothing was recorded."
        raise ProblemError("precondition-missing", message)
    return _numbers(if_match)


def must_match_known(if_match: IfMatch = None) -> tuple[int, ...]:
    """Returns the versions that a change may be made to; without any, that nothing of the name is on record yet.

    Raises:
        ProblemError: the caller names any.
    """
    return NEW if if_match is None else must_match(if_match)


def _numbers(header: str) -> tuple[int, ...]:
    """Returns the numbers that a header names; a weak tag or a foreign one matches nothing (RFC 9110, 13.1.1)."""
    return tuple(int(tag) for weak, tag in _tags(header) if not weak and _OURS.fullmatch(tag)) or (_NOTHING,)


_NOTHING: Final = -1
"""A number that no stream stands at."""


def _tags(header: str) -> list[tuple[bool, str]]:
    found = (_TAG.fullmatch(one) for one in header.split(",")[:_TAGS_MAX])
    return [(one[1] is not None, one[2]) for one in found if one is not None]
