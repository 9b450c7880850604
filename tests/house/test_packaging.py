"""What is pinned and what a wheel carries; no test here asks a network."""

import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
PINNED = ROOT / ".ci" / "requirements"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))


def pins(name: str) -> dict[str, set[str]]:
    """The versions of each package on a list; some have one a Python version."""
    found: dict[str, set[str]] = {}
    for package, version in re.findall(r"^([a-z0-9-]+)==(\S+)", text(name), re.MULTILINE):
        found.setdefault(package, set()).add(version)
    return found


def text(name: str) -> str:
    return (PINNED / f"{name}.txt").read_text("utf-8")


@pytest.mark.parametrize("name", ["run", "dev", "uv"])
def test_a_pinned_list_names_no_address_and_no_folder(name: str) -> None:
    assert not re.findall(r"^.*(?:://|/|--index|--find-links|@).*$", text(name), re.MULTILINE)


@pytest.mark.parametrize("name", ["run", "dev", "uv"])
def test_every_pinned_package_has_a_digest(name: str) -> None:
    entries = re.split(r"(?m)^(?=[a-z0-9])", text(name))[1:]

    assert entries
    assert not [entry for entry in entries if "--hash=sha256:" not in entry]


def test_the_pinned_versions_are_those_that_the_project_asks_for() -> None:
    asked = [Requirement(line) for line in PROJECT["project"]["dependencies"]]
    asked_by_tests = [Requirement(line) for line in PROJECT["dependency-groups"]["dev"] if isinstance(line, str)]

    assert not [wanted for wanted in asked if not is_met(wanted, pins("run"))]
    assert not [wanted for wanted in asked_by_tests if not is_met(wanted, pins("dev"))]


def is_met(wanted: Requirement, pinned: dict[str, set[str]]) -> bool:
    versions = pinned.get(re.sub(r"[._]", "-", wanted.name.lower()), set())
    return bool(versions) and all(version in wanted.specifier for version in versions)


def test_the_tests_run_with_the_versions_that_people_run() -> None:
    run, dev = pins("run"), pins("dev")

    assert run == {package: dev.get(package) for package in run}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (file,) = folder.iterdir()
    return zipfile.ZipFile(file)


def test_a_wheel_carries_the_workflows(wheel: zipfile.ZipFile) -> None:
    here = {path.relative_to(ROOT / "workflows").as_posix() for path in workflow_files()}

    names = [name.partition("reprocess/_workflows/")[2] for name in wheel.namelist()]

    assert here
    assert set(filter(None, names)) == here


def workflow_files() -> list[Path]:
    return [path for path in (ROOT / "workflows").rglob("*") if path.is_file()]


def test_a_wheel_carries_the_package_and_nothing_of_the_clone(wheel: zipfile.ZipFile) -> None:
    tops = {name.partition("/")[0] for name in wheel.namelist()}

    assert tops == {"reprocess", "reprocess-0.1.0.dist-info"}
    assert "reprocess/py.typed" in wheel.namelist()


def test_a_wheel_without_its_packages_says_what_is_missing(wheel: zipfile.ZipFile, tmp_path: Path) -> None:
    wheel.extractall(tmp_path)
    bare_python = Path(sys.base_prefix) / "bin" / "python3"

    command = [str(bare_python), "-S", "-m", "reprocess", "demo"]  # -S: no packages to be found
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)

    assert done.returncode == 3
    assert done.stderr.startswith("reprocess lacks apscheduler, argon2, authlib, babel, biip, ")
    assert len(done.stderr.splitlines()) == 1
