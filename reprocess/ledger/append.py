"""One transaction on the record: read what a decision needs, append its entries, keep the projections in step.

Several decisions may share one transaction and one fsync, each decided on what the one before it wrote.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Final

import orjson

from reprocess.ledger import statements as sql
from reprocess.ledger.open import Ledger
from reprocess.record import entry as words
from reprocess.record import states
from reprocess.record.chain import START, digest_of, mac_of
from reprocess.record.entry import Draft, Entry, Envelope
from reprocess.record.form import read_row, row_of
from reprocess.record.people import Person
from reprocess.record.standing import Standing, fold, must_refold
from reprocess.record.states import State
from reprocess.terms import StreamKind, subject_of
from reprocess.timetable import Due

MAC_KEY: Final = 1
"""Number of the MAC key in use; a rotation will add numbers, never change one."""


@dataclass(frozen=True, slots=True)
class Answered:
    """Is what a request key was already answered with."""

    request: str
    answer: str


@dataclass(frozen=True, slots=True)
class ContactRow:
    """Is one contact of an item with a solution."""

    item: str
    cycle: int
    step: str
    open_now: bool


@dataclass(frozen=True, slots=True)
class Prepared:
    """Is what one decision will write, and where each stream stands after it."""

    entries: list[Entry]
    after: dict[str, State]


@dataclass(frozen=True, slots=True)
class _Kept:
    number: int
    head: bytes
    state: State


class Transaction:
    """Is one open transaction: what it read is what it decides on, what it wrote is seen by the next decision."""

    def __init__(self, cursor: sqlite3.Cursor, key: bytes) -> None:
        self._cursor = cursor
        self._key = key
        self._kept: dict[str, _Kept] = {}
        self._feed: int | None = None

    def answered(self, key: str) -> Answered | None:
        """Returns what this request key was answered with, or None when it is new."""
        row = self._cursor.execute(sql.BY_KEY, {"key": key}).fetchone()
        return None if row is None else Answered(row[0], row[1])

    def state(self, stream: str) -> State:
        """Returns where a stream stands; an unknown one stands at its start."""
        return self._load(stream).state

    def item(self, item: str) -> Standing:
        """Returns where an item stands."""
        standing = self.state(f"{StreamKind.ITEM}:{item}")
        if not isinstance(standing, Standing):
            raise TypeError(item)
        return standing

    def _load(self, stream: str) -> _Kept:
        kept = self._kept.get(stream)
        if kept is None:
            row = self._cursor.execute(sql.SELECT_STANDING, {"stream": stream}).fetchone()
            kept = (
                _Kept(0, START, states.start_of(stream))
                if row is None
                else _Kept(row[0], row[1], states.from_text(stream, row[2]))
            )
            self._kept[stream] = kept
        return kept

    def entries_of(self, stream: str) -> list[Entry]:
        """Returns all entries of a stream, oldest first."""
        rows = self._cursor.execute(sql.STREAM_ENTRIES, (stream,)).fetchall()
        return [read_row(row[: -len(_SEAL)]) for row in rows]

    def latest_of(self, stream: str, most: int) -> tuple[Entry, ...]:
        """Returns the latest entries of a stream, oldest first, at most that many."""
        rows = self._cursor.execute(sql.LATEST_ENTRIES, (stream, most)).fetchall()
        return tuple(read_row(row[: -len(_SEAL)]) for row in reversed(rows))

    def person_of(self, badge: str) -> str | None:
        """Returns whom a badge means, or None."""
        row = self._cursor.execute(sql.WHOSE_BADGE, {"of_badge": badge}).fetchone()
        return None if row is None else str(row[0])

    def definition(self, digest: str) -> tuple[str, str, str] | None:
        """Returns (sort, name, text) of a published file, or None."""
        row = self._cursor.execute(sql.DEFINITION_TEXT, {"digest": digest}).fetchone()
        return None if row is None else (row[0], row[1], row[2])

    def contacts(self, solution: str, since_us: int) -> list[ContactRow]:
        """Returns the contacts with a solution that were open at or after an instant, by item."""
        rows = self._cursor.execute(sql.CONTACTS_OF, {"solution": solution, "since": since_us})
        return [ContactRow(row[0], row[1], row[2], open_now=row[3] is None) for row in rows]

    def people(self) -> list[Person]:
        """Returns everybody on record, by id."""
        rows = self._cursor.execute(sql.STATES_OF_KIND, {"of_kind": str(StreamKind.PERSON)}).fetchall()
        return [state for name, text in rows if isinstance(state := states.from_text(name, text), Person)]

    def states_of(self, kind: str) -> list[State]:
        """Returns where every stream of a kind stands, by id."""
        rows = self._cursor.execute(sql.STATES_OF_KIND, {"of_kind": str(kind)}).fetchall()
        return [states.from_text(name, text) for name, text in rows]

    def items(self, *, site: str | None = None, stage: str | None = None) -> Iterator[Standing]:
        """Yields where every item stands, by id; of one site or stage only where asked."""
        rows = self._cursor.execute(sql.STATES_OF_KIND, {"of_kind": str(StreamKind.ITEM)})
        for name, text in rows:
            state = states.from_text(name, text)
            if isinstance(state, Standing) and site in (None, state.site) and stage in (None, str(state.stage)):
                yield state

    def prepare(self, drafts: Iterable[Draft], envelope: Envelope, ids: Iterator[str]) -> Prepared:
        """Returns the entries of one decision and where each stream will stand after them; nothing is written."""
        after: dict[str, State] = {}
        entries: list[Entry] = []
        for part, draft in enumerate(drafts):
            state = after.get(draft.stream) or self._load(draft.stream).state
            entry = Entry(
                feed=self._next_feed(),
                id=next(ids),
                stream=draft.stream,
                number=state.number + 1,
                body=draft.body,
                occurred_us=draft.occurred_us or envelope.moment.wall_us,
                envelope=envelope,
                part=part,
            )
            entries.append(entry)
            after[draft.stream] = self._folded(entry, state, entries)
        return Prepared(entries, after)

    def write(self, prepared: Prepared, answer: str) -> list[Entry]:
        """Writes prepared entries and their standings; `answer` is kept with the first."""
        for entry in prepared.entries:
            kept = self._load(entry.stream)
            whole = replace(entry, answer=answer) if entry.part == 0 else entry
            row = row_of(whole, kept.head)
            digest = digest_of(row)
            self._cursor.execute(sql.INSERT_ENTRY, (*row, digest, mac_of(digest, self._key), MAC_KEY))
            self._kept[entry.stream] = _Kept(entry.number, digest, prepared.after[entry.stream])
            self._project(entry)
        for stream in prepared.after:
            self._save(stream, prepared.entries[0].at_us)
        return prepared.entries

    def _next_feed(self) -> int:
        if self._feed is None:
            self._feed = int(self._cursor.execute(sql.LAST_FEED).fetchone()[0])
        self._feed += 1
        return self._feed

    def _folded(self, entry: Entry, state: State, ahead: list[Entry]) -> State:
        if must_refold(entry):
            new = [one for one in ahead if one.stream == entry.stream]
            return fold(subject_of(entry.stream), self.entries_of(entry.stream) + new)
        folded: State = states.folding_of(entry.stream).apply(state, entry)
        return folded

    def _save(self, stream: str, changed_us: int) -> None:
        kept = self._kept[stream]
        self._cursor.execute(sql.UPSERT_STANDING, standing_row(stream, kept.number, kept.head, changed_us, kept.state))

    def _project(self, entry: Entry) -> None:
        if must_refold(entry):
            item = subject_of(entry.stream)
            self._cursor.execute(sql.FORGET_CONTACTS, {"of_item": item})
            for one in not_undone(self.entries_of(entry.stream)):
                project(self._cursor, one)
        else:
            project(self._cursor, entry)

    def replace_dues(self, subject: str, rows: Iterable[Due]) -> None:
        """Replaces the reminders of one subject."""
        self._cursor.execute(sql.FORGET_DUES, {"of_subject": subject})
        self._cursor.executemany(
            sql.INSERT_DUE,
            [
                (one.key, one.subject, one.rule, one.due_us, one.severity, orjson.dumps(one.words).decode())
                for one in rows
            ],
        )


_SEAL = ("digest", "mac", "mac_key")


def not_undone(entries: list[Entry]) -> list[Entry]:
    """Returns the entries that no later one took back as a mis-scan."""
    undone = {number for entry in entries if isinstance(entry.body, words.EntryUndone) for number in entry.body.numbers}
    return [entry for entry in entries if entry.number not in undone]


def standing_row(stream: str, number: int, head: bytes, changed_us: int, state: State) -> tuple[object, ...]:
    """Returns the row in which the projection keeps a standing."""
    item = state if isinstance(state, Standing) else None
    return (
        stream,
        stream.partition(":")[0],
        number,
        head,
        getattr(state, "site", None),
        item.item_kind if item is not None else None,
        str(item.stage) if item is not None else None,
        int(item.held) if item is not None else 0,
        changed_us,
        states.as_text(state),
    )


def project(cursor: sqlite3.Cursor, entry: Entry) -> None:
    """Brings contacts, badges, files and reminders given up to date with one entry."""
    body = entry.body
    match body:
        case words.DwellStarted() if body.solution is not None:
            _begin_contact(cursor, entry, body)
        case words.DwellEnded() | words.DwellBroken():
            cursor.execute(sql.END_CONTACT, {"of_item": subject_of(entry.stream), "ended": entry.at_us})
        case words.StepFailed() | words.ItemSentToRepair() | words.ItemCondemned() | words.ItemLost():
            cursor.execute(sql.END_CONTACT, {"of_item": subject_of(entry.stream), "ended": entry.at_us})
        case words.BadgeGiven():
            cursor.execute(sql.GIVE_BADGE, (body.badge, subject_of(entry.stream)))
        case words.BadgeWithdrawn():
            cursor.execute(sql.TAKE_BADGE, {"of_badge": body.badge})
        case words.WorkflowPublished():
            cursor.execute(sql.KEEP_DEFINITION, (body.digest, body.sort, body.name, body.text))
        case _:
            pass


def _begin_contact(cursor: sqlite3.Cursor, entry: Entry, body: words.DwellStarted) -> None:
    cursor.execute(
        sql.BEGIN_CONTACT,
        {
            "item": subject_of(entry.stream),
            "number": entry.number,
            "solution": body.solution,
            "cycle": body.cycle,
            "step": body.step,
            "started_us": entry.at_us,
            "ended_us": None,
        },
    )


@contextmanager
def transaction(ledger: Ledger) -> Iterator[Transaction]:
    """Yields one transaction on the record; all of it is written at the end, or nothing."""
    with ledger.writing() as cursor:
        yield Transaction(cursor, ledger.key)


@contextmanager
def looking(ledger: Ledger) -> Iterator[Transaction]:
    """Yields a transaction that only reads."""
    with ledger.reading() as cursor:
        yield Transaction(cursor, ledger.key)
