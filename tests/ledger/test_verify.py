"""Verification finds what was edited, deleted, inserted, reordered or written with another key, and says what not: D08.

The forger has the whole database and no key. Whoever holds the key can write entries that verify; that is why it lies
elsewhere (see `test_who_holds_the_key_can_forge_and_it_is_not_found`).
"""

# ruff: noqa: S608 - the names put into statements are ours

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from reprocess.clock import StoryClock
from reprocess.engine.request import NoteItem
from reprocess.errors import LedgerError
from reprocess.gathering import Library
from reprocess.ledger.address import Server
from reprocess.ledger.append import transaction
from reprocess.ledger.open import create_ledger, key_path, open_ledger
from reprocess.ledger.rebuild import rebuild
from reprocess.ledger.statements import ENTRY_COLUMNS
from reprocess.ledger.verify import UNCOVERED, Report, verify
from reprocess.record.entry import Draft, Envelope
from reprocess.record.form import COLUMNS
from reprocess.record.moment import Moment
from reprocess.record.words import FactNoted
from reprocess.terms import SECOND_US
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.conftest import BOTH, Command
from tests.ledger.day import DAY, Asked
from tests.ledger.forging import ANOTHER_KEY, Forger, forging
from tests.ledger.raw import asked

ITEM = "item:S-1"
FAR = 9_999


def judged(place: Path | Server, *, full: bool = False) -> Report:
    ledger = open_ledger(place)
    report = verify(ledger, full=full)
    ledger.close()
    return report


@BOTH
def test_an_untouched_record_is_sound(place: Path | Server) -> None:
    report = judged(place, full=True)
    assert report.sound
    assert report.last_us == small.START_US + sum(asked.after_s for asked in DAY) * SECOND_US
    assert report.entries == len(rows(place))
    assert report.streams == len({row[COLUMNS.index("stream")] for row in rows(place)})


def rows(place: Path | Server) -> list[tuple[Any, ...]]:
    return asked(place, f"SELECT {', '.join(ENTRY_COLUMNS)} FROM entry ORDER BY feed")


def key_of(place: Path | Server) -> Path:
    """Returns where the key of a department lies."""
    return place.key_file if isinstance(place, Server) else key_path(place)


def edited(value: object) -> object:
    """Returns another value of the same type."""
    match value:
        case None:
            return "forged"
        case int():
            return value + FAR
        case bytes():
            return value[:-1] + bytes([value[-1] ^ 1])
        case _:
            return f"{value}x"


def somewhere(place: Path | Server) -> list[int]:
    """Returns entries from the beginning, the middle and the end."""
    last = len(rows(place))
    return [1, 2, last // 3, last // 2, last - 1, last]


@BOTH
@pytest.mark.parametrize("column", ENTRY_COLUMNS)
def test_an_edit_of_one_value_is_found_and_the_entry_named(place: Path | Server, column: str) -> None:
    for feed in somewhere(place):
        with forging(place) as forger:
            before = forger.row(feed)
            forger.run(f"UPDATE entry SET {column} = ? WHERE feed = ?", edited(before[_at(column)]), feed)
        report = judged(place)
        assert not report.sound, (column, feed)
        assert report.findings[0].feed in (feed, feed + 1, feed + FAR), (column, feed, report.findings)
        with forging(place) as forger:
            forger.run(f"UPDATE entry SET {column} = ? WHERE feed IN (?, ?)", before[_at(column)], feed, feed + FAR)
        assert judged(place).sound


def _at(column: str) -> int:
    return ENTRY_COLUMNS.index(column)


@BOTH
@pytest.mark.parametrize("key", [None, ANOTHER_KEY], ids=["old MACs", "another key"])
@pytest.mark.parametrize("column", [name for name in COLUMNS if name not in {"prev", "feed", "number", "stream"}])
def test_an_edit_with_new_digests_but_without_the_key_is_found(
    place: Path | Server, column: str, key: bytes | None
) -> None:
    with forging(place) as forger:
        feeds = forger.raw.execute("SELECT feed FROM entry WHERE stream = ? ORDER BY number", (ITEM,)).fetchall()
        feed = feeds[len(feeds) // 2][0]
        forger.run(f"UPDATE entry SET {column} = ? WHERE feed = ?", edited(forger.row(feed)[_at(column)]), feed)
        forger.rehash(ITEM, key)
    first = judged(place).findings[0]
    assert "was not written with this ledger's key" in first.sentence
    assert first.feed == (feed if key is None else feeds[0][0])


def delete(forger: Forger) -> None:
    forger.run("DELETE FROM entry WHERE feed = 40")


def delete_and_close_the_gap(forger: Forger) -> None:
    forger.run("DELETE FROM entry WHERE feed = 40")
    forger.run("UPDATE entry SET feed = -feed WHERE feed > 40")
    forger.run("UPDATE entry SET feed = -feed - 1 WHERE feed < 0")


def delete_a_whole_stream(forger: Forger) -> None:
    forger.run("DELETE FROM entry WHERE stream = 'person:P-B'")
    forger.run("DELETE FROM standing WHERE stream = 'person:P-B'")


def swap_two_bodies(forger: Forger) -> None:
    one, two = (forger.row(feed)[_at("body")] for feed in (50, 51))
    forger.run("UPDATE entry SET body = ? WHERE feed = 50", two)
    forger.run("UPDATE entry SET body = ? WHERE feed = 51", one)


def swap_two_places(forger: Forger) -> None:
    forger.run("UPDATE entry SET feed = -50 WHERE feed = 50")
    forger.run("UPDATE entry SET feed = 50 WHERE feed = 51")
    forger.run("UPDATE entry SET feed = 51 WHERE feed = -50")


def move_to_another_item(forger: Forger) -> None:
    forger.run("UPDATE entry SET stream = 'item:S-4', number = 2 WHERE stream = 'item:S-3' AND kind = 'step-done'")


def repeat_an_old_entry(forger: Forger) -> None:
    row = list(forger.row(45))
    row[0] = forger.raw.execute("SELECT max(feed) + 1 FROM entry").fetchone()[0]
    row[_at("number")] += FAR
    row[_at("request_key")] = "repeated"
    forger.insert(tuple(row))


def put_one_in_between(forger: Forger) -> None:
    forger.run("UPDATE entry SET feed = -feed WHERE feed > 60")
    forger.run("UPDATE entry SET feed = -feed + 1 WHERE feed < 0")
    row = list(forger.row(59))
    row[0], row[_at("number")], row[_at("request_key")] = 61, FAR, "between"
    forger.insert(tuple(row))


def forge_a_release(forger: Forger) -> None:
    released = f"SELECT {', '.join(ENTRY_COLUMNS)} FROM entry WHERE kind = 'item-released' ORDER BY feed LIMIT 1"
    row = list(forger.raw.execute(released).fetchone())
    last = forger.raw.execute("SELECT max(number), max(feed) FROM entry WHERE stream = 'item:S-4'").fetchone()
    row[0] = forger.raw.execute("SELECT max(feed) + 1 FROM entry").fetchone()[0]
    row[_at("stream")], row[_at("number")], row[_at("request_key")] = "item:S-4", last[0] + 1, "forged"
    forger.insert(tuple(row))
    forger.rehash("item:S-4", ANOTHER_KEY)


def a_mac_key_that_does_not_exist(forger: Forger) -> None:
    forger.run("UPDATE entry SET mac_key = 2 WHERE feed = 33")


def words_as_bytes(forger: Forger) -> None:
    forger.run("UPDATE entry SET body = CAST(body AS BLOB) WHERE feed = 33")


def a_chain_as_words(forger: Forger) -> None:
    forger.run("UPDATE entry SET prev = hex(prev) WHERE feed = 33")


def not_text(forger: Forger) -> None:
    forger.run("UPDATE entry SET actor = CAST(x'ff00fe' AS TEXT) WHERE feed = 33")


def a_stream_that_writes_on_the_screen(forger: Forger) -> None:
    forger.run("UPDATE entry SET stream = 'item:' || char(27) || '[2Jall is well' WHERE feed = 33")


Alteration = tuple[Callable[[Forger], None], int]
ALTERED: dict[str, Alteration] = {
    "one deleted": (delete, 41),
    "one deleted and the gap closed": (delete_and_close_the_gap, 40),
    "a whole stream deleted": (delete_a_whole_stream, 0),
    "two bodies swapped": (swap_two_bodies, 50),
    "two places swapped": (swap_two_places, 50),
    "moved to another item": (move_to_another_item, 0),
    "an old entry repeated": (repeat_an_old_entry, 0),
    "one put in between": (put_one_in_between, 61),
    "a forged release": (forge_a_release, 0),
    "a key that does not exist": (a_mac_key_that_does_not_exist, 33),
}
LOOSE: dict[str, Alteration] = {
    "words as bytes": (words_as_bytes, 33),
    "a chain as words": (a_chain_as_words, 33),
    "not text": (not_text, 33),
    "a name that writes on the screen": (a_stream_that_writes_on_the_screen, 33),
}
"""What only a database without types and encodings of its own lets in."""


@BOTH
@pytest.mark.parametrize(("alter", "feed"), ALTERED.values(), ids=ALTERED.keys())
def test_an_alteration_is_found(
    place: Path | Server, command: Command, alter: Callable[[Forger], None], feed: int
) -> None:
    must_be_found(place, command, alter, feed)


@pytest.mark.parametrize(("alter", "feed"), LOOSE.values(), ids=LOOSE.keys())
def test_an_alteration_of_types_is_found(
    path: Path, command: Command, alter: Callable[[Forger], None], feed: int
) -> None:
    must_be_found(path, command, alter, feed)


def must_be_found(place: Path | Server, command: Command, alter: Callable[[Forger], None], feed: int) -> None:
    with forging(place) as forger:
        alter(forger)
    report = judged(place)
    assert not report.sound
    assert feed in (0, report.findings[0].feed), report.findings
    code, out, _ = command("verify", "-d", place)
    assert code == 1
    assert out.startswith(f"entry {report.findings[0].feed}: ")
    assert "NOT SOUND" in out
    assert out.replace("\n", "").isprintable()


def test_an_infinity_that_reads_like_nothing_is_found(tmp_path: Path) -> None:
    ledger = create_ledger(tmp_path / "new.db")
    envelope = Envelope(Moment(1, 1, None, "boot", "node"), 0, None, None, None, "key", "0" * 32)
    note = Draft("site:LMG", FactNoted(subject="item:X", asked="test"))
    with transaction(ledger) as work:
        work.write(work.prepare([note], envelope, iter(["id-1"])), "{}")
    assert verify(ledger).sound
    with forging(tmp_path / "new.db") as forger:
        forger.run("UPDATE entry SET running_us = 9e999")
    assert "was changed" in verify(ledger).findings[0].sentence
    ledger.close()


def test_a_true_entry_of_a_forked_copy_does_not_fit_into_the_record(
    path: Path, tmp_path: Path, evening: StoryClock, library: Library
) -> None:
    fork = copied(path, tmp_path / "fork")
    for place, minutes in ((path, (1, 2)), (fork, (9,))):
        with small.opened(place, evening, library=library) as department:
            for number in minutes:
                assert Asked(f"worked-{number}", NoteItem("S-4", minutes=number)).put(department).accepted
    raw = sqlite3.connect(fork)
    other = raw.execute(f"SELECT {', '.join(ENTRY_COLUMNS)} FROM entry ORDER BY feed DESC LIMIT 1").fetchone()
    raw.close()
    with forging(path) as forger:
        forger.run("DELETE FROM entry WHERE feed = ?", other[0])
        forger.insert(other)
    first = judged(path).findings[0]
    assert first.feed == other[0] + 1
    assert first.sentence == "item:S-4/3 does not follow the entry before it"


@BOTH
def test_with_another_key_nothing_verifies(place: Path | Server) -> None:
    key_of(place).write_bytes(ANOTHER_KEY)
    report = judged(place)
    assert report.findings[0].feed == 1
    assert len(report.findings) == 20
    assert all("was not written with this ledger's key" in one.sentence for one in report.findings)


@BOTH
def test_an_honest_tail_after_a_bad_entry_is_not_blamed(place: Path | Server) -> None:
    with forging(place) as forger:
        forger.run("UPDATE entry SET actor = 'P-X' WHERE feed = 30")
    assert [one.feed for one in judged(place).findings] == [30]


@pytest.mark.parametrize("name", ["entry_never_changes", "entry_never_goes", "entry_never_replaced"])
def test_a_trigger_that_is_gone_or_weakened_is_found(path: Path, name: str) -> None:
    raw = sqlite3.connect(path)
    raw.execute(f"DROP TRIGGER {name}")
    raw.commit()
    assert judged(path).findings[0].sentence == f"the trigger {name}, which refuses changes of entries, is missing"
    raw.execute(f"CREATE TRIGGER {name} BEFORE UPDATE ON entry BEGIN SELECT 1; END")
    raw.commit()
    raw.close()
    assert "was changed" in judged(path).findings[0].sentence


def cut(forger: Forger) -> None:
    forger.run("DELETE FROM entry WHERE feed > 70")


@BOTH
def test_a_cut_tail_is_not_seen_and_the_report_says_so(place: Path | Server, command: Command) -> None:
    with forging(place) as forger:
        cut(forger)
    assert judged(place).sound
    code, out, _ = command("verify", "-d", place)
    assert code == 0
    assert "It ends with entry 70, recorded 2026-03-05T" in out
    assert UNCOVERED in out


@BOTH
def test_a_cut_tail_that_left_its_standings_behind_is_seen_by_full_verification(place: Path | Server) -> None:
    with forging(place) as forger:
        cut(forger)
    report = judged(place, full=True)
    assert any("in standing: " in one.sentence for one in report.findings)


@BOTH
def test_an_older_copy_put_back_is_not_seen_even_by_full_verification(place: Path | Server) -> None:
    with forging(place) as forger:
        cut(forger)
    ledger = open_ledger(place)
    rebuild(ledger)
    assert verify(ledger, full=True).sound
    ledger.close()


@BOTH
def test_who_holds_the_key_can_forge_and_it_is_not_found(place: Path | Server) -> None:
    with forging(place) as forger:
        forger.run("UPDATE entry SET actor = 'P-B' WHERE stream = ? AND number = 2", ITEM)
        forger.rehash(ITEM, key_of(place).read_bytes())
    assert judged(place).sound


def test_flipped_bits_in_the_file_are_found_refused_or_touch_no_entry(path: Path) -> None:
    whole, content = path.read_bytes(), rows(path)
    dice = random.Random(5)  # noqa: S311 - a seed makes the test repeatable
    told = {"found": 0, "refused": 0, "harmless": 0}
    for _ in range(120):
        spoilt = bytearray(whole)
        spoilt[dice.randrange(len(whole))] ^= 1 << dice.randrange(8)
        path.write_bytes(spoilt)
        try:
            report = judged(path, full=True)
        except LedgerError:
            told["refused"] += 1
            continue
        finally:
            for suffix in ("-wal", "-shm"):
                path.with_name(path.name + suffix).unlink(missing_ok=True)
        told["found" if not report.sound else "harmless"] += 1
        if report.sound:
            assert rows(path) == content
    assert told["found"] >= 20, told
