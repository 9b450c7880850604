"""What a scanned string is: one of our tags, a code of GS1, a maker's label, or unreadable with the reason.

Whatever comes is text and nothing else: it is never run, never looked up beyond an id, and repeated only in part and
in plain ASCII.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal

from fastapi import APIRouter, Depends, Query
from pydantic import BaseModel, Field
from starlette.requests import Request

from reprocess.gathering import state_as
from reprocess.gathering.identity import bearer_of
from reprocess.ledger.append import Transaction
from reprocess.record.lots import Lot
from reprocess.record.states import State
from reprocess.scan import code as codes
from reprocess.scan.asset import read_part
from reprocess.scan.code import CodeFault, ItemTag, Tag, Unreadable, echo, read_code
from reprocess.scan.command import read_command
from reprocess.scan.device_label import read_device_label
from reprocess.scan.identifier import DeviceIdentifier
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import department_of, in_sight, reading
from reprocess.service.who import Caller, may_of, needs
from reprocess.terms import StreamKind, as_datetime, stream

router = APIRouter(prefix="/scanned", route_class=StrictRoute, tags=["scanned"])

Sort = Literal["item", "badge", "command", "solution", "place", "form", "label", "unreadable"]
_SORTS: Final[dict[type[Tag], Sort]] = {
    codes.ItemTag: "item",
    codes.BadgeTag: "badge",
    codes.CommandTag: "command",
    codes.SolutionTag: "solution",
    codes.StationTag: "place",
    codes.FormTag: "form",
}
_STREAMS: Final[dict[Sort, tuple[StreamKind, ...]]] = {
    "solution": (StreamKind.SOLUTION,),
    "place": (StreamKind.STATION, StreamKind.PLACE),
    "form": (StreamKind.FORM,),
}


class Scan(BaseModel):
    """Is one scanned string, exactly as the scanner sent it."""

    code: str = Field(description="The string, control characters included.", examples=["I:BLW-0041.W"])


class LabelOut(BaseModel):
    """Is what a maker's label says."""

    standard: str = Field(examples=["gs1"])
    device: str = Field(description="The model, as the standard numbers it.")
    lot: str | None = None
    serial: str | None = None
    manufactured: str | None = Field(default=None, description="A date.")
    expires: str | None = Field(default=None, description="The last good day.")


class ScannedOut(BaseModel):
    """Is what a scanned string is."""

    sort: Sort
    shown: str = Field(description="The beginning of the string, with a question mark for what is not shown.")
    id: str | None = Field(default=None, description="The id in the code.")
    checked: bool | None = Field(default=None, description="Whether its check character was there, and right.")
    subject: str | None = Field(
        default=None, description="The stream on record that it means.", examples=["item:BLW-0041"]
    )
    command: str | None = Field(default=None, description="The word of the command sheet or of the defect.")
    label: LabelOut | None = None
    fault: str | None = Field(default=None, description="What kept it from being a code; a stable word.")
    reason: str | None = Field(default=None, description="The same as a sentence for whoever scanned.")


Asking = Annotated[Caller, Depends(needs("read-items"))]


@router.get("", operation_id="read-scanned", responses=responses(*READING))
def told(
    request: Request, who: Asking, code: Annotated[str, Query(description="The string.", examples=["I:BLW-0041.W"])]
) -> ScannedOut:
    """Returns what a scanned string is, and which subject on record it means."""
    return _told(request, who, code)


@router.post("", operation_id="read-scanned-of-any", responses=responses(*READING, "too-large", "media-type"))
def told_of_any(request: Request, who: Asking, scan: Scan) -> ScannedOut:
    """Returns the same for a string that does not fit into an address; nothing is recorded."""
    return _told(request, who, scan.code)


def _told(request: Request, who: Caller, text: str) -> ScannedOut:
    this_year = as_datetime(department_of(request).clock.now().wall_us).year
    found = read_code(text)
    with reading(request) as read:
        if not isinstance(found, Unreadable):
            return _tag(read, who, found, text)
        return _label(read, who, text, this_year, found)


def _tag(read: Transaction, who: Caller, tag: Tag, text: str) -> ScannedOut:
    sort = _SORTS[type(tag)]
    said = ScannedOut(sort=sort, shown=echo(text), id=tag.id, checked=tag.checked, subject=_subject(read, who, tag))
    if isinstance(tag, codes.CommandTag):
        command = read_command(tag)
        said.command = command.word if command is not None else None
    return said


def _subject(read: Transaction, who: Caller, tag: Tag) -> str | None:
    """Returns the stream that a tag means, where it is on record and the caller may see it.

    Whose a wearer's badge is, nobody is told here: that is a look behind the pseudonym, and each of those stands on
    record (I21). Issue and return take the badge as it is.
    """
    match tag:
        case codes.ItemTag():
            return _item(read, who, tag.id)
        case codes.BadgeTag():
            person = read.person_of(tag.id) if may_of(who, "read-people") is None else None
            return stream(StreamKind.PERSON, person) if person is not None else None
        case _:
            kinds = _STREAMS.get(_SORTS[type(tag)], ())
            return next((name for kind in kinds if _known(read, who, name := stream(kind, tag.id))), None)


def _item(read: Transaction, who: Caller, name: str) -> str | None:
    """Returns the item of that id, else the one that bears it as a tag."""
    own = name if read.item(name).known else bearer_of(read, name)
    return stream(StreamKind.ITEM, own) if own is not None and in_sight(who, read.item(own).site) else None


def _known(read: Transaction, who: Caller, name: str) -> bool:
    state: State = read.state(name)
    return bool(state.number) and in_sight(who, getattr(state, "site", ""))


def _label(read: Transaction, who: Caller, text: str, this_year: int, unread: Unreadable) -> ScannedOut:
    """Returns what a string is that is no tag of ours: a code of GS1, a maker's label, or unreadable."""
    label = read_device_label(text, this_year=this_year)
    part = read_part(text, this_year=this_year) if unread.fault is not CodeFault.TOO_LONG else ""
    item = part if isinstance(part, ItemTag) else None
    known = _item(read, who, item.id) if item is not None else None
    if isinstance(label, DeviceIdentifier):
        return ScannedOut(
            sort="label",
            shown=echo(text),
            id=item.id if item is not None else None,
            subject=known or _lot(read, who, label),
            label=_label_out(label),
        )
    if item is not None:
        return ScannedOut(sort="item", shown=echo(text), id=item.id, subject=known)
    theirs = unread.fault is CodeFault.MAKERS_LABEL
    fault, reason = (label.fault, label.reason) if theirs else (unread.fault, unread.reason)
    return ScannedOut(sort="unreadable", shown=echo(text), fault=str(fault), reason=reason)


def _lot(read: Transaction, who: Caller, label: DeviceIdentifier) -> str | None:
    """Returns the lot on record that a label is of: the same number, of the same model."""
    if label.lot is None:
        return None
    lot = state_as(read, stream(StreamKind.LOT, label.lot), Lot)
    own = lot.known and lot.device == label.device and in_sight(who, lot.site)
    return stream(StreamKind.LOT, label.lot) if own else None


def _label_out(label: DeviceIdentifier) -> LabelOut:
    return LabelOut(
        standard=str(label.standard),
        device=label.device,
        lot=label.lot,
        serial=label.serial,
        manufactured=label.manufactured.isoformat() if label.manufactured is not None else None,
        expires=label.expires.isoformat() if label.expires is not None else None,
    )
