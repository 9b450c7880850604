"""`reprocess lot` and `reprocess place` as they are typed, and what goes to repair and comes back."""

from __future__ import annotations

import json

import pytest
from freezegun import freeze_time

from reprocess.commandline import main
from tests.engine.floor import Floor

DAY = "2026-03-05T08:00:00Z"
# GTIN 09506000134352 is the one that GS1 uses in its own examples; expiry day 00 is the last day of the month
# (GS1 General Specifications, application identifier 17). The lot is invented.
LABEL = "(01)09506000134352(17)260600(10)LW7788"


@pytest.fixture
def bench(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> Floor:
    """Returns the department of the engine's tests, as the shell finds it."""
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    monkeypatch.setenv("REPROCESS_BADGE", "B-CORA")
    return floor


def typed(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    """Returns the exit code of a command line, at eight in the morning of the department's day."""
    monkeypatch.setattr("sys.argv", ["reprocess", *words])
    with freeze_time(DAY):
        return main.run()


def test_a_lot_comes_in_by_its_label_and_a_container_is_opened_from_it(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """L01, L13: the label says lot and last day; the container takes its agent and its day from the lot."""
    assert typed(monkeypatch, "lot", LABEL, "receive") == 2
    assert "what lot LW7788 is a lot of" in capsys.readouterr().err
    words = (
        "receive",
        "quat-alcohol-wipe",
        "--sort",
        "agent",
        "--quantity",
        "6",
        "--unit",
        "canister",
        "--reorder",
        "5",
    )
    assert typed(monkeypatch, "lot", LABEL, *words) == 0
    assert typed(monkeypatch, "lot", "LW7788", "open", "QAW-9") == 0
    assert typed(monkeypatch, "lot", "LW7788") == 0
    shown = capsys.readouterr().out
    assert "left: 5 canister; used: 1, order more at 5" in shown
    assert typed(monkeypatch, "lot", LABEL, "--json") == 0
    kept = json.loads(capsys.readouterr().out)
    # 30 June 2026 ends in London (summer time) at 23:00 UTC.
    assert kept["expiry_us"] == 1_782_860_400_000_000
    assert kept["device"].endswith("9506000134352")
    assert bench.department.solution("QAW-9").agent == "quat-alcohol-wipe"


def test_a_lot_is_taken_counted_and_barred(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed(monkeypatch, "lot", "LOT-7", "receive", "LG-1", "--sort", "part", "--until", "2026-12-31") == 0
    assert typed(monkeypatch, "lot", "LOT-7", "use", "KIT-1") == 0
    assert typed(monkeypatch, "lot", "LOT-7", "count", "--quantity", "4") == 0
    assert typed(monkeypatch, "lot", "LOT-7", "recalled", "--why", "notice N-1") == 1
    assert typed(monkeypatch, "lot", "LOT-7") == 0
    assert "STOP. Recalled: notice N-1" in capsys.readouterr().out
    assert typed(monkeypatch, "lot", "LOT-7", "cleared", "--why", "withdrawn", "--with", "B-HANA") == 0
    assert typed(monkeypatch, "lot", "LOT-99") == 2
    assert typed(monkeypatch, "lot", "LOT-98", "use", "KIT-1") == 1


@pytest.mark.parametrize(
    "words",
    [
        ("lot", "(01)09506000134353(10)L1", "receive", "LG-1"),
        ("lot", "(01)09506000134352", "receive", "LG-1"),
        ("lot", "LOT-7", "receive", "LG-1", "--quantity", "0"),
        ("lot", "LOT-7", "receive", "LG-1", "--sort", "thing"),
        ("lot", "LOT-7", "recalled"),
        ("lot", "LOT-7", "open", "QAW-9"),
        ("place", "ST-1", "set-up", "attic"),
        ("place", "ST-1", "set-up", "store", "--limit", "temp_c=30..5"),
        ("place", "ST-1", "put"),
        ("place", "ST-1", "seal", "KIT-7"),
        ("place", "ST-1", "read", "warm"),
        ("log", "BLW-3", "repaired", "--why", "new valve"),
    ],
)
def test_what_cannot_be_meant_is_wrong_use(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed(monkeypatch, *words) == 2
    assert capsys.readouterr().err.strip()


def test_a_cabinet_is_set_up_filled_inspected_and_opened(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Q01, Q04, Q07, E28"""
    set_up = ("set-up", "cabinet", "--title", "Ward 5", "--seal", "S-1", "--par", "2", "--months", "1")
    assert typed(monkeypatch, "place", "CAB-1", *set_up, "--ask", "flow_l_per_min") == 0
    assert typed(monkeypatch, "place", "CAB-1", "put", "KIT-7") == 0
    assert typed(monkeypatch, "place", "CAB-1", "put", "BLW-2") == 1
    assert typed(monkeypatch, "place", "CAB-1", "inspect", "KIT-7", "--findings", "none") == 1
    capsys.readouterr()
    good = ("--findings", "none", "--action", "none", "--read", "flow_l_per_min=180")
    assert typed(monkeypatch, "place", "CAB-1", "inspect", "KIT-7", *good) == 0
    assert typed(monkeypatch, "place", "CAB-1", "read", "temp_c=31") == 1
    assert typed(monkeypatch, "place", "CAB-1") == 0
    shown = capsys.readouterr().out
    assert "Ward 5: clean cabinet at LMG, par 2, seal S-1" in shown
    assert "temp_c 31 (5..30), OUT OF LIMITS" in shown
    assert "KIT-7  ready" in shown
    assert typed(monkeypatch, "place", "CAB-1", "opened", "--seal", "S-1", "--json") == 1
    told = json.loads(capsys.readouterr().out)
    assert told["reasons"][0]["rule"] == "E28"
    assert typed(monkeypatch, "place", "CAB-1", "take", "KIT-7") == 1
    assert typed(monkeypatch, "place", "CAB-1", "seal", "BLW-3", "--seal", "S-2") == 0
    assert typed(monkeypatch, "place", "CAB-1", "--json") == 0
    kept = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert (kept["seal"], kept["items"]) == ("S-2", ["BLW-3"])
    assert typed(monkeypatch, "place", "CAB-1", "alarm", "vapour_peroxide_ppm") == 1
    assert typed(monkeypatch, "place", "CAB-9") == 2


def test_an_item_goes_to_repair_with_a_statement_and_comes_back(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed(monkeypatch, "log", "BLW-1", "repair", "--why", "rattles") == 1
    assert typed(monkeypatch, "log", "BLW-8", "repair", "--why", "rattles", "--statement", "the inlet") == 0
    done = ("repaired", "--why", "new valve", "--test", "leak test good", "--by", "Clinical engineering")
    assert typed(monkeypatch, "log", "BLW-8", *done, "--fitted", "valve=LOT-7") == 0
    assert "stage used" in capsys.readouterr().out
    assert (
        typed(monkeypatch, "log", "BLW-2", "condemn", "--why", "cracked", "--waste", "electrical", "--with", "B-GUS")
        == 0
    )
    assert typed(monkeypatch, "item", "BLW-30", "--commission", "blower", "--model", "LB-3", "--lot", "LOT-7") == 0
    bay = ("register", "charger-bay", "--charger", "CHG-1", "--model", "LP-1", "--coldest", "10", "--warmest", "35")
    assert typed(monkeypatch, "instrument", "BAY-30", *bay) == 0
    assert bench.department.instrument("BAY-30").models == ("LP-1",)
