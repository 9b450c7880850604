"""Tables over HTTP: the same as the command writes, whole or not at all, and by what the caller may see."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pyarrow.parquet as arrow_parquet  # type: ignore[import-untyped]
import pytest

from reprocess.exchange.parquet import SHEETS
from reprocess.exchange.writing import TABLES, write_table
from reprocess.ledger.append import looking
from reprocess.service import who
from tests.exchange.epcis_rules import faults
from tests.ledger.conftest import day_over  # noqa: F401 - a fixture of both rooms
from tests.service.conftest import Bench, anna
from tests.service.standards import limit, standards_of


@pytest.fixture(scope="module")
def once(day_over: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:  # noqa: F811
    with standards_of(day_over, tmp_path_factory.mktemp("standards")) as made:
        yield made


@pytest.fixture
def bench(once: Bench) -> Bench:
    once.caller = anna()
    once.app.dependency_overrides[who.caller] = lambda: once.caller
    return once


@pytest.mark.parametrize("table", sorted(TABLES))
def test_a_table_is_the_one_that_the_command_writes(table: str, bench: Bench) -> None:
    told = bench.get(f"/exports/{table}.csv")
    expected = io.StringIO()
    with looking(bench.department.ledger) as read:
        write_table(expected, table, read)
    assert (told.status_code, told.headers["content-type"]) == (200, "text/csv; charset=utf-8")
    assert told.content.decode() == expected.getvalue()
    assert int(told.headers["content-length"]) == len(told.content)
    assert told.headers["content-disposition"] == f'attachment; filename="{table}.csv"'


@pytest.mark.parametrize("table", sorted(SHEETS))
def test_a_parquet_file_can_be_read(table: str, bench: Bench) -> None:
    """The reader is that of Apache Arrow."""
    told = bench.get(f"/exports/{table}.parquet")
    assert told.status_code == 200, told.text
    assert arrow_parquet.read_table(io.BytesIO(told.content)).num_rows > 0


def test_events_are_one_document(bench: Bench) -> None:
    whole = bench.get("/exports/epcis").json()["epcisBody"]["eventList"]
    assert [fault for one in whole for fault in faults(one)] == []
    assert whole
    later = bench.get("/exports/epcis?after=40").json()["epcisBody"]["eventList"]
    assert 0 < len(later) < len(whole)
    assert later == whole[-len(later) :]


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/exports/secrets.csv", 422),
        ("/exports/..%2Fitems.csv", 404),
        ("/exports/people.parquet", 422),
        ("/exports/entries.parquet?month=2026-13", 422),
        ("/exports/epcis?after=-1", 422),
        ("/exports/epcis?after=99999999999999999999", 422),
    ],
)
def test_what_there_is_not_is_refused(path: str, status: int, bench: Bench) -> None:
    told = bench.get(path)
    assert (told.status_code, told.headers["content-type"]) == (status, "application/problem+json")


@pytest.mark.parametrize("table", ["wearers.csv", "entries.csv", "touches.csv", "due.csv", "touches.parquet"])
def test_pseudonyms_need_the_scope(table: str, bench: Bench) -> None:
    """D13"""
    limit(bench, without=frozenset({"wearers:read"}))
    assert bench.get(f"/exports/{table}").status_code == 403
    assert bench.get("/exports/items.csv").status_code == 200
    assert bench.get("/exports/epcis").status_code == 200


def test_people_need_the_scope_for_people(bench: Bench) -> None:
    limit(bench, without=frozenset({"people:read"}))
    assert bench.get("/exports/people.csv").status_code == 403
    limit(bench, without=frozenset({"entries:read"}))
    assert bench.get("/exports/items.csv").status_code == 403


def test_who_sees_some_sites_gets_their_lines_only(bench: Bench) -> None:
    everything = list(csv.DictReader(io.StringIO(bench.get("/exports/items.csv").text)))
    site = everything[0]["site"]
    limit(bench, sites=frozenset({"ELSEWHERE"}))
    assert list(csv.DictReader(io.StringIO(bench.get("/exports/items.csv").text))) == []
    assert bench.get("/exports/epcis").json()["epcisBody"]["eventList"] == []
    assert bench.get("/exports/configurations.csv").status_code == 403
    assert bench.get("/exports/entries.parquet").status_code == 403
    assert bench.get(f"/exports/entries.parquet?site={site}").status_code == 403
    limit(bench, sites=frozenset({site}))
    assert list(csv.DictReader(io.StringIO(bench.get("/exports/items.csv").text))) == [
        one for one in everything if one["site"] == site
    ]
    assert bench.get(f"/exports/entries.parquet?site={site}").status_code == 200
