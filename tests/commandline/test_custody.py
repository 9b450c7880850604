"""`issue` and `return` as they are typed."""

from __future__ import annotations

import json

import pytest
from freezegun import freeze_time

from reprocess.commandline import main
from tests.engine.floor import Floor
from tests.engine.outside import parts_of, wearers

LOOKED = ("--pass", "--count", "gaskets=2", "--count", "plugs=1", "--reading", "soc_percent=95", "--instrument", "FI-1")


@pytest.fixture
def desk(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> Floor:
    """Returns the department of the engine's tests, as the shell finds it, with one wearer."""
    wearers(floor, "W-1")
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    monkeypatch.setenv("REPROCESS_BADGE", "B-CORA")
    return floor


def typed(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    """Returns the exit code of a command line, at eight in the morning of the department's day."""
    monkeypatch.setattr("sys.argv", ["reprocess", *words])
    with freeze_time("2026-03-05T08:00:00Z"):
        return main.run()


def test_it_is_looked_over_issued_and_returned(
    desk: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """U01, U03: the lines are shown first; the cautions for the wearer with the answer."""
    assert typed(monkeypatch, "issue", "KIT-7", "look") == 0
    shown = capsys.readouterr().out
    assert "tube-sound         Stretched and turned" in shown
    assert "a flow-indicator" in shown
    assert "air-felt" not in shown
    to_ward = ("issue", "KIT-7", "--to", "W-1", "--place", "ward-7", "--minutes", "120")
    assert typed(monkeypatch, *to_ward) == 1
    capsys.readouterr()
    assert typed(monkeypatch, *to_ward, *LOOKED) == 0
    told = capsys.readouterr().out
    assert "At the low-battery alarm about 30 minutes are left" in told
    assert "supplies no oxygen" in told
    assert typed(monkeypatch, "item", "KIT-7") == 0
    assert "OUT    issued             ward-7" in capsys.readouterr().out
    parts = list(parts_of(desk, "KIT-7").values())
    assert typed(monkeypatch, "return", "KIT-7", *parts, "--class", "blood", "--place", "bin-3") == 0
    assert "comes back as blood" in capsys.readouterr().out
    assert desk.item("KIT-7").custody is None


def test_somebody_is_named_later_and_nobody_is_shown(
    desk: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """U01, P08"""
    assert typed(monkeypatch, "issue", "BLW-3", "--place", "ward-7", "--for", "emergency") == 0
    assert typed(monkeypatch, "issue", "BLW-3", "identify", "--to", "W-1") == 0
    capsys.readouterr()
    assert typed(monkeypatch, "issue", "BLW-3", "--to", "W-1", "--place", "ward-8", "--json") == 1
    answer = json.loads(capsys.readouterr().out)
    assert [one["rule"] for one in answer["reasons"]] == ["P08"]
    assert "W-1" not in json.dumps(answer)
    assert typed(monkeypatch, "issue", "BLW-3", "hand-on", "--to", "W-1") == 0


@pytest.mark.parametrize(
    "words",
    [
        ("issue", "BLW-3", "lend", "--to", "harbour crew", "--due", "2026-03-20"),
        ("issue", "BLW-3", "send", "--to", "SAL", "--container", "BOX-1", "--clean"),
        ("issue", "BLW-3", "keep", "--place", "isolation-3"),
        ("issue", "BLW-3", "keep", "--to", "W-1"),
        ("issue", "BLW-3", "look"),
    ],
)
def test_what_else_can_be_done_with_it(desk: Floor, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    """U14, C07, C11, C12"""
    assert typed(monkeypatch, *words) == 0


@pytest.mark.parametrize(
    "words",
    [
        ("issue", "KIT-7", "--to", "W-1"),
        ("issue", "KIT-99", "look"),
        ("issue", "KIT-7", "lend", "--to", "x"),
        ("issue", "KIT-7", "lend", "--to", "x", "--due", "soon"),
        ("issue", "KIT-7", "send"),
        ("issue", "KIT-7", "--to", "W-1", "--place", "w", "--for", "fun"),
        ("return", "KIT-7", "--class", "odd"),
    ],
)
def test_what_cannot_be_meant_is_wrong_use(
    desk: Floor, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert typed(monkeypatch, *words) == 2


def test_it_arrives_from_another_site(desk: Floor, monkeypatch: pytest.MonkeyPatch) -> None:
    """C12, E15"""
    assert typed(monkeypatch, "issue", "BLW-3", "send", "--to", "SAL", "--container", "BOX-1", "--clean") == 0
    assert typed(monkeypatch, "return", "BLW-3", "--received", "--station", "SALTGATE") == 0
    assert typed(monkeypatch, "issue", "BLT-3", "send", "--to", "SAL", "--container", "BOX-1", "--clean") == 0
    assert typed(monkeypatch, "return", "BLT-3", "--opened", "--station", "SALTGATE") == 1
    assert (desk.item("BLW-3").stage, desk.item("BLT-3").stage) == ("ready", "used")
