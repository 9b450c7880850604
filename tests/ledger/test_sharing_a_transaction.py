"""Several requests in one transaction: each is decided on what the one before it wrote, and each has its own answer."""

from __future__ import annotations

import sqlite3
from typing import Any, Self

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine.request import DoStep, EndDwell, NoteItem, Release, Request, StartDwell
from reprocess.errors import KeyReusedError, LedgerError, UnknownSubjectError, WrongUseError
from reprocess.ledger.append import transaction
from reprocess.record.entry import Draft, Envelope
from reprocess.record.words import ItemWorked
from reprocess.rules.answer import Answer
from reprocess.station import Call
from tests.faults.crashing import Fuse, connecting
from tests.ledger import small
from tests.ledger.conftest import BOTH


def call(key: str, request: Request, *, station: str = "LMG-1") -> Call:
    return Call(request, station, "B-A", None, key)


def verdicts(outcomes: list[Answer | Exception]) -> list[str]:
    return [str(one.verdict) if isinstance(one, Answer) else type(one).__name__ for one in outcomes]


@BOTH
def test_each_is_decided_on_what_the_one_before_it_wrote(department: Department) -> None:
    outcomes = department.take_all(
        [
            call("1", DoStep("S-4", "clean")),
            call("2", DoStep("S-4", "clean")),
            call("3", StartDwell("S-4", "disinfect", "W-1")),
            call("4", Release("S-4")),
        ]
    )
    assert verdicts([*outcomes]) == ["accepted", "refused", "refused", "refused"]
    assert department.item("S-4").stage == "cleaned"
    assert department.verify(full=True).sound


@BOTH
def test_the_same_key_twice_in_one_list_is_one_entry(department: Department) -> None:
    note = NoteItem("S-4", minutes=5)
    first, second = department.take_all([call("same", note), call("same", note)])
    assert isinstance(first, Answer)
    assert isinstance(second, Answer)
    assert (first.repeated, second.repeated) == (False, True)
    assert department.item("S-4").used_minutes == 5


@BOTH
def test_one_that_cannot_be_read_leaves_the_others_whole_and_no_gap(department: Department) -> None:
    outcomes = department.take_all(
        [
            call("1", NoteItem("S-4", minutes=1)),
            call("2", DoStep("S-4", "polish")),
            call("3", NoteItem("S-4", minutes=1), station="LMG-99"),
            call("1", NoteItem("S-4", minutes=9)),
            call("4", EndDwell("S-4", "disinfect")),
            call("5", NoteItem("S-4", minutes=1)),
        ]
    )
    names = ["accepted", WrongUseError.__name__, UnknownSubjectError.__name__, KeyReusedError.__name__]
    assert verdicts([*outcomes]) == [*names, "refused", "accepted"]
    assert department.item("S-4").used_minutes == 2
    assert department.verify(full=True).sound


@BOTH
def test_what_was_prepared_and_not_written_takes_no_number(department: Department) -> None:
    moment = department.clock.now()
    envelope = Envelope(moment, 0, None, None, None, "prepared", "0" * 32)
    ids = iter(f"id-{number}" for number in range(9))
    draft = Draft("item:S-4", ItemWorked(minutes=1))
    with transaction(department.ledger) as work:
        first = work.prepare([draft], envelope, ids)
        second = work.prepare([draft], envelope, ids)
        assert [one.entries[0].feed for one in (first, second)] == [first.entries[0].feed] * 2
        work.write(second, "{}")
    assert department.verify().sound


def test_a_fault_of_the_database_takes_all_of_them_back(department: Department, evening: StoryClock) -> None:
    class FullCursor(sqlite3.Cursor):
        inserted = 0

        def execute(self, sql: str, parameters: Any = ()) -> Self:
            if sql.startswith("INSERT INTO"):  # the first one writes all entries, the second one where they lead
                self.inserted += 1
                if self.inserted > 1:
                    message = "database or disk is full"
                    raise sqlite3.OperationalError(message)
            return super().execute(sql, parameters)

    class Full(sqlite3.Connection):
        def cursor(self, factory: Any = FullCursor) -> Any:
            return super().cursor(factory)

    before = department.verify().entries
    path = department.ledger.path
    with (
        small.opened(
            path, evening, connect=lambda name: sqlite3.connect(name, isolation_level=None, factory=Full)
        ) as full,
        pytest.raises(LedgerError, match="is full; nothing was recorded"),
    ):
        full.take_all([call("1", NoteItem("S-4", minutes=1)), call("2", NoteItem("S-4", minutes=1))])
    assert department.verify().entries == before


def test_a_list_takes_one_commit(department: Department, evening: StoryClock) -> None:
    fuse = Fuse()
    with small.opened(department.ledger.path, evening, connect=connecting(fuse)) as counted:
        fuse.lit = True
        counted.take_all([call(str(number), NoteItem("S-4", minutes=1)) for number in range(20)])
    assert fuse.statements.count("COMMIT") == 1
    assert fuse.statements.count("BEGIN") == 1
