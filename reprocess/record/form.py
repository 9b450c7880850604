"""Entries to and from their stored form; reads every kind and version that was ever written.

The canonical bytes of an entry, which are what is hashed, are the UTF-8 text of one JSON array without spaces that
holds the columns of `COLUMNS` in that order: integers as integers, absent values as null, `prev` as lower-case hex,
`body` and `answer` as strings. The body is itself a JSON object without spaces, keys sorted by code point, absent
fields left out, no floating-point numbers. Strings escape only the quotation mark, the backslash and the control
characters, as RFC 8785 does; test vectors stand in tests/record/test_form.py.
"""

from __future__ import annotations

from typing import Final

import orjson
from pydantic import ValidationError

from reprocess.errors import DamagedEntryError
from reprocess.record.entry import Entry, Envelope
from reprocess.record.moment import Moment
from reprocess.record.words import BODIES, Body

COLUMNS: Final = (
    "feed",
    "id",
    "stream",
    "number",
    "kind",
    "version",
    "occurred_us",
    "recorded_us",
    "offset_min",
    "mono_us",
    "running_us",
    "boot",
    "node",
    "actor",
    "second",
    "identity",
    "station",
    "request_key",
    "request_part",
    "request_digest",
    "body",
    "answer",
    "prev",
)
"""The columns that are hashed, in the order in which they are hashed; `digest` and `mac` follow them."""

Row = tuple[
    int, str, str, int, str, int, int, int, int, int, int | None, str, str,
    str | None, str | None, str, str | None, str, int, str, str, str | None, bytes,
]  # fmt: skip


def body_text(body: Body) -> str:
    """Returns the canonical JSON of a body."""
    fields = body.model_dump(exclude_none=True)
    return orjson.dumps(fields, option=orjson.OPT_SORT_KEYS).decode()


def row_of(entry: Entry, prev: bytes) -> Row:
    """Returns the hashed columns of an entry, in the order of `COLUMNS`."""
    envelope, moment = entry.envelope, entry.envelope.moment
    return (
        entry.feed,
        entry.id,
        entry.stream,
        entry.number,
        entry.body.kind,
        entry.body.version,
        entry.occurred_us,
        moment.wall_us,
        envelope.offset_min,
        moment.mono_us,
        moment.running_us,
        moment.boot,
        moment.node,
        envelope.actor,
        envelope.second,
        envelope.identity,
        envelope.station,
        envelope.key,
        entry.part,
        envelope.request,
        body_text(entry.body),
        entry.answer,
        prev,
    )


def canonical(row: Row) -> bytes:
    """Returns the canonical bytes of a stored row."""
    return orjson.dumps([*row[:-1], row[-1].hex()])


def read_row(row: Row) -> Entry:
    """Returns the entry that a stored row holds.

    Raises:
        DamagedEntryError: the kind and version are unknown, or the body does not fit them.
    """
    moment = Moment(row[7], row[9], row[10], row[11], row[12])
    envelope = Envelope(
        moment=moment,
        offset_min=row[8],
        actor=row[13],
        second=row[14],
        identity=row[15],
        station=row[16],
        key=row[17],
        request=row[19],
    )
    return Entry(
        feed=row[0],
        id=row[1],
        stream=row[2],
        number=row[3],
        body=read_body(row[4], row[5], row[20], at=row[0]),
        occurred_us=row[6],
        envelope=envelope,
        part=row[18],
        answer=row[21],
    )


def read_body(kind: str, version: int, text: str, *, at: int) -> Body:
    """Returns the body stored as `text`.

    Raises:
        DamagedEntryError: the kind and version are unknown, or the text does not fit them.
    """
    model = BODIES.get((kind, version))
    if model is None:
        message = f"Entry {at} is of kind {kind} version {version}, which this program does not know."
        raise DamagedEntryError(message, feed=at, kind=kind, version=version)
    try:
        return model.model_validate_json(text)
    except ValidationError as fault:
        message = f"Entry {at} ({kind}) holds a body that cannot be read."
        raise DamagedEntryError(message, feed=at, kind=kind) from fault
