"""What happens in a random script, as small frozen values that shrink well and print as they are."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain

from hypothesis import strategies as st

BADGES = (
    "B-ANNA-1", "B-ANNA-2", "B-BEN-1", "B-BEN-2", "B-CARA-1", "B-CARA-2", "B-DINO-1", "B-EMMA-1", "B-FINN-1",
    "B-GINA-1", "B-HUGO-1", "B-HUGO-2", "B-IRIS-1", "B-NOBODY",
)  # fmt: skip
STATIONS = ("LMG-D", "LMG-C", "LMG-A", "SAL-D", "SAL-C", "SAL-A")
ITEMS = (
    "BLW-1", "BLW-2", "BLW-9", "TUB-1", "TUB-1", "TUB-2", "TUB-3", "HED-1", "ONE-1", "ONE-2", "FLT-1", "FLT-2", "BAT-1",
    "BLT-1", "BLT-2", "GSK-1", "GSK-2", "PLG-1", *["RSP-1"] * 5, "KIT-BLW", "KIT-FLT-1", "KIT-TUB",
)  # fmt: skip
VALUES = (
    "NaN", "Infinity", "-Infinity", "1e999", "20,5", "", "68 F", "-0", "0", "42.999", "43", "43.001", "49.9", "71",
    "70.9", "24.9", "25", "89.99", "90", "100", "100.1", "169.999", "170", "170.0", "400", "400.1", "1_70",
    "\u0661\u0667\u0660", "0x1F", " 170", "170\n", "+170", "1e2", ".5", "170.",
)  # fmt: skip
"""Readings at, just inside and just outside limits, and what is no number at all."""

FLAWS = (
    "early", "early-by-a-millisecond", "dry-film", "over-soaked", "person", "badge", "second", "countersigned",
    "nobody", "station", "no", "missing-check", "reading", "no-readings", "count", "no-counts",
    "instrument", "no-instrument",
    "temperature", "no-temperature", "solution", "no-solution", "other-step", "done-for-dwell", "paper", "paper-signed",
    "alone", "members", "hasty", "cleaner", "same-person", "sleep-through", "reboot-through", "reboot-and-confirm",
    "confirm-a-no", "swap-through", "wall-forward", "wall-back", "in-the-future", "paper-dwell", "half-competent",
    "lapsed", "elsewhere", "by-the-other", "dawdle", "strip", "as-it-is", "corrected",
    "undone",
)  # fmt: skip
CAUSES = ("used", "dropped", "opened", "mixed", "touched", "soaked", "found", "other", "returned-from-repair")
CLASSES = ("routine", "routine", "soiled", "blood", "isolation", "late")
EVENTS = (
    "contaminate", "contaminate", "method", "hold", "lift", "lift", "undo", "undo", "correct", "fail", "break", "rewet",
    "end", "begin", "condemn", "aside", "note", "found-in-store", "tested", "tested", "topped", "ended", "remade",
    "put-on", "put-on", "take-off", "signal", "swap", "issue", "issue", "return", "return", "send", "receive",
    "assemble", "release", "repeat", "reuse", "reopen", "withdraw", "faulty", "verified", "badge-lost",
)  # fmt: skip

IN_SOLUTION = (
    "bath-fails", "bath-dumped", "dumped-and-undone", "other-fails-then-bath", "broken-and-undone", "held-meanwhile",
    "wall-back-then-bath-fails", "too-warm", "lapsed-meanwhile", "over-soaked-and-fails",
)  # fmt: skip
WHEN_READY = (
    "part-found-cracked", "part-dropped", "part-held", "part-condemned", "part-lost", "part-fails", "part-forbidden",
    "all-baths-fail", "whole-used", "part-corrected", "undone", "issued", "issued",
)  # fmt: skip
IN_PIECES = (
    "before: part-held",
    "before: part-dropped",
    "before: part-elsewhere",
    "before: part-fails",
    "before: part-lost",
)
"""What can befall a part just before it is put together with the others."""


@dataclass(frozen=True, slots=True)
class Climb:
    """Makes the next good scans of an item, and flawed ones before them.

    Attributes:
        flaws: what is tried, wrongly, before the scans to which it applies.
        choice: picks among chemicals, people, values.
        by: the badge of the one person who makes all of these scans, where one does.
    """

    which: int
    scans: int
    flaws: tuple[str, ...] = ()
    choice: int = 0
    by: str | None = None


@dataclass(frozen=True, slots=True)
class Time:
    """Lets clocks go on, jump, sleep or start anew."""

    how: str
    seconds: float


@dataclass(frozen=True, slots=True)
class Event:
    """Does something else: `badge` None means by whoever would do it, `station` None at the item's own site."""

    which: int
    what: str
    badge: str | None
    second: str | None
    station: str | None
    choice: int
    claimed_s: int | None = None


@dataclass(frozen=True, slots=True)
class Twist:
    """Does what is seldom done while an item is in a solution, or while a whole is ready."""

    which: int
    what: str
    choice: int


Action = Climb | Time | Event | Twist


@dataclass(frozen=True, slots=True)
class Script:
    """Is a few items and what happens to them."""

    items: tuple[str, ...]
    actions: tuple[Action, ...]


WHICH = st.sampled_from((0, 0, 0, 1, 2))
CHOICE = st.integers(0, 63)
SECONDS = st.one_of(
    st.sampled_from([0.0, 0.001, 1.0, 59.0, 60.0, 61.0, 84.0, 105.0, 105.001, 179.0, 180.0, 300.5, 900.0, 1801.0]),
    st.integers(0, 10_800).map(float),
    st.sampled_from([90_000.0, 260_000.0]),
)
CLIMBS = st.builds(
    Climb,
    WHICH,
    st.sampled_from([1, 2, 3, 4, 5, 6, 8, 12, 16]),
    st.lists(st.sampled_from(FLAWS), max_size=6, unique=True).map(tuple),
    CHOICE,
    st.sampled_from((None, None, None, None, "B-BEN-1", "B-IRIS-1")),
)
TIMES = st.builds(
    lambda how, seconds, back: Time(how, -seconds if back and how == "step" else seconds),
    st.sampled_from(("pass", "pass", "pass", "step", "step", "sleep", "reboot", "swap")),
    SECONDS,
    st.booleans(),
)
HAPPENINGS = st.builds(
    Event,
    WHICH,
    st.sampled_from(EVENTS),
    st.sampled_from((*[None] * len(BADGES), *BADGES)),
    st.sampled_from((None, None, *BADGES)),
    st.sampled_from((*[None] * len(STATIONS), *STATIONS)),
    CHOICE,
    st.sampled_from((None, None, 0, 60, 3_600, 90_000, 300_000, -3_600)),
)
TWISTS = st.builds(Twist, WHICH, st.sampled_from((*IN_SOLUTION, *WHEN_READY, *IN_PIECES)), CHOICE)
ACTIONS = st.one_of(CLIMBS, CLIMBS, CLIMBS, HAPPENINGS, HAPPENINGS, TIMES, TWISTS)
FOCUS = st.lists(st.sampled_from(ITEMS), min_size=1, max_size=3, unique=True).map(tuple)
SHIFT = st.lists(ACTIONS, max_size=12)
SCRIPTS = st.builds(lambda items, *shifts: Script(items, tuple(chain(*shifts))), FOCUS, SHIFT, SHIFT, SHIFT, SHIFT)
"""A script is a few shifts, because one long list would mostly come out short."""
