"""What a connection remembers between its transactions is never older than what is on record.

A badge that was withdrawn must mean nobody at the next decision, whoever took it away: another process, another
connection of this one, or the same connection in the hands of another thread.
"""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing

import pytest
from sqlalchemy import event

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine.enrolling import Enrol
from reprocess.engine.request import DoStep, NoteItem
from reprocess.gathering import Library
from reprocess.ledger.append import Transaction, transaction
from reprocess.ledger.sqlite import Sqlite
from reprocess.record.entry import Draft, Envelope
from reprocess.record.moment import Moment
from reprocess.record.words import BadgeWithdrawn
from reprocess.rules.answer import Answer
from tests.ledger import small
from tests.ledger.conftest import BOTH
from tests.ledger.day import Asked
from tests.ledger.raw import place_of

LOST = BadgeWithdrawn(badge="B-A", reason="lost")
THREADS, EACH = 3, 15


def tried(department: Department) -> Answer:
    """Returns the answer to a scan that is refused for its order alone, so that it can be asked as often as wanted."""
    key = f"try-{department.clock.new_id()}"
    return Asked(key, DoStep("S-4", "inspect", {"whole": True}, {"gap_mm": "1"})).put(department)


@BOTH
@pytest.mark.parametrize("writer", ["the same connection", "another connection"])
def test_a_badge_that_was_withdrawn_is_nobodys_at_once(
    department: Department, evening: StoryClock, library: Library, writer: str
) -> None:
    with small.opened(place_of(department.ledger), evening, library=library) as other:
        assert "A01" not in tried(department).rules() + tried(other).rules()
        lost = Asked("lost", Enrol("person:P-A", LOST), badge="B-B")
        assert lost.put(department if writer == "the same connection" else other).accepted
        assert tried(department).rules()[0] == tried(other).rules()[0] == "A01"
    assert department.verify(full=True).sound


def withdraw(work: Transaction, moment: Moment) -> None:
    envelope = Envelope(moment, 0, None, None, None, "taken back", "0" * 32)
    work.write(work.prepare([Draft("person:P-A", LOST)], envelope, iter(["an-id"])), "{}")


@BOTH
def test_what_a_failed_transaction_wrote_is_not_remembered(department: Department) -> None:
    def fail() -> None:
        with transaction(department.ledger) as work:
            assert work.person_of("B-A") == "P-A"
            withdraw(work, department.clock.now())
            assert work.person_of("B-A") is None
            raise ZeroDivisionError

    assert "A01" not in tried(department).rules()
    with pytest.raises(ZeroDivisionError):
        fail()
    assert "A01" not in tried(department).rules()
    assert department.verify(full=True).sound


def test_a_connection_is_handed_on_only_with_what_it_wrote_last(department: Department) -> None:
    ledger = department.ledger
    assert isinstance(ledger.database, Sqlite)
    seen: list[bool] = []

    def handed_on(connection: object, _: object) -> None:
        memory = ledger.memories[id(connection)]
        with closing(sqlite3.connect(ledger.path)) as raw:
            seen.append(memory.feed == raw.execute("SELECT max(feed) FROM entry").fetchone()[0])

    tried(department)
    event.listen(ledger.database.writers, "checkin", handed_on)
    for number in range(3):
        assert Asked(f"evening-{number}", NoteItem("S-4", minutes=1)).put(department).accepted
    event.remove(ledger.database.writers, "checkin", handed_on)
    assert seen == [True, True, True]


@BOTH
def test_threads_at_one_department_lose_nothing(department: Department) -> None:
    faults: list[Exception] = []

    def work(name: str) -> None:
        for number in range(EACH):
            try:
                assert Asked(f"{name}-{number}", NoteItem("S-4", minutes=1)).put(department).accepted
                tried(department)
            except Exception as fault:
                faults.append(fault)

    threads = [threading.Thread(target=work, args=(f"thread-{number}",)) for number in range(THREADS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    assert department.item("S-4").used_minutes == THREADS * EACH
    assert department.verify(full=True).sound
