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
from reprocess.ledger.driver import Cursor, differs, each, take_time
from reprocess.ledger.open import Ledger
from reprocess.ledger.refold import WITHOUT_DUE, EachItem, Refresh, differing, fill, scratch
from reprocess.ledger.tables import PROJECTIONS
from reprocess.ledger.walking import Finding
from reprocess.record.entry import Entry
from reprocess.rules import answer as answers

__all__ = ["FINDINGS_MAX", "UNCOVERED", "UNUSED", "Finding", "Report", "verify"]

UNCOVERED: Final = "A cut-off tail cannot be seen without a tree head kept elsewhere."
UNUSED: Final = (
    "The key file holds a key that no entry begins: its rotation broke off, or the end of the record was cut off. "
    "`reprocess keys list` shows it; `reprocess keys rotate` goes on with it."
)
FINDINGS_MAX: Final = 20
"""Findings named in one report (our choice); the first one is what matters."""


@dataclass(frozen=True, slots=True)
class Report:
    """Is what verification found.

    Attributes:
        entries: how many entries there are; the last of them has this number in the feed.
        last_us: when the last one was recorded; whatever came after it is not covered. None without entries.
        full: whether the projections, the requests and the evidence of every release were judged too.
        unused: how many keys the key file holds that no entry begins.
    """

    entries: int
    streams: int
    findings: tuple[Finding, ...]
    full: bool
    last_us: int | None = None
    unused: int = 0

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
        take_time(cursor)
        walked = walking.walk(cursor, ledger.ring.latest(), most=FINDINGS_MAX)
        findings = list(walked.findings)
        findings += [Finding(0, one.sentence) for one in guards.gone(cursor)]
        findings += [Finding(0, sentence) for sentence in _head(cursor)]
        if not findings:
            amiss = files.amiss(files.contents_of(ledger, cursor, folder), files.named(cursor))
            findings += [Finding(feed, sentence) for feed, sentence in islice(amiss, FINDINGS_MAX)]
            findings += islice(_kept_after_erasure(cursor), FINDINGS_MAX)
        if full and not findings:
            findings += _found(cursor, refresh)
    found = tuple(findings[:FINDINGS_MAX])
    return Report(walked.entries, walked.streams, found, full, walked.last_us, walked.unused)


_HEAD: Final = differs("SELECT 0, 0", "SELECT last, (SELECT coalesce(max(feed), 0) FROM entry) FROM feed_head")


def _head(cursor: Cursor) -> Iterator[str]:
    """Yields what is wrong with the head of the feed that a server keeps beside the entries."""
    row = cursor.execute(_HEAD).fetchone()
    if row is None:
        yield "the head of the feed is missing"
    elif row[0] != row[1]:
        yield f"the head of the feed says {row[0]}, the last entry is {row[1]}"


_NAMES: Final = ("stream", "number", "request_key", "request_part", "recorded_us")
_UNKEYED: Final = differs(
    f"SELECT 0 WHERE 0 LIMIT {FINDINGS_MAX}",
    "SELECT coalesce(e.feed, k.feed) FROM entry AS e FULL JOIN entry_key AS k ON k.feed = e.feed"  # noqa: S608
    f" WHERE ({', '.join(f'e.{name}' for name in _NAMES)})"
    f" IS DISTINCT FROM ({', '.join(f'k.{name}' for name in _NAMES)}) ORDER BY 1 LIMIT {FINDINGS_MAX}",
)
"""On a server another table keeps numbers and request keys from coming twice; it must say what the entries say."""


def _kept_after_erasure(cursor: Cursor) -> Iterator[Finding]:
    """Yields each wearer whose name is kept although the entries say that it was erased (I21)."""
    for wearer in erasures.left_over(cursor):
        yield Finding(0, f"a name of {walking.shown(wearer)} is kept although it was erased")


def _found(cursor: Cursor, refresh: Refresh | None) -> list[Finding]:
    found: list[Finding] = []
    try:
        found.extend(islice(_full(cursor, refresh), FINDINGS_MAX))
    except sqlite3.OperationalError as fault:
        if not walking.is_undecodable(fault):
            raise
        found.append(Finding(0, "a projection holds a text that is not UTF-8"))
    return found


_DAMAGES: Final = differs(f"PRAGMA integrity_check({FINDINGS_MAX})", "SELECT 'ok'")
"""A server checks its pages by their checksums whenever it reads them."""


def _full(cursor: Cursor, refresh: Refresh | None) -> Iterator[Finding]:
    for (told,) in cursor.execute(_DAMAGES).fetchall():
        if told != "ok":
            yield Finding(0, f"the database is damaged: {told}")
    yield from _requests(cursor)
    with scratch() as anew:
        unproven: list[Finding] = []
        try:
            fill(cursor, anew, refresh=refresh, each_item=_proving(anew, unproven))
        except DamagedEntryError as fault:
            feed = fault.fields.get("feed")
            yield Finding(feed if isinstance(feed, int) else 0, fault.sentence)
            return
        yield from unproven
        for row in differing(cursor, anew, WITHOUT_DUE if refresh is None else PROJECTIONS):
            one = row.difference
            yield Finding(0, f"{walking.shown(one.subject)} in {one.table}: {one.what}; the entries say otherwise")
    for (feed,) in cursor.execute(_UNKEYED).fetchall():
        yield Finding(feed, f"the number and the request key that are kept beside entry {feed} are not its own")


def _proving(anew: Cursor, found: list[Finding]) -> EachItem:
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


def _requests(cursor: Cursor) -> Iterator[Finding]:
    """Yields what is wrong with the requests: parts that do not follow each other, answers that cannot be read."""
    shared: tuple[object, ...] = ()
    part = -1
    for feed, key, number, digest, at_us, actor, station, answer in each(cursor, _REQUESTS):
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
