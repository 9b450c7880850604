"""What follows from the entries: full verification names each row that does not, and a rebuild puts it right."""

# ruff: noqa: S608 - the names put into statements are ours

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import pytest

from reprocess.department import Department
from reprocess.engine.enrolling import Enrol
from reprocess.errors import TamperedError
from reprocess.ledger.address import Server
from reprocess.ledger.append import transaction
from reprocess.ledger.rebuild import Rebuilt, rebuild
from reprocess.ledger.tables import METADATA, PROJECTIONS
from reprocess.ledger.verify import Report, verify
from reprocess.record.entry import Draft, Envelope
from reprocess.record.words import BadgeGiven, BadgeWithdrawn, ReminderEscalated, ReminderRang, ReminderSeen
from reprocess.scheduling import refresh_all
from tests.ledger.conftest import BOTH, Command
from tests.ledger.day import Asked
from tests.ledger.forging import forging
from tests.ledger.raw import asked

SITE = "site:LMG"


@pytest.fixture
def rung(department: Department) -> Department:
    """Returns the department after a reminder rang twice, was seen and escalated."""
    rang = ReminderRang(key="T12/S-1", rule="T12", subject="item:S-1", due_us=1, late_s=0)
    told = ReminderEscalated(key="T12/S-1", rule="T12", subject="item:S-1", to_role="supervisor", due_us=1)
    for key, body in (("r1", rang), ("r2", rang), ("r3", ReminderSeen(key="T12/S-1")), ("r4", told)):
        envelope = Envelope(department.clock.now(), 0, None, None, None, key, "0" * 32)
        department.clock.push(60)  # type: ignore[attr-defined]
        with transaction(department.ledger) as work:
            ids = iter([department.clock.new_id()])
            work.write(
                work.prepare([Draft(SITE, body)], envelope, ids), '{"verdict":"accepted","subject":"","asked":""}'
            )
    with department.ledger.writing() as cursor:
        cursor.execute("INSERT INTO claim VALUES ('T12/S-1', 'node-1', 17)")
    return department


def judged(department: Department) -> Report:
    return verify(department.ledger, full=True, refresh=lambda work: refresh_all(work, department.library))


def rebuilt(department: Department) -> Rebuilt:
    return rebuild(department.ledger, refresh=lambda work: refresh_all(work, department.library))


def kept(place: Path | Server) -> dict[str, list[tuple[Any, ...]]]:
    """Returns every row of every table but the entries."""
    return {
        table.name: asked(place, f"SELECT * FROM {table.name} ORDER BY {', '.join(table.primary_key.columns.keys())}")
        for table in (*PROJECTIONS, *(one for one in PROJECTIONS[0].metadata.sorted_tables if one.name == "claim"))
    }


def row_of(place: Path | Server) -> str:
    """Returns the column by which the database itself names a row."""
    return "ctid::text" if isinstance(place, Server) else "rowid"


@BOTH
def test_every_projection_has_rows_to_try_with(rung: Department, place: Path | Server) -> None:
    del rung
    assert [name for name, rows in kept(place).items() if not rows] == []


@BOTH
def test_a_rebuild_of_what_is_right_changes_nothing_and_rings_nothing(rung: Department, place: Path | Server) -> None:
    before = kept(place)
    assert judged(rung).sound, judged(rung).findings
    again = rebuilt(rung)
    assert again.equal
    assert again.entries == rung.verify().entries
    assert kept(place) == before
    assert before["rang"] == [("T12/S-1", before["rang"][0][1], before["rang"][0][2], before["rang"][0][3])]
    assert before["rang"][0][1] < before["rang"][0][2] < before["rang"][0][3]


@BOTH
def test_everything_thrown_away_comes_back_as_it_was(rung: Department, place: Path | Server) -> None:
    before = kept(place)
    with rung.ledger.writing() as cursor:
        for table in PROJECTIONS:
            cursor.execute(f"DELETE FROM {table.name}")
    assert not rebuilt(rung).equal
    assert kept(place) == before
    assert rebuilt(rung).equal
    assert judged(rung).sound


def another(table: str, column: str, old: Any) -> Any:
    """Returns another value of the column's type."""
    kind = METADATA.tables[table].c[column].type.python_type
    return (old or 0) + 1 if kind is int else b"x" * 32 if kind is bytes else f"{old}x"


CELLS = [(table.name, column.name) for table in PROJECTIONS for column in table.c]


@BOTH
@pytest.mark.parametrize(("table", "column"), CELLS, ids=[f"{table}.{column}" for table, column in CELLS])
def test_a_changed_cell_is_found_and_put_right(rung: Department, place: Path | Server, table: str, column: str) -> None:
    before = kept(place)
    with rung.ledger.writing() as cursor:
        own = row_of(place)
        old = cursor.execute(f"SELECT {own}, {column} FROM {table} ORDER BY {own} LIMIT 1").fetchone()
        new = another(table, column, old[1])
        cursor.execute(f"UPDATE {table} SET {column} = ? WHERE {own} = ?", (new, old[0]))
    report = judged(rung)
    assert not report.sound
    assert f" in {table}: " in report.findings[0].sentence
    again = rebuilt(rung)
    assert {one.table for one in again.differences} == {table}
    assert kept(place) == before
    assert judged(rung).sound


@BOTH
@pytest.mark.parametrize("table", [table.name for table in PROJECTIONS])
def test_a_row_too_few_or_too_many_is_found_and_put_right(rung: Department, place: Path | Server, table: str) -> None:
    before = kept(place)
    with rung.ledger.writing() as cursor:
        own = row_of(place)
        cursor.execute(f"DELETE FROM {table} WHERE {own} = (SELECT max({own}) FROM {table})")
    assert "was missing" in judged(rung).findings[0].sentence
    assert rebuilt(rung).total == 1
    assert kept(place) == before
    with rung.ledger.writing() as cursor:
        names = [column.name for column in next(one for one in PROJECTIONS if one.name == table).c]
        rest = ", ".join(names[1:])
        other = 10**9 if table == "review" else f"'item:X-{table}'"  # the queue's key is the entry's number
        cursor.execute(f"INSERT INTO {table} SELECT {other}, {rest} FROM {table} LIMIT 1")
    assert "was left over" in judged(rung).findings[0].sentence
    assert rebuilt(rung).total == 1
    assert kept(place) == before


@pytest.mark.parametrize(
    "lost", ["TABLE standing", "TABLE touch", "TABLE due", "INDEX due_when", "TRIGGER entry_never_goes"]
)
def test_a_table_an_index_or_a_trigger_that_is_gone_is_made_anew(rung: Department, path: Path, lost: str) -> None:
    before = kept(path)
    with rung.ledger.writing() as cursor:
        cursor.execute(f"DROP {lost}")
    assert not judged(rung).sound
    again = rebuilt(rung)
    assert any(lost.split()[1] in one for one in again.mended)
    assert not again.equal
    assert kept(path) == before
    assert judged(rung).sound


def test_text_that_is_not_text_is_found_and_put_right(rung: Department, path: Path) -> None:
    before = kept(path)
    with rung.ledger.writing() as cursor:
        cursor.execute("UPDATE standing SET state = CAST(x'ff' AS TEXT) WHERE stream = 'item:S-1'")
    assert judged(rung).findings[0].sentence == "a projection holds a text that is not UTF-8"
    assert rebuilt(rung).total == 1
    assert kept(path) == before


@BOTH
def test_nothing_is_rebuilt_from_a_record_that_is_not_sound(rung: Department, place: Path | Server) -> None:
    with forging(place) as forger:
        forger.run("UPDATE entry SET actor = 'P-X' WHERE feed = 20")
        forger.run("DELETE FROM badge")
    before = kept(place)
    with pytest.raises(TamperedError, match="so nothing was rebuilt: entry 20") as refused:
        rebuilt(rung)
    assert refused.value.exit_code == 1
    assert kept(place) == before


@BOTH
def test_a_badge_means_whom_it_was_given_to_last_whatever_the_streams_are_called(department: Department) -> None:
    for person, body in (
        ("P-B", BadgeGiven(badge="B-7")),
        ("P-B", BadgeWithdrawn(badge="B-7", reason="lent")),
        ("P-A", BadgeGiven(badge="B-7")),
    ):
        assert Asked(f"{person} {body.kind}", Enrol(f"person:{person}", body)).put(department).accepted
    assert rebuilt(department).equal
    with department.ledger.reading() as cursor:
        assert cursor.execute("SELECT person FROM badge WHERE badge = 'B-7'").fetchone() == ("P-A",)


def test_the_commands_say_what_was_put_right(path: Path, command: Command) -> None:
    assert command("rebuild", "-d", path)[0] == 0
    raw = sqlite3.connect(path)
    raw.execute("UPDATE standing SET stage = 'ready' WHERE stream = 'item:S-4'")
    raw.commit()
    raw.close()
    code, out, _ = command("verify", "--full", "-d", path)
    assert code == 1
    assert "item:S-4 in standing: differs in stage; the entries say otherwise" in out
    code, out, _ = command("rebuild", "-d", path)
    assert code == 1
    assert out.startswith("item:S-4 in standing: differs in stage\nPUT RIGHT: ")
    code, out, _ = command("rebuild", "-d", path, "--json")
    assert (code, '"total": 0' in out) == (0, True)
    assert command("verify", "--full", "-d", path)[0] == 0


def test_a_long_list_of_differences_is_counted(path: Path, command: Command) -> None:
    raw = sqlite3.connect(path)
    row = raw.execute("SELECT * FROM badge LIMIT 1").fetchone()
    raw.executemany("INSERT INTO badge VALUES (?, ?)", [(f"B-{number}", row[1]) for number in range(130)])
    raw.commit()
    raw.execute("DROP INDEX due_when")
    raw.close()
    code, out, _ = command("rebuild", "-d", path)
    assert code == 1
    assert out.startswith("mended: the index due_when was missing\nB-0 in badge: was left over\n")
    assert "... and 30 more" in out
    assert "130 rows differed" in out
    assert command("verify", "--full", "-d", path, "--json")[0] == 0
