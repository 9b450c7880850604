"""The story of the demo: it is told, it refuses what it must, it repeats itself, and its commands work as printed."""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from reprocess.clock import clock_for
from reprocess.commandline.demo import LOOK_AROUND
from reprocess.demo.story import Told, play
from reprocess.department import open_department

REFUSALS_TOLD = {"T02", "T01", "S01", "A02", "C05", "L07", "G01", "G02", "C02"}
"""What slice by slice the day must show: a contact before cleaning, one cut short, the cleaner as inspector, a lapsed
competency, an empty port, a failed bath, and a release against all of it."""


@pytest.fixture(scope="module")
def a_told_day(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Told]:
    path = tmp_path_factory.mktemp("a day") / "demo.db"
    return path, play(path, lambda _: None)


def test_the_day_is_sound_and_has_refusals(a_told_day: tuple[Path, Told]) -> None:
    _, told = a_told_day
    assert told.sound
    answers = [one["answer"] for one in told.told if "answer" in one]
    rules = {reason["rule"] for answer in answers for reason in answer.get("reasons", [])}
    assert rules >= REFUSALS_TOLD
    assert told.refusals >= 7


def test_tube_117_shows_both_attempts(a_told_day: tuple[Path, Told]) -> None:
    path, _ = a_told_day
    with open_department(path, clock=clock_for(path)) as department:
        bodies = [entry.body for entry in department.history("item:TUB-117")]
        started = [one for one in bodies if one.kind == "dwell-started" and one.model_dump()["step"] == "disinfect"]
        broken = next(one.body for one in department.history("item:TUB-117") if one.kind == "dwell-broken")
        ended = next(one.body for one in department.history("item:TUB-117") if one.kind == "dwell-ended")
    assert [one.model_dump()["attempt"] for one in started] == [1, 2]
    assert broken.model_dump()["wet_s"] == 151
    assert ended.model_dump()["proven_s"] == 184


def test_the_same_day_twice_is_the_same_record(tmp_path: Path, a_told_day: tuple[Path, Told]) -> None:
    again = play(tmp_path / "again.db", lambda _: None)
    assert again.told == a_told_day[1].told
    with open_department(tmp_path / "again.db") as one, open_department(a_told_day[0]) as two:
        assert [entry.id for entry in one.history("item:TUB-117")] == [
            entry.id for entry in two.history("item:TUB-117")
        ]


@pytest.mark.parametrize("words", LOOK_AROUND)
def test_the_commands_that_the_demo_prints_work(words: str, a_told_day: tuple[Path, Told]) -> None:
    path, _ = a_told_day
    place = [] if words.startswith("draw") else ["-d", str(path)]
    command = [sys.executable, "-m", "reprocess", *shlex.split(words), *place]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.returncode in (0, 1), ran.stderr
    assert ran.stdout
    assert "Traceback" not in ran.stderr


def test_the_demo_command_tells_its_story_as_json(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "reprocess", "demo", "--json", "-d", str(tmp_path / "demo.db")]
    ran = subprocess.run(command, capture_output=True, text=True, check=True)
    assert json.loads(ran.stdout)["sound"] is True


def test_a_demo_never_replaces_a_department(tmp_path: Path) -> None:
    (tmp_path / "real.db").write_bytes(b"a department")
    command = [sys.executable, "-m", "reprocess", "demo", "-d", str(tmp_path / "real.db")]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.returncode == 3
    assert (tmp_path / "real.db").read_bytes() == b"a department"
