"""Moving a department to a server: byte for byte, and stopped at every step it is open in one place or in none."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from functools import partial
from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.commandline import main
from reprocess.department import Server
from reprocess.engine import request as asking
from reprocess.errors import LedgerBusyError, LedgerError, LedgerMovedError, TamperedError
from reprocess.gathering import Library
from reprocess.ledger import files
from reprocess.ledger.move import BESIDE, Moved, Moving, source_at
from reprocess.ledger.open import open_ledger
from reprocess.ledger.verify import verify
from reprocess.ledger.whereabouts import say
from reprocess.record.form import COLUMNS
from reprocess.scheduling import refresh_all
from reprocess.station import Call
from tests.ledger import small
from tests.ledger.day import DAY, play
from tests.postgres import TestServer

STEPS = (
    "source verified", "tables made", "key kept", "files kept", "entries sent", "copied", "copy verified",
    "source left", "arrived",
)  # fmt: skip
LEAVING = STEPS.index("source left")
NOW_US = small.START_US + 30 * 86_400_000_000
LIBRARY = Library()
REFRESH = partial(refresh_all, library=LIBRARY)
KEPT_BESIDE = (
    "INSERT INTO wearer_name VALUES ('W-1', 'Ida Marsh', 'B-W-1', NULL)",
    "INSERT INTO credential VALUES ('P-A', 'a hash', 1, 0)",
    "INSERT INTO token_digest VALUES ('a digest', 'T-1', NULL)",
    "INSERT INTO delivery VALUES ('SUB-1', 3, 0, 5, 0, NULL, NULL)",
    "INSERT INTO subscription_secret VALUES ('SUB-1', 1, x'00ff', 5)",
    "INSERT INTO post VALUES ('T01/S-1/1/met', 'mail', 0, 'LMG', '{}', 2, 5, 0)",
)
"""What follows from no entry, and must arrive as it stands."""
PHOTO = b"a picture of a crack"


@pytest.fixture(scope="module")
def day_over(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Returns the small department after its day, with a file; never to be changed, only copied."""
    path = tmp_path_factory.mktemp("over") / "department.db"
    clock = StoryClock(small.START_US)
    with small.found(path, clock) as department:
        play(department, clock)
        bench = department.station("LMG-1", badge="B-A")
        assert bench.keep_file(PHOTO, "item:S-1", "crack.jpg", "image/jpeg").accepted
        with department.ledger.writing() as cursor:
            for statement in KEPT_BESIDE:
                cursor.execute(statement)
    return path


@pytest.fixture
def path(day_over: Path, tmp_path: Path) -> Path:
    return shutil.copytree(day_over.parent, tmp_path / "copy") / day_over.name


@pytest.fixture
def place(postgres_server: TestServer) -> Iterator[Server]:
    found = postgres_server.place()
    yield found
    postgres_server.drop(found)
    found.key_file.unlink(missing_ok=True)


def moved(path: Path, place: Server, done: Callable[[str], None] = lambda _: None, now_us: int = NOW_US) -> Moved:
    with closing(source_at(path)) as source:
        return Moving(source, place, REFRESH, now_us, done).go()


def opens(place: Path | Server) -> bool:
    try:
        open_ledger(place).close()
    except LedgerError:
        return False
    return True


def rows(place: Path | Server, table: str, order: str) -> list[tuple[object, ...]]:
    ledger = source_at(place) if isinstance(place, Path) else open_ledger(place)
    with closing(ledger), ledger.reading() as cursor:
        names = ", ".join([*COLUMNS, "digest", "mac", "mac_key"]) if table == "entry" else "*"
        asked = f"SELECT {names} FROM {table} ORDER BY {order}"  # noqa: S608
        return [tuple(row) for row in cursor.execute(asked).fetchall()]


def test_every_entry_arrives_byte_for_byte_and_both_verify(path: Path, place: Server) -> None:
    told = moved(path, place)
    assert told.finished
    assert told.files == 1
    ours = rows(path, "entry", "feed")
    assert len(ours) == told.entries > len(DAY)
    assert rows(place, "entry", "feed") == ours
    for table in ("standing", "touch", "due", "badge", "definition", "review", "rang"):
        assert rows(place, table, "1, 2") == rows(path, table, "1, 2"), table
    with closing(open_ledger(place)) as target:
        report = verify(target, full=True, refresh=REFRESH)
        assert report.sound, report.findings
    with closing(source_at(path)) as source:
        assert verify(source, full=True, refresh=REFRESH).sound


def test_the_files_that_entries_name_go_with_it(path: Path, place: Server) -> None:
    moved(path, place)
    shutil.rmtree(files.folder_of(path))
    with closing(open_ledger(place)) as target:
        with target.reading() as cursor:
            (kept,) = files.named(cursor)
        assert files.read_file(target, kept.digest) == PHOTO


def test_what_follows_from_no_entry_is_all_there(path: Path, place: Server) -> None:
    filled = [table.name for table in BESIDE if rows(path, table.name, "1")]
    assert len(filled) == len(KEPT_BESIDE) == len(BESIDE)
    moved(path, place)
    for name in filled:
        assert rows(place, name, "1") == rows(path, name, "1"), name


def test_the_old_place_says_where_it_went_and_takes_nothing_more(path: Path, place: Server) -> None:
    with small.opened(path, StoryClock(NOW_US, count=500_000)) as still_open:
        assert still_open.last_feed()
        moved(path, place)
        with pytest.raises(LedgerError, match="moved to another database"):
            still_open.desk.take(Call(asking.NoteItem("S-1", minutes=1), "LMG-1", "B-A", None, "late"))
    with pytest.raises(LedgerMovedError, match=place.database):
        open_ledger(path)


def test_the_department_goes_on_in_its_new_place(path: Path, place: Server) -> None:
    last = moved(path, place).entries
    with small.opened(place, StoryClock(NOW_US, count=500_000)) as department:
        call = Call(asking.Contaminate("S-1", "used"), "LMG-1", "B-A", None, "the next one")
        department.desk.take(call)
        assert department.last_feed() > last
        assert department.verify(full=True).sound


def test_a_key_that_was_used_before_the_move_is_answered_as_then(path: Path, place: Server) -> None:
    asked = DAY[0]
    moved(path, place)
    with small.opened(place, StoryClock(NOW_US, count=500_000)) as department:
        last = department.last_feed()
        assert asked.put(department).repeated
        assert department.last_feed() == last


def test_a_trial_changes_nothing(path: Path, place: Server) -> None:
    with closing(source_at(path)) as source:
        told = Moving(source, place, REFRESH, NOW_US).try_it()
    assert not told.finished
    assert opens(path)
    assert not opens(place)
    assert moved(path, place).entries == told.entries


def test_a_second_move_says_that_it_was_done(path: Path, place: Server) -> None:
    first = moved(path, place)
    assert moved(path, place) == first


def test_a_place_that_is_taken_is_refused(path: Path, place: Server) -> None:
    small.found(place, StoryClock(small.START_US)).close()
    with pytest.raises(LedgerError, match="nothing was changed"):
        moved(path, place)
    assert opens(path)
    assert opens(place)


def test_a_place_whose_key_is_lost_is_refused(path: Path, place: Server) -> None:
    small.found(place, StoryClock(small.START_US)).close()
    place.key_file.unlink()
    with pytest.raises(LedgerError):
        moved(path, place)
    assert opens(path)


def test_another_records_key_is_never_overwritten(path: Path, place: Server) -> None:
    place.key_file.write_bytes(b"x" * 32)
    with pytest.raises(LedgerError, match="another record's key"):
        moved(path, place)
    assert place.key_file.read_bytes() == b"x" * 32
    assert opens(path)


def test_it_goes_to_one_place_only(path: Path, place: Server, postgres_server: TestServer) -> None:
    moved(path, place)
    other = postgres_server.place()
    with pytest.raises(LedgerMovedError, match="was moved to"):
        moved(path, other)
    postgres_server.drop(other)


def test_a_department_at_work_is_not_moved(path: Path, place: Server) -> None:
    with closing(open_ledger(path)) as ledger, ledger.writing() as cursor:
        say(cursor, "swept", str(NOW_US - 20_000_000))
    with pytest.raises(LedgerBusyError, match="Stop it"):
        moved(path, place)
    assert opens(path)
    moved(path, place, now_us=NOW_US + 60_000_000)


def test_nobody_writes_into_the_source_meanwhile(path: Path, place: Server) -> None:
    """Without a limit of 5 s each, which this test does not want to wait for."""
    refused = []

    def try_to_write(step: str) -> None:
        if step != "arrived":
            with closing(sqlite3.connect(path, timeout=0, isolation_level=None)) as other:
                try:
                    other.execute("BEGIN IMMEDIATE")
                except sqlite3.OperationalError:
                    refused.append(step)

    moved(path, place, try_to_write)
    assert refused == list(STEPS[:-1])


def test_a_record_that_does_not_verify_stays_where_it_is(path: Path, place: Server) -> None:
    with closing(open_ledger(path)) as ledger, ledger.writing() as cursor:
        cursor.execute("UPDATE standing SET stage = 'ready' WHERE stream = 'item:S-1'")
    with pytest.raises(TamperedError, match="was not moved"):
        moved(path, place)
    assert opens(path)


def killed_at(path: Path, place: Server, step: str) -> None:
    """Moves in a process of its own that is killed with kill -9 at a step."""
    child = os.fork()
    if child == 0:
        try:
            moved(path, place, lambda done: os.kill(os.getpid(), signal.SIGKILL) if done == step else None)
        finally:
            os._exit(1)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status)


@pytest.mark.parametrize("step", STEPS)
def test_killed_at_any_step_it_is_open_once_at_most_and_the_same_command_goes_on(
    path: Path, place: Server, step: str
) -> None:
    killed_at(path, place, step)
    left = STEPS.index(step) >= LEAVING
    assert opens(path) is not left
    assert opens(place) is (step == "arrived")
    if not left:
        assert verify_source(path)
    moved(path, place)
    assert not opens(path)
    assert opens(place)
    assert rows(place, "entry", "feed") == rows(path, "entry", "feed")


def test_a_source_that_was_written_to_after_a_broken_move_arrives_with_what_was_written(
    path: Path, place: Server
) -> None:
    killed_at(path, place, "copied")
    with small.opened(path, StoryClock(NOW_US, count=500_000)) as department:
        department.desk.take(Call(asking.Contaminate("S-1", "used"), "LMG-1", "B-A", None, "in between"))
    assert not opens(place)
    moved(path, place)
    assert rows(place, "entry", "feed") == rows(path, "entry", "feed")
    with small.opened(place, StoryClock(NOW_US, count=600_000)) as department:
        assert department.verify(full=True).sound


def test_a_half_moved_place_says_what_to_do(path: Path, place: Server) -> None:
    killed_at(path, place, "copied")
    with pytest.raises(LedgerMovedError, match="same `reprocess move` again"):
        open_ledger(place)


def verify_source(path: Path) -> bool:
    with closing(open_ledger(path)) as source:
        return verify(source, full=True, refresh=REFRESH).sound


def typed(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str) -> tuple[int, str, str]:
    """Returns (exit code, what was printed, what was complained of) of a command."""
    monkeypatch.setattr(sys, "argv", ["reprocess", *words])
    code = main.run()
    told = capsys.readouterr()
    return code, told.out, told.err


def test_the_command_moves_it_and_every_other_command_says_where_it_is(
    path: Path, place: Server, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert place.owner is not None
    words = ("move", place.address, "--owner", place.owner, "--key-to", str(place.key_file), "-d", str(path))
    code, out, _ = typed(capsys, monkeypatch, *words, "--dry-run")
    assert (code, "Nothing was changed" in out) == (main.DONE, True)
    code, out, err = typed(capsys, monkeypatch, *words, "--json")
    assert (code, err) == (main.DONE, "")
    told = json.loads(out)
    assert told["moved"]
    assert told["files"] == 1
    code, _, err = typed(capsys, monkeypatch, "board", "-d", str(path))
    assert (code, place.database in err) == (main.FAILED, True)
    monkeypatch.setenv("REPROCESS_KEY_FILE", str(place.key_file))
    code, out, _ = typed(capsys, monkeypatch, "verify", "--full", "-d", place.address)
    assert (code, out.startswith("sound")) == (main.DONE, True)
    assert typed(capsys, monkeypatch, *words)[0] == main.DONE
