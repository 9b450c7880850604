"""A backup is what stood at one instant, verified before it has its name; a restore overwrites nothing."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from reprocess.clock import StoryClock, keep
from reprocess.department import Department
from reprocess.engine.request import NoteItem
from reprocess.errors import LedgerError, TamperedError
from reprocess.gathering import Library
from reprocess.ledger.backup import backup, keep_key_apart, restore
from reprocess.ledger.open import Ledger, create_ledger, key_path, open_ledger
from reprocess.ledger.verify import verify
from reprocess.terms import SECOND_US, as_text
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.conftest import Command
from tests.ledger.day import DAY, Asked
from tests.ledger.forging import ANOTHER_KEY, forging


def test_a_backup_restored_is_the_same_department(
    department: Department, tmp_path: Path, evening: StoryClock, library: Library
) -> None:
    copy = backup(department.ledger, tmp_path / "backups" / "monday.db")
    keep_key_apart(department.ledger, tmp_path / "key")
    back = restore(copy.path, tmp_path / "key", tmp_path / "new" / "department.db")
    before = department.verify()
    assert (back.entries, back.last_us) == (copy.entries, copy.last_us) == (before.entries, before.last_us)
    with small.opened(back.path, evening, library=library) as again:
        assert again.verify(full=True).sound
        assert Asked("after", NoteItem("S-4", minutes=1)).put(again).accepted
        assert again.verify(full=True).sound


def test_a_backup_has_no_key_beside_it_and_nothing_unfinished(department: Department, tmp_path: Path) -> None:
    folder = tmp_path / "backups"
    backup(department.ledger, folder / "monday.db")
    assert [one.name for one in folder.iterdir()] == ["monday.db"]
    assert (folder / "monday.db").stat().st_mode & 0o777 == 0o600
    assert department.ledger.key not in (folder / "monday.db").read_bytes()


def test_a_backup_is_made_while_another_writes(
    department: Department, tmp_path: Path, evening: StoryClock, library: Library
) -> None:
    with small.opened(department.ledger.path, evening, library=library) as other, other.ledger.writing() as cursor:
        cursor.execute("INSERT INTO claim VALUES ('k', 'node', 1)")
        copy = backup(department.ledger, tmp_path / "monday.db")
    raw = sqlite3.connect(copy.path)
    assert raw.execute("SELECT count(*) FROM claim").fetchone() == (0,)
    raw.close()
    assert copy.entries == department.verify().entries


def test_nothing_is_overwritten(department: Department, path: Path, tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    mine.write_text("mine")
    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    key = key_path(path)
    for taken in (mine, tmp_path / "dangling", path):
        for act in (
            lambda taken=taken: backup(department.ledger, taken),
            lambda taken=taken: keep_key_apart(department.ledger, taken),
            lambda taken=taken: restore(path, key, taken),
        ):
            with pytest.raises(LedgerError, match="exists already and is never overwritten"):
                act()
    (tmp_path / "half.db.key").write_text("mine")
    with pytest.raises(LedgerError, match=r"half\.db\.key exists already"):
        restore(path, key, tmp_path / "half.db")
    assert mine.read_text() == "mine"
    assert not (tmp_path / "nowhere").exists()
    assert (tmp_path / "half.db.key").read_text() == "mine"


def test_a_record_that_does_not_verify_is_not_kept_as_a_backup(department: Department, tmp_path: Path) -> None:
    with forging(department.ledger.path) as forger:
        forger.run("UPDATE entry SET actor = 'P-X' WHERE feed = 20")
    with pytest.raises(TamperedError, match="does not verify with this key and was not kept: entry 20"):
        backup(department.ledger, tmp_path / "backups" / "monday.db")
    assert list((tmp_path / "backups").iterdir()) == []


def test_a_backup_is_not_restored_with_another_key(department: Department, tmp_path: Path) -> None:
    copy = backup(department.ledger, tmp_path / "monday.db")
    (tmp_path / "key").write_bytes(ANOTHER_KEY)
    (tmp_path / "short").write_bytes(b"short")
    with pytest.raises(TamperedError, match="entry 1, "):
        restore(copy.path, tmp_path / "key", tmp_path / "new" / "department.db")
    with pytest.raises(LedgerError, match="is no key; nothing was changed"):
        restore(copy.path, tmp_path / "short", tmp_path / "new" / "department.db")
    with pytest.raises(LedgerError, match="cannot be read"):
        restore(copy.path, tmp_path / "none", tmp_path / "new" / "department.db")
    assert list((tmp_path / "new").iterdir()) == []


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (None, "There is no backup"),
        (b"", "is not a department's record"),
        (b"not a database at all" * 400, "is not a department's record"),
    ],
)
def test_what_is_no_backup_is_one_sentence(path: Path, tmp_path: Path, content: bytes | None, told: str) -> None:
    copy = tmp_path / "copy.db"
    if content is not None:
        copy.write_bytes(content)
    with pytest.raises(LedgerError, match=told):
        restore(copy, key_path(path), tmp_path / "new" / "department.db")
    assert not (tmp_path / "new").exists() or list((tmp_path / "new").iterdir()) == []


def test_a_record_that_was_never_founded_is_no_backup(tmp_path: Path) -> None:
    ledger = create_ledger(tmp_path / "empty.db")
    with pytest.raises(LedgerError, match="holds no entry and was not kept"):
        backup(ledger, tmp_path / "monday.db")
    ledger.close()
    assert not (tmp_path / "monday.db").exists()


def test_a_name_that_somebody_takes_meanwhile_is_not_overwritten(department: Department, tmp_path: Path) -> None:
    class Hurried(Ledger):
        """Is a ledger beside which somebody makes the target while it is copied."""

        @contextmanager
        def cursor(self) -> Iterator[sqlite3.Cursor]:
            (tmp_path / "monday.db").write_text("mine")
            with super().cursor() as cursor:
                yield cursor

    ledger = department.ledger
    with pytest.raises(LedgerError, match="was made by somebody else meanwhile and is not overwritten"):
        backup(Hurried(ledger.database, ledger.path, ledger.ring), tmp_path / "monday.db")
    assert (tmp_path / "monday.db").read_text() == "mine"
    assert [one.name for one in tmp_path.iterdir() if one.is_file()] == ["monday.db"]


def test_a_backup_from_a_newer_program_is_refused(path: Path, tmp_path: Path) -> None:
    raw = sqlite3.connect(path)
    raw.execute("UPDATE about SET value = '99' WHERE name = 'schema'")
    raw.commit()
    raw.close()
    with pytest.raises(LedgerError, match="has schema 99"):
        restore(path, key_path(path), tmp_path / "new.db")
    assert not (tmp_path / "new.db").exists()


def test_a_copy_by_hand_with_its_log_is_read_with_the_log(department: Department, path: Path, tmp_path: Path) -> None:
    assert Asked("late", NoteItem("S-4", minutes=1)).put(department).accepted
    by_hand = copied(path, tmp_path / "by hand")
    assert by_hand.with_name(by_hand.name + "-wal").stat().st_size > 0
    back = restore(by_hand, key_path(path), tmp_path / "new.db")
    assert back.entries == department.verify().entries


def test_a_backup_is_read_without_writing_beside_it(department: Department, path: Path, tmp_path: Path) -> None:
    copy = backup(department.ledger, tmp_path / "backups" / "monday.db").path
    before = copy.read_bytes()
    restore(copy, key_path(path), tmp_path / "new.db")
    assert [one.name for one in copy.parent.iterdir()] == ["monday.db"]
    assert copy.read_bytes() == before


def test_the_key_that_is_copied_is_its_owners_alone(department: Department, tmp_path: Path) -> None:
    keep_key_apart(department.ledger, tmp_path / "key")
    assert (tmp_path / "key").read_bytes() == department.ledger.key
    assert (tmp_path / "key").stat().st_mode & 0o777 == 0o600
    with pytest.raises(LedgerError, match="could not be used"):
        keep_key_apart(department.ledger, tmp_path / "none" / "key")


def test_a_folder_that_cannot_be_made_is_one_sentence(department: Department, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(LedgerError, match="could not be used"):
        backup(department.ledger, tmp_path / "file" / "monday.db")


def test_where_files_cannot_be_linked_the_copy_is_renamed(
    department: Department, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: Path, target: Path) -> None:
        raise PermissionError(1, "no links here", str(self), None, str(target))

    monkeypatch.setattr(Path, "hardlink_to", refuse)
    backup(department.ledger, tmp_path / "stick" / "monday.db")
    assert [one.name for one in (tmp_path / "stick").iterdir()] == ["monday.db"]


def test_the_commands_say_how_far_a_copy_goes(path: Path, tmp_path: Path, command: Command) -> None:
    code, out, _ = command("backup", tmp_path / "monday.db", "-d", path)
    entries = verify(open_ledger(path)).entries
    assert code == 0
    assert (
        f"{tmp_path / 'monday.db'} is verified: {entries} entries, the last one number {entries}, recorded 2026-" in out
    )
    assert "The key is not in it" in out
    assert "under lock" in out
    assert command("backup", tmp_path / "monday.db", "-d", path)[0] == 3
    code, out, _ = command("backup", tmp_path / "tuesday.db", "--key-to", tmp_path / "key", "-d", path, "--json")
    assert f'"last_feed": {entries}' in out
    new = tmp_path / "new.db"
    assert command("restore", tmp_path / "monday.db", "-d", new)[0] == 2
    code, out, _ = command("restore", tmp_path / "monday.db", "--key", tmp_path / "key", "-d", new)
    assert code == 0
    assert "Whatever was recorded after that is not in it" in out
    assert command("restore", tmp_path / "monday.db", "--key", tmp_path / "key", "-d", new)[0] == 3
    code, out, _ = command(
        "restore", tmp_path / "tuesday.db", "--key", tmp_path / "key", "-d", tmp_path / "third.db", "--json"
    )
    assert json.loads(out) == {
        "path": str(tmp_path / "third.db"),
        "entries": entries,
        "last_feed": entries,
        "last_recorded": as_text(small.START_US + sum(asked.after_s for asked in DAY) * SECOND_US),
    }
    code, out, _ = command("verify", "--full", "-d", new)
    assert (code, out.startswith("sound: ")) == (0, True)


def test_a_demo_keeps_its_now(path: Path, tmp_path: Path, command: Command, evening: StoryClock) -> None:
    keep(evening, path)
    command("backup", tmp_path / "monday.db", "--key-to", tmp_path / "key", "-d", path)
    command("restore", tmp_path / "monday.db", "--key", tmp_path / "key", "-d", tmp_path / "new.db")
    assert (tmp_path / "new.db.now").read_text() == (tmp_path / "monday.db.now").read_text()
