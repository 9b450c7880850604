"""Entries, standings and touches as Parquet files, one folder a site and month, for an archive of columns.

What each column means stands in every file: in the metadata of the columns and, as one JSON object, in that of the
file (`dictionary`). Months are those of UTC, so that they never change with a site's clocks.

Source of the format: Apache Parquet, https://parquet.apache.org/docs/file-format/. Only this file needs pyarrow.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import orjson

from reprocess.errors import WrongUseError
from reprocess.ledger.append import Transaction
from reprocess.record.form import body_text
from reprocess.record.places import Station
from reprocess.record.standing import Standing
from reprocess.terms import StreamKind, as_datetime, stream, subject_of

ROWS_MAX: Final = 100_000
"""Rows held in memory before they are written; a site and month may then have several files (our choice)."""
NO_SITE: Final = "none"
"""The site of what belongs to none, such as the files of the whole department."""

Row = tuple[str, int, tuple[Any, ...]]
"""A site, the instant that its month is taken from, and the values in the order of the columns."""


@dataclass(frozen=True, slots=True)
class Column:
    """Is one column: its name, whether it is text, a whole number, an instant or a yes and no, and what it means."""

    name: str
    sort: str
    means: str


def _columns(text: str) -> tuple[Column, ...]:
    """Returns columns out of lines of a name, a sort and a meaning."""
    rows = (line.split(maxsplit=2) for line in text.strip().splitlines())
    return tuple(Column(*row) for row in rows)


ENTRIES: Final = _columns("""
feed number Its number in the one order of the whole record, from 1, without gaps.
id text The entry's own id, a UUID.
stream text What it is about: a kind and an id, such as item:BLW-0041.
entry_number number Its number in its stream, from 1.
kind text The stored word for what happened.
version number The version of that word.
occurred instant When it happened.
recorded instant When it was written.
offset_min number The local offset from UTC in minutes, for display.
actor text The person, by id; absent for what the program did.
second text The second person, by id.
identity text How the actor is known.
station text Where it was written.
request_key text The key of the request; all its entries share it.
body text What it says, as canonical JSON.
""")
STANDINGS: Final = _columns("""
item text The item's id.
item_kind text What kind of item it is.
model text Its model.
serial text Its maker's serial number.
stage text The stage it stands at.
since instant Since when.
cycle number Its cycle since it was commissioned, from 1.
cycles_done number How often it was released.
place text Where it is, as far as anybody scanned it there.
custody text How it is out: issued, lent or moving; absent while it is in the department.
holds text The sorts of its open holds, parted by spaces.
assembly text The assembly that it is part of.
workflow text The workflow that it follows.
digest text The digest of that workflow's text.
quantity number How many a counted batch holds; 1 for all else.
ready_until instant Until when its readiness lasts; absent where it has no end.
entries number How many entries its stream has.
""")
TOUCHES: Final = _columns("""
item text The item's id.
entry_number number The entry of its stream that says so.
sort text What sort of thing it touched, such as solution, load or person.
name text Which one; a wearer is a pseudonym.
cycle number The cycle in which it did.
step text The step in which it did, where it was one.
begins instant From when on.
begins_feed number The entry of the whole record with which that began.
ends instant Until when; absent while it lasts.
ends_feed number The entry of the whole record with which that ended.
""")


def write_archive(folder: Path, table: str, read: Transaction) -> int:
    """Writes a table below a new folder as `site=.../month=.../part-....parquet`, and returns how many rows it has.

    Raises:
        WrongUseError: there is no such table, or pyarrow is not installed.
        FileExistsError: the folder is there already.
    """
    sheet = _sheet(table)
    writer = _Writer(folder, table, sheet.columns)
    folder.mkdir()
    for site, at_us, values in sheet.rows(read):
        writer.add(site, at_us, values)
    writer.flush()
    return writer.count


def write_file(file: Any, table: str, read: Transaction, *, site: str | None = None, month: str | None = None) -> int:
    """Writes a table, or one site and month of it, as a single file, and returns how many rows it has.

    Args:
        file: where it goes, open for bytes.
        table: which one.
        read: what is read.
        site: only what belongs to that site.
        month: only that month of UTC, such as `2026-03`.

    Raises:
        WrongUseError: there is no such table, or pyarrow is not installed.
    """
    sheet = _sheet(table)
    arrow, parquet = _pyarrow()
    schema = _schema(arrow, table, sheet.columns)
    count = 0
    with parquet.ParquetWriter(file, schema, compression="zstd") as writer:
        for rows in _batches(sheet.rows(read), site, month):
            writer.write_table(_as_table(arrow, rows, schema))
            count += len(rows)
    return count


def _batches(rows: Iterator[Row], site: str | None, month: str | None) -> Iterator[list[tuple[Any, ...]]]:
    waiting: list[tuple[Any, ...]] = []
    for own, at_us, values in rows:
        if site in (None, own) and month in (None, _month(at_us)):
            waiting.append(values)
        if len(waiting) >= ROWS_MAX:
            yield waiting
            waiting = []
    if waiting:
        yield waiting


@dataclass(slots=True)
class _Writer:
    """Writes rows to the file of their site and month; what waits for it is bounded."""

    folder: Path
    table: str
    columns: tuple[Column, ...]
    count: int = 0
    _waiting: dict[tuple[str, str], list[tuple[Any, ...]]] = field(default_factory=dict)
    _parts: dict[tuple[str, str], int] = field(default_factory=dict)
    _held: int = 0

    def __post_init__(self) -> None:
        _pyarrow()

    def add(self, site: str, at_us: int, values: tuple[Any, ...]) -> None:
        """Takes one row."""
        self._waiting.setdefault((site, _month(at_us)), []).append(values)
        self.count += 1
        self._held += 1
        if self._held >= ROWS_MAX:
            self.flush()

    def flush(self) -> None:
        """Writes what waits."""
        arrow, parquet = _pyarrow()
        schema = _schema(arrow, self.table, self.columns)
        for place, rows in sorted(self._waiting.items()):
            part = self._parts.get(place, 0)
            folder = self.folder / f"site={quote(place[0], safe='')}" / f"month={place[1]}"
            folder.mkdir(parents=True, exist_ok=True)
            table = _as_table(arrow, rows, schema)
            parquet.write_table(table, folder / f"part-{part:04}.parquet", compression="zstd")
            self._parts[place] = part + 1
        self._waiting.clear()
        self._held = 0


def _month(at_us: int) -> str:
    return as_datetime(at_us).strftime("%Y-%m")


def _pyarrow() -> tuple[Any, Any]:
    try:
        return import_module("pyarrow"), import_module("pyarrow.parquet")
    except ImportError as fault:
        message = "Parquet files need pyarrow. Install reprocess with its extra `archive`."
        raise WrongUseError(message) from fault


def _schema(arrow: Any, table: str, columns: tuple[Column, ...]) -> Any:
    sorts = {"text": arrow.string(), "number": arrow.int64(), "instant": arrow.timestamp("us", tz="UTC")}
    fields = [arrow.field(one.name, sorts[one.sort], metadata={"means": one.means}) for one in columns]
    dictionary = {one.name: {"sort": one.sort, "means": one.means} for one in columns}
    return arrow.schema(fields, metadata={"table": table, "dictionary": orjson.dumps(dictionary)})


def _as_table(arrow: Any, rows: list[tuple[Any, ...]], schema: Any) -> Any:
    columns = zip(*rows, strict=True)
    arrays = [arrow.array(values, type=one.type) for values, one in zip(columns, schema, strict=True)]
    return arrow.Table.from_arrays(arrays, schema=schema)


def _entries(read: Transaction) -> Iterator[Row]:
    sites: dict[str, str] = {}
    for one in read.each_entry():
        envelope = one.envelope
        values = (
            one.feed,
            one.id,
            one.stream,
            one.number,
            one.kind,
            one.body.version,
            one.occurred_us,
            one.at_us,
            envelope.offset_min,
            envelope.actor,
            envelope.second,
            envelope.identity,
            envelope.station,
            envelope.key,
            body_text(one.body),
        )
        yield site_of(read, one.stream, envelope.station, sites), one.at_us, values


def site_of(read: Transaction, name: str, station: str | None, known: dict[str, str]) -> str:
    """Returns the site of a stream, else that of the station where an entry was written, else `none`.

    Args:
        read: what is read.
        name: the stream.
        station: the station of the entry, or None.
        known: the sites that were found before, by stream.
    """
    if name not in known:
        kind = name.partition(":")[0]
        own = subject_of(name) if kind == StreamKind.SITE else getattr(read.glance(name), "site", None)
        known[name] = str(own or "")
    if known[name] or station is None:
        return known[name] or NO_SITE
    place = read.state(stream(StreamKind.STATION, station))
    return (place.site if isinstance(place, Station) else "") or NO_SITE


def _standings(read: Transaction) -> Iterator[Row]:
    for _, _, one in read.each_of(StreamKind.ITEM):
        if isinstance(one, Standing) and one.known:
            changed_us = one.change.moment.wall_us if one.change is not None else one.since_us
            values = (
                one.item,
                one.item_kind,
                one.model,
                one.serial,
                str(one.stage),
                one.since_us,
                one.cycle,
                one.cycles_done,
                one.custody.place if one.custody is not None else one.place,
                one.custody.sort if one.custody is not None else None,
                " ".join(sorted(hold.sort for hold in one.holds.values())),
                one.assembly,
                one.workflow,
                one.digest,
                one.quantity,
                one.ready_until_us,
                one.number,
            )
            yield one.site or NO_SITE, changed_us, values


def _touches(read: Transaction) -> Iterator[Row]:
    for name, _, item in read.each_of(StreamKind.ITEM):
        for row in read.touches.by(subject_of(name)):
            values = (
                row.item,
                row.number,
                row.sort,
                row.name,
                row.cycle,
                row.step,
                row.from_us,
                row.from_feed,
                row.until_us,
                row.until_feed,
            )
            yield str(getattr(item, "site", "")) or NO_SITE, row.from_us, values


@dataclass(frozen=True, slots=True)
class Sheet:
    """Is a table: its columns, and what reads its rows."""

    columns: tuple[Column, ...]
    rows: Callable[[Transaction], Iterator[Row]]


SHEETS: Final = {
    "entries": Sheet(ENTRIES, _entries),
    "standings": Sheet(STANDINGS, _standings),
    "touches": Sheet(TOUCHES, _touches),
}
"""Every table that can be archived, by name."""


def _sheet(table: str) -> Sheet:
    sheet = SHEETS.get(table)
    if sheet is None:
        message = f"There is no archive of {table[:40]!r}; there are {', '.join(SHEETS)}."
        raise WrongUseError(message)
    return sheet
