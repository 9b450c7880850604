"""What the documents say is so: contents, commands, diagram, examples, sentences."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import reprocess
from reprocess.commandline.main import COMMANDS
from reprocess.definitions.draw import mermaid
from reprocess.definitions.model import Workflow
from reprocess.definitions.overview import kinds_table
from reprocess.definitions.profile import Profile
from reprocess.rules.words import SENTENCES
from reprocess.settings import Settings
from reprocess.shipped import files_in, folder, read_file

CLONE = Path(__file__).parent.parent.parent
README = (CLONE / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (CLONE / "DEVELOPERS.md").read_text(encoding="utf-8")
VAGUE = {"utils", "helpers", "common", "base", "core", "manager", "misc"}


def _layers() -> list[set[str]]:
    settings = tomllib.loads((CLONE / "pyproject.toml").read_text(encoding="utf-8"))
    contract = settings["tool"]["importlinter"]["contracts"][0]
    return [set(re.findall(r"[a-z_]+", line)) for line in contract["layers"]]


def _told() -> list[str]:
    return re.findall(r"^([a-z_]+) {2,}", reprocess.__doc__ or "", flags=re.MULTILINE)


def test_the_contents_tell_the_story_in_the_order_of_the_import_contract() -> None:
    order = {name: number for number, names in enumerate(reversed(_layers())) for name in names}
    told = _told()
    assert told == sorted(told, key=lambda name: order[name]), "a room stands in the wrong place of the contents"


def test_every_room_stands_in_the_contents() -> None:
    rooms = {path.stem for path in (CLONE / "reprocess").glob("*.py")} | {
        path.name for path in (CLONE / "reprocess").iterdir() if (path / "__init__.py").exists()
    }
    assert rooms - {"__init__", "__main__"} == set(_told())


def test_no_room_has_a_vague_name() -> None:
    names = {path.stem for path in (CLONE / "reprocess").rglob("*.py")}
    assert not names & VAGUE


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_stands_in_the_readme(command: str) -> None:
    assert re.search(rf"`{command}[` ]", README), f"README.md does not tell what {command} does"


@pytest.mark.parametrize("setting", list(Settings.model_fields))
def test_every_setting_stands_in_the_readme(setting: str) -> None:
    assert f"REPROCESS_{setting.upper()}" in README


def test_the_diagram_in_the_readme_is_the_one_that_draw_prints() -> None:
    blower = read_file(folder() / "blower.yaml").holds
    assert isinstance(blower, Workflow)
    shown = re.search(r"```mermaid\n(.*?)\n```", README, flags=re.DOTALL)
    assert shown is not None
    assert shown.group(1).strip() == mermaid(blower).strip()


def test_the_table_of_what_ships_is_the_one_that_draw_prints() -> None:
    held = [file.holds for file in files_in(folder())]
    workflows = [one for one in held if isinstance(one, Workflow)]
    profiles = [one for one in held if isinstance(one, Profile)]
    shown = README.partition("<!-- what ships -->\n")[2].partition("<!-- what ships, end -->")[0]
    assert shown == kinds_table(workflows, profiles)


def test_every_dependency_has_a_line_in_the_developers_document() -> None:
    settings = tomllib.loads((CLONE / "pyproject.toml").read_text(encoding="utf-8"))
    names = [re.match(r"[A-Za-z0-9-]+", one) for one in settings["project"]["dependencies"]]
    for name in names:
        assert name is not None
        assert name.group().lower().removesuffix(".yaml") in DEVELOPERS.lower(), name.group()


def test_every_reason_that_the_rules_give_has_a_sentence() -> None:
    sources = [*(CLONE / "reprocess" / "rules").glob("*.py"), *(CLONE / "reprocess" / "engine").glob("*.py")]
    given = set()
    for path in sources:
        if path.stem != "words":
            given |= set(
                re.findall(r'Reason\(\s*(?:"[A-Z]\d\d"|[\w.\[\]() "]+?),\s*"([a-z-]+)"', path.read_text("utf-8"))
            )
    assert given, "the pattern finds nothing any more"
    assert given <= set(SENTENCES)


def test_sentences_never_use_words_that_promise_too_much() -> None:
    for why, action in SENTENCES.values():
        text = f"{why} {action}".lower()
        assert not re.search(r"\b(sterile|safe|certified|patient-ready)\b", text), text


def _readme_department(place: Path) -> list[str]:
    block = README.partition("## Your own department")[2].split("```")[1]
    lines = [line.partition("#")[0].strip() for line in block.strip().splitlines()]
    shutil.copytree(CLONE / "examples", place / "examples")
    return [line.removeprefix("python3 -m reprocess ") for line in lines if line]


def test_the_commands_of_the_readme_work_as_printed(tmp_path: Path) -> None:
    endings = []
    for words in _readme_department(tmp_path):
        command = [sys.executable, "-m", "reprocess", *shlex.split(words)]
        ran = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
        assert "Traceback" not in ran.stderr
        endings.append((words, ran.returncode, ran.stdout + ran.stderr))
    # Typed without waiting, only the end of the contact is refused; all else is done.
    refused = [words.split(" --")[0] for words, code, _ in endings if code == 1]
    assert all(code in (0, 1) for _, code, _ in endings), endings
    assert refused == ["log BLW-001 disinfect done"], endings


@pytest.mark.parametrize("example", sorted(path.name for path in (CLONE / "examples").glob("*.py")))
def test_every_example_runs_and_imports_only_the_package(example: str, tmp_path: Path) -> None:
    source = (CLONE / "examples" / example).read_text(encoding="utf-8")
    imported = set(re.findall(r"^(?:from|import) (\w+)", source, flags=re.MULTILINE))
    assert imported <= {"__future__", "sys", "reprocess"}
    demo = [sys.executable, "-m", "reprocess", "demo", "-d", str(tmp_path / "demo.db")]
    subprocess.run(demo, capture_output=True, check=True)
    ran = subprocess.run(
        [sys.executable, str(CLONE / "examples" / example), str(tmp_path / "demo.db")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout
