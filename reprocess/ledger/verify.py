"""Verification: bytes, chain and MAC of every entry; with `full`, that all that is kept follows from the entries.

The first bad entry is named. A cut tail cannot be seen without a tree head kept elsewhere, and the report says so.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import islice
from pathlib import Path
from typing import Final

from reprocess.definitions.model import Workflow
from reprocess.definitions.read import read_definition
from reprocess.errors import DamagedEntryError
from reprocess.ledger import erasures, evidence, files, guards, walking
from reprocess.ledger.open import Ledger
from reprocess.ledger.refold import WITHOUT_DUE, EachItem, Refresh, differing, fill, scratch
from reprocess.ledger.tables import PROJECTIONS
from reprocess.ledger.walking import Finding
from reprocess.record.entry import Entry
from reprocess.rules import answer as answers

__all__ = ["FINDINGS_MAX", "UNCOVERED", "Finding", "Report", "verify"]

UNCOVERED: Final = "A cut-off tail cannot be seen without a tree head kept elsewhere."
FINDINGS_MAX: Final = 20
"""Findings named in one report (our choice); the first one is what matters."""


@dataclass(frozen=True, slots=True)
class Report:
    """Is what verification found.

    Attributes:
        entries: how many entries there are; the last of them has this number in the feed.
        last_us: when the last one was recorded; whatever came after it is not covered. None without entries.
        full: whether the projections, the requests and the evidence of every release were judged too.
    """

    entries: int
    streams: int
    findings: tuple[Finding, ...]
    full: bool
    last_us: int | None = None

    @property
    def sound(self) -> bool:
        """Tells whether nothing was found."""
        return not self.findings


def verify(ledger: Ledger, *, full: bool = False, refresh: Refresh | None = None, folder: Path | None = None) -> Report:
    """Returns what is wrong with the record, at most twenty findings, the first bad entry first.

    What is not covered: a tail of entries cut off together with its standings, and the table `about`.

    Args:
        ledger: the record.
        full: also judge that projections, requests and releases follow from the entries; where an entry itself is
            bad, they are not judged, since nothing follows from it.
        refresh: computes what is due, for `full`; without it the table of what is due is not judged.
        folder: where the files lie that entries name; beside the database where absent.
    """
    with ledger.reading() as cursor:
        walked = walking.walk(cursor, ledger.key, most=FINDINGS_MAX)
        findings = list(walked.findings)
        findings += [Finding(0, one.sentence) for one in guards.gone(cursor)]
        if not findings:
            amiss = files.amiss(folder or files.folder_of(ledger.path), files.named(cursor))
            findings += [Finding(feed, sentence) for feed, sentence in islice(amiss, FINDINGS_MAX)]
            findings += islice(_kept_after_erasure(cursor), FINDINGS_MAX)
        if full and not findings:
            findings += _found(cursor, ledger.key, refresh)
    return Report(walked.entries, walked.streams, tuple(findings[:FINDINGS_MAX]), full, walked.last_us)


def _kept_after_erasure(cursor: sqlite3.Cursor) -> Iterator[Finding]:
    """Yields each wearer whose name is kept although the entries say that it was erased (I21)."""
    for wearer in erasures.left_over(cursor):
        yield Finding(0, f"a name of {walking.shown(wearer)} is kept although it was erased")


def _found(cursor: sqlite3.Cursor, key: bytes, refresh: Refresh | None) -> list[Finding]:
    found: list[Finding] = []
    try:
        found.extend(islice(_full(cursor, key, refresh), FINDINGS_MAX))
    except sqlite3.OperationalError as fault:
        if not walking.is_undecodable(fault):
            raise
        found.append(Finding(0, "a projection holds a text that is not UTF-8"))
    return found


def _full(cursor: sqlite3.Cursor, key: bytes, refresh: Refresh | None) -> Iterator[Finding]:
    for (told,) in cursor.execute(f"PRAGMA integrity_check({FINDINGS_MAX})").fetchall():
        if told != "ok":
            yield Finding(0, f"the database is damaged: {told}")
    yield from _requests(cursor)
    with scratch() as anew:
        unproven: list[Finding] = []
        try:
            fill(cursor, anew, key=key, refresh=refresh, each_item=_proving(anew, unproven))
        except DamagedEntryError as fault:
            feed = fault.fields.get("feed")
            yield Finding(feed if isinstance(feed, int) else 0, fault.sentence)
            return
        yield from unproven
        for row in differing(cursor, anew, WITHOUT_DUE if refresh is None else PROJECTIONS):
            one = row.difference
            yield Finding(0, f"{walking.shown(one.subject)} in {one.table}: {one.what}; the entries say otherwise")


def _proving(anew: sqlite3.Cursor, found: list[Finding]) -> EachItem:
    """Returns what judges the releases of each item, with the workflows that the entries themselves publish."""
    read = anew.connection.cursor()

    @cache
    def workflow_of(digest: str) -> Workflow | None:
        row = read.execute("SELECT name, text FROM definition WHERE digest = ?", (digest,)).fetchone()
        return _workflow(row[0], row[1]) if row is not None else None

    def prove(entries: list[Entry]) -> None:
        if len(found) < FINDINGS_MAX:
            found.extend(Finding(one.feed, one.sentence) for one in evidence.unproven(entries, workflow_of))

    return prove


@lru_cache(maxsize=100)
def _workflow(name: str, text: str) -> Workflow | None:
    """Returns the workflow that a text holds; a server that verifies again need not read it again."""
    definition = read_definition(text, name=name)
    return definition if isinstance(definition, Workflow) else None


_REQUESTS: Final = (
    "SELECT feed, request_key, request_part, request_digest, recorded_us, actor, station, answer FROM entry"
    " ORDER BY feed"
)


def _requests(cursor: sqlite3.Cursor) -> Iterator[Finding]:
    """Yields what is wrong with the requests: parts that do not follow each other, answers that cannot be read."""
    shared: tuple[object, ...] = ()
    part = -1
    for feed, key, number, digest, at_us, actor, station, answer in cursor.execute(_REQUESTS):
        if number == 0:
            shared, part = (key, digest, at_us, actor, station), 0
            if not _can_be_read(answer):
                yield Finding(feed, f"the answer kept with entry {feed} cannot be read")
            continue
        if shared != (key, digest, at_us, actor, station) or number != part + 1:
            yield Finding(feed, f"entry {feed} is part {number} of a request whose other parts do not stand before it")
        if answer is not None:
            yield Finding(feed, f"entry {feed} is part {number} of a request and carries an answer")
        part = number


def _can_be_read(answer: str | None) -> bool:
    try:
        answers.from_text(answer or "")
    except ValueError:
        return False
    return True
