"""What is due, what rang and who is just now ringing it, inside one transaction.

`due`, `rang` and `escalated` are projections; `claim` is a working table. A reminder rings while its row stands in
`due` and its key does not stand in `rang`; the row stays, so that what is due can be listed after it rang.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final

import orjson

from reprocess.ledger.driver import LAST_ROW, Cursor, among, differs
from reprocess.record.moment import Moment
from reprocess.terms import SECOND_US
from reprocess.timetable import Due, reached
from reprocess.timetable.chains import ESCALATING, LEVELS_MAX, PATIENCE_US
from reprocess.timetable.due import CLOCKED

Waits = Callable[[Due], bool]
LEASE_US: Final = 60 * SECOND_US
"""How long a claim keeps other sweeps away from a reminder; after a crash it rings again no sooner."""
AHEAD_US: Final = 2 * 3600 * SECOND_US
"""How far beyond the wall clock the reminders of running dwells are looked at: the largest backward step of the wall
clock that cannot delay them (our choice)."""


@dataclass(frozen=True, slots=True)
class DueRow:
    """Is one reminder with what was done about it so far; `level` is how far up its chain it went."""

    due: Due
    rang_us: int | None
    seen_us: int | None
    escalated_us: int | None
    level: int = 0


_LEVEL: Final = "(SELECT coalesce(max(e.level), 0) FROM escalated AS e WHERE e.key = d.key)"
_COLUMNS: Final = (
    f"d.key, d.subject, d.rule, d.due_us, d.severity, d.words, r.rang_us, r.seen_us, r.escalated_us, {_LEVEL}"
)
_JOINED: Final = f"SELECT {_COLUMNS} FROM due AS d LEFT JOIN rang AS r ON r.key = d.key"  # noqa: S608
_RULES: Final = ", ".join(f"'{rule}'" for rule in sorted(CLOCKED))
_FREE: Final = (
    "NOT EXISTS (SELECT 1 FROM claim AS c WHERE c.key = d.key AND c.until_us > :now AND c.until_us <= :lease)"
)
_ORDER: Final = "ORDER BY d.severity, d.due_us, d.key"
BY_WALL: Final = (
    f"{_JOINED} WHERE d.due_us <= :now AND d.rule NOT IN ({_RULES}) AND r.key IS NULL AND {_FREE} {_ORDER} LIMIT :most"
)
"""What rings by the wall clock, the gravest first."""
BY_CLOCK: Final = f"{_JOINED} WHERE d.due_us <= :ahead AND d.rule IN ({_RULES}) AND r.key IS NULL AND {_FREE} {_ORDER}"
"""What follows the clock of a dwell; a few for each dwell that runs."""
_SAYS: Final = ", ".join(f"'{say}'" for say in ESCALATING)
UNANSWERED: Final = (
    f"{_JOINED} WHERE d.due_us <= :ahead AND r.rang_us <= :patience AND r.seen_us IS NULL"
    f" AND json_extract(d.words, '$.say') IN ({_SAYS}) AND {_LEVEL} < {LEVELS_MAX} AND {_FREE} {_ORDER}"
)
_LEFT: Final = " FOR UPDATE OF d SKIP LOCKED"
"""On a server two sweeps look at the same time; what one of them has in hand the other leaves."""
WALL_TO_CLAIM: Final = differs(f"{BY_WALL} ", f"{BY_WALL}{_LEFT}")
CLOCK_TO_CLAIM: Final = differs(f"{BY_CLOCK} ", f"{BY_CLOCK}{_LEFT}")
_UNANSWERED: Final = UNANSWERED.replace("json_extract(d.words, '$.say')", "(d.words::jsonb ->> 'say')")
differs(UNANSWERED, _UNANSWERED)
UNANSWERED_TO_CLAIM: Final = differs(f"{UNANSWERED} ", f"{_UNANSWERED}{_LEFT}")
"""What rang, stands as it did, was acknowledged by nobody and has a chain that is not at its end."""
OF_SUBJECT: Final = "SELECT key, rule, due_us, severity, words FROM due WHERE subject = ?"
OF_SUBJECTS: Final = among("SELECT subject, key, rule, due_us, severity, words FROM due WHERE subject")
FORGET: Final = "DELETE FROM due WHERE key = ?"
INSERT: Final = (
    "INSERT INTO due (key, subject, rule, due_us, severity, words) VALUES (?, ?, ?, ?, ?, ?)"
    " ON CONFLICT (key) DO UPDATE SET subject = excluded.subject, rule = excluded.rule, due_us = excluded.due_us,"
    " severity = excluded.severity, words = excluded.words"
)
COMING: Final = f"{_JOINED} WHERE d.due_us <= ? ORDER BY d.due_us, d.severity, d.key"
CLAIM: Final = (
    "INSERT INTO claim (key, owner, until_us) VALUES (:key, :owner, :lease)"
    " ON CONFLICT (key) DO UPDATE SET owner = excluded.owner, until_us = excluded.until_us"
    " WHERE claim.owner = :owner OR claim.until_us <= :now OR claim.until_us > :lease"
)
"""Whoever claims second gets nothing, also where the first one committed after the second one looked."""
CLAIMED: Final = "SELECT key FROM claim WHERE owner = ? AND until_us = ?"
LET_GO: Final = "DELETE FROM claim WHERE key = ? AND owner = ?"
FORGET_LAPSED: Final = "DELETE FROM claim WHERE until_us <= ? OR until_us > ?"
SWEPT: Final = "SELECT value FROM about WHERE name = 'swept'"
KEEP_SWEPT: Final = (
    "INSERT INTO about (name, value) VALUES ('swept', ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value"
)
GIVEN: Final = "SELECT seen_us FROM rang WHERE key = ?"
NEXT_OF_EACH: Final = "SELECT subject, min(due_us) FROM due GROUP BY subject"
UNRUNG: Final = (
    "SELECT count(*) FROM due AS d LEFT JOIN rang AS r ON r.key = d.key"
    " WHERE d.due_us <= ? AND d.severity = 0 AND r.key IS NULL"
)
RUNG: Final = f"{_JOINED} WHERE d.subject = ? AND r.key IS NOT NULL ORDER BY d.key"
UNSEEN: Final = f"{_JOINED} WHERE d.subject = ? AND r.key IS NOT NULL AND r.seen_us IS NULL ORDER BY d.key"


class Dues:
    """Is the reminders' side of one transaction."""

    def __init__(self, cursor: Cursor, *, claiming: bool = False) -> None:
        self._cursor = cursor
        self._kept: dict[str, Mapping[str, tuple[Any, ...]]] = {}
        self._wall, self._clock, self._unanswered = (
            (WALL_TO_CLAIM, CLOCK_TO_CLAIM, UNANSWERED_TO_CLAIM) if claiming else (BY_WALL, BY_CLOCK, UNANSWERED)
        )

    def expect(self, subjects: Iterable[str]) -> None:
        """Takes it that what is kept of these subjects is told next, row by row."""
        self._kept.update((one, {}) for one in subjects)

    def keep_due(self, row: tuple[Any, ...]) -> None:
        """Takes one row of what is kept of an expected subject: the subject, and what `replace` compares."""
        self._kept[row[0]] = {**self._kept[row[0]], row[1]: row[1:]}

    def replace(self, subject: str, rows: Iterable[Due]) -> None:
        """Makes these the reminders of one subject; only what differs is written."""
        expected = self._kept.get(subject)
        kept = expected if expected is not None else self._of(subject)
        wanted = {one.key: (one.key, one.rule, one.due_us, one.severity, _text(one)) for one in rows}
        gone = [(key,) for key in kept if key not in wanted]
        new = [(row[0], subject, *row[1:]) for key, row in wanted.items() if kept.get(key) != row]
        if expected is not None:
            self._kept[subject] = wanted  # every key names its subject, so that nobody else writes these rows
        if gone:
            self._cursor.executemany(FORGET, gone)
        if new:
            self._cursor.executemany(INSERT, new)

    def _of(self, subject: str) -> Mapping[str, tuple[Any, ...]]:
        return {row[0]: row for row in self._cursor.execute(OF_SUBJECT, (subject,)).fetchall()}

    def ready(self, now: Moment, most: int, waits: Waits | None = None) -> list[DueRow]:
        """Returns what must ring now and nobody is just ringing, the gravest first, then the oldest; at most so many.

        A claim that ends later than a lease from now was made before the wall clock was set back, and counts no more.

        Args:
            now: one reading of all clocks.
            most: how many at most.
            waits: tells which reminders wait although they are due, as in the quiet hours of those they are for.
        """
        at = _window(now) | {"most": most if waits is None else LAST_ROW}
        clocked = (_row(row) for row in self._cursor.execute(self._clock, at).fetchall())
        found = list(islice((row for row in clocked if reached(row.due, now) and not _waits(waits, row)), most))
        walled = (_row(row) for row in self._cursor.execute(self._wall, at).fetchall())
        found += islice((row for row in walled if not _waits(waits, row)), most)
        found.sort(key=lambda row: (row.due.severity, row.due.due_us, row.due.key))
        return found[:most]

    def unanswered(self, now: Moment) -> list[DueRow]:
        """Returns what rang long enough ago for the shortest patience, was not acknowledged and may go further up."""
        at = _window(now) | {"patience": now.wall_us - PATIENCE_US}
        return [_row(row) for row in self._cursor.execute(self._unanswered, at).fetchall()]

    def claim(self, keys: Iterable[str], owner: str, now_us: int) -> frozenset[str]:
        """Keeps other sweeps away from these reminders for a lease, and returns those that nobody else had claimed."""
        wanted = sorted(keys)
        lease = now_us + LEASE_US
        self._cursor.execute(FORGET_LAPSED, (now_us, lease))
        self._cursor.executemany(CLAIM, [{"key": key, "owner": owner, "now": now_us, "lease": lease} for key in wanted])
        own = {str(row[0]) for row in self._cursor.execute(CLAIMED, (owner, lease)).fetchall()}
        return frozenset(own.intersection(wanted))

    def let_go(self, keys: Iterable[str], owner: str) -> None:
        """Ends one's own claims on these reminders; what another has claimed meanwhile stays with it."""
        self._cursor.executemany(LET_GO, [(key, owner) for key in keys])

    def coming(self, until_us: int) -> Iterator[DueRow]:
        """Yields every reminder due by an instant, by time; what rang already stays among them."""
        for row in self._cursor.execute(COMING, (until_us,)).fetchall():
            yield _row(row)

    def swept_us(self) -> int | None:
        """Returns when a sweep last said that it was at work, or None when none ever did."""
        row = self._cursor.execute(SWEPT).fetchone()
        return None if row is None else int(row[0])

    def keep_swept(self, now_us: int) -> None:
        """Keeps that a sweep is at work."""
        self._cursor.execute(KEEP_SWEPT, (str(now_us),))

    def rang(self, key: str) -> bool:
        """Tells whether the reminder of that key was given."""
        return self._cursor.execute(GIVEN, (key,)).fetchone() is not None

    def next_of_each(self) -> dict[str, int]:
        """Returns when the next reminder of each subject rings, or the one that is overdue longest rang."""
        return dict(self._cursor.execute(NEXT_OF_EACH).fetchall())

    def unrung(self, before_us: int) -> int:
        """Returns how many grave reminders were due before an instant and did not ring; quiet hours keep none back."""
        return int(self._cursor.execute(UNRUNG, (before_us,)).fetchone()[0])

    def rung_of(self, subject: str) -> list[DueRow]:
        """Returns the reminders of a subject that were given, acknowledged or not."""
        return [_row(row) for row in self._cursor.execute(RUNG, (subject,)).fetchall()]

    def unseen_of(self, subject: str) -> list[DueRow]:
        """Returns the reminders of a subject that were given and not acknowledged."""
        return [_row(row) for row in self._cursor.execute(UNSEEN, (subject,)).fetchall()]


def _window(now: Moment) -> dict[str, int]:
    return {"now": now.wall_us, "ahead": now.wall_us + AHEAD_US, "lease": now.wall_us + LEASE_US}


def _text(due: Due) -> str:
    return orjson.dumps(due.words, option=orjson.OPT_SORT_KEYS).decode()


def _waits(waits: Waits | None, row: DueRow) -> bool:
    return waits is not None and waits(row.due)


def _row(row: tuple[str, str, str, int, int, str, int | None, int | None, int | None, int]) -> DueRow:
    key, subject, rule, due_us, severity, words, rang_us, seen_us, escalated_us, level = row
    due = Due(key, subject, rule, due_us, severity, orjson.loads(words))
    return DueRow(due, rang_us, seen_us, escalated_us, level)
