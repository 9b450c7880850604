"""The shifts of the README, typed as they stand there, each on a fresh demo."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest

from reprocess.clock import clock_path
from reprocess.commandline import main
from reprocess.demo.story import play

README = (Path(__file__).parent.parent.parent / "README.md").read_text(encoding="utf-8")
WALKS = dict(re.findall(r"<!-- walk: ([a-z ]+) -->\n```\n(.*?)```", README, flags=re.DOTALL))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("walks") / "larkmoor-demo.db"
    play(path, lambda _: None)
    return path


def typed(line: str, monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setattr("sys.argv", ["reprocess", *shlex.split(line, comments=True)[3:]])
    return main.run()


def test_there_are_three_walks() -> None:
    assert list(WALKS) == ["technicians", "supervisor", "infection prevention"]


@pytest.mark.parametrize("walk", WALKS)
def test_a_shift_goes_as_it_is_printed(
    walk: str, demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / demo.name
    for kept in (demo, clock_path(demo), demo.with_name(demo.name + ".key")):
        shutil.copy(kept, copy.with_name(kept.name))
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(copy))
    for line in WALKS[walk].splitlines():
        wanted = 1 if line.endswith("# 1") else 0
        code = typed(line, monkeypatch)
        told = capsys.readouterr()
        assert code == wanted, f"{line}\n{told.out}{told.err}"
