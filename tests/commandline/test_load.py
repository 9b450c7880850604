"""`reprocess load` as it is typed: several items in one command, a logger's file, what it says and how it ends."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from freezegun import freeze_time

from reprocess.commandline import main
from reprocess.ledger.files import read_file
from tests.engine.floor import Floor
from tests.engine.loading import a_washer, bowls, record_of


@pytest.fixture
def washer(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> Floor:
    """Returns the department of the engine's tests with a washer and three rinsed bowls, as the shell finds it."""
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    monkeypatch.setenv("REPROCESS_BADGE", "B-ANNA")
    a_washer(floor)
    bowls(floor, 3)
    return floor


def typed(monkeypatch: pytest.MonkeyPatch, at: str, words: str) -> int:
    """Returns the exit code of a command line at a time of the department's day."""
    monkeypatch.setattr("sys.argv", ["reprocess", *words.split()])
    with freeze_time(f"2026-03-05T{at}Z"):
        return main.run()


def run(monkeypatch: pytest.MonkeyPatch) -> None:
    """Makes a load up and starts it."""
    assert typed(monkeypatch, "08:00:00", "load open LD-1 --machine WD-1 --programme P90") == 0
    assert typed(monkeypatch, "08:01:00", "load add LD-1 BWL-1 BWL-2 BWL-3") == 0
    assert typed(monkeypatch, "08:01:10", "load remove LD-1 BWL-3") == 0
    assert typed(monkeypatch, "08:02:00", "load start LD-1") == 0


def test_a_load_from_opening_to_the_scan_out(
    washer: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = tmp_path / "wd-1.csv"
    file.write_bytes(b"\xef\xbb\xbf" + record_of(("90", 60)).replace("\n", "\r\n").encode())
    run(monkeypatch)
    said = f"load end LD-1 --record {file} --logger LG-1 --pass --read wash_min=6 --key end-1"
    assert typed(monkeypatch, "08:45:00", f"{said} --indicator cleaning=passed") == 0
    assert typed(monkeypatch, "08:46:00", f"{said} --indicator cleaning=passed") == 0
    assert "already recorded" in capsys.readouterr().out
    assert typed(monkeypatch, "08:47:00", "load unload LD-1 BWL-1 --more") == 0
    assert typed(monkeypatch, "08:48:00", "load unload LD-1 BWL-2") == 0
    capsys.readouterr()
    assert typed(monkeypatch, "08:49:00", "load show LD-1") == 0
    shown = capsys.readouterr().out
    assert "A0 600.0 s, from 65 degC up, smaller-neighbour; logger" in shown
    assert "unloaded: BWL-1, BWL-2" in shown
    assert typed(monkeypatch, "08:49:00", "load show LD-1 --json") == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["state"], told["items"], told["emptied"]) == ("passed", {"BWL-1": 1, "BWL-2": 1}, True)
    assert read_file(washer.department.ledger, told["record"]) == file.read_bytes()
    assert washer.item("BWL-1").stage == "disinfected"


def test_what_awaits_fails_or_was_miscounted_ends_with_one(
    washer: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    run(monkeypatch)
    assert typed(monkeypatch, "08:45:00", "load end LD-1 --json") == 1
    told = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert {one["key"] for one in told["reasons"]} == {"awaiting-record", "indicator-missing"}
    assert typed(monkeypatch, "08:46:00", "load unload LD-1 BWL-1") == 1
    assert typed(monkeypatch, "08:47:00", "load unload LD-1 BWL-1 BWL-2 --recount --with B-BEN") == 0
    assert typed(monkeypatch, "08:48:00", "load fail LD-1 --because cycle --why smoke") == 1
    assert "did not pass: smoke" in capsys.readouterr().out
    assert typed(monkeypatch, "08:49:00", "load show LD-1") == 1
    assert "failed Thu 05 Mar 2026 08:48:00 +0000 [W06]: smoke" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("load open LD-1 --programme P90", "--machine"),
        ("load programme WD-1 --programme P95 --hottest 95", "--lasts"),
        ("load programme WD-1 --programme P95 --hottest 95 --lasts 0", "between a second and a day"),
        ("load add LD-1", "at least one item"),
        ("load end LD-1 --record no-such-file.csv", "cannot be read"),
        ("load end LD-1 --indicator cleaning=green", "cleaning=passed"),
        ("load end LD-1 --yes one --no one", "cannot be both"),
        ("load fail LD-1", "--because"),
        ("load fail LD-1 --because moon", "not moon"),
        ("load show LD-77", "not on record"),
    ],
)
def test_what_cannot_be_meant_is_wrong_use(
    washer: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], words: str, told: str
) -> None:
    typed(monkeypatch, "08:00:00", "load open LD-1 --machine WD-1 --programme P90")
    assert typed(monkeypatch, "08:01:00", words) == 2
    assert told in capsys.readouterr().err


def test_a_file_that_is_no_text_is_wrong_use_and_is_not_kept(
    washer: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    file = tmp_path / "wd-1.csv"
    file.write_bytes(record_of(("90", 60)).encode("utf-16"))
    run(monkeypatch)
    assert typed(monkeypatch, "08:45:00", f"load end LD-1 --record {file}") == 2
    assert "no plain text" in capsys.readouterr().err
    assert typed(monkeypatch, "08:45:00", "load show LD-1") == 0


def test_a_programme_is_set_by_two(washer: Floor, monkeypatch: pytest.MonkeyPatch) -> None:
    said = "load programme WD-1 --programme P95 --hottest 95 --lasts 1800"
    assert typed(monkeypatch, "08:00:00", said) == 1
    assert typed(monkeypatch, "08:01:00", f"{said} --with B-CORA") == 0
    assert washer.department.instrument("WD-1").programmes["P95"].lasts_s == 1800
