"""Two processes at one department: nobody wins twice, nothing is lost, and a busy neighbour is waited for."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine.enrolling import Commission
from reprocess.engine.request import NoteItem
from reprocess.errors import LedgerBusyError
from reprocess.gathering import Library
from reprocess.ledger.address import Server
from tests.ledger import small
from tests.ledger.conftest import BOTH
from tests.ledger.day import Asked
from tests.ledger.raw import place_of
from tests.ledger.rival import ROUNDS

CLONE = Path(__file__).resolve().parent.parent.parent
PATIENCE_S = 60


@BOTH
def test_two_processes_at_once(morning: Department) -> None:
    for number in range(ROUNDS):
        assert Asked(f"commission-{number}", Commission(f"R-{number}", "shell", "M-1")).put(morning).accepted
    place = place_of(morning.ledger)
    rivals = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.ledger.rival", name, *told_of(place)],
            cwd=CLONE,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for name in ("one", "two")
    ]
    told = [_told(lines) for lines in _raced(rivals)]
    for first, second in zip(*told, strict=True):
        assert first["item"] == second["item"]
        assert sorted([first["verdict"], second["verdict"]]) == ["accepted", "refused"]
        assert [*first["reasons"], *second["reasons"]] == ["P-A"]
        assert sorted([first["repeated"], second["repeated"]]) == [False, True]
        assert first["own"] == second["own"] == "accepted"
    assert morning.item("S-1").used_minutes == ROUNDS
    assert morning.item("S-2").used_minutes == 2 * ROUNDS
    report = morning.verify(full=True)
    assert report.sound, report.findings


def told_of(place: Path | Server) -> list[str]:
    """Returns a place as words of a command line."""
    return [place.address, str(place.key_file)] if isinstance(place, Server) else [str(place)]


def _raced(rivals: list[subprocess.Popen[str]]) -> list[str]:
    for rival in rivals:
        assert rival.stdout is not None
        assert rival.stdout.readline() == "ready\n"
    for rival in rivals:
        assert rival.stdin is not None
        rival.stdin.write("go\n")
        rival.stdin.flush()
    ended = [rival.communicate(timeout=PATIENCE_S)[0] for rival in rivals]
    assert [rival.returncode for rival in rivals] == [0, 0]
    return ended


def _told(lines: str) -> list[dict[str, Any]]:
    found = [json.loads(line) for line in lines.splitlines()]
    assert len(found) == ROUNDS
    return found


@BOTH
def test_two_connections_decide_one_after_the_other(
    department: Department, evening: StoryClock, library: Library
) -> None:
    with small.opened(place_of(department.ledger), evening, library=library) as other:
        for number in range(10):
            one, two = (department, other) if number % 2 else (other, department)
            assert Asked(f"a-{number}", NoteItem("S-4", minutes=1)).put(one).accepted
            assert Asked(f"b-{number}", NoteItem("S-4", minutes=1)).put(two).accepted
            assert Asked(f"a-{number}", NoteItem("S-4", minutes=1)).put(two).repeated
        assert department.item("S-4") == other.item("S-4")
        assert other.item("S-4").used_minutes == 20
    assert department.verify(full=True).sound


def test_a_neighbour_that_never_ends_is_one_sentence_and_reading_goes_on(
    department: Department, evening: StoryClock, library: Library
) -> None:
    with small.opened(department.ledger.path, evening, library=library) as impatient:
        with impatient.ledger.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout = 20")
        with department.ledger.writing():
            with pytest.raises(LedgerBusyError, match=r"keeps department\.db busy; nothing was recorded") as refused:
                Asked("wait", NoteItem("S-4", minutes=1)).put(impatient)
            assert refused.value.exit_code == 3
            assert impatient.item("S-4").used_minutes == 0
            assert impatient.verify(full=True).sound
        assert Asked("wait", NoteItem("S-4", minutes=1)).put(impatient).accepted
