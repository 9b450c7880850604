"""Two processes that sweep one file at once share the work; nothing rings twice and nothing is left."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from reprocess.terms import DAY_S, SECOND_US
from tests.reminders.ward import found

ITEMS = 200
CLONE = Path(__file__).resolve().parents[2]


def test_two_processes_give_each_reminder_once(tmp_path: Path) -> None:
    ward = found(tmp_path / "ward.db", ITEMS)
    wall_us = ward.clock.wall_us + 1700 * DAY_S * SECOND_US
    processes = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.reminders.sweeping", str(ward.path), str(wall_us), f"node-{number}"],
            cwd=CLONE,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for number in (1, 2)
    ]
    first = []
    for process in processes:
        assert process.stdout is not None
        first.append(process.stdout.readline())  # both hold a batch now
    for process in processes:
        assert process.stdin is not None
        process.stdin.write("go on\n")
        process.stdin.flush()
    rest = [process.communicate(timeout=60)[0] for process in processes]
    assert [process.returncode for process in processes] == [0, 0]
    given = "".join(first + rest).split()
    with ward.department:
        # The programme of the site and two workflows are to be looked at too, each brought to mind twice (R12).
        assert len(given) == len(set(given)) == ITEMS + 3
        assert len(ward.rang()) == len(set(ward.rang())) == ITEMS + 6
        assert set(given) <= set(ward.rang())
        assert ward.count("claim") == 0
        assert ward.department.verify(full=True).sound
