"""The archive of columns: what goes in comes back, by site and month, and every column says what it means.

The reader is that of Apache Arrow (pyarrow), which is not ours.
"""

from __future__ import annotations

import io
import sys
from dataclasses import replace
from pathlib import Path

import orjson
import pyarrow.dataset as arrow_dataset  # type: ignore[import-untyped]
import pyarrow.parquet as arrow_parquet  # type: ignore[import-untyped]
import pytest

from reprocess.commandline.export import Exported, Form, export
from reprocess.department import Department
from reprocess.errors import WrongUseError
from reprocess.exchange import parquet
from reprocess.ledger.append import looking, transaction
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.form import body_text
from reprocess.terms import instant
from tests.exchange.desk import Desk
from tests.exchange.telling import ENVELOPE, NOON


def test_every_entry_comes_back_as_it_is(a_department: Department, tmp_path: Path) -> None:
    with looking(a_department.ledger) as read:
        count = parquet.write_archive(tmp_path / "archive", "entries", read)
        entries = list(read.each_entry())
    whole = arrow_dataset.dataset(tmp_path / "archive", partitioning="hive").to_table().sort_by("feed")
    rows = whole.to_pylist()
    assert count == len(rows) == len(entries)
    for row, entry in zip(rows, entries, strict=True):
        assert (row["feed"], row["id"], row["kind"], row["body"]) == (
            entry.feed, entry.id, entry.kind, body_text(entry.body),
        )  # fmt: skip
        assert (instant(row["occurred"]), instant(row["recorded"])) == (entry.occurred_us, entry.at_us)
        assert (row["actor"], row["station"]) == (entry.envelope.actor, entry.envelope.station)


def test_when_it_happened_is_not_when_it_was_written(desk: Desk) -> None:
    """D05: what is entered late keeps both instants."""
    ids = iter(["01234567-89ab-7def-8123-000000000000"])
    draft = Draft("item:BLW-1", words.ItemLost(note="not found"), NOON - 3_600_000_000)
    with transaction(desk.department.ledger) as work:
        work.write(work.prepare([draft], replace(ENVELOPE, key="late"), ids), "{}")
    file = io.BytesIO()
    with looking(desk.department.ledger) as read:
        parquet.write_file(file, "entries", read)
    row = arrow_parquet.read_table(io.BytesIO(file.getvalue())).to_pylist()[-1]
    assert (instant(row["occurred"]), instant(row["recorded"])) == (NOON - 3_600_000_000, NOON)


def test_the_folders_are_sites_and_months(a_department: Department, tmp_path: Path) -> None:
    with looking(a_department.ledger) as read:
        parquet.write_archive(tmp_path / "archive", "standings", read)
        items = list(read.items())
    found = {path.parent.relative_to(tmp_path / "archive") for path in (tmp_path / "archive").rglob("*.parquet")}
    assert found == {Path(f"site={one}") / "month=2026-03" for one in {item.site for item in items}}
    table = arrow_dataset.dataset(tmp_path / "archive", partitioning="hive").to_table()
    assert {row["item"]: (row["stage"], row["site"]) for row in table.to_pylist()} == {
        item.item: (str(item.stage), item.site) for item in items
    }


def test_every_touch_comes_back(a_department: Department, tmp_path: Path) -> None:
    with looking(a_department.ledger) as read:
        count = parquet.write_archive(tmp_path / "archive", "touches", read)
        names = [item.item for item in read.items()]
        known = [row for name in names for row in read.touches.by(name)]
    table = arrow_dataset.dataset(tmp_path / "archive", partitioning="hive").to_table()
    rows = {(one["item"], one["entry_number"], one["sort"], one["name"]): one for one in table.to_pylist()}
    assert count == len(rows) == len(known) > 100
    for one in known:
        row = rows[one.item, one.number, one.sort, one.name]
        assert instant(row["begins"]) == one.from_us
        assert (row["ends"] is None) == one.open_now


@pytest.mark.parametrize("table", sorted(parquet.SHEETS))
def test_every_column_says_what_it_means(table: str, a_department: Department) -> None:
    file = io.BytesIO()
    with looking(a_department.ledger) as read:
        parquet.write_file(file, table, read)
    schema = arrow_parquet.read_schema(io.BytesIO(file.getvalue()))
    dictionary = orjson.loads(schema.metadata[b"dictionary"])
    assert schema.metadata[b"table"].decode() == table
    assert list(dictionary) == schema.names
    for column in schema:
        assert column.metadata[b"means"].decode() == dictionary[column.name]["means"]
        assert dictionary[column.name]["means"].endswith(".")


def test_one_site_and_month_go_into_one_file(a_department: Department) -> None:
    with looking(a_department.ledger) as read:
        counts = {
            place: parquet.write_file(io.BytesIO(), "entries", read, site=place[0], month=place[1])
            for place in [(None, None), ("LMG", None), ("LMG", "2026-03"), ("LMG", "2026-04"), ("none", None)]
        }
        total = read.feed.last()
    assert counts[None, None] == total
    assert 0 < counts["LMG", "2026-03"] == counts["LMG", None] < total
    assert counts["LMG", "2026-04"] == 0


def test_many_rows_are_written_in_parts(
    a_department: Department, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parquet, "ROWS_MAX", 50)
    with looking(a_department.ledger) as read:
        count = parquet.write_archive(tmp_path / "archive", "entries", read)
    files = list((tmp_path / "archive").rglob("*.parquet"))
    assert len(files) > 5
    assert sum(arrow_parquet.ParquetFile(one).metadata.num_rows for one in files) == count


def test_without_pyarrow_a_sentence_says_what_to_do(
    a_department: Department, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with (
        looking(a_department.ledger) as read,
        pytest.raises(WrongUseError, match="Install reprocess with its extra `archive`"),
    ):
        parquet.write_archive(tmp_path / "archive", "entries", read)
    assert not (tmp_path / "archive").exists()


def test_the_command_writes_every_standard(a_day: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for table, form in (
        (Exported.ITEMS, Form.PARQUET), (Exported.ENTRIES, Form.EPCIS), (Exported.ITEMS, Form.FHIR),
        (Exported.CONFIGURATIONS, Form.FHIR), (Exported.TOUCHES, Form.CSV),
    ):  # fmt: skip
        export(table, tmp_path / f"{table}.{form}", a_day, form)
    said = [line.rsplit("has ", 1)[-1] for line in capsys.readouterr().out.splitlines() if " has " in line]
    events = orjson.loads((tmp_path / "entries.epcis").read_bytes())["epcisBody"]["eventList"]
    devices = (tmp_path / "items.fhir").read_bytes().splitlines()
    assert said[1:3] == [f"{len(events)} events of entries.", f"{len(devices)} resources of items."]
    assert {orjson.loads(one)["resourceType"] for one in devices} == {"Device"}
    with pytest.raises(WrongUseError, match="is there already"):
        export(Exported.ITEMS, tmp_path / "items.fhir", a_day, Form.FHIR)
    with pytest.raises(WrongUseError, match="is there already"):
        export(Exported.ITEMS, tmp_path / "items.parquet", a_day, Form.PARQUET)


@pytest.mark.parametrize(
    ("table", "form", "says"),
    [
        (Exported.PEOPLE, Form.PARQUET, "there are entries, standings, touches"),
        (Exported.ITEMS, Form.EPCIS, "export `entries`"),
        (Exported.PEOPLE, Form.FHIR, "FHIR is served for"),
    ],
)
def test_a_table_that_a_standard_does_not_have_is_refused(
    table: Exported, form: Form, says: str, a_day: Path, tmp_path: Path
) -> None:
    with pytest.raises(WrongUseError, match=says):
        export(table, tmp_path / "out", a_day, form)
    assert not (tmp_path / "out").exists()


def test_parquet_needs_a_folder(a_day: Path) -> None:
    with pytest.raises(WrongUseError, match="--out"):
        export(Exported.ITEMS, None, a_day, Form.PARQUET)
