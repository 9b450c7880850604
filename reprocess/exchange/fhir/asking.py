"""What a page of a search asks for, read from the parameters of a request; what is not served is refused.

Source: HL7 FHIR R5 (5.0.0), page "search": tokens, references, and dates with the prefixes ge, gt, le and lt.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

from reprocess.errors import WrongUseError
from reprocess.exchange.fhir.bundles import SEARCHES
from reprocess.exchange.fhir.terms import Seeing
from reprocess.terms import DAY_S, SECOND_US, instant

COUNT: Final = 50
COUNT_MAX: Final = 200
"""Resources of one page, and the most that may be asked for (our choice)."""
_PARAMETER: Final = re.compile(r"(ge|gt|le|lt)?(\d{4}-\d\d-\d\d(?:T\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d))?)")


@dataclass(frozen=True, slots=True)
class Search:
    """Is what one page asks for.

    Attributes:
        token: of `identifier`, with its system where one is given, else None.
        about: the Device that is the subject, the focus or the entity.
        since_us: not changed before that instant; until_us: not after it.
        after: where the page begins: after that id, or after that entry.
    """

    kind: str
    count: int = COUNT
    id: str | None = None
    status: str | None = None
    token: tuple[str | None, str] | None = None
    about: str | None = None
    since_us: int | None = None
    until_us: int | None = None
    after: str | None = None


def search_of(kind: str, asked: Iterable[tuple[str, str]], seeing: Seeing) -> Search:
    """Returns what the parameters of a request ask for.

    Raises:
        WrongUseError: one of them is not served, stands twice, or cannot be read.
    """
    known = {name for name, _ in SEARCHES[kind]}
    found: dict[str, Any] = {}
    for name, value in asked:
        if name not in known | {"_count", "_after", "_format"}:
            message = f"There is no search by {name[:40]!r} here."
            raise WrongUseError(message)
        if name == "_lastUpdated":
            found |= _between(value, found)
            continue
        for key, read in _read(kind, name, value, seeing).items():
            if key in found:
                message = f"{name} stands twice."
                raise WrongUseError(message)
            found[key] = read
    return Search(kind, **found)


def _read(kind: str, name: str, value: str, seeing: Seeing) -> dict[str, Any]:
    match name:
        case "_count":
            return {"count": _count(value)}
        case "_after":
            return {"after": value}
        case "_format":
            if value not in {"json", "application/json", "application/fhir+json"}:
                message = "Only application/fhir+json is served."
                raise WrongUseError(message)
            return {}
        case "_id":
            return {"id": value}
        case "status":
            return {"status": value}
        case "identifier":
            system, bar, rest = value.rpartition("|")
            return {"token": (system if bar else None, rest)}
        case _:
            return {"about": _about(kind, value, seeing)}


def _count(value: str) -> int:
    if not (value.isascii() and value.isdigit() and len(value) <= len("000000") and int(value) > 0):
        message = "`_count` is a whole number from 1."
        raise WrongUseError(message)
    return min(int(value), COUNT_MAX)


def _about(kind: str, value: str, seeing: Seeing) -> str:
    """Returns the id that a reference names: of a Device, or a wearer's pseudonym where the issues to one are asked."""
    if kind == "DeviceDispense" and not seeing.wearers:
        message = "Wearers are masked here; ask with the scope for them."
        raise WrongUseError(message)
    name = value.removeprefix("Practitioner/" if kind == "DeviceDispense" else "Device/")
    if "/" in name:
        message = "Only a Device can be named here; of an issue, a Practitioner by pseudonym."
        raise WrongUseError(message)
    return name


def _between(value: str, found: dict[str, Any]) -> dict[str, Any]:
    read = _PARAMETER.fullmatch(value)
    span = None if read is None else _span(read[2])
    if read is None or span is None:
        message = "`_lastUpdated` is a day or an instant with its offset, after ge, gt, le or lt."
        raise WrongUseError(message)
    begins, ends = span
    told: dict[str, Any] = {
        "ge": {"since_us": begins},
        "gt": {"since_us": ends},
        "le": {"until_us": ends - 1},
        "lt": {"until_us": begins - 1},
    }.get(read[1], {"since_us": begins, "until_us": ends - 1})
    if told.keys() & found.keys():
        message = "`_lastUpdated` says the same end twice."
        raise WrongUseError(message)
    return told


def _span(text: str) -> tuple[int, int] | None:
    """Returns the instants between which a day (of UTC) or a second lies; None where the calendar has none such."""
    try:
        if "T" not in text:
            begins_us = instant(datetime.fromisoformat(f"{date.fromisoformat(text)}T00:00:00+00:00"))
            return begins_us, begins_us + DAY_S * SECOND_US
        at_us = instant(datetime.fromisoformat(text))
    except ValueError:
        return None
    return at_us, at_us + (1 if "." in text else SECOND_US)
