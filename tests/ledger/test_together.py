"""Rows that are held and written by few statements come to what they would have come to one by one.

The reference is the database itself, told the same statements one after the other. A batch on a server waits for the
server's answer as often as one request does.
"""

from __future__ import annotations

import random
from typing import Any

import psycopg
import pytest

from reprocess.department import Department
from reprocess.engine.request import DoStep, MakeSolution, NoteItem, Request, StartDwell, Undo
from reprocess.ledger import dues
from reprocess.ledger import statements as sql
from reprocess.ledger.append import transaction
from reprocess.ledger.rebuild import rebuild
from reprocess.ledger.refold import scratch
from reprocess.ledger.together import HELD_MAX, TOGETHER, Held, Holding
from reprocess.rules.answer import Answer
from reprocess.scheduling import refresh_all
from reprocess.station import Call
from tests.ledger.conftest import BOTH
from tests.ledger.day import LASTING_US

ITEMS = ("A", "B", "C")
SORTS = ("load", "place")
SEEDS = range(8)
TABLES = ("touch", "due", "standing")
NAMED = "UPDATE touch SET name = ? WHERE item = ? AND number = ? AND sort = ?"


def some(luck: random.Random, number: int) -> tuple[str, tuple[Any, ...]]:
    """Returns one statement with its parameters, about few things, so that many are about the same one."""
    item, sort = luck.choice(ITEMS), luck.choice(SORTS)
    key = f"{item}/{luck.randrange(4)}"
    return luck.choice(
        [
            (sql.BEGIN_TOUCH, (item, luck.randrange(1 + number), sort, "L", 1, None, number, number, None, None)),
            (sql.END_TOUCH, (number, number, item, sort, luck.randrange(1 + number))),
            (NAMED, (f"N-{number}", item, luck.randrange(1 + number), sort)),
            (dues.INSERT, (key, f"item:{item}", "T01", number, 1, '{"say":"\\u00e9 \\" \\\\"}')),
            (dues.FORGET, (key,)),
            (sql.UPSERT_STANDING, (f"item:{item}", "item", number, b"\x00\xff", None, "x", "used", 0, number, "{}")),
        ]
    )


def rows(cursor: Any) -> dict[str, list[Any]]:
    """Returns what stands in each table."""
    found = {}
    for table in TABLES:
        held = cursor.execute(f"SELECT * FROM {table}").fetchall()  # noqa: S608 - one of ours
        found[table] = sorted(held, key=repr)
    return found


def told(seed: int, cursor: Any, *, looks: bool) -> None:
    """Tells a cursor a hundred statements; sometimes it looks at what stands in between."""
    luck = random.Random(seed)  # noqa: S311 - no secret
    for number in range(100):
        cursor.execute(*some(luck, number))
        if looks and luck.random() < 0.1:
            cursor.execute("SELECT count(*) FROM touch").fetchone()


def one_by_one(seed: int) -> dict[str, list[Any]]:
    """Returns what SQLite keeps when it is told each statement at once."""
    with scratch() as cursor:
        told(seed, cursor, looks=True)
        return rows(cursor)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_file_keeps_what_it_would_keep_one_by_one(seed: int) -> None:
    with scratch() as cursor:
        holding = Holding(cursor)
        told(seed, holding, looks=True)
        assert rows(holding) == one_by_one(seed)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_server_keeps_what_a_file_keeps(postgres_department: Department, seed: int) -> None:
    with postgres_department.ledger.in_transaction() as cursor:
        for table in TABLES:
            cursor.execute(f"DELETE FROM {table}")  # noqa: S608 - one of ours
        told(seed, cursor, looks=True)
        assert rows(cursor) == one_by_one(seed)


def test_another_cursor_of_the_connection_sees_what_is_held() -> None:
    with scratch() as cursor:
        holding = Holding(cursor)
        holding.execute(dues.INSERT, ("k", "item:A", "T01", 1, 1, "{}"))
        assert holding.connection.cursor().execute("SELECT key FROM due").fetchall() == [("k",)]


def test_so_many_are_held_and_no_more() -> None:
    with scratch() as cursor:
        holding = Holding(cursor)
        rows = [(f"k-{number}", "item:A", "T01", number, 1, "{}") for number in range(HELD_MAX + 1)]
        holding.executemany(dues.INSERT, rows)
        assert cursor.execute("SELECT count(*) FROM due").fetchone() == (HELD_MAX,)
        assert holding.execute("SELECT count(*) FROM due").fetchone() == (HELD_MAX + 1,)


def test_one_thing_is_written_once_by_one_statement() -> None:
    held = Held()
    for number, key in enumerate("aabba"):
        held.put(dues.INSERT, (key, "item:A", "T01", number, 1, "{}"))
    assert [[row[0] for row in group.rows] for group in held.take()] == [["a"], ["a", "b"], ["b", "a"]]
    assert not held


def test_statements_that_nobody_knows_stay_in_their_place() -> None:
    held = Held()
    for key, text in (("a", dues.FORGET), ("b", "DELETE FROM due WHERE rule = ?"), ("c", dues.FORGET)):
        held.put(text, (key,))
    assert [group.text for group in held.take()] == [
        dues.FORGET,
        "DELETE FROM due WHERE rule = ?",
        dues.FORGET,
    ]


def test_a_statement_that_is_asked_how_much_it_changed_is_told_alone(postgres_department: Department) -> None:
    with postgres_department.ledger.in_transaction() as cursor:
        cursor.executemany(dues.INSERT, [(key, "item:A", "T01", 1, 1, "{}") for key in "abc"])
        for key, gone in (("a", 1), ("b", 1), ("x", 0)):
            cursor.execute(dues.FORGET, (key,))
            assert cursor.rowcount == gone


@BOTH
def test_what_is_written_is_read_in_the_same_transaction(department: Department) -> None:
    with transaction(department.ledger) as work:
        work._cursor.execute(dues.INSERT, ("k", "item:A", "T01", 1, 1, "{}"))
        assert work._cursor.execute("SELECT subject FROM due WHERE key = ?", ("k",)).fetchall() == [("item:A",)]


def test_every_statement_of_a_step_takes_as_many_values_as_its_row() -> None:
    for text, many in TOGETHER.items():
        wanted = text.count("?")
        assert f"c{wanted - 1}" in many.text
        assert f"c{wanted}" not in many.text
        assert many.row is None or text.endswith(f"VALUES {many.row}") or f"VALUES {many.row} ON" in text


def call(key: str, request: Request) -> Call:
    return Call(request, "LMG-1", "B-A", None, key)


ON_SERVER = pytest.mark.parametrize("database", ["postgres"], indirect=True)


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Returns a list that grows with each answer of a server that is waited for inside of a transaction."""
    found: list[str] = []
    real = psycopg.Pipeline.sync

    def sync(self: psycopg.Pipeline) -> None:
        found.append("answers")
        real(self)

    monkeypatch.setattr(psycopg.Pipeline, "sync", sync)
    return found


ANSWERS_MOST = 4
"""What a batch asks and waits for once the head is locked (our aim is five messages with the lock)."""


@ON_SERVER
def test_many_requests_wait_for_a_server_as_often_as_one(department: Department, waits: list[str]) -> None:
    department.take_all([call("first", NoteItem("S-4", minutes=1))])  # published files and months are known from now on
    counts = []
    for batch in (1, 2, 40):
        department.ledger.memories.clear()  # as after another node has written
        waits.clear()
        calls = [call(f"{batch}-{number}", NoteItem(f"S-{1 + number % 4}", minutes=1)) for number in range(batch)]
        answers = department.take_all(calls)
        assert all(isinstance(one, Answer) and one.accepted for one in answers)
        counts.append(len(waits))
    assert max(counts) <= ANSWERS_MOST
    assert counts[-1] == counts[-2]
    assert department.verify(full=True).sound


@BOTH
def test_a_step_of_a_batch_reads_what_the_one_before_it_wrote(department: Department) -> None:
    clean = DoStep("S-4", "clean")
    first, again, second = department.take_all([call("1", clean), call("1", clean), call("2", clean)])
    assert isinstance(first, Answer)
    assert isinstance(again, Answer)
    assert isinstance(second, Answer)
    assert (first.accepted, again.repeated, second.accepted) == (True, True, False)


@BOTH
def test_what_is_due_after_a_batch_is_what_the_entries_come_to(department: Department) -> None:
    department.take_all([call("0", MakeSolution("W-9", "wipe", "Q-9", LASTING_US)), call("1", DoStep("S-4", "clean"))])
    there_and_back = [call("2", StartDwell("S-4", "disinfect", "W-9")), call("3", Undo("S-4"))]
    answers = department.take_all(there_and_back)
    assert [isinstance(one, Answer) and one.rules() for one in answers] == [(), ()]
    assert rebuild(department.ledger, refresh=lambda work: refresh_all(work, department.library)).equal


def test_a_text_that_a_database_cannot_keep_is_refused_whole(postgres_department: Department) -> None:
    with (
        pytest.raises(Exception, match="cannot keep a text or a number"),
        postgres_department.ledger.in_transaction() as cursor,
    ):
        cursor.execute(dues.INSERT, ("k\x00", "item:A", "T01", 1, 1, "{}"))


def test_rows_of_values_are_as_many_as_there_are() -> None:
    with scratch() as cursor:
        for count in (1, 2, 3, 63, 64, 65, 200):
            holding = Holding(cursor)
            cursor.execute("DELETE FROM due")
            holding.executemany(dues.INSERT, [(f"{number}", "s", "T01", 1, 1, "{}") for number in range(count)])
            holding.send()
            assert cursor.execute("SELECT count(*) FROM due").fetchone() == (count,)
