"""Results from outside: small, strict schemas, and the request that each of them becomes.

A result says what a machine knows. What a person must see or do, a person says: a load whose checks are still open
waits for them, and a reading out of its limits does what it does when a person reads it.
"""

from __future__ import annotations

import json
from contextlib import suppress
from typing import Annotated, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.errors import WrongUseError
from reprocess.receiving.sources import Source

BODY_MOST: Final = 1_000_000
"""Bytes of a result at most (our choice): a logger's file of a whole day, a sample a second, has fewer."""
Name = Annotated[str, StringConstraints(min_length=1, max_length=64, pattern=r"^[!-~]+$")]
Number = Annotated[str, StringConstraints(min_length=1, max_length=20, pattern=r"^-?\d+(\.\d+)?$")]
MANY: Final = 50
"""Readings or checks in one result at most (our choice)."""


class Result(BaseModel):
    """Is the base of every result: strict, and no unknown members."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid")


class CycleResult(Result):
    """Says that a washer-disinfector stopped, and what its logger recorded.

    Attributes:
        load: the load that it ran.
        record: the text of the logger's file, as `reprocess load end --record` takes it.
        readings: decimal text by name.
        checks: what the machine itself answers, where the department lets it.
        interrupted: whether the power failed or the door was opened.
    """

    sort: Literal["washer"] = "washer"
    load: Name
    record: Annotated[str, StringConstraints(max_length=900_000)] | None = None
    readings: Annotated[dict[Name, Number], Field(max_length=MANY)] = {}
    checks: Annotated[dict[Name, bool], Field(max_length=MANY)] = {}
    interrupted: bool = False


class ChargeResult(Result):
    """Says that a battery came out of a charger, and how many charging cycles it has had since the last such result."""

    sort: Literal["charger"] = "charger"
    item: Name
    charge_cycles: Annotated[int, Field(ge=1, le=1_000)]


class ReadingResult(Result):
    """Says what a sensor of a place shows, as decimal text."""

    sort: Literal["sensor"] = "sensor"
    place: Name
    reading: Name
    value: Number


SCHEMAS: Final[dict[str, type[Result]]] = {"washer": CycleResult, "charger": ChargeResult, "sensor": ReadingResult}
"""What each sort of source may send."""


class UnfitResultError(WrongUseError):
    """Says that a result does not fit its schema, or says what its source may not say; nothing was recorded."""


def request_of(source: Source, body: bytes) -> Request:
    """Returns the request that a verified result becomes.

    Raises:
        UnfitResultError: it does not fit, with the first fault; the values in it are not repeated.
    """
    _must_say_once(source, body)
    try:
        result = SCHEMAS[source.sort].model_validate_json(body)
    except ValidationError as fault:
        first = fault.errors(include_input=False, include_url=False)[0]
        place = "/".join(str(part) for part in first["loc"])
        message = f"The result does not fit at /{place}: {first['msg']}."
        raise UnfitResultError(message, source=source.source) from fault
    match result:
        case CycleResult():
            return _ended(source, result)
        case ChargeResult():
            return asking.NoteItem(result.item, charge_cycles=result.charge_cycles)
        case ReadingResult():
            return asking.ReadPlace(result.place, result.reading, result.value, source.instrument)
        case _:
            raise TypeError(type(result))


def _must_say_once(source: Source, body: bytes) -> None:
    """Refuses a member that stands there twice: readers differ in which of them they take (RFC 8259, section 4)."""

    def once(pairs: list[tuple[str, object]]) -> None:
        if len({name for name, _ in pairs}) != len(pairs):
            message = "The result names a member twice."
            raise UnfitResultError(message, source=source.source)

    with suppress(ValueError, RecursionError):  # what is no JSON, or nests too deep, the schema refuses
        json.loads(body, object_pairs_hook=once)


def _ended(source: Source, result: CycleResult) -> Request:
    strange = sorted(set(result.checks) - source.checks)
    if strange:
        message = f"A person answers {strange[0]}, not this source."
        raise UnfitResultError(message, source=source.source)
    return asking.EndLoad(
        result.load,
        result.record,
        source.logger or source.instrument,
        dict(result.readings),
        dict(result.checks),
        interrupted=result.interrupted,
    )


def key_of(source: Source, message: str) -> str:
    """Returns the key under which a message of a source is answered: the same one for ever."""
    return f"result:{source.source}:{message}"
