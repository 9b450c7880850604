"""The label of an item that was released: made from the release on record alone, and only while that release stands.

A label is paper: it cannot follow the record. So it names the entry that it was made from, and nothing is printed for
an item that is not ready, is held, out of date or out of the house, or whose parts are. The same release gives the same
label each time it is printed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from reprocess.definitions.model import Workflow
from reprocess.errors import InvariantError, UnknownSubjectError
from reprocess.gathering import Library, local_text, part_of, parts_of, state_as
from reprocess.languages import Text, Texts
from reprocess.ledger.append import Transaction
from reprocess.ledger.feed import Sealed
from reprocess.papers.letters import printable
from reprocess.papers.sheets import ENGLISH, Label, Labels, Line, Sheet, Size, code_of, must_be_few, spoken
from reprocess.papers.tags import banners, kind_of
from reprocess.record import words
from reprocess.record.custody import Custody
from reprocess.record.entry import Entry
from reprocess.record.places import Site
from reprocess.record.standing import Standing
from reprocess.rules import assembly, life
from reprocess.rules.answer import Reason
from reprocess.rules.custody_out import itself_out
from reprocess.rules.scene import Part
from reprocess.scan.code import ItemTag
from reprocess.terms import Stage, StreamKind, stream

LABEL: Final = Size("label", width=80, height=50, across=1, symbol_most=22, letters_most=18)
"""One label of a roll, width by height in millimetres (our choice)."""
LABELS_MOST: Final = 50
"""Labels of one file at most (our choice)."""
DIGITS: Final = 16
"""Hexadecimal digits of a digest on a label: enough to find the entry again, not to prove it (our choice)."""


@dataclass(frozen=True, slots=True)
class Released:
    """Is an item whose release stands, with the entry that released it.

    Attributes:
        sealed: the entry with its digest.
        body: what that entry says.
        workflow: the workflow under which it was released.
        zone: the time zone of the item's site.
    """

    item: Standing
    sealed: Sealed
    body: words.ItemReleased
    workflow: Workflow
    zone: str


@dataclass(frozen=True, slots=True)
class NotReleased:
    """Is an item that gets no label, with every reason."""

    item: str
    reasons: tuple[Reason, ...]


def released(read: Transaction, library: Library, name: str, now_us: int) -> Released | NotReleased:
    """Returns an item with the release that stands on record, or why it gets no label.

    Raises:
        UnknownSubjectError: no such item is on record.
        InvariantError: the item is called ready and no entry that stands says so.
    """
    part = part_of(read, library, read.item(name))
    if part is None:
        message = f"{name} is not on record."
        raise UnknownSubjectError(message, item=name)
    item = part.standing
    reasons = _in_the_way(part, parts_of(read, library, tuple(item.members.values())), now_us)
    reasons += itself_out(replace(item, custody=_with_the_whole(read, item)))
    if reasons:
        return NotReleased(item.item, tuple(reasons))
    sealed, body = _release_of(read, part)
    zone = state_as(read, stream(StreamKind.SITE, item.site), Site).zone
    return Released(item, sealed, body, part.workflow, zone)


def _in_the_way(part: Part, members: dict[str, Part], now_us: int) -> list[Reason]:
    """Returns why an item gets no label: not ready, held, out of date, or a part is."""
    item = part.standing
    if item.stage != Stage.READY:
        return [Reason("U02", "not-ready-to-issue", {"item": item.item, "stage": str(item.stage)})]
    reasons = life.unusable(part.workflow, item, now_us)
    for name in item.members.values():
        reasons += _of_member(item, members[name], now_us)
    return reasons


def _with_the_whole(read: Transaction, item: Standing) -> Custody | None:
    """Returns who has an item: by its own record, or with the assembly that it is built into."""
    if item.custody is not None or item.assembly is None:
        return item.custody
    return read.item(item.assembly).custody


def _of_member(whole: Standing, part: Part, now_us: int) -> Iterator[Reason]:
    member = part.standing
    if member.assembly != whole.item:
        yield Reason("C09", "left-assembly", {"item": member.item})
    if member.stage != Stage.READY:
        yield Reason("C02", "part-not-ready", {"item": member.item, "stage": str(member.stage)})
    yield from assembly.part_gates(part, now_us)


def _release_of(read: Transaction, part: Part) -> tuple[Sealed, words.ItemReleased]:
    """Returns the entry that released an item.

    Raises:
        InvariantError: there is none, it is of another cycle, or it was taken back.
    """
    item = part.standing
    evidence = item.satisfied.get(part.workflow.release_step.step)
    entries = read.entries_of(stream(StreamKind.ITEM, item.item))
    for entry in entries:
        body = entry.body
        if evidence is None or entry.number != evidence.number or not isinstance(body, words.ItemReleased):
            continue
        if body.cycle == item.cycle and not any(_takes_back(one, entry.number) for one in entries):
            return read.feed.after(entry.feed - 1, 1)[0], body
    message = f"{item.item} is called ready, but no release stands on record."
    raise InvariantError(message, item=item.item)


def _takes_back(entry: Entry, number: int) -> bool:
    """Tells whether an entry says that another one of its stream does not count."""
    match entry.body:
        case words.EntryUndone() as body:
            return number in body.numbers
        case words.EntryCorrected() as body:
            return body.number == number and bool(body.void or body.mistaken)
        case _:
            return False


def label_sheet(items: Sequence[Released], language: str = ENGLISH, banner: Sequence[str] = ()) -> Sheet:
    """Returns the labels of released items, one a page.

    Args:
        items: what was released.
        language: of the words on them.
        banner: keys of what must stand on them because of where the data come from.

    Raises:
        WrongUseError: there are none or too many, one stands twice, or the language is unknown.
    """
    texts = spoken(language)
    must_be_few([one.item.item for one in items], LABELS_MOST, "labels")
    example = ["example"] if any(one.workflow.example for one in items) else []
    keys = list(dict.fromkeys([*banner, *example]))
    body = Labels(tuple(_label(texts, one) for one in items), LABEL)
    return Sheet(texts("papers.labels.title"), texts("papers.label.foot"), language, body, banners(texts, keys))


def _label(texts: Texts, one: Released) -> Label:
    code = code_of(ItemTag(one.item.item, checked=True))
    return Label(texts("papers.label.ready"), one.item.item, code, tuple(_lines(texts, one)))


def _lines(texts: Texts, one: Released) -> Iterator[Line]:
    item, entry, body = one.item, one.sealed.entry, one.body
    until = (
        texts("papers.label.none") if body.ready_until_us is None else _plain(local_text(one.zone, body.ready_until_us))
    )
    hands = [person for person in (entry.envelope.actor, entry.envelope.second) if person is not None]
    told = {
        "kind": kind_of(texts, item.item_kind),
        "model": _plain(item.model),
        "serial": _plain(item.serial or ""),
        "quantity": _plain(str(item.quantity) if item.quantity > 1 else ""),
        "parts": _plain(" ".join(item.members.values())),
        "since": _plain(local_text(one.zone, entry.at_us)),
        "until": until,
        "by": _plain(" + ".join(hands)),
        "workflow": _plain(f"{one.workflow.workflow} {body.digest[:DIGITS]}"),
        "entry": _plain(f"{entry.stream} {entry.number} ({entry.feed}) {one.sealed.digest[:DIGITS]}"),
    }
    for name, value in told.items():
        if value:
            yield Line(texts(f"papers.label.{name}"), value)


def _plain(text: str) -> Text:
    return Text(printable(text), ENGLISH)
