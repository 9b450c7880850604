"""A full disk: one sentence, nothing half written, reading goes on, and the same key works once there is room."""

from __future__ import annotations

import sqlite3
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine.request import NoteItem
from reprocess.errors import LedgerError, LedgerFullError
from reprocess.gathering import Library
from reprocess.ledger.backup import backup
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.day import Asked

TRIES_MAX = 3_000
DISK_BYTES = 3 * 1024 * 1024


def of_pages(more: int) -> Callable[[str], sqlite3.Connection]:
    """Returns what opens connections whose file may grow by so many pages and no more."""

    def connect(path: str) -> sqlite3.Connection:
        made = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        pages = made.execute("PRAGMA page_count").fetchone()[0]
        made.execute(f"PRAGMA max_page_count = {pages + more}")
        return made

    return connect


def note(number: int) -> Asked:
    return Asked(f"note-{number}", NoteItem("S-4", minutes=1))


def until_full(department: Department, start: int) -> int:
    """Writes until the disk is full, and returns the first number that was not recorded."""
    for number in range(start, TRIES_MAX):
        try:
            assert note(number).put(department).accepted
        except LedgerFullError:
            return number
    pytest.fail("the disk was never full")


def test_a_file_that_may_not_grow(path: Path, evening: StoryClock, library: Library) -> None:
    with small.opened(path, evening, connect=of_pages(6), library=library) as department:
        first = until_full(department, 0)
        assert first > 0
        assert department.item("S-4").used_minutes == first
        assert department.verify(full=True).sound
        with pytest.raises(LedgerFullError) as refused:
            note(first).put(department)
        assert refused.value.exit_code == 3
        assert refused.value.sentence == "The disk with department.db is full; nothing was recorded."
    with small.opened(path, evening, library=library) as department:
        assert not note(first).put(department).repeated
        assert note(first - 1).put(department).repeated
        assert department.item("S-4").used_minutes == first + 1
        assert department.verify(full=True).sound


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """Yields a file system of three megabytes; skips where this user may not mount one."""
    place = tmp_path / "disk"
    place.mkdir()
    options = f"size={DISK_BYTES}"
    try:
        done = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)],  # noqa: S607 - as the shell finds it
            capture_output=True,
            check=False,
        )
    except OSError:
        pytest.skip("there is no mount command here")
    if done.returncode:
        pytest.skip("mounting a small disk takes root")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)  # noqa: S607 - as the shell finds it


def test_a_disk_that_is_really_full(disk: Path, path: Path, evening: StoryClock, library: Library) -> None:
    there = copied(path, disk / "there")
    ballast = disk / "ballast"
    with small.opened(there, evening, library=library) as department:
        assert note(0).put(department).accepted
        with pytest.raises(OSError, match="No space left"):
            ballast.write_bytes(bytes(DISK_BYTES))
        first = until_full(department, 1)
        assert department.item("S-4").used_minutes == first
        assert department.verify(full=True).sound
        with pytest.raises(LedgerError, match="is full; nothing was recorded"):
            backup(department.ledger, disk / "monday.db")
        assert sorted(one.name for one in disk.iterdir()) == ["ballast", "there"]
        ballast.unlink()
        assert not note(first).put(department).repeated
        assert department.item("S-4").used_minutes == first + 1
        assert department.verify(full=True).sound
    with small.opened(there, evening, library=library) as department:
        assert department.verify(full=True).sound
        assert note(first).put(department).repeated
