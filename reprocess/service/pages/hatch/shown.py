"""What the hatch shows of a thing that was scanned: where it stands, what is in it, why not, what can be done here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from reprocess.definitions.wearing import Swap, WearStep
from reprocess.department import Department
from reprocess.gathering import Library, part_of, parts_of
from reprocess.gathering.places import items_at
from reprocess.ledger.append import Transaction, looking
from reprocess.record.moment import Moment
from reprocess.record.standing import Standing
from reprocess.record.stores import Place
from reprocess.rules import assembly, hold, life
from reprocess.rules import custody as issuing
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Part
from reprocess.service import seeing, who
from reprocess.service.showing import Filters, items_found, usable
from reprocess.service.who import Caller
from reprocess.terms import Stage, StreamKind

DEEDS: Final = {
    "issue": "issue-item",
    "return": "return-item",
    "swap": "swap-part",
    "quarantine": "put-in-quarantine",
    "identify": "identify-wearer",
}
"""What can be done with an item at the hatch, each with its operation in the table of permissions."""
LISTED_MOST: Final = 12
"""So many ready and overdue ones stand on the first page (our choice)."""


@dataclass(frozen=True, slots=True)
class Member:
    """Is a part that is built in, or that went out with the whole; `fit` where neither time nor use has ended it."""

    slot: str
    item: str
    item_kind: str
    stage: str
    held: bool
    fit: bool


@dataclass(frozen=True, slots=True)
class Thing:
    """Is an item as the hatch shows it; who wears it is told only to whoever may know.

    Attributes:
        whole: the assembly that it is part of, or None.
        members: its parts: those that went out with it while it is out.
        counts: its counted parts, such as gaskets.
        holds: why it must not be used, its parts' holds among them.
        unfit: why it must not be used although it is called ready and nothing is held: a limit, the shelf life.
        look: the lines that are looked over before it is taken, or None where nothing is worn.
        cautions: keys of the cautions that whoever takes it confirms.
        swaps: the parts that may be changed while it is worn.
        offers: what can be done with it here now, by this caller, the likeliest first.
    """

    item: Standing
    title: str
    whole: str | None
    members: Sequence[Member]
    counts: Mapping[str, int]
    holds: Sequence[Reason]
    unfit: Sequence[Reason]
    look: WearStep | None
    cautions: Sequence[str]
    swaps: Sequence[Swap]
    usable: bool
    offers: Sequence[str]

    @property
    def held(self) -> bool:
        """Tells whether it, or a part of it, is on hold."""
        return bool(self.holds)

    @property
    def nameless(self) -> bool:
        """Tells whether somebody has it of whom nobody knows yet who it is."""
        return _nameless(self.item)


def thing(department: Department, caller: Caller, name: str) -> Thing:
    """Returns an item as the hatch shows it, by its id or by a tag that means it.

    Raises:
        UnknownSubjectError: it is not on record, or belongs to a site that the caller may not see.
    """
    now = department.clock.now()
    with looking(department.ledger) as read:
        item = seeing.item_seen(read, caller, name)
        part = part_of(read, department.library, item)
        if part is None:
            raise seeing.unknown(name)
        return _thing(read, department.library, caller, part, now)


def _thing(read: Transaction, library: Library, caller: Caller, part: Part, now: Moment) -> Thing:
    item, workflow = part.standing, part.workflow
    inside = _inside(item)
    parts = parts_of(read, library, tuple(inside.values()))
    members = [_member(slot, parts[name], now) for slot, name in inside.items() if name in parts]
    built = [one for one in parts.values() if one.standing.assembly == item.item]
    here = [one.standing for one in built]
    found = Thing(
        item=seeing.for_caller(item, caller),
        title=workflow.title,
        whole=item.assembly,
        members=members,
        counts=item.custody.counts if item.custody is not None and item.custody.counts else item.counts,
        holds=[*held(item), *(_part_held(reason, one) for one in here for reason in held(one))],
        unfit=_unfit(part, built, now) if item.stage == Stage.READY and item.custody is None else (),
        look=issuing.look_of(workflow),
        cautions=issuing.cautions_of(workflow),
        swaps=workflow.wearing.swaps if workflow.wearing is not None else (),
        usable=usable(part, now),
        offers=(),
    )
    allowed = [one for one in _offers(found) if who.may_of(caller, DEEDS[one]) is None]
    return replace(found, offers=allowed)


def _member(slot: str, part: Part, now: Moment) -> Member:
    item = part.standing
    return Member(slot, item.item, item.item_kind, str(item.stage), item.held, fit=not _ended(part, now))


def _ended(part: Part, now: Moment) -> list[Reason]:
    """Returns why a part must not be used but for its holds: a limit is reached, its shelf life is over."""
    return [one for one in assembly.part_gates(part, now.wall_us) if one.rule != "G02"]


def _unfit(whole: Part, built: Sequence[Part], now: Moment) -> list[Reason]:
    own = [one for one in life.unusable(whole.workflow, whole.standing, now.wall_us) if one.rule != "G02"]
    return [*own, *(reason for one in built for reason in _ended(one, now))]


def _over(read: Transaction, library: Library, whole: Part, now: Moment) -> bool:
    built = parts_of(read, library, tuple(whole.standing.members.values()))
    return bool(_unfit(whole, list(built.values()), now))


def _inside(item: Standing) -> Mapping[str, str]:
    custody = item.custody
    return custody.members if custody is not None and custody.members else item.members


def held(item: Standing) -> list[Reason]:
    """Returns every hold of an item as the reason why it must not be used."""
    return [replace(one, rule="H04") for one in hold.in_the_way(item, release=True) if one.key == "on-hold"]


def _part_held(reason: Reason, part: Standing) -> Reason:
    facts = {name: fact for name, fact in reason.facts.items() if name != "sort"}
    return Reason(reason.rule, "part-on-hold", {"item": part.item, **facts}, role=reason.role)


def _offers(found: Thing) -> list[str]:
    """Returns what can be done, the likeliest first; that something came back can always be told."""
    item, out = found.item, found.item.custody
    ready = item.stage == Stage.READY and not (out or found.held or found.unfit) and item.assembly is None
    worn = item.wear is not None and item.wear.on_us is not None and item.wear.off_us is None
    issued = out is not None and out.sort == "issued"
    return [
        *(["quarantine"] if found.held and out is None else []),
        *(["issue"] if ready else []),
        "return",
        *(["swap"] if found.swaps and (worn or issued) else []),
        *(["identify"] if found.nameless else []),
        *(["quarantine"] if found.held and out is not None else []),
    ]


def _nameless(item: Standing) -> bool:
    return item.custody is not None and item.custody.sort == "issued" and item.custody.wearer is None


@dataclass(frozen=True, slots=True)
class Counter:
    """Is what the first page of the hatch lists.

    Attributes:
        ready: what can be issued here, what is to be used first in front.
        late: what should be back, each with its place and since when.
        nameless: what somebody has of whom nobody knows who it is.
        more: how many further ones each list has.
    """

    ready: Sequence[Standing]
    late: Sequence[Standing]
    nameless: Sequence[Standing]
    more: Mapping[str, int]


def counter(department: Department, caller: Caller) -> Counter:
    """Returns what lies ready at the caller's site, and what is out of it for too long."""
    now, library = department.clock.now(), department.library
    site = department.site_of_station(caller.station) if caller.station is not None else ""
    ready, late, nameless = list[Standing](), list[Standing](), list[Standing]()
    with looking(department.ledger) as read:
        for item in items_found(read, caller, Filters(site or None, None, None, None, None)):
            if item.custody is not None:
                if issuing.overdue_us(item) <= now.wall_us and item.custody.sort != "moving":
                    late.append(seeing.for_caller(item, caller))
                if _nameless(item):
                    nameless.append(item)
            elif item.stage == Stage.READY and item.assembly is None and not item.holds:
                part = part_of(read, library, item)
                worn = part is not None and issuing.look_of(part.workflow) is not None
                if part is not None and worn and not _over(read, library, part, now):
                    ready.append(item)
    ready.sort(key=lambda one: (one.ready_until_us or 2**62, one.item))
    late.sort(key=lambda one: (issuing.overdue_us(one), one.item))
    lists = {"ready": ready, "late": late, "nameless": nameless}
    more = {name: max(0, len(one) - LISTED_MOST) for name, one in lists.items()}
    return Counter(ready[:LISTED_MOST], late[:LISTED_MOST], nameless[:LISTED_MOST], more)


@dataclass(frozen=True, slots=True)
class Spot:
    """Is a place as the hatch shows it, with what lies there.

    Attributes:
        ended: the ids of those that are called ready and must not be used all the same.
        opens: whether this caller may tell that it was opened.
    """

    place: Place
    units: Sequence[Standing]
    ended: frozenset[str]
    opens: bool


def spot(department: Department, caller: Caller, name: str) -> Spot:
    """Returns a place with the units in it.

    Raises:
        UnknownSubjectError: it is not on record, or belongs to a site that the caller may not see.
    """
    with looking(department.ledger) as read:
        place = seeing.seen(read, caller, StreamKind.PLACE, name, Place)
        units = [read.item(one) for one in items_at(read, name)]
        whole = [one for one in units if one.assembly is None]
        now = department.clock.now()
        ready = [part_of(read, department.library, one) for one in whole if one.stage == Stage.READY]
        over = [one for one in ready if one is not None and _over(read, department.library, one, now)]
        ended = frozenset(one.standing.item for one in over)
    return Spot(place, whole, ended, place.sort == "cabinet" and who.may_of(caller, "open-cabinet") is None)
