"""Items, entries and reasons in short, as several routes show them, and which items are asked for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import Depends, Query
from pydantic import BaseModel, Field

from reprocess.gathering import local
from reprocess.ledger.append import Transaction
from reprocess.record.entry import Entry
from reprocess.record.moment import Moment
from reprocess.record.standing import Standing
from reprocess.rules import life, words
from reprocess.rules.answer import Reason
from reprocess.rules.contact import clock_of
from reprocess.rules.scene import Part
from reprocess.rules.sequence import next_steps
from reprocess.service.answers import ClockOut, instant
from reprocess.service.seeing import Asked, in_sight, without_wearers
from reprocess.service.shapes import InstantOut
from reprocess.service.who import Caller
from reprocess.terms import Stage, StreamKind


class ItemLine(BaseModel):
    """Is an item in a list: where it stands, in short."""

    item: str = Field(examples=["BLW-0041"])
    item_kind: str
    model: str
    serial: str | None
    site: str
    stage: str
    since: InstantOut
    cycle: int
    place: str | None
    assembly: str | None
    custody: str | None = Field(description="issued, lent, moving, missing or swapped; none while it is here.")
    holds: list[str] = Field(description="The ids of its holds.")
    next_steps: list[str]
    clock: ClockOut | None
    usable: bool = Field(description="Whether it is ready and nothing keeps it from being used now.")


class EntryOut(BaseModel):
    """Is one entry of a history."""

    feed: int = Field(description="Its number in the whole record.")
    id: str
    stream: str = Field(examples=["item:BLW-0041"])
    number: int = Field(description="Its number in this history.")
    kind: str = Field(examples=["step-done"])
    version: int
    occurred: InstantOut
    recorded: InstantOut
    offset_min: int = Field(description="The station's offset from UTC, in minutes.")
    actor: str | None
    second: str | None
    identity: str
    station: str | None
    body: dict[str, Any] = Field(description="What it says; its schema is in the catalogue of kinds.")


@dataclass(frozen=True, slots=True)
class Filters:
    """Is which items are asked for."""

    site: str | None
    stage: str | None
    kind: str | None
    place: str | None
    held: bool | None

    def match(self, item: Standing) -> bool:
        """Tells whether an item is one of them."""
        wanted = ((self.site, item.site), (self.stage, str(item.stage)), (self.kind, item.item_kind))
        plain = all(one in (None, is_) for one, is_ in (*wanted, (self.place, item.place)))
        return plain and self.held in (None, item.held)


def filters(
    site: Asked = None,
    stage: Annotated[Stage | None, Query(description="Only this stage.")] = None,
    kind: Asked = None,
    place: Asked = None,
    held: Annotated[bool | None, Query(description="Only what is, or is not, on hold.")] = None,
) -> Filters:
    """Returns which items are asked for; a dependency."""
    return Filters(site, str(stage) if stage is not None else None, kind, place, held)


Filtered = Annotated[Filters, Depends(filters)]


def items_found(read: Transaction, who: Caller, wanted: Filters) -> Iterator[Standing]:
    """Yields the items that are asked for and that the caller may see, by id."""
    for _, _, state in read.each_of(StreamKind.ITEM):
        if isinstance(state, Standing) and in_sight(who, state.site) and wanted.match(state):
            yield state


def usable(part: Part, now: Moment) -> bool:
    """Tells whether an item is ready and nothing keeps it from being used now."""
    return part.standing.stage == Stage.READY and not life.unusable(part.workflow, part.standing, now.wall_us)


def line(part: Part, now: Moment) -> dict[str, Any]:
    """Returns an item in short."""
    item = part.standing
    return {
        "item": item.item,
        "item_kind": item.item_kind,
        "model": item.model,
        "serial": item.serial,
        "site": item.site,
        "stage": str(item.stage),
        "since": instant(item.since_us),
        "cycle": item.cycle,
        "place": item.place,
        "assembly": item.assembly,
        "custody": item.custody.sort if item.custody is not None else None,
        "holds": sorted(item.holds),
        "next_steps": list(next_steps(part.workflow, item, now.wall_us)),
        "clock": clock_fields(item, now),
        "usable": usable(part, now),
    }


def clock_fields(item: Standing, now: Moment) -> dict[str, Any] | None:
    """Returns an item's running clock, or None."""
    if item.dwell is None:
        return None
    clock = clock_of(item.dwell, now)
    return {
        "step": clock.step,
        "left_s": clock.left_s,
        "rewet_s": clock.rewet_s,
        "most_s": clock.most_s,
        "attempt": clock.attempt,
    }


def reason_fields(reason: Reason, zone: str) -> dict[str, Any]:
    """Returns a reason with its sentence and its next action; local times are those of the zone."""

    def show(at_us: int) -> str:
        return local(zone, at_us).strftime("%Y-%m-%d %H:%M:%S %z")

    return {
        "rule": reason.rule,
        "key": reason.key,
        "facts": dict(reason.facts),
        "wait_s": reason.wait_s,
        "competency": reason.competency,
        "item_kind": reason.item_kind,
        "role": reason.role,
        "helpers": list(reason.helpers),
        "sentence": words.sentence(reason, show),
        "next_action": words.next_action(reason, show),
    }


def entry_fields(entry: Entry, who: Caller) -> dict[str, Any]:
    """Returns one entry as the values of `EntryOut`."""
    envelope = entry.envelope
    return {
        "feed": entry.feed,
        "id": entry.id,
        "stream": entry.stream,
        "number": entry.number,
        "kind": entry.kind,
        "version": entry.body.version,
        "occurred": instant(entry.occurred_us),
        "recorded": instant(entry.at_us),
        "offset_min": envelope.offset_min,
        "actor": envelope.actor,
        "second": envelope.second,
        "identity": envelope.identity,
        "station": envelope.station,
        "body": without_wearers(entry.body.model_dump(mode="json", exclude_none=True), who),
    }
