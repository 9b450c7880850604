"""`reprocess export`: stable headings, no wearers' names, never over a file that is there."""

from __future__ import annotations

import csv
import io
import json
import re
from pathlib import Path

import pytest

from reprocess.commandline.export import Exported, export
from reprocess.errors import WrongUseError
from reprocess.exchange.writing import TABLES
from tests.exchange.desk import Desk

# The department's own interface: "CSV in/out for every table with stable headers".
ITEM_HEADINGS = (
    "id,site,kind,model,serial,stage,stage_since,place,holds,due_next,cycles,last_ready_at,workflow,"
    "quantity,in_service,opened,sealed_until"
)


def test_the_headings_of_items_stay_as_they_are(desk: Desk) -> None:
    assert desk.out("items") == f"{ITEM_HEADINGS}\r\n"


@pytest.mark.parametrize("table", sorted(TABLES))
def test_every_table_goes_out_with_one_cell_for_each_heading(desk: Desk, table: str) -> None:
    rows = list(csv.reader(io.StringIO(desk.out(table))))
    assert rows[0] == list(TABLES[table])
    assert {len(row) for row in rows} == {len(TABLES[table])}


def test_an_item_goes_out_with_its_local_times(desk: Desk, tmp_path: Path) -> None:
    file = tmp_path / "in.csv"
    file.write_text(
        "id,site,model,workflow,serial,in_service,sealed_until\nBLW-1,SAL,LB-3,blower,S-1,2026-01-15,2027-03-31\n",
        encoding="utf-8",
    )
    assert desk.take("items", file) == 0
    (row,) = csv.DictReader(io.StringIO(desk.out("items")))
    assert (row["stage"], row["kind"], row["cycles"], row["holds"]) == ("used", "blower", "0", "")
    assert re.fullmatch(r"2026-03-05T03:00:0[0-9]-04:00", row["stage_since"])
    assert (row["in_service"], row["sealed_until"], row["last_ready_at"]) == ("2026-01-15", "2027-03-31", "")
    assert row["due_next"].startswith("2030-")


def test_the_whole_record_goes_out(desk: Desk) -> None:
    rows = list(csv.DictReader(io.StringIO(desk.out("entries"))))
    assert [int(row["feed"]) for row in rows] == list(range(1, desk.entries() + 1))
    assert rows[0]["stream"] == "site:LMG"
    assert json.loads(rows[0]["body"])["zone"] == "Europe/London"


def test_a_file_that_is_there_is_never_written_over(
    desk: Desk, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "people.csv"
    export(Exported.PEOPLE, out, desk.path)
    assert capsys.readouterr().out == f"{out} has 3 lines of people.\n"
    assert out.read_bytes().count(b"\r\n") == 4
    with pytest.raises(WrongUseError, match="is there already"):
        export(Exported.PEOPLE, out, desk.path)
    export(Exported.PEOPLE, None, desk.path)
    assert capsys.readouterr().out.splitlines()[0] == "id,name,sites,roles,badges,active"
