"""What happened to a solution, as bars and marks: one row each time it was made up or opened."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.solutions import Solution, apply

State = Literal["in-use", "expired", "failed"]
Shown = Literal["passed", "failed", "void"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Is how a solution stood within `[from_us, until_us)`."""

    state: State
    from_us: int
    until_us: int


@dataclass(frozen=True, slots=True)
class Suspect:
    """Is a time of which a failing test makes every contact doubtful: from the last pass, or the making, to the test.

    The order of the record decides whom it reaches, not this interval (I6); the two differ where a clock was set back.
    """

    from_us: int
    until_us: int


@dataclass(frozen=True, slots=True)
class Test:
    """Is one strip test: what it showed, and the reading with its limit where there was one."""

    __test__ = False

    at_us: int
    shown: Shown
    reading: str


@dataclass(frozen=True, slots=True)
class Contact:
    """Is the beginning of one item's contact in a solution."""

    at_us: int
    item: str
    cycle: int
    step: str


@dataclass(frozen=True, slots=True)
class BathRow:
    """Is one making of a solution.

    Attributes:
        making: which making under the same id, from 1.
        expires_us: when it may not be used any more: its in-use life or its lots' expiry, whichever is first.
        ended_us: when it was ended or made anew, or None while it stands; `cause` says why.
        now_us: the instant of the answer.
        stretches: how it stood from its making until its end or now, without a gap.
    """

    solution: str
    agent: str
    site: str
    lots: tuple[str, ...]
    making: int
    made_us: int
    expires_us: int
    ended_us: int | None
    cause: str
    now_us: int
    stretches: tuple[Stretch, ...] = ()
    suspects: tuple[Suspect, ...] = ()
    tests: tuple[Test, ...] = ()
    contacts: tuple[Contact, ...] = ()

    @property
    def until_us(self) -> int:
        """Returns when the row is over: its end, or now."""
        return max(self.made_us, self.now_us if self.ended_us is None else self.ended_us)

    @property
    def from_us(self) -> int:
        """Returns when the row begins: its making."""
        return self.made_us


def baths(entries: Sequence[Entry], now_us: int) -> list[BathRow]:
    """Returns every making of one solution, oldest first.

    Args:
        entries: the solution's stream from the beginning.
        now_us: the instant of the answer; where an entry is later, that one's.
    """
    story = _Story(max([now_us, *(one.at_us for one in entries)]))
    for entry in entries:
        story.see(entry)
    return story.rows()


@dataclass
class _Making:
    """Collects what belongs to one making."""

    last: Solution
    tests: list[Test] = field(default_factory=list)
    contacts: list[Contact] = field(default_factory=list)
    anew_us: int | None = None


class _Story:
    def __init__(self, now_us: int) -> None:
        self._now_us = now_us
        self._solution = Solution(solution="")
        self._makings: list[_Making] = []
        self._suspects: list[Suspect] = []
        self._when: dict[int, int] = {}

    def see(self, entry: Entry) -> None:
        """Takes one more entry."""
        before, body = self._solution, entry.body
        self._solution = apply(before, entry)
        self._when[entry.feed] = entry.at_us
        if isinstance(body, words.SolutionMade):
            if self._makings:
                self._makings[-1].anew_us = entry.at_us
            self._makings.append(_Making(self._solution))
        if not self._makings:
            return
        now = self._makings[-1]
        now.last = self._solution
        match body:
            case words.SolutionTested():
                now.tests.append(_test(entry.at_us, body))
                if body.valid and not body.passed:
                    self._suspects.append(Suspect(self._when.get(before.doubt_feed, before.made_us), entry.at_us))
            case words.SolutionTouched():
                now.contacts.append(Contact(entry.at_us, body.item, body.cycle, body.step))
            case _:
                pass

    def rows(self) -> list[BathRow]:
        """Returns what was seen."""
        return [self._row(number, one) for number, one in enumerate(self._makings, 1)]

    def _row(self, number: int, making: _Making) -> BathRow:
        last = making.last
        ended_us, cause = (last.ended_us, last.ended or "")
        if ended_us is None and making.anew_us is not None:
            ended_us, cause = making.anew_us, "made-anew"
        expires_us = min(last.expires_us, last.lot_expiry_us)
        row = BathRow(
            last.solution, last.agent, last.site, last.lots, number, last.made_us, expires_us, ended_us, cause,
            self._now_us, tests=tuple(making.tests), contacts=tuple(making.contacts),
        )  # fmt: skip
        suspects = tuple(_within(row, self._suspects))
        return replace(row, stretches=tuple(_stretches(row, last.failed_us)), suspects=suspects)


def _test(at_us: int, body: words.SolutionTested) -> Test:
    shown: Shown = "void" if not body.valid else "passed" if body.passed else "failed"
    unit = f" {body.unit}" if body.unit is not None else ""
    limit = f" ({body.limit})" if body.limit is not None else ""
    return Test(at_us, shown, f"{body.reading}{unit}{limit}" if body.reading is not None else "")


def _stretches(row: BathRow, failed_us: int | None) -> Iterator[Stretch]:
    """Yields how a making stood: in use until it expired or failed, then that until its end or now."""
    over_us = min(row.expires_us, failed_us if failed_us is not None else row.expires_us)
    turn_us = min(max(over_us, row.made_us), row.until_us)
    fail_us = min(max(failed_us, turn_us), row.until_us) if failed_us is not None else row.until_us
    told: tuple[Stretch, ...] = (
        Stretch("in-use", row.made_us, turn_us),
        Stretch("expired", turn_us, fail_us),
        Stretch("failed", fail_us, row.until_us),
    )
    yield from (one for one in told if one.until_us > one.from_us)


def _within(row: BathRow, suspects: Sequence[Suspect]) -> Iterator[Suspect]:
    """Yields the part of each doubtful time that lies within a making."""
    for one in suspects:
        from_us, until_us = max(one.from_us, row.made_us), min(one.until_us, row.until_us)
        if from_us < until_us:
            yield Suspect(from_us, until_us)
