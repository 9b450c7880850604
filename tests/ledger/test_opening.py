"""What is not a department's record is refused in one sentence and left as it was; the command line ends with 3."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from reprocess.clock import StoryClock
from reprocess.engine.request import NoteItem
from reprocess.errors import LedgerBusyError, LedgerError, LedgerFullError, LedgerVersionError
from reprocess.gathering import Library
from reprocess.ledger.migrate import MIGRATIONS
from reprocess.ledger.open import create_ledger, in_our_words, key_path
from tests.ledger import small
from tests.ledger.conftest import Command
from tests.ledger.day import Asked


def zero_bytes(path: Path) -> None:
    path.write_bytes(b"")


def not_a_database(path: Path) -> None:
    path.write_bytes(b"Dear diary, today nothing was cleaned." * 200)


def another_database(path: Path) -> None:
    path.unlink()
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE songs (title TEXT)")
    other.commit()
    other.close()


def a_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def cut_short(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:5000])


def schema_from_tomorrow(path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("UPDATE about SET value = '99' WHERE name = 'schema'")
    raw.commit()
    raw.close()


def schema_unsaid(path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("DELETE FROM about")
    raw.commit()
    raw.close()


def no_key(path: Path) -> None:
    key_path(path).unlink()


def short_key(path: Path) -> None:
    key_path(path).write_bytes(b"short")


def long_key(path: Path) -> None:
    key_path(path).write_bytes(b"k" * 33)


def key_is_a_folder(path: Path) -> None:
    key_path(path).unlink()
    key_path(path).mkdir()


def never_founded(path: Path) -> None:
    path.unlink()
    key_path(path).unlink()
    create_ledger(path).close()


SPOILT: dict[str, tuple[Callable[[Path], None], str]] = {
    "zero bytes": (zero_bytes, "is empty: its founding was not finished"),
    "not a database": (not_a_database, "is not a database"),
    "another program's database": (another_database, "is not a department's record"),
    "a folder": (a_folder, "could not be used"),
    "a file cut short": (cut_short, "damaged"),
    "a newer schema": (
        schema_from_tomorrow,
        f"has schema 99, this program knows {len(MIGRATIONS)}; use the newer program.",
    ),
    "no schema": (schema_unsaid, "is not a department's record"),
    "no key": (no_key, "The key department.db.key is missing"),
    "a short key": (short_key, "does not hold 32 bytes"),
    "a long key": (long_key, "does not hold 32 bytes"),
    "a folder for a key": (key_is_a_folder, "cannot be read"),
    "a founding that was killed": (never_founded, "its founding was not finished"),
}


@pytest.mark.parametrize(("spoil", "told"), SPOILT.values(), ids=SPOILT.keys())
def test_one_sentence_and_nothing_changed(
    path: Path, command: Command, spoil: Callable[[Path], None], told: str
) -> None:
    spoil(path)
    before = _bytes(path)
    for words in (["item", "S-1"], ["verify", "--full"], ["log", "S-1", "used", "--as", "B-A"], ["rebuild"]):
        code, out, err = command(*words, "-d", path)
        assert code == 3
        assert out == ""
        assert told in err
        assert len(err.splitlines()) == 1
    assert _bytes(path) == before


def test_a_missing_department_is_one_sentence(tmp_path: Path, command: Command) -> None:
    code, out, err = command("item", "S-1", "-d", tmp_path / "none.db")
    assert (code, out) == (3, "")
    assert err == f"There is no department in {tmp_path / 'none.db'}; `reprocess init` makes one.\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("taken", ["new.db", "new.db.key"])
def test_a_department_is_never_made_over_something_else(tmp_path: Path, taken: str) -> None:
    (tmp_path / taken).write_text("mine")
    with pytest.raises(LedgerError, match="exists already; nothing was changed"):
        create_ledger(tmp_path / "new.db")
    assert (tmp_path / taken).read_text() == "mine"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(LedgerError, match="could not be used"):
        create_ledger(tmp_path / "file" / "new.db")


def _bytes(path: Path) -> dict[str, bytes]:
    return {one.name: one.read_bytes() for one in sorted(path.parent.iterdir()) if one.is_file()}


def read_only(name: str) -> sqlite3.Connection:
    return sqlite3.connect(f"{Path(name).as_uri()}?mode=ro", uri=True, isolation_level=None)


def test_a_file_that_may_only_be_read_is_one_sentence(path: Path, evening: StoryClock, library: Library) -> None:
    with small.opened(path, evening, connect=read_only, library=library) as department:
        assert department.verify(full=True).sound
        with pytest.raises(LedgerError, match="cannot be written here; nothing was recorded"):
            Asked("evening-note", NoteItem("S-4", minutes=1)).put(department)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_only_be_read_is_one_sentence(path: Path, command: Command) -> None:
    path.chmod(0o400)
    path.parent.chmod(0o500)
    try:
        code, _, err = command("log", "S-1", "used", "--as", "B-A", "-d", path)
    finally:
        path.parent.chmod(0o700)
    assert code == 3
    assert "nothing was recorded" in err


def test_a_department_whose_projections_are_gone_says_how_to_get_them_back(path: Path, command: Command) -> None:
    raw = sqlite3.connect(path)
    raw.execute("UPDATE standing SET state = '{' WHERE stream = 'item:S-1'")
    raw.commit()
    raw.close()
    code, _, err = command("item", "S-1", "-d", path)
    assert code == 3
    assert "`reprocess rebuild` makes it anew" in err
    assert command("rebuild", "-d", path)[0] == 1
    assert command("item", "S-1", "-d", path)[0] == 0


def test_a_log_left_by_a_killed_process_is_read(path: Path, command: Command, tmp_path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("PRAGMA wal_autocheckpoint = 0")
    raw.execute("UPDATE standing SET state = '{' WHERE stream = 'item:S-1'")
    raw.commit()
    killed = tmp_path / "killed"
    killed.mkdir()
    for part in path.parent.iterdir():
        shutil.copyfile(part, killed / part.name)
    raw.close()
    assert (killed / "department.db-wal").stat().st_size > 0
    assert command("item", "S-1", "-d", killed / path.name)[0] == 3


@pytest.mark.parametrize(
    ("fault", "kind", "told"),
    [
        (sqlite3.OperationalError("database is locked"), LedgerBusyError, "keeps x.db busy"),
        (sqlite3.OperationalError("database or disk is full"), LedgerFullError, "The disk with x.db is full"),
        (sqlite3.OperationalError("attempt to write a readonly database"), LedgerFullError, "cannot be written here"),
        (sqlite3.DatabaseError("database disk image is malformed"), LedgerVersionError, "or it is damaged"),
        (sqlite3.OperationalError("no such column: shelf"), LedgerVersionError, "or it is damaged"),
        (sqlite3.IntegrityError("entries are never changed"), LedgerError, "could not be used (entries are never"),
        (PoolTimeoutError("QueuePool limit"), LedgerBusyError, "Too many requests wait"),
        (OSError(errno.ENOSPC, "No space left on device", "/full/x.db"), LedgerFullError, "is full"),
        (OSError(errno.EROFS, "Read-only file system"), LedgerFullError, "cannot be written here"),
        (OSError(errno.EACCES, "Permission denied", "/full/x.db"), LedgerFullError, "cannot be written here"),
        (OSError(errno.ENOTDIR, "Not a directory", "/busy/full/x.db"), LedgerError, "could not be used (Not a dir"),
    ],
)
def test_every_fault_is_one_sentence_that_names_the_file(fault: Exception, kind: type[LedgerError], told: str) -> None:
    said = in_our_words(fault, Path("/busy/full/x.db"))
    assert type(said) is kind
    assert told in said.sentence
    assert "x.db" in said.sentence
    assert said.exit_code == 3


@pytest.mark.parametrize("fate", ["moved", "deleted", "replaced"])
def test_a_file_that_goes_under_an_open_record_is_written_no_more(path: Path, evening: StoryClock, fate: str) -> None:
    """I11: what is acknowledged must be found by whoever opens the department next."""
    with small.opened(path, evening) as department:
        assert Asked("before", NoteItem("S-4", minutes=1)).put(department).accepted
        copy = path.with_suffix(".copy")
        shutil.copyfile(path, copy)
        if fate == "moved":
            path.rename(path.with_suffix(".elsewhere"))
        elif fate == "deleted":
            path.unlink()
        else:
            copy.replace(path)
        with pytest.raises(LedgerError, match="moved or replaced while it was open; nothing was recorded"):
            Asked("after", NoteItem("S-4", minutes=1)).put(department)
