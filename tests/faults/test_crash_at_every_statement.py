"""The program is stopped before and after every statement of every kind of request; nothing is lost or half written.

After each crash two things are looked at: what a killed process would have left on the disk, opened anew, and the
process itself, which in a server lives on after a request that died.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.errors import LedgerError
from reprocess.gathering import Library
from reprocess.ledger.open import open_ledger
from reprocess.ledger.verify import verify
from reprocess.rules.answer import Answer
from reprocess.scheduling import refresh_all
from tests.faults.crashing import CrashError, Fuse, When, connecting, content, copied
from tests.ledger import small
from tests.ledger.day import DAY, Asked

FILE = "department.db"
LIBRARY = Library()
"""The files as read; they are kept by digest, so that a crash cannot make them another text."""


@dataclass(frozen=True, slots=True)
class Before:
    """Is the department just before one request of the day."""

    path: Path
    wall_us: int
    running_us: int
    count: int

    def clock(self) -> StoryClock:
        """Returns the clock as it stood."""
        clock = StoryClock(self.wall_us, self.count)
        clock.running_us = self.running_us
        return clock


@pytest.fixture(scope="module")
def mornings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Before]:
    """Returns the department as it stands just before each request of the day."""
    folder = tmp_path_factory.mktemp("day")
    clock = StoryClock(small.START_US)
    found: dict[str, Before] = {}
    with small.found(folder / FILE, clock) as department:
        for asked in DAY:
            clock.push(asked.after_s)
            path = copied(folder / FILE, folder / asked.key)
            found[asked.key] = Before(path, clock.wall_us, clock.running_us, clock.count)
            assert asked.put(department).verdict == asked.verdict, asked.key
    return found


@pytest.mark.parametrize("asked", DAY, ids=[asked.key for asked in DAY])
def test_a_crash_at_any_statement_leaves_the_whole_request_or_nothing(
    asked: Asked, mornings: dict[str, Before], tmp_path: Path
) -> None:
    before = mornings[asked.key]
    _undisturbed(asked, before, tmp_path)  # the library has read its files now; from here on it is always the same
    undisturbed, statements = _undisturbed(asked, before, tmp_path)
    assert statements[-1] == "COMMIT"
    seen: set[bytes] = set()
    for at, when in _points(len(statements)):
        fuse = Fuse(at, when)
        path = copied(before.path, tmp_path / "crashing")
        fuse.burn = partial(copied, path, tmp_path / "killed")
        with small.opened(path, before.clock(), connect=connecting(fuse), library=LIBRARY) as department:
            fuse.lit = True
            with pytest.raises(CrashError):
                asked.put(department)
            _is_answered_once(department, asked, undisturbed)
        killed = tmp_path / "killed" / FILE
        image = content(killed)
        if image not in seen:
            seen.add(image)
            with small.opened(killed, before.clock(), library=LIBRARY) as department:
                _is_sound(department)
                _is_answered_once(department, asked, undisturbed)
    assert len(seen) >= 2


def _points(statements: int) -> Iterator[tuple[int, When]]:
    """Yields where to crash: before every statement, and after the last one; after one is before the next."""
    for at in range(1, statements + 1):
        yield at, "before"
    yield statements, "after"


def _undisturbed(asked: Asked, before: Before, folder: Path) -> tuple[Answer, list[str]]:
    fuse = Fuse()
    path = copied(before.path, folder / "undisturbed")
    with small.opened(path, before.clock(), connect=connecting(fuse), library=LIBRARY) as department:
        fuse.lit = True
        return asked.put(department), fuse.statements


def _is_answered_once(department: Department, asked: Asked, undisturbed: Answer) -> None:
    again = asked.put(department)
    assert replace(again, repeated=False) == undisturbed
    assert asked.put(department).repeated
    with department.ledger.reading() as cursor:
        written = cursor.execute(
            "SELECT count(*) FROM entry WHERE request_key = ? AND request_part = 0", (asked.key,)
        ).fetchone()
    assert written == (1,)
    _is_sound(department)


def _is_sound(department: Department) -> None:
    report = verify(department.ledger, full=True, refresh=lambda work: refresh_all(work, department.library))
    assert report.sound, report.findings


def test_a_founding_that_is_killed_at_any_statement_is_whole_or_asks_to_begin_again(tmp_path: Path) -> None:
    place = tmp_path / "founding" / FILE
    images: dict[bytes, Path] = {}

    def keep_what_is_new() -> None:
        if content(place) not in images:
            images[content(place)] = copied(place, tmp_path / f"killed-{len(images)}")

    fuse = Fuse(each=keep_what_is_new, lit=True)
    small.found(place, connect=connecting(fuse)).close()
    assert fuse.count > 100
    *unfinished, whole = images.values()
    assert len(unfinished) >= 2
    for killed in unfinished:
        with pytest.raises(LedgerError, match=r"founding was not finished|There is no department"):
            open_ledger(killed)
    with small.opened(whole, StoryClock(small.START_US)) as department:
        _is_sound(department)


@pytest.mark.parametrize("at", [1, 8, 40, 100])
def test_a_founding_that_fails_leaves_nothing_behind_and_can_be_done_again(tmp_path: Path, at: int) -> None:
    with pytest.raises(CrashError):
        small.found(tmp_path / FILE, connect=connecting(Fuse(at, lit=True)))
    for (
        left
    ) in tmp_path.iterdir():  # a crash inside `create_ledger` is a kill: the next founding says what is in its way
        assert at < 40
        left.unlink()
    with small.found(tmp_path / FILE) as department:
        _is_sound(department)
