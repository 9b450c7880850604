"""What a person gets who clones the repository on a machine with python3, pip and git only."""

import shutil
import subprocess
import sys
import tomllib
from collections.abc import Mapping
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

import pytest
from packaging.requirements import Requirement

from reprocess.__main__ import REQUIRED
from tests import checks

ROOT = Path(__file__).resolve().parents[2]
BARE_PYTHON = Path(sys.base_prefix) / "bin" / "python3"
TIMEOUT_S = 300


@pytest.fixture
def a_clone(tmp_path: Path) -> Path:
    """The files of the working tree that git would clone, in a folder with a space in its name."""
    git = ["git", "-c", "safe.directory=*", "ls-files", "-z"]  # the clone may be another person's
    listing = [*git, "--cached", "--others", "--exclude-standard"]
    names = subprocess.run(listing, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    clone = tmp_path / "a bare clone"
    for name in filter(None, names.split("\0")):
        if (ROOT / name).is_file():  # git also lists a file that was deleted and not committed
            (clone / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, clone / name)
    return clone


def bootstrap_of(clone: Path) -> ModuleType:
    spec = spec_from_file_location("bootstrap", clone / ".ci" / "bootstrap.py")
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def start(clone: Path, settings: Mapping[str, str], *words: str | Path) -> subprocess.Popen[str]:
    """Start a command in the clone as a service would: no terminal, nothing on its input."""
    assigned = [f"{name}={value}" for name, value in settings.items()]
    return subprocess.Popen(
        ["/usr/bin/env", "-u", "PYTHONPATH", *assigned, *map(str, words)],
        cwd=clone,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def test_a_bare_clone_sets_itself_up_once_even_when_two_commands_start_together(
    a_clone: Path,
) -> None:
    # uv and its cache are there after the set-up that this test itself runs in: no network.
    shutil.copytree(ROOT / ".dev" / "uv", a_clone / ".dev" / "uv")
    offline, cache = {"UV_OFFLINE": "1"}, ROOT / ".dev" / "cache"
    if cache.exists():
        offline["UV_CACHE_DIR"] = str(cache)
    command = (BARE_PYTHON, "-S", "-m", "reprocess", "--help")  # -S: not what is installed beside

    both = [start(a_clone, offline, *command) for _ in range(2)]
    said = [process.communicate(timeout=TIMEOUT_S) for process in both]
    third = start(a_clone, offline, *command)

    assert third.communicate(timeout=TIMEOUT_S)[1] == ""
    assert [process.returncode for process in (*both, third)] == [0, 0, 0]
    errors = "".join(error for _, error in said)
    assert errors.count("Setting up .venv-run") == 1
    assert f"The command `reprocess` is now {a_clone}/.venv-run/bin/reprocess" in errors
    installed = start(a_clone, {}, a_clone / ".venv-run" / "bin" / "reprocess", "--help")
    assert installed.communicate(timeout=TIMEOUT_S)[0] == said[0][0]


def test_a_bare_clone_sets_itself_up_from_nothing(a_clone: Path, request: pytest.FixtureRequest) -> None:
    if not request.config.getoption("--bare-clone"):
        pytest.skip("asks the package index; run with --bare-clone")
    nothing_kept = {"UV_NO_CACHE": "1", "PIP_NO_CACHE_DIR": "1"}

    process = start(a_clone, nothing_kept, BARE_PYTHON, "-S", "-m", "reprocess", "--help")

    said, errors = process.communicate(timeout=TIMEOUT_S)
    assert process.returncode == 0, errors
    assert "reprocess" in said


def test_a_set_up_that_finds_no_packages_says_so_in_one_sentence(a_clone: Path) -> None:
    unreachable = {"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": "nowhere"}

    process = start(a_clone, unreachable, BARE_PYTHON, "-S", "-m", "reprocess", "demo")

    said, errors = process.communicate(timeout=TIMEOUT_S)
    assert process.returncode == 3
    assert said == ""
    doing, stopped = errors.splitlines()
    assert doing.startswith("Setting up .venv-run")
    assert stopped.startswith("Set-up stopped: pip says: ERROR: ")


def test_uv_installs_from_where_pip_installs() -> None:
    pip = {
        "index-url": "https://index.example/simple",
        "extra-index-url": "\nhttps://one.example/simple\nhttps://two.example/simple",
        "find-links": "/usr https://files.example /no/such/folder",
        "trusted-host": "index.example one.example",
        "cert": "/etc/a certificate.pem",
        "timeout": "180",
    }

    settings, options = bootstrap_of(ROOT).uv_settings(pip, {"HOME": "/"})

    assert settings["UV_DEFAULT_INDEX"] == "https://index.example/simple"
    assert settings["UV_EXTRA_INDEX_URL"] == "https://one.example/simple https://two.example/simple"
    assert settings["UV_FIND_LINKS"] == "/usr,https://files.example"
    assert settings["UV_INSECURE_HOST"] == "index.example one.example"
    assert settings["SSL_CERT_FILE"] == "/etc/a certificate.pem"
    assert options == []


def test_what_a_person_set_for_uv_is_kept() -> None:
    own = {"HOME": "/", "UV_DEFAULT_INDEX": "https://mine.example", "UV_SYSTEM_PYTHON": "1"}

    settings, _ = bootstrap_of(ROOT).uv_settings({"index-url": "https://pip.example"}, own)

    assert settings["UV_DEFAULT_INDEX"] == "https://mine.example"
    assert "UV_SYSTEM_PYTHON" not in settings


def test_no_setting_of_pip_gives_uv_an_empty_one() -> None:
    settings, _ = bootstrap_of(ROOT).uv_settings({}, {"HOME": str(ROOT)})

    assert settings.keys() == {"HOME", "UV_PYTHON_DOWNLOADS", "UV_INDEX_STRATEGY"}


@pytest.mark.parametrize(("said", "options"), [("1", ["--no-index"]), ("false", [])])
def test_uv_asks_no_index_where_pip_may_not(said: str, options: list[str]) -> None:
    assert bootstrap_of(ROOT).uv_settings({"no-index": said}, {"HOME": "/"})[1] == options


def test_a_person_without_a_home_gets_a_cache_in_the_clone() -> None:
    settings, _ = bootstrap_of(ROOT).uv_settings({}, {"HOME": "/no/such/home"})

    assert settings["UV_CACHE_DIR"] == str(ROOT / ".dev" / "cache")


def test_the_environment_of_pip_goes_before_its_files(a_clone: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = a_clone / "pip.conf"
    file.write_text("[global]\ncert = a\nproxy = b\n[install]\nproxy = c\n[download]\nproxy = d\n")
    monkeypatch.setenv("PIP_CONFIG_FILE", str(file))
    monkeypatch.setenv("PIP_CERT", "it's e")
    (bootstrap := bootstrap_of(a_clone)).WORKSHOP.mkdir()
    monkeypatch.setattr(sys, "executable", str(BARE_PYTHON))  # the one that has pip

    settings = bootstrap.pip_settings()

    assert settings["cert"] == "it's e"
    assert settings["proxy"] == "c"


def test_a_new_pin_makes_an_environment_stale_and_a_linters_setting_does_not(a_clone: Path) -> None:
    bootstrap = bootstrap_of(a_clone)
    before = bootstrap.stamp("run")
    project, pinned = a_clone / "pyproject.toml", a_clone / ".ci" / "requirements" / "run.txt"

    project.write_text(project.read_text().replace("line-length = 100", "line-length = 99"))
    assert bootstrap.stamp("run") == before
    pinned.write_text(pinned.read_text() + "one-more==1.0 --hash=sha256:00\n")
    after = bootstrap.stamp("run")
    place = f"{a_clone} {sys.implementation.cache_tag}"

    assert after != before
    assert after.splitlines()[0] == before.splitlines()[0] == place


def test_an_environment_that_was_cut_short_is_not_ready(a_clone: Path) -> None:
    bootstrap = bootstrap_of(a_clone)
    python = a_clone / ".venv-run" / "bin" / "python"
    python.parent.mkdir(parents=True)
    python.symlink_to(sys.executable)

    assert not bootstrap.is_ready(python, "a stamp")
    (a_clone / ".venv-run" / "ready").write_text("a stamp")
    assert bootstrap.is_ready(python, "a stamp")
    python.unlink()
    assert not bootstrap.is_ready(python, "a stamp")


def test_the_command_looks_for_every_package_that_the_project_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    packages = [Requirement(line).name for line in project["dependencies"]]
    module_of = {"argon2-cffi": "argon2", "ruamel.yaml": "ruamel", "zxing-cpp": "zxingcpp"}

    assert sorted(REQUIRED) == sorted(module_of.get(package, package.replace("-", "_")) for package in packages)


def test_everything_runs_cheapest_first_and_pytest_closes() -> None:
    assert list(checks.CHECKS) == ["format", "lint", "types", "imports", "scripts", "tests"]


def test_what_follows_two_dashes_goes_to_pytest() -> None:
    asked = checks.read(["--only", "tests", "--", "-k", "contact"])

    assert (asked.only, asked.pytest) == ("tests", ["-k", "contact"])
