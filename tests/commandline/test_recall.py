"""Recalls and look-backs as they are typed (H03, H09, H12; trade 5.4)."""

from __future__ import annotations

import json

import pytest
from freezegun import freeze_time

from reprocess.commandline import main
from tests.engine.floor import Floor
from tests.engine.worn import issue


@pytest.fixture
def typed(floor: Floor, monkeypatch: pytest.MonkeyPatch):  # type: ignore[no-untyped-def]
    """Returns what runs a command line as Hana at ten in the morning, and returns its exit code."""
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    monkeypatch.setenv("REPROCESS_BADGE", "B-HANA")

    def run(*words: str, at: str = "2026-03-05T10:00:00Z") -> int:
        monkeypatch.setattr("sys.argv", ["reprocess", *words])
        with freeze_time(at):
            return main.run()

    return run


def test_a_recall_from_preview_to_close(typed, floor: Floor, capsys: pytest.CaptureFixture[str]) -> None:  # type: ignore[no-untyped-def]
    """H03, H09: preview, commit, what is missing, close."""
    preview = ("recall", "R-1", "preview", "items", "--item", "FLT-3", "--item", "FLT-4")
    assert typed(*preview, "--why", "cracked frames", "--notice", "FN-12") == 1
    shown = capsys.readouterr().out
    assert "Recall R-1 reaches 2 items, 0 of them out; 0 wearers." in shown
    assert "item    FLT-3" in shown
    assert "stage   ready 2" in shown
    assert typed("recall", "R-1") == 0
    assert "previewed: 2 items; nothing is held yet" in capsys.readouterr().out
    assert typed("recall", "R-1", "commit") == 1
    assert "HELD" in capsys.readouterr().out
    assert typed("hold", "FLT-3", "quarantine", "Q-1", at="2026-03-05T10:30:00Z") == 0
    assert typed("recall", "R-1", at="2026-03-05T12:00:00Z") == 1
    told = capsys.readouterr().out
    assert "located by 1 h: 1 of 2" in told
    assert "NOT FOUND FLT-4" in told
    assert "quarantine Q-1" in told
    assert typed("recall", "R-1", "close", "--why", "done", at="2026-03-05T12:10:00Z") == 1
    capsys.readouterr()
    assert typed("hold", "FLT-4", "quarantine", "Q-1", at="2026-03-05T12:20:00Z") == 0
    assert typed("recall", "R-1", "close", "--why", "done", at="2026-03-05T12:30:00Z") == 0
    capsys.readouterr()
    assert typed("recall", "R-1", "--json", at="2026-03-07T12:30:00Z") == 0
    fields = json.loads(capsys.readouterr().out)
    assert fields["notice"] == "FN-12"
    assert fields["effectiveness"] == [
        {"age": "1 h", "located": 1, "total": 2},
        {"age": "24 h", "located": 2, "total": 2},
        {"age": "now", "located": 2, "total": 2},
    ]
    assert [one["quarantine"] for one in fields["places"]] == ["Q-1", "Q-1"]


def test_a_bath_is_recalled_by_what_people_call_it(typed, capsys: pytest.CaptureFixture[str]) -> None:  # type: ignore[no-untyped-def]
    window = ("--from", "2026-03-01T00:00:00Z", "--until", "2026-03-05T09:00:00Z")
    assert typed("recall", "R-1", "preview", "bath", "HYP-0", *window, "--why", "weak") == 1
    assert "item    TUB-3" in capsys.readouterr().out
    assert typed("recall", "R-2", "preview", "bath", "--why", "weak") == 2
    assert typed("recall", "R-2", "preview", "lot", "7F", "--why", "weak", "--json") == 1
    assert json.loads(capsys.readouterr().out)["reasons"][0]["key"] == "recall-empty"
    assert typed("recall", "R-9") == 2


def test_who_wore_it_is_one_command(typed, floor: Floor, capsys: pytest.CaptureFixture[str]) -> None:  # type: ignore[no-untyped-def]
    """5.4: a table, JSON or a graph; pseudonyms only."""
    issue(floor, "KIT-7", "W-1")
    assert typed("lookback", "item", "BLW-7", "--from", "2026-03-05T00:00:00Z", "--until", "2026-03-06T00:00:00Z") == 0
    told = capsys.readouterr().out
    assert "worn by W-1" in told
    assert "in KIT-7" in told
    assert "still out  at WARD-5" in told
    assert typed("lookback", "bath", "HYP-0", "--shape", "graph") == 0
    assert capsys.readouterr().out.startswith("flowchart LR\n")
    assert typed("lookback", "instrument", "FI-1", "--json", "--as-of", "2026-03-05T06:00:00Z") == 0
    fields = json.loads(capsys.readouterr().out)
    assert (fields["as_of"], fields["wearers"]) == ("2026-03-05T06:00:00Z", [])
    assert typed("lookback", "lot", "7F") == 1
    assert typed("lookback", "item", "BLW-999") == 2
    assert typed("lookback", "item", "BLW-7", "--as-of", "yesterday") == 2


def test_an_item_is_shown_as_it_stood(typed, capsys: pytest.CaptureFixture[str]) -> None:  # type: ignore[no-untyped-def]
    """9.4"""
    assert typed("item", "BLW-3", "--as-of", "2026-03-05T06:59:00Z") == 0
    assert "ready since" in capsys.readouterr().out
    assert typed("item", "BLW-3", "--as-of", "2026-03-01T00:00:00Z") == 2


def test_a_hold_keeps_its_evidence(typed, floor: Floor) -> None:  # type: ignore[no-untyped-def]
    """H02, H12"""
    assert typed("hold", "BLW-3", "place", "defect", "--why", "crack", "--evidence", "photo 1", "--notice", "FN-1") == 1
    (one,) = floor.item("BLW-3").holds.values()
    assert (one.evidence, one.notice) == ("photo 1", "FN-1")
    assert typed("hold", "BLW-3", "place", "defect") == 2


def test_an_empty_answer_asks_for_the_spelling(typed, floor: Floor, capsys: pytest.CaptureFixture[str]) -> None:  # type: ignore[no-untyped-def]
    """A mistyped bath must not read like a bath that touched nobody (hazard 3)."""
    assert typed("lookback", "bath", "HPY-1") == 1
    assert "Check the spelling" in capsys.readouterr().out
