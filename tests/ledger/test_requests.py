"""The entries of one request stand together, its answer with the first of them, and every body can be read."""

# ruff: noqa: S608 - the names put into statements are ours

from __future__ import annotations

from dataclasses import replace

import pytest

from reprocess.department import Department
from reprocess.ledger.append import Prepared, transaction
from reprocess.ledger.open import key_path
from reprocess.record.entry import Draft, Envelope
from reprocess.record.words import FactNoted
from tests.ledger.conftest import BOTH
from tests.ledger.forging import forging
from tests.ledger.raw import place_of

pytestmark = BOTH

ANSWER = '{"verdict":"accepted","subject":"","asked":"test"}'
NOTE = FactNoted(subject="item:X", asked="test")


def put(department: Department, key: str, parts: list[int], *, answer: str = ANSWER) -> None:
    """Writes entries of one request under the part numbers given."""
    envelope = Envelope(department.clock.now(), 0, None, None, None, key, "0" * 32)
    ids = iter([department.clock.new_id() for _ in parts])
    with transaction(department.ledger) as work:
        prepared = work.prepare([Draft("site:LMG", NOTE) for _ in parts], envelope, ids)
        entries = [replace(entry, part=part) for entry, part in zip(prepared.entries, parts, strict=True)]
        work.write(Prepared(entries, prepared.after, prepared.cycles), answer)


def told(department: Department) -> list[str]:
    assert department.verify().sound
    return [one.sentence for one in department.verify(full=True).findings]


def test_parts_in_order_are_sound(morning: Department) -> None:
    put(morning, "k", [0, 1, 2])
    assert told(morning) == []


@pytest.mark.parametrize("parts", [[1], [0, 2], [0, 2, 1]])
def test_parts_that_do_not_follow_each_other_are_found(morning: Department, parts: list[int]) -> None:
    put(morning, "k", parts)
    assert "of a request whose other parts do not stand before it" in told(morning)[0]


def test_a_request_torn_apart_by_another_is_found(morning: Department) -> None:
    put(morning, "k", [0, 1])
    put(morning, "other", [0])
    put(morning, "k", [2])
    assert "is part 2 of a request whose other parts" in told(morning)[0]


def test_a_part_from_another_time_is_found(morning: Department) -> None:
    put(morning, "k", [0])
    morning.clock.push(5)  # type: ignore[attr-defined]
    put(morning, "k", [1])
    assert "is part 1 of a request whose other parts" in told(morning)[0]


@pytest.mark.parametrize("answer", ["", "{}", "[]", '{"verdict":"perhaps","subject":"","asked":""}'])
def test_an_answer_that_cannot_be_given_again_is_found(morning: Department, answer: str) -> None:
    put(morning, "k", [0], answer=answer)
    assert "the answer kept with entry" in told(morning)[0]


def test_an_answer_with_another_part_is_found(morning: Department) -> None:
    put(morning, "k", [0, 1])
    with forging(place_of(morning.ledger)) as forger:
        forger.run("UPDATE entry SET answer = '{}' WHERE request_key = 'k' AND request_part = 1")
        forger.rehash("site:LMG", key_path(morning.ledger.path).read_bytes())
    assert any("carries an answer" in one for one in told(morning))


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ("kind = 'fact-invented'", "is of kind fact-invented version 1, which this program does not know"),
        ("version = 7", "is of kind fact-noted version 7, which this program does not know"),
        ("body = '{}'", "(fact-noted) holds a body that cannot be read"),
        ("body = 'not json'", "holds a body that cannot be read"),
    ],
)
def test_a_body_that_cannot_be_read_is_found(morning: Department, change: str, sentence: str) -> None:
    put(morning, "k", [0])
    with forging(place_of(morning.ledger)) as forger:
        forger.run(f"UPDATE entry SET {change} WHERE request_key = 'k'")
        forger.rehash("site:LMG", key_path(morning.ledger.path).read_bytes())
    assert sentence in told(morning)[0]


def test_a_stream_of_a_kind_that_is_not_known_is_found(morning: Department) -> None:
    put(morning, "k", [0])
    with forging(place_of(morning.ledger)) as forger:
        forger.run("UPDATE entry SET stream = 'shelf:LMG-7', number = 1 WHERE request_key = 'k'")
        forger.rehash("shelf:LMG-7", key_path(morning.ledger.path).read_bytes())
    assert "is in the stream shelf:LMG-7, a kind that this program does not know" in told(morning)[0]
