"""What the board shows, as plain rows: clocks, what is overdue, holds, stock, what waits for whom. No wearer is in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from reprocess.definitions.model import Step
from reprocess.department import Department
from reprocess.gathering import local_day, state_as
from reprocess.ledger.append import Transaction, looking
from reprocess.ledger.reviews import Refusals
from reprocess.record.loads import Load, LoadState
from reprocess.record.moment import Moment
from reprocess.record.places import Site, Station
from reprocess.record.solutions import Solution
from reprocess.record.standing import OpenDwell, Standing
from reprocess.record.stores import Place
from reprocess.reminders.listing import Listed, coming
from reprocess.rules.contact import clock_of
from reprocess.rules.permissions import RELEASER, ROLES
from reprocess.rules.places import CLEAN_STORES
from reprocess.rules.scene import Part
from reprocess.rules.sequence import next_steps
from reprocess.service import overview
from reprocess.service.seeing import each_seen, in_sight
from reprocess.service.showing import Filters
from reprocess.service.who import Caller
from reprocess.terms import ASIDE, DAY_S, SECOND_US, Stage, StreamKind, stream
from reprocess.timetable import is_clocked
from reprocess.timetable.chains import first_role

OUT: Final = "out"
"""Where an item stands that somebody has; no stage of the trade."""
SHIFT_S: Final = 8 * 3600
"""How far ahead the next shift looks (our choice)."""
TOLD: Final = frozenset({"item", "solution", "load", "place", "lot", "instrument", "recall"})
"""The sorts of thing whose reminders hang on a wall; people, wearers and exposure cases are for those concerned."""


@dataclass(frozen=True, slots=True)
class ClockRow:
    """Is one running clock.

    Attributes:
        act: what comes next: `wet`, `wait`, `confirm` or `over`; `wet-now` where the film is due to be wetted.
        seconds: until that; for `confirm` until the longest time, or None where there is none.
        until_ms: the same as an instant of the server's clock, in milliseconds; None once it is reached.
    """

    item: str
    step: str
    attempt: int
    act: str
    seconds: int | None
    until_ms: int | None
    place: str | None

    @property
    def digits(self) -> str:
        """Returns the seconds as a clock shows them: `2:05`, or `1:02:05`; nothing where none count."""
        if self.seconds is None:
            return ""
        hours, rest = divmod(self.seconds, 3600)
        shown = f"{rest // 60:02}:{rest % 60:02}" if hours else f"{rest // 60}:{rest % 60:02}"
        return f"{hours}:{shown}" if hours else shown


@dataclass(frozen=True, slots=True)
class HoldRow:
    """Is one open hold; `located` tells whether the item was scanned since."""

    item: str
    hold: str
    sort: str
    cause: str
    owner: str
    placed_us: int
    place: str | None
    within: str | None
    located: bool


@dataclass(frozen=True, slots=True)
class StockRow:
    """Is how many usable ones lie at a place, and how many should; `opened` and `restock` say what is amiss there."""

    place: str
    title: str
    ready: int
    par: int | None
    opened: bool
    restock: bool

    @property
    def short(self) -> bool:
        """Tells whether fewer lie there than should."""
        return self.par is not None and self.ready < self.par


@dataclass(frozen=True, slots=True)
class GroupRow:
    """Is the items of one stage at one place, by id."""

    stage: str
    place: str | None
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WaitRow:
    """Is how much waits: `sort` is side, role or person, `what` step, hold or reminder, and `name` which one."""

    sort: str
    whom: str
    what: str
    name: str
    count: int


@dataclass(frozen=True, slots=True)
class Board:
    """Is everything on the board at one instant."""

    as_of_us: int
    zone: str
    site: str | None
    title: str
    clocks: Sequence[ClockRow]
    overdue: Sequence[Listed]
    coming: Sequence[Listed]
    counts: Sequence[tuple[str, int]]
    holds: Sequence[HoldRow]
    stock: Sequence[StockRow]
    unplaced: int
    groups: Sequence[GroupRow]
    waits: Sequence[WaitRow]


def board(department: Department, who: Caller, site: str | None) -> Board:
    """Returns the board of one site, or of all that the caller sees."""
    now = department.clock.now()
    found = coming(department.ledger, now.wall_us, DAY_S)
    listed = [one for one in found if _on_the_wall(one, who, site) and not is_clocked(one.row.due)]
    with looking(department.ledger) as read:
        known = state_as(read, stream(StreamKind.SITE, site), Site) if site is not None else None
        wanted = Filters(site, None, None, None, None)
        parts = overview.parts_found(read, department.library, who, wanted, now)
        stock = _stock(read, who, site, overview.ready_here(read, department.library, parts, now))
    here = [one for one in parts if one.standing.assembly is None]
    groups = [
        GroupRow(stage, place, tuple(sorted(part.standing.item for part in those)))
        for stage, place, those in overview.by_stage_and_place(here, _where)
    ]
    overdue = [one for one in listed if one.overdue]
    return Board(
        as_of_us=now.wall_us,
        zone=known.zone if known is not None and known.number else department.zone(),
        site=site,
        title=known.title if known is not None else "",
        clocks=_clocks(parts, now),
        overdue=overdue,
        coming=[one for one in listed if not one.overdue],
        counts=[(stage, _counted(groups, stage)) for stage in (*overview.ORDER, OUT)],
        holds=_holds(parts),
        stock=stock[0],
        unplaced=stock[1],
        groups=groups,
        waits=_waits(parts, overdue, now.wall_us),
    )


def _on_the_wall(one: Listed, who: Caller, site: str | None) -> bool:
    due = one.row.due
    own = str(due.words.get("site") or "")
    return due.subject.partition(":")[0] in TOLD and in_sight(who, own) and site in (None, own)


def _where(part: Part) -> tuple[str, str | None]:
    item = part.standing
    if item.custody is not None:
        return OUT, item.custody.place
    return str(item.stage), item.place


def _counted(groups: Sequence[GroupRow], stage: str) -> int:
    return sum(len(one.items) for one in groups if one.stage == stage)


def _clocks(parts: Sequence[Part], now: Moment) -> list[ClockRow]:
    """Returns every running clock, what is due the soonest first; what is past its time stands before that."""
    rows = [clock_row(one.standing, one.standing.dwell, now) for one in parts if one.standing.dwell is not None]
    return sorted(rows, key=lambda one: (_FIRST.get(one.act, len(_FIRST)), _next_s(one), one.item))


_FIRST: Final = {"over": 0, "wet-now": 1, "confirm": 2}


def _next_s(row: ClockRow) -> int:
    return row.seconds if row.seconds is not None else 0


def clock_row(item: Standing, dwell: OpenDwell, now: Moment) -> ClockRow:
    """Returns the clock of an item with what comes next in it."""
    clock = clock_of(dwell, now)
    act, seconds = "confirm", clock.most_s
    if clock.left_s > 0:
        wet = clock.rewet_s is not None and clock.rewet_s < clock.left_s
        act, seconds = ("wet", clock.rewet_s) if wet else ("wait", clock.left_s)
        act = "wet-now" if wet and seconds == 0 else act
    elif clock.most_s == 0:
        act = "over"
    until_ms = now.wall_us // 1000 + seconds * 1000 if seconds else None
    return ClockRow(item.item, dwell.step, dwell.attempt, act, seconds, until_ms, item.place)


def _holds(parts: Sequence[Part]) -> list[HoldRow]:
    """Returns the open holds, the oldest first."""
    rows = [
        HoldRow(
            item=item.item,
            hold=one.hold,
            sort=one.sort,
            cause=one.cause,
            owner=one.owner,
            placed_us=one.placed_us,
            place=one.place or item.place or (item.custody.place if item.custody is not None else None),
            within=item.assembly,
            located=one.sighted_us is not None,
        )
        for item in (part.standing for part in parts)
        for one in item.holds.values()
    ]
    return sorted(rows, key=lambda one: (one.placed_us, one.item))


def _stock(read: Transaction, who: Caller, site: str | None, ready: dict[str, int]) -> tuple[list[StockRow], int]:
    """Returns (each store and cabinet with what lies ready there, how many ready ones lie at no such place)."""
    places = [
        one
        for one in each_seen(read, who, StreamKind.PLACE, Place)
        if one.sort in CLEAN_STORES and site in (None, one.site)
    ]
    rows = [
        StockRow(
            place=one.place,
            title=one.title,
            ready=ready.get(one.place, 0),
            par=one.par,
            opened=one.sort == "cabinet" and one.seal is None and one.opened_us is not None,
            restock=one.restock is not None,
        )
        for one in places
    ]
    elsewhere = sum(count for place, count in ready.items() if place not in {one.place for one in places})
    return sorted(rows, key=lambda one: (not one.short, one.place)), elsewhere


def _waits(parts: Sequence[Part], overdue: Sequence[Listed], now_us: int) -> list[WaitRow]:
    """Returns what waits for whom: steps for a side, holds and what is overdue for a role; the most of it first."""
    kept: Counter[tuple[str, str, str, str]] = Counter()
    for part in parts:
        item = part.standing
        for one in item.holds.values():
            kept["role" if one.owner in ROLES else "person", one.owner, "hold", one.sort] += 1
        step = None if item.holds or item.assembly is not None else _waiting_for(part, now_us)
        if step is not None:
            release = step.reaches is Stage.READY
            whom = ("role", RELEASER) if release else ("side", step.zone)
            kept[(*whom, "step", step.step)] += 1
    for late in overdue:
        kept["role", first_role(late.row.due), "reminder", ""] += 1
    rows = [WaitRow(*key, count) for key, count in kept.items()]
    return sorted(rows, key=lambda one: (one.sort != "side", one.whom, -one.count, one.what, one.name))


def _waiting_for(part: Part, now_us: int) -> Step | None:
    """Returns the step that an item waits for, or None where its clock runs, it is ready, aside or not here."""
    item = part.standing
    if item.dwell is not None or item.custody is not None or item.stage in (Stage.READY, *ASIDE):
        return None
    following = next_steps(part.workflow, item, now_us)
    return part.workflow.step_named(following[0]) if following else None


@dataclass(frozen=True, slots=True)
class BathRow:
    """Is a solution that the next shift looks at: `why` names each reason."""

    solution: str
    agent: str
    expires_us: int
    passed_us: int | None
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Handover:
    """Is what one shift hands to the next."""

    board: Board
    loads: Sequence[Load]
    baths: Sequence[BathRow]
    refused: Sequence[Refusals]
    due: Sequence[Listed]


def handover(department: Department, who: Caller, site: str | None) -> Handover:
    """Returns the list that one shift hands to the next."""
    shown = board(department, who, site)
    soon_us = shown.as_of_us + SHIFT_S * SECOND_US
    with looking(department.ledger) as read:
        return Handover(
            board=shown,
            loads=_loads(read, who, site),
            baths=_baths(read, who, shown),
            refused=_refused(read, who, site),
            due=[*shown.overdue, *(one for one in shown.coming if one.deadline_us <= soon_us)],
        )


def _loads(read: Transaction, who: Caller, site: str | None) -> list[Load]:
    """Returns the loads that are open, run or wait for their record."""
    goes_on = (LoadState.OPEN, LoadState.RUNNING, LoadState.ENDED)
    return [
        one for one in each_seen(read, who, StreamKind.LOAD, Load) if one.state in goes_on and site in (None, one.site)
    ]


def _baths(read: Transaction, who: Caller, shown: Board) -> list[BathRow]:
    """Returns the solutions in use that failed, end within the shift or passed no test today, the soonest end first."""
    found = (one for one in each_seen(read, who, StreamKind.SOLUTION, Solution) if shown.site in (None, one.site))
    rows = [(one, _why(one, shown)) for one in found if one.ended is None]
    told = [BathRow(one.solution, one.agent, _ends_us(one), one.passed_us, why) for one, why in rows if why]
    return sorted(told, key=lambda one: (one.expires_us, one.solution))


def _ends_us(one: Solution) -> int:
    return min(one.expires_us, one.lot_expiry_us)


def _why(one: Solution, shown: Board) -> tuple[str, ...]:
    now_us, why = shown.as_of_us, []
    if one.failed_us is not None:
        why.append("failed")
    if _ends_us(one) <= now_us:
        why.append("over")
    elif _ends_us(one) <= now_us + SHIFT_S * SECOND_US:
        why.append("near")
    today = local_day(shown.zone, now_us)
    if (
        one.failed_us is None
        and one.form == "bath"
        and (one.passed_us is None or local_day(shown.zone, one.passed_us) != today)
    ):
        why.append("no-pass")
    if one.recalled is not None:
        why.append("recalled")
    return tuple(why)


def _refused(read: Transaction, who: Caller, site: str | None) -> list[Refusals]:
    """Returns what was refused since somebody last looked, the most frequent first, at the stations of the site."""

    def here(station: str | None) -> bool:
        own = state_as(read, stream(StreamKind.STATION, station or ""), Station).site
        return in_sight(who, own) and site in (None, own)

    return [one for one in read.reviews.refusals() if here(one.station)]


def sites_seen(read: Transaction, who: Caller) -> list[Site]:
    """Returns the sites that a caller may look at, by id."""
    return [one for one in each_seen(read, who, StreamKind.SITE, Site) if in_sight(who, one.site)]


__all__ = ["OUT", "Board", "Handover", "board", "handover", "sites_seen"]
