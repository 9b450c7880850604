"""`reprocess due` and `reprocess serve --reminders-only`, as they are typed; a demo keeps its own now."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from reprocess.commandline.due import due, seconds_of
from reprocess.commandline.serve import serve
from reprocess.demo.clock import keep
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.terms import DAY_S
from tests.reminders.ward import CONTACT, Ward

CLONE = Path(__file__).resolve().parents[2]


Capture = pytest.CaptureFixture[str]


def serving(ward: Ward, *line: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "reprocess", "serve", *line, "--department", str(ward.path)]
    return subprocess.Popen(command, cwd=CLONE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.fixture
def busy(ward: Ward) -> Ward:
    """A ward in which a contact began 70 s ago and a bath expires in an hour."""
    label = ward.department.ledger
    with label.cursor() as cursor:
        digest = cursor.execute("SELECT digest FROM definition WHERE name = 'opa-055'").fetchone()[0]
    expires_us = ward.clock.wall_us + 3600 * 1_000_000
    bath = words.SolutionMade(
        agent="opa-055",
        digest=digest,
        form="bath",
        site="LMG",
        lot="L-1",
        lot_expiry_us=expires_us + DAY_S * 1_000_000,
        expires_us=expires_us,
    )
    ward.write("solution:LMG-B2", bath)
    ward.write("item:BLW-0001", CONTACT)
    ward.clock.push(82)
    keep(ward.clock, ward.path)
    return ward


def test_due_lists_what_is_overdue_and_what_comes(busy: Ward, capsys: Capture) -> None:
    due(within="2h", department=busy.path)
    lines = capsys.readouterr().out.splitlines()
    assert [line.split("  ")[1].split()[0] for line in lines] == ["OVERDUE", "in", "in", "in", "in"]
    assert lines[0].endswith("Test LMG-B2 before its next use, log the result.  [L03]")
    assert "in 1 s" in lines[1]
    assert "Wet BLW-0001 again now" in lines[1]


def test_due_as_json_says_the_same(busy: Ward, capsys: Capture) -> None:
    due(within="90m", department=busy.path, as_json=True)
    listed = json.loads(capsys.readouterr().out)
    assert [(one["rule"], one["overdue"]) for one in listed] == [
        ("L03", True),
        ("T03", False),
        ("T17", False),
        ("T06", False),
        ("L05", False),
    ]
    assert listed[0]["rang"] is None
    assert listed[1]["due"] == "2026-03-05T07:01:24Z"


def test_due_says_that_nothing_is(ward: Ward, capsys: Capture) -> None:
    keep(ward.clock, ward.path)
    due(department=ward.path)
    assert capsys.readouterr().out == "Nothing is due within 24h.\n"


def test_serve_rings_by_the_demos_own_now(busy: Ward, capsys: Capture) -> None:
    serve(reminders_only=True, seconds=0, department=busy.path)
    first, second = capsys.readouterr().out.splitlines()
    assert first.endswith("ACT NOW  BLW-0001  Wet BLW-0001 again now, before the film dries.  [T03]")
    assert second.endswith("DUE  LMG-B2  Test LMG-B2 before its next use, log the result.  [L03]  LATE by 1 min 24 s")
    serve(reminders_only=True, seconds=0, department=busy.path, as_json=True)
    assert capsys.readouterr().out == ""
    assert len(busy.rang()) == 2


def test_what_rang_is_acknowledged_by_scanning_its_item(busy: Ward, capsys: Capture) -> None:
    serve(reminders_only=True, seconds=0, department=busy.path)
    due(department=busy.path)
    assert "rang, not acknowledged" in capsys.readouterr().out
    with pytest.raises(WrongUseError, match="name the badge with --as"):
        due(seen="BLW-0001", department=busy.path)
    due(seen="BLW-0001", badge="B-01", department=busy.path)
    assert capsys.readouterr().out == "Acknowledged: 1.\n"
    due(seen="item:BLW-0001", badge="B-01", department=busy.path, as_json=True)
    assert json.loads(capsys.readouterr().out) == {"seen": []}
    due(department=busy.path)
    assert "acknowledged" in capsys.readouterr().out


def test_serve_rings_until_it_is_asked_to_stop(busy: Ward) -> None:
    with serving(busy, "--reminders-only", "--json") as process:
        assert process.stdout is not None
        rang = json.loads(process.stdout.readline())
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=2)
    assert process.returncode == 0
    assert rang["rule"] == "T03"


def test_serve_whose_terminal_is_gone_stops_so_that_another_may_ring(busy: Ward) -> None:
    with serving(busy, "--reminders-only") as process:
        assert process.stdout is not None
        process.stdout.close()
        assert process.wait(timeout=30) == 3
    assert busy.rang() == []


def test_a_demo_is_served_as_one_or_not_at_all(ward: Ward) -> None:
    keep(ward.clock, ward.path)
    with pytest.raises(WrongUseError, match="serve --demo") as told:
        serve(department=ward.path)
    assert told.value.exit_code == 2


@pytest.mark.parametrize(("text", "seconds"), [("90m", 5400), ("24h", 86_400), ("7d", 604_800), ("8", 28_800)])
def test_a_span_is_written_in_minutes_hours_or_days(text: str, seconds: int) -> None:
    assert seconds_of(text) == seconds


@pytest.mark.parametrize("text", ["", "h", "-1h", "1.5h", "1w", "9999d", "٣h", "1h\n"])
def test_what_is_no_span_is_refused(text: str) -> None:
    with pytest.raises(WrongUseError):
        seconds_of(text)


def test_due_tells_whether_a_bell_is_at_work(busy: Ward, capsys: Capture) -> None:
    with pytest.raises(typer.Exit) as ended:
        due(health=True, department=busy.path)
    assert ended.value.exit_code == 1
    assert capsys.readouterr().out == "No bell ever looked here: start `reprocess serve --reminders-only`.\n"
    serve(reminders_only=True, seconds=0, department=busy.path)
    capsys.readouterr()
    with pytest.raises(typer.Exit) as ended:
        due(health=True, department=busy.path)
    assert ended.value.exit_code == 0
    # The clock of a demo goes on by a second with each command.
    assert re.fullmatch(r"The bell looked [0-9] s ago\.\n", capsys.readouterr().out)
    busy.clock.push(3 * 3600 + 30)
    keep(busy.clock, busy.path)
    due(department=busy.path)
    told = "The bell last looked 3 h 0 min ago: start `reprocess serve --reminders-only`."
    assert told in capsys.readouterr().err.splitlines()
    with pytest.raises(typer.Exit) as ended:
        due(health=True, department=busy.path, as_json=True)
    assert ended.value.exit_code == 1
    fields = json.loads(capsys.readouterr().out)
    assert (fields["well"], fields["age_s"] // 60, fields["last_sweep"][:16]) == (False, 180, "2026-03-05T07:01")


def test_quiet_hours_and_the_yearly_evaluation_are_recorded_by_due(busy: Ward, capsys: Capture) -> None:
    for asked in ({"quiet": "technician=22:00-06:30"}, {"evaluated": "PE-2026"}):
        with pytest.raises(typer.Exit) as ended:
            due(badge="B-01", department=busy.path, **asked)  # type: ignore[arg-type]
        assert ended.value.exit_code == 0, capsys.readouterr().out
    *_, hours, evaluated = busy.department.history("site:LMG")
    assert hours.body == words.QuietHoursSet(role="technician", begins="22:00", ends="06:30")
    assert evaluated.body == words.ProgrammeEvaluated(reference="PE-2026")
    with pytest.raises(typer.Exit):
        due(quiet="technician=none", badge="B-01", department=busy.path)
    assert busy.department.history("site:LMG")[-1].body == words.QuietHoursSet(role="technician")


@pytest.mark.parametrize("text", ["technician", "technician=22-06", "technician=24:00-06:00", "T=22:00-06:00"])
def test_hours_that_cannot_be_read_are_refused(busy: Ward, text: str) -> None:
    with pytest.raises(WrongUseError, match="are written"):
        due(quiet=text, badge="B-01", department=busy.path)
