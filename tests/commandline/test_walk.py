"""What people who use the tool by command line alone stumbled over, each as it is typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from freezegun import freeze_time

from reprocess.commandline import main, overrides
from reprocess.commandline.due import _asked
from reprocess.commandline.publishing import live_lines
from reprocess.commandline.say import answer_lines
from reprocess.engine.live import Missing
from reprocess.errors import WrongUseError
from reprocess.rules.answer import Answer, Signature, Verdict
from tests.engine.floor import Floor
from tests.engine.outside import wearers

LOOKED = ("--pass", "--count", "gaskets=2", "--count", "plugs=1", "--read", "soc_percent=95", "--instrument", "FI-1")
HEAD = "form,item,did,began,ended,by,with,in,temp,answers,defects,readings,instrument,note\n"


@pytest.fixture
def desk(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> Floor:
    """Returns the department of the engine's tests, as the shell finds it, with one wearer."""
    wearers(floor, "W-1")
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    return floor


def typed(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    """Returns the exit code of a command line, at eight in the morning of the department's day."""
    monkeypatch.setattr("sys.argv", ["reprocess", *words])
    with freeze_time("2026-03-05T08:00:00Z"):
        return main.run()


def test_a_wearer_is_meant_by_a_scanned_badge_and_no_name_is_shown(
    desk: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """U01, D13: at the hatch the badge is scanned; the answer tells the pseudonym at most."""
    known = ("wearer", "register", "--name", "Una Marl", "--unit", "icu", "--badge", "WB-77", "--as", "B-HANA")
    assert typed(monkeypatch, *known) == 0
    meant = desk.department.wearer_of_badge("WB-77")
    for word in ("train", "clear"):
        assert typed(monkeypatch, "wearer", word, "WB-77", "--until", "2026-12-31", "--as", "B-HANA") == 0
    capsys.readouterr()
    assert typed(monkeypatch, "issue", "KIT-7", "--to", "WB-77", "--place", "icu", *LOOKED, "--as", "B-CORA") == 0
    told = capsys.readouterr()
    assert "Una" not in told.out + told.err
    custody = desk.item("KIT-7").custody
    assert custody is not None
    assert custody.wearer == meant


def test_issue_takes_an_override_as_other_commands_do(
    desk: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A08: a rule that can never be passed over is named; a detail without its rule is wrong use."""
    out = ("issue", "BLW-1", "--to", "W-1", "--place", "icu", *LOOKED, "--as", "B-CORA")
    assert typed(monkeypatch, *out, "--override", "U02", "--because", "other", "--why", "in haste") == 1
    assert "A08" in capsys.readouterr().out
    assert typed(monkeypatch, *out, "--because", "other") == 2


def test_the_look_over_is_pure_json(
    desk: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed(monkeypatch, "issue", "KIT-7", "look", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert "tube-sound" in told["checks"]
    assert told["counts"] == ["gaskets", "plugs"]
    assert typed(monkeypatch, "issue", "BLW-1", "look", "--json") == 0
    assert json.loads(capsys.readouterr().out)["checks"] == {}


def test_the_queue_says_first_how_much_waits_and_what_a_rule_asks(
    desk: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """D14"""
    assert typed(monkeypatch, "log", "BLW-1", "disinfect", "start", "--in", "W-1", "--as", "B-ANNA") == 1
    capsys.readouterr()
    assert typed(monkeypatch, "review") == 1
    assert capsys.readouterr().out.startswith("Waiting for review: 0; refusals not looked at: 1.")
    assert typed(monkeypatch, "review", "show", "t02") == 0
    assert capsys.readouterr().out.startswith("T02  ")
    assert typed(monkeypatch, "review", "show", "T02", "--json") == 0
    assert json.loads(capsys.readouterr().out)["rule"] == "T02"
    assert typed(monkeypatch, "review", "show", "1") == 0
    assert "countersign" not in capsys.readouterr().out


def test_a_form_without_its_second_person_is_told_so(
    desk: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """D06: the form's own refusal comes first, not that its lines belong to no form."""
    path = tmp_path / "forms.csv"
    path.write_text(f"{HEAD}FEN-0001,BLW-1,dropped,,07:30,B-BEN,,,,,,,,\n", encoding="utf-8")
    assert typed(monkeypatch, "form", "enter", str(path), "--day", "2026-03-05", "--as", "B-ANNA") == 1
    told = capsys.readouterr().out
    assert told.startswith("REFUSED   FEN-0001")
    assert told.endswith("Nothing of the file was recorded.\n")


def test_what_cannot_be_looked_back_by_is_told_as_a_question(
    desk: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed(monkeypatch, "lookback", "colour", "red") == 2
    assert capsys.readouterr().err.startswith("Look back by one of assembly, ")


def test_no_badge_is_not_called_a_badge_by_the_name_of_none(
    desk: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A01"""
    assert typed(monkeypatch, "log", "BLW-1", "take-apart", "--pass", "--count", "plugs=3") == 1
    assert "No badge was scanned." in capsys.readouterr().out


def test_a_reason_that_was_given_is_not_asked_for_again(
    desk: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """T15"""
    done = ("log", "BLW-1", "take-apart", "--pass", "--count", "plugs=3", "--as", "B-ANNA")
    assert typed(monkeypatch, *done) == 0
    capsys.readouterr()
    assert (
        typed(monkeypatch, "log", "BLW-1", "clean", "--pass", "--why", "wiped before I scanned", "--as", "B-ANNA") == 0
    )
    told = capsys.readouterr().out
    assert "Your reason stands beside it on record." in told
    assert "Say why" not in told


def test_each_file_that_is_not_live_is_one_line_after_the_answer() -> None:
    missing = [
        Missing("workflow", "blower", "d1", "nobody confirmed its sources"),
        Missing("workflow", "blower", "d1", "it holds example numbers"),
        Missing("agent", "wipe", "d2", "nobody confirmed its sources"),
    ]
    first, *rest = live_lines(missing)
    assert first.startswith("Not live: 2 files left.")
    assert rest == [
        "  workflow blower: nobody confirmed its sources; it holds example numbers",
        "  agent wipe: nobody confirmed its sources",
    ]


def test_the_first_line_uses_the_words_of_the_bench_and_signs_nothing_empty() -> None:
    signature = Signature("Cora Lind", "reviewed", "2026-03-05T08:00:00Z", "2026-03-05T08:00:00+00:00", "")
    answer = Answer(Verdict.ACCEPTED, "item:X", "contaminate", signature=signature)
    lines = answer_lines(answer, str)
    assert lines[0] == "ACCEPTED  X  starts again"
    assert not any("shown" in line for line in lines)


def test_a_reminder_is_acknowledged_by_the_id_it_shows() -> None:
    """R06: not only items ring."""
    assert _asked("LMG-B2-8", ["item:X", "case:LMG-B2-8"]) == "case:LMG-B2-8"
    assert _asked("X", ["case:LMG-B2-8"]) == "item:X"
    assert _asked("place:ST-1", []) == "place:ST-1"


def test_the_codes_of_a_reason_can_be_typed_in_a_shell() -> None:
    with pytest.raises(WrongUseError) as told:
        overrides.override_from("M09", None, "in haste", None, None, "Europe/London")
    assert not set("'\"\\$ ") & set(str(told.value).partition("(")[2].partition(")")[0].replace(", ", ""))
