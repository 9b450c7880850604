"""The clocks that run at a bench: what was started there, sorted by what has to be done next.

Which clocks run follows from the record alone; a node keeps them between two looks only so that it need not read
everything again. So does the letter of each place on the mat: it is the first one that was free when the clock was
started, found by going through the starts and ends in the order of the record. A node that begins goes back
`LOOKED_BACK` entries; where clocks ran without a break for longer than that, it may give another letter than a node
that began earlier.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import Final

from starlette.requests import Request

from reprocess.ledger.append import Transaction, looking
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.moment import Moment
from reprocess.record.standing import OpenDwell, Standing
from reprocess.rules.contact import clock_of
from reprocess.service.pages.bench.place import Place
from reprocess.service.seeing import in_sight
from reprocess.service.served import Served, served
from reprocess.terms import StreamKind, subject_of

LETTERS: Final = "ABCDEFGH"
"""The places on the mat of a bench."""
SHOWN_MOST: Final = 3 * len(LETTERS)
"""Clocks of the mat on one screen: eight are large, the others beside them, so that none dries unseen."""
RAIL_MOST: Final = 12
"""Long clocks beside them (our choice)."""
LONG_S: Final = 1200
"""A least time beyond this is no work of the mat: the item lies in a dryer or a rack (our choice)."""
LOOKED_BACK: Final = 5000
"""Entries through which the letters are found when a node begins (our choice: more than a large hospital's day)."""
PAGE: Final = 1000
_ITEMS: Final = f"{StreamKind.ITEM}:"


@dataclass(frozen=True, slots=True)
class Run:
    """Is one clock that runs: the item, its dwell, where it was started, and its place on the mat."""

    item: str
    kind: str
    site: str
    station: str
    dwell: OpenDwell
    letter: str | None


@dataclass(slots=True)
class Running:
    """Keeps which clocks run, up to an entry of the record.

    Attributes:
        letters: (station, letter) of each item on a mat; left: the same of the items whose clock ended, as somebody may
            undo that; broken: the items whose last clock was broken, as by a film that dried.
    """

    feed: int | None = None
    runs: dict[str, Run] = field(default_factory=dict)
    letters: dict[str, tuple[str, str]] = field(default_factory=dict)
    left: dict[str, tuple[str, str]] = field(default_factory=dict)
    broken: set[str] = field(default_factory=set)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def look(self, read: Transaction) -> list[Run]:
        """Returns the clocks that run now, by item; goes on from where it looked last."""
        with self.lock:
            if self.feed is None:
                self._begin(read)
            for entry in self._news(read):
                self._follow(read, entry)
            for name in self.letters.keys() - self.runs.keys():
                del self.letters[name]
            return [self.runs[name] for name in sorted(self.runs)]

    def _begin(self, read: Transaction) -> None:
        self.feed = max(0, read.feed.last() - LOOKED_BACK)
        states = (state for _, _, state in read.each_of(StreamKind.ITEM) if isinstance(state, Standing))
        for state in sorted(states, key=lambda one: one.dwell.feed if one.dwell is not None else 0):
            if state.dwell is not None and state.dwell.feed <= self.feed:
                began = read.entry(state.dwell.feed)
                if began is not None:
                    self._start(state.item, began)
                self._put(read, state)

    def _news(self, read: Transaction) -> list[Entry]:
        """Returns the entries since the last look, each item's state then being the one of now."""
        found: list[Entry] = []
        while page := read.feed.after(self.feed or 0, PAGE):
            found += [one.entry for one in page]
            self.feed = page[-1].entry.feed
        return found

    def _follow(self, read: Transaction, entry: Entry) -> None:
        if not entry.stream.startswith(_ITEMS):
            return
        name = subject_of(entry.stream)
        if isinstance(entry.body, words.DwellStarted):
            self._start(name, entry)
        elif isinstance(entry.body, _ENDS):
            self._end(name, broken=isinstance(entry.body, words.DwellBroken))
        elif isinstance(entry.body, words.EntryUndone):
            self._undo(name, entry.body.undone_kind)
        self._put(read, read.item(name))

    def _start(self, name: str, entry: Entry) -> None:
        """Gives an item the first free place of the station where its clock was started; long ones need none.

        One whose contact was broken still lies where it lay, and keeps that place while it is free.
        """
        self.letters.pop(name, None)
        station = entry.envelope.station or ""
        taken = {letter for place, letter in self.letters.values() if place == station}
        lay = self.left.get(name) if name in self.broken else None
        self.broken.discard(name)
        first = lay[1] if lay is not None and lay[0] == station else ""
        free = next((one for one in f"{first}{LETTERS}" if one not in taken), None)
        if free is not None and isinstance(entry.body, words.DwellStarted) and entry.body.least_s <= LONG_S:
            self.letters[name] = (station, free)

    def _end(self, name: str, *, broken: bool) -> None:
        (self.broken.add if broken else self.broken.discard)(name)
        if name in self.letters:
            self.left[name] = self.letters.pop(name)

    def _undo(self, name: str, kind: str) -> None:
        """Takes a start back, or gives a clock that runs again the place that it had, while that is free."""
        if kind == words.DwellStarted.kind:
            self.letters.pop(name, None)
        elif kind in {one.kind for one in _ENDS} and name in self.left:
            place = self.left.pop(name)
            if place not in self.letters.values():
                self.letters[name] = place

    def _put(self, read: Transaction, item: Standing) -> None:
        """Keeps the clock of an item as it runs now, or forgets it."""
        opened = item.dwell
        if opened is None:
            self.runs.pop(item.item, None)
            return
        before = self.runs.get(item.item)
        letter = self.letters.get(item.item, ("", None))[1]
        if before is not None and before.dwell.feed == opened.feed:
            station = before.station
        else:
            began = read.entry(opened.feed)
            station = (began.envelope.station if began is not None else None) or ""
        self.runs[item.item] = Run(item.item, item.item_kind, item.site, station, opened, letter)


_ENDS: Final = (words.DwellEnded, words.DwellBroken, words.ItemContaminated)


@dataclass(frozen=True, slots=True)
class ClockShown:
    """Is one clock as a screen shows it.

    Attributes:
        sort: rewet, end (it runs), confirm (its time is met), over (its longest time has passed).
        left_s: seconds until its least time is met; rewet_s: until the film must be wetted; most_s: until the longest
            time.
        next_s: seconds until the next thing is to be done.
    """

    item: str
    kind: str
    step: str
    letter: str | None
    sort: str
    left_s: int
    rewet_s: int | None
    most_s: int | None
    film_s: int | None
    next_s: int
    attempt: int

    @property
    def digits(self) -> str:
        """Returns what is left, as minutes and seconds."""
        return digits(self.next_s)


@dataclass(frozen=True, slots=True)
class ClocksShown:
    """Is what a bench shows of its clocks: those on the mat, the long ones, and how many more run."""

    mat: tuple[ClockShown, ...]
    rail: tuple[ClockShown, ...]
    more: int


def clocks_of(request: Request, place: Place) -> ClocksShown:
    """Returns the clocks that were started at a bench."""
    parts = served(request)
    with looking(parts.department.ledger) as read:
        runs = running_of(parts).look(read)
    now = parts.department.clock.now()
    here = [one for one in runs if one.station == place.station.station and in_sight(place.caller, one.site)]
    mat = sorted((shown(one, now) for one in here if one.dwell.least_s <= LONG_S), key=_urgency)
    rail = sorted((shown(one, now) for one in here if one.dwell.least_s > LONG_S), key=_urgency)
    more = max(0, len(mat) - SHOWN_MOST) + max(0, len(rail) - RAIL_MOST)
    return ClocksShown(tuple(mat[:SHOWN_MOST]), tuple(rail[:RAIL_MOST]), more)


def shown(run: Run, now: Moment) -> ClockShown:
    """Returns a clock as it is now, with what is to be done next."""
    clock = clock_of(run.dwell, now)
    over = clock.most_s == 0
    if over or clock.left_s == 0:
        sort, next_s = ("over" if over else "confirm"), 0
    elif clock.rewet_s is not None and clock.rewet_s < clock.left_s:
        sort, next_s = "rewet", clock.rewet_s
    else:
        sort, next_s = "end", clock.left_s
    return ClockShown(
        run.item,
        run.kind,
        run.dwell.step,
        run.letter,
        sort,
        clock.left_s,
        clock.rewet_s,
        clock.most_s,
        run.dwell.film_s,
        next_s,
        clock.attempt,
    )


def digits(seconds: int) -> str:
    """Returns seconds as minutes and seconds, hours from one hour on."""
    hours, rest = divmod(max(0, seconds), 3600)
    return f"{hours}h{rest // 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def _urgency(one: ClockShown) -> tuple[bool, int, int, str]:
    """Returns what a clock is sorted by: a film that dries first, then the time to its next action.

    Of those that wait, the one that is soonest over comes first.
    """
    dries = one.sort == "rewet" and one.next_s == 0
    return not dries, one.next_s, one.most_s if one.most_s is not None else LONG_S * LONG_S, one.item


def running_of(parts: Served) -> Running:
    """Returns what knows the running clocks at this node."""
    found: Running = parts.parts.setdefault("running", Running())
    return found
