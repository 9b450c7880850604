"""Names lie beside the record and go for good: out of the file, out of the log, out of a restored backup (I21, E40)."""

from __future__ import annotations

import ast
import sqlite3
from pathlib import Path

import pytest

import reprocess
from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Enrol
from reprocess.errors import LedgerError
from reprocess.ledger import erasures, migrate
from reprocess.ledger.append import looking, transaction
from reprocess.ledger.backup import backup, keep_key_apart, restore
from reprocess.ledger.names import Name
from reprocess.ledger.open import Ledger
from reprocess.record.words import BadgeGiven, PersonRegistered
from reprocess.terms import subject_of
from tests.faults.crashing import CrashError, Fuse, connecting
from tests.ledger import small
from tests.ledger.conftest import BOTH, Command
from tests.ledger.raw import place_of

MANY = 300
STATION, HANA = "LMG-1", "B-H"


def with_programme(department: Department) -> Department:
    """Returns the small department with a programme administrator."""
    bench = department.station(STATION, badge="B-A")
    person = PersonRegistered(name="Hana Ito", sites=(), roles=("programme-administrator",))
    assert bench.enrol(Enrol("person:P-H", person)).accepted
    assert bench.enrol(Enrol("person:P-H", BadgeGiven(badge=HANA))).accepted
    return department


def name_of(number: int) -> Name:
    """Returns an invented wearer whose name, badge and contact can be searched for in a file."""
    return Name(
        f"Wearer{number:04d}Qx " + "abc" * (number % 9), f"BADGE{number:04d}Qx", f"mail{number:04d}Qx@x.example"
    )


def registered(department: Department, number: int) -> str:
    answer = department.station(STATION, badge=HANA).register(name_of(number), "ED")
    assert answer.accepted, answer.reasons
    return subject_of(answer.subject)


def erased(department: Department, wearer: str) -> None:
    assert department.station(STATION, badge=HANA).ask(asking.EraseName(wearer)).accepted


def names_in(path: Path, numbers: list[int]) -> list[str]:
    """Returns which parts of these names stand anywhere in the database's files."""
    files = [path.with_name(path.name + suffix) for suffix in ("", "-wal", "-shm", ".erased")]
    held = b"".join(one.read_bytes() for one in files if one.exists())
    parts = [
        part for number in numbers for part in (f"Wearer{number:04d}Qx", f"BADGE{number:04d}Qx", f"mail{number:04d}Qx")
    ]
    return [part for part in parts if part.encode() in held]


def test_an_erased_name_is_in_no_page_of_the_file_nor_in_its_log(department: Department) -> None:
    """I21, E40: three hundred wearers, every second one erased, in the file as it lies on the disk."""
    with_programme(department)
    wearers = {number: registered(department, number) for number in range(MANY)}
    gone = list(range(0, MANY, 2))
    path = department.ledger.path
    assert len(names_in(path, gone)) == 3 * len(gone)
    for number in gone:
        erased(department, wearers[number])
    assert names_in(path, gone) == []
    assert len(names_in(path, list(range(1, MANY, 2)))) == 3 * (MANY // 2)
    assert department.verify(full=True).sound


@BOTH
def test_the_pseudonym_stays_in_the_record_and_on_the_list(department: Department) -> None:
    wearer = registered(with_programme(department), 1)
    erased(department, wearer)
    assert erasures.listed(erasures.list_path(department.ledger.path)) == [wearer]
    assert [one.kind for one in department.history(f"wearer:{wearer}")] == ["wearer-registered", "wearer-erased"]


def test_a_backup_from_before_brings_no_erased_name_back(department: Department, tmp_path: Path) -> None:
    """I21: the list beside the department outlives the department; a name that nobody erased comes back."""
    with_programme(department)
    gone, stays = registered(department, 1), registered(department, 2)
    path = department.ledger.path
    backup(department.ledger, tmp_path / "monday.db")
    keep_key_apart(department.ledger, tmp_path / "key")
    erased(department, gone)
    department.close()
    for suffix in ("", "-wal", "-shm", ".key"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)
    restore(tmp_path / "monday.db", tmp_path / "key", path)
    assert names_in(path, [1]) == []
    with small.opened(path, StoryClock(small.START_US * 2)) as again, looking(again.ledger) as read:
        assert read.names.wearers() == [stays]
        assert again.verify(full=True).sound
    elsewhere = tmp_path / "elsewhere.db"
    restore(tmp_path / "monday.db", tmp_path / "key", elsewhere, erasures.list_path(path))
    assert names_in(elsewhere, [1]) == []


def test_a_list_that_cannot_be_read_restores_nothing(department: Department, tmp_path: Path) -> None:
    backup(department.ledger, tmp_path / "monday.db")
    keep_key_apart(department.ledger, tmp_path / "key")
    bad = tmp_path / "bad.erased"
    bad.write_bytes(b"\xff\xfe")
    with pytest.raises(LedgerError, match="list of erased names"):
        restore(tmp_path / "monday.db", tmp_path / "key", tmp_path / "new.db", bad)
    assert not (tmp_path / "new.db").exists()


@BOTH
def test_a_name_that_came_back_by_hand_is_found(department: Department) -> None:
    """I21: verification compares the table of names with the erasures on record."""
    wearer = registered(with_programme(department), 1)
    erased(department, wearer)
    with department.ledger.writing() as cursor:
        cursor.execute("INSERT INTO wearer_name VALUES (?, 'x', NULL, NULL)", (wearer,))
    found = department.verify()
    assert [one.sentence for one in found.findings] == [f"a name of {wearer} is kept although it was erased"]


@BOTH
def test_who_comes_back_after_an_erasure_has_a_name_again(department: Department) -> None:
    wearer = registered(with_programme(department), 1)
    erased(department, wearer)
    bench = department.station(STATION, badge=HANA)
    assert bench.register(name_of(1), "ED", wearer=wearer).accepted
    assert department.wearer_of_badge("BADGE0001Qx") == wearer
    assert department.verify(full=True).sound
    erasures.settle(department.ledger)
    assert erasures.listed(erasures.list_path(department.ledger.path)) == []


@pytest.mark.parametrize("at", range(1, 40))
def test_a_crash_keeps_name_and_entry_together(morning: Department, at: int) -> None:
    """I21: killed at any statement there is a name with its entry, or neither."""
    with_programme(morning)
    path = morning.ledger.path
    fuse = Fuse(at)
    clock = StoryClock(small.START_US + 10**9, count=5000)
    with small.opened(path, clock, connect=connecting(fuse)) as other:
        fuse.lit = True
        try:
            registered(other, 1)
        except CrashError:
            pass
        finally:
            fuse.lit = False
    with looking(morning.ledger) as read:
        kept = read.names.wearers()
        on_record = [state.wearer for state in read.states_of("wearer") if hasattr(state, "wearer")]
    assert kept == on_record


def test_a_record_from_before_there_were_names_gets_the_table(tmp_path: Path) -> None:
    raw = sqlite3.connect(tmp_path / "old.db", isolation_level=None)
    cursor = raw.cursor()
    tables = "SELECT count(*) FROM sqlite_master WHERE name = 'wearer_name'"
    migrate.to_current(cursor, fresh=True, migrations=migrate.MIGRATIONS[: migrate.MIGRATIONS.index(migrate._names)])
    assert cursor.execute(tables).fetchone() == (0,)
    migrate.to_current(cursor, fresh=False)
    assert cursor.execute(tables).fetchone() == (1,)
    raw.close()


def test_nothing_but_the_names_module_and_erasures_speaks_of_the_table() -> None:
    """I21: one place reads names, so that one place can be watched."""
    folder = Path(reprocess.__file__).parent
    found = set()
    for path in sorted(folder.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            text = str(node.value) if isinstance(node, ast.Constant) else ""
            if "wearer_name" in text and "\n" not in text:
                found.add(path.relative_to(folder).as_posix())
    assert found == {f"ledger/{one}.py" for one in ("erasures", "names", "postgres", "tables")}


def test_a_log_that_a_reader_keeps_is_settled_later(department: Department) -> None:
    """The erasure stands all the same; the next one, or the next start, empties the log."""
    ledger: Ledger = department.ledger
    wearer = registered(with_programme(department), 1)
    assert ledger.settle()
    with ledger.reading() as cursor:
        cursor.execute("SELECT count(*) FROM entry").fetchone()
        with transaction(ledger) as work:
            work.names.erase(wearer)
    assert ledger.settle()
    assert names_in(ledger.path, [1]) == []


@BOTH
def test_the_commands_that_show_the_record_name_nobody(department: Department, command: Command) -> None:
    """D13: history, verify, due, board and rebuild, as text and as JSON."""
    wearer = registered(with_programme(department), 1)
    place = place_of(department.ledger)
    department.station(STATION, badge=HANA).reveal(asking.ReadNames((wearer,), "audit"))
    department.close()
    for words in (
        ("history", f"wearer:{wearer}"),
        ("verify", "--full"),
        ("due",),
        ("board",),
        ("rebuild",),
        ("person", "P-H"),
    ):
        for more in ((), ("--json",)):
            _, out, err = command(*words, *more, "-d", place)
            assert "Qx" not in out + err, words
