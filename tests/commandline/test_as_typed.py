"""The command line as it is typed: wearing, history, and a checklist that nobody answered."""

from __future__ import annotations

import pytest
from freezegun import freeze_time

from reprocess.commandline import main
from reprocess.commandline.say import answer_lines
from reprocess.rules.answer import Answer, Reason, Verdict
from tests.engine.floor import Floor

AS, WITH, AT = "B-GUS", "B-BEN", "BENCH"


@pytest.fixture
def bench(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> Floor:
    """Returns the department of the engine's tests, as the shell finds it."""
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", AT)
    return floor


def typed(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    """Returns the exit code of a command line, at eight in the morning of the department's day."""
    monkeypatch.setattr("sys.argv", ["reprocess", *words])
    with freeze_time("2026-03-05T08:00:00Z"):
        return main.run()


def test_the_sequence_is_shown_and_followed(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed(monkeypatch, "wear", "KIT-7") == 0
    shown = capsys.readouterr().out
    assert "look-over" in shown
    assert "signal low-battery: The low-battery alarm sounds; about 30 minutes are left." in shown
    assert typed(monkeypatch, "wear", "KIT-7", "put-on", "look-over", "--as", AS) == 1
    told = capsys.readouterr().out
    assert told.count("Not answered") == 1
    assert "tube-sound: Stretched and turned" in told
    assert typed(monkeypatch, "wear", "KIT-7", "put-on", "look-over", "--pass", "--as", AS) == 0
    assert "ACCEPTED" in capsys.readouterr().out
    assert typed(monkeypatch, "item", "KIT-7") == 0
    assert "being put on by GUS" in capsys.readouterr().out


def test_a_signal_is_noted_and_says_what_to_do(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed(monkeypatch, "wear", "KIT-7", "signal", "low-battery", "--as", AS) == 1
    told = capsys.readouterr().out
    assert told.startswith("NOTED")
    assert "Leave the contaminated area now" in told


@pytest.mark.parametrize(
    "words", [("put-on",), ("swap", "battery"), ("put-on", "look-over", "BAT-3"), ("put-on", "sit")]
)
def test_what_cannot_be_meant_is_wrong_use(
    bench: Floor, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert typed(monkeypatch, "wear", "KIT-7", *words, "--as", AS) == 2


def test_an_entry_is_one_line_of_the_history(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Not so while the text of a published file kept its line breaks."""
    assert typed(monkeypatch, "history", "workflow:workflow.blower") == 0
    lines = [line for line in capsys.readouterr().out.splitlines() if line.strip()]
    assert sum("workflow-published" in line for line in lines) == 1
    assert all("steps:" not in line or "workflow-published" in line for line in lines)


def test_what_is_never_worn_has_no_sequence(bench: Floor, monkeypatch: pytest.MonkeyPatch) -> None:
    assert typed(monkeypatch, "wear", "BLW-3") == 2


def test_two_unanswered_lines_are_told_one_by_one() -> None:
    reasons = [Reason("P01", "check-missing", {"check": f"line-{number}", "text": "Good."}) for number in range(3)]
    answer = Answer(Verdict.REFUSED, "item:X", "do-step", reasons=tuple(reasons))
    assert sum("Not answered" in line for line in answer_lines(answer, str)) == 1
    two = Answer(Verdict.REFUSED, "item:X", "do-step", reasons=tuple(reasons[:2]))
    assert sum("Not answered" in line for line in answer_lines(two, str)) == 2
