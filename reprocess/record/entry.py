"""An entry: what was said (`words`) in its envelope, which says when, by whom, where and under which key."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess.record.moment import Moment
from reprocess.record.words import Body


@dataclass(frozen=True, slots=True)
class Draft:
    """Is an entry that the engine decided on and the ledger has not written yet."""

    stream: str
    body: Body
    occurred_us: int | None = None


@dataclass(frozen=True, slots=True)
class Envelope:
    """Is what all entries of one request share: when, by whom, where, under which key.

    Attributes:
        moment: the clocks at the station's node; `recorded_at` is its wall time.
        offset_min: the station's local offset from UTC, for display only.
        actor: the person, or None for what the program does by itself.
        identity: how whoever asked is known: `claimed` by a badge argument, `signed-in`, `signed` with the PIN in the
            same request, `machine`, or a program by its token's id: `token:ID`, `claimed:ID` where it named a badge;
            of a PIN that failed at a screen, `screen:ID`.
        key: the request's key, the same for every repetition of the same request.
        request: digest of the request, so that a key cannot be used for another one.
    """

    moment: Moment
    offset_min: int
    actor: str | None
    second: str | None
    station: str | None
    key: str
    request: str
    identity: str = "claimed"


@dataclass(frozen=True, slots=True)
class Entry:
    """Is one entry as it stands on record.

    Attributes:
        feed: its number in the one gap-free order of the whole record, from 1.
        number: its number in its stream, from 1.
        part: its number among the entries of one request, from 0.
        answer: what the station said, as JSON; only on part 0.
    """

    feed: int
    id: str
    stream: str
    number: int
    body: Body
    occurred_us: int
    envelope: Envelope
    part: int
    answer: str | None = None

    @property
    def kind(self) -> str:
        """Returns the stored word for what happened."""
        return self.body.kind

    @property
    def at_us(self) -> int:
        """Returns when the entry was recorded."""
        return self.envelope.moment.wall_us
