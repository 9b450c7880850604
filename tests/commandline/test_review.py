"""The queue, signatures, overrides, people and going live, as they are typed."""

from __future__ import annotations

import json
import re

import pytest
from freezegun import freeze_time

from reprocess.commandline import main
from tests.engine.floor import Floor


@pytest.fixture
def bench(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> Floor:
    """Returns the department of the engine's tests, as the shell finds it."""
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    return floor


def typed(monkeypatch: pytest.MonkeyPatch, line: str) -> int:
    """Returns the exit code of a command line, at eight in the morning of the department's day; `_` is a space."""
    monkeypatch.setattr("sys.argv", ["reprocess", *(word.replace("_", " ") for word in line.split())])
    with freeze_time("2026-03-05T08:00:00Z"):
        return main.run()


def test_a_late_entry_waits_is_shown_and_countersigned(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """D14, I22"""
    late = "log BLW-1 take-apart --pass --count plugs=3 --happened 2026-03-05T07:30:00+00:00 --paper P-7"
    assert typed(monkeypatch, f"{late} --as B-ANNA --with B-BEN") == 0
    assert typed(monkeypatch, "review list --json") == 1
    told = json.loads(capsys.readouterr().out.splitlines()[-1])
    (feed,) = (one["feed"] for one in told["waiting"] if one["sort"] == "attested")
    assert typed(monkeypatch, "review list") == 1
    assert f"{feed}  attested" in capsys.readouterr().out
    assert typed(monkeypatch, f"review show {feed}") == 0
    command = next(line for line in capsys.readouterr().out.splitlines() if "countersign" in line)
    shown = re.search(r"--shown ([0-9a-f]{12})", command)
    assert shown is not None
    ask = f"review countersign {feed} --why form_seen"
    assert typed(monkeypatch, f"{ask} --shown {'0' * 12} --as B-CORA") == 1
    assert "changed since you looked" in capsys.readouterr().out
    assert typed(monkeypatch, f"{ask} --shown {shown[1]} --as B-CORA") == 0
    said = capsys.readouterr().out
    assert "signed by Cora Lind: reviewed and countersigned" in said
    assert "2026-03-05T08:00:00Z, local 2026-03-05T08:00:00+00:00" in said


def test_an_override_is_typed_with_its_rule_code_and_words(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """OV1, C20"""
    assert typed(monkeypatch, "log BAT-3 used --as B-ANNA") == 0
    assert typed(monkeypatch, "log BLW-1 take-apart --because other --as B-ANNA") == 2
    assert typed(monkeypatch, "log BLW-1 take-apart --override M09 --as B-ANNA") == 2
    over = "--override T01 --because other --why no_time"
    assert typed(monkeypatch, f"log BLW-1 disinfect start --in QAW-1 {over} --as B-ANNA --with B-CORA") == 1
    assert "cannot be passed over" in capsys.readouterr().out


def test_somebody_agrees_and_another_one_condemns(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """S08, E36"""
    assert typed(monkeypatch, "log BLW-3 condemn --why cracked --as B-GUS") == 1
    assert typed(monkeypatch, "review agree BLW-3 condemn --as B-ANNA") == 0
    assert typed(monkeypatch, "log BLW-3 condemn --why cracked --as B-GUS") == 0
    assert "signed by Gus Hale and Anna Rowe: condemned" in capsys.readouterr().out
    assert typed(monkeypatch, "review agree") == 2
    assert typed(monkeypatch, "review show x1") == 2


def test_refusals_are_seen_and_counted_anew(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """D14"""
    assert typed(monkeypatch, "log BLW-1 take-apart --pass --as B-ERIN") == 1
    assert typed(monkeypatch, "review") == 1
    assert "1 x refused" in capsys.readouterr().out
    assert typed(monkeypatch, "review refusals --why talked_with_them --as B-CORA") == 0
    assert typed(monkeypatch, "review") == 0
    assert "Nothing waits for review." in capsys.readouterr().out


def test_people_are_trainees_temporary_and_have_badges_withdrawn(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A03, A04, A06"""
    assert typed(monkeypatch, "person IVO register Ivo_Tarn --temporary --site LMG --as B-CORA") == 0
    days = "--since 2026-03-01 --until 2026-12-31 --assessor Cora"
    assert typed(monkeypatch, f"person IVO grant clean --trainee --model LB-3 {days} --as B-CORA") == 0
    assert typed(monkeypatch, "person IVO badge B-IVO --as B-CORA") == 0
    assert typed(monkeypatch, "person IVO unbadge B-IVO --why lost --as B-CORA") == 0
    capsys.readouterr()
    assert typed(monkeypatch, "person IVO") == 0
    told = capsys.readouterr().out
    assert "(temporary)" in told
    assert "models LB-3, as a trainee" in told
    assert "badges: none" in told
    assert typed(monkeypatch, "person ANNA withdraw clean --since 2026-03-04 --why no_certificate --as B-CORA") == 1
    assert "steps of ANNA are in doubt" in capsys.readouterr().out


def test_what_is_missing_until_live_is_listed_and_confirmed(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Trade 8.3"""
    assert typed(monkeypatch, "publish live") == 1
    assert "workflow blower: nobody confirmed its sources" in capsys.readouterr().out
    assert typed(monkeypatch, "publish confirm blower --why compared --as B-HANA") == 0
    assert typed(monkeypatch, "publish confirm no-such --why compared --as B-HANA") == 2
    capsys.readouterr()
    assert typed(monkeypatch, "publish live --json") == 1
    left = json.loads(capsys.readouterr().out.splitlines()[-1])["missing"]
    assert [one["why"] for one in left if one["name"] == "blower"] == ["it holds example numbers"]
    assert typed(monkeypatch, "publish workflows/blower.yaml --safety") == 2
    assert typed(monkeypatch, "publish emergency LMG --until 2026-04-01 --why EP-7 --as B-HANA") == 0
