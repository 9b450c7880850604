"""Make the environment that a clone runs in, from Python 3.11, pip and the standard library.

    python3 .ci/bootstrap.py run   makes .venv-run, where `python3 -m reprocess` runs
    python3 .ci/bootstrap.py dev   makes .venv-dev, where `python3 -m tests` runs

A bare machine often has no venv module and forbids installing beside the system's packages
(PEP 668). `pip install --target` is still allowed, so pip brings uv, and uv does everything else.
uv does not read pip's settings; `uv_settings` hands them over. What is installed is pinned in
.ci/requirements, which .ci/pin.py writes.
"""

from __future__ import annotations

import ast
import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NoReturn

ROOT = Path(__file__).resolve().parent.parent
WORKSHOP = ROOT / ".dev"
PINNED = ROOT / ".ci" / "requirements"
EXIT_SET_UP_FAILED = 3

# pip's name for a setting -> uv's, and what uv wants between several values.
UV_NAMES = {
    "index-url": ("UV_DEFAULT_INDEX", ""),
    "extra-index-url": ("UV_EXTRA_INDEX_URL", " "),
    "find-links": ("UV_FIND_LINKS", ","),
    "trusted-host": ("UV_INSECURE_HOST", " "),
    "cert": ("SSL_CERT_FILE", ""),
    "client-cert": ("SSL_CLIENT_CERT", ""),
    "proxy": ("ALL_PROXY", ""),
}


class SetUpError(Exception):
    """The environment cannot be made here; the message is one sentence that says why."""


def continue_in(kind: str, module: str) -> NoReturn:
    """Go on as `python -m module` with the same arguments, in the environment of that kind."""
    python = prepare_or_exit(kind)
    command = [str(python), "-m", module, *sys.argv[1:]]
    os.execve(python, command, dict(os.environ))  # noqa: S606 - a shell would read the arguments


def prepare_or_exit(kind: str) -> Path:
    """The interpreter that `prepare` gives; where there is none, say why and end with code 3."""
    try:
        return prepare(kind)
    except (SetUpError, OSError) as error:
        print(f"Set-up stopped: {error}", file=sys.stderr)
        sys.exit(EXIT_SET_UP_FAILED)
    except KeyboardInterrupt:
        sys.exit(130)  # what a shell reports for a command that was interrupted


def prepare(kind: str) -> Path:
    """The interpreter of the environment `run` or `dev`, made or renewed first if it has to be."""
    if os.name != "posix" or sys.version_info < (3, 11):
        message = "this needs Python 3.11 or newer, on Linux or macOS."
        raise SetUpError(message)
    import fcntl  # here, so that an unfit system gets as far as the message above

    folder, wanted = ROOT / f".venv-{kind}", stamp(kind)
    python = folder / "bin" / "python"
    if not is_ready(python, wanted):
        WORKSHOP.mkdir(exist_ok=True)
        with (WORKSHOP / "lock").open("w") as lock:  # a process that dies lets go of it
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not is_ready(python, wanted):  # unless another process made it while we waited
                install(kind, folder, wanted)
    return python


def stamp(kind: str) -> str:
    """Two lines: where the environment stands, and a digest of all that is installed in it."""
    import tomllib  # here, so that an older Python gets as far as its message

    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    project["tool"] = project["tool"]["hatch"]  # the other tools' settings install nothing
    contents = json.dumps(project, sort_keys=True) + (PINNED / f"{kind}.txt").read_text("utf-8")
    place = f"{ROOT} {sys.implementation.cache_tag}"
    return f"{place}\n{hashlib.sha256(contents.encode()).hexdigest()}\n"


def is_ready(program: Path, wanted: str) -> bool:
    """Whether the folder that bin/program stands in was finished with this very stamp."""
    return os.access(program, os.X_OK) and read_mark(program.parent.parent) == wanted


def read_mark(folder: Path) -> str:
    """The stamp that the folder was finished with; nothing if it was not finished."""
    try:
        return (folder / "ready").read_text("utf-8")
    except OSError:
        return ""


def install(kind: str, folder: Path, wanted: str) -> None:
    """Put the pinned packages and this clone into the environment, then mark it as ready."""
    print(f"Setting up {folder.name}, once (about a minute).", file=sys.stderr, flush=True)
    settings, options = uv_settings(pip_settings(), os.environ)
    python, uv, before = folder / "bin" / "python", uv_program(), read_mark(folder)
    (folder / "ready").unlink(missing_ok=True)  # an installation that is cut short starts afresh
    if before.partition("\n")[0] != wanted.partition("\n")[0] or not os.access(python, os.X_OK):
        run([uv, "venv", "--clear", "--force", "--python", sys.executable, folder], settings)
    into: list[str | Path] = ["--python", python, *options]
    run([uv, "pip", "sync", "--require-hashes", *into, PINNED / f"{kind}.txt"], settings)
    clone: list[str | Path] = ["--no-deps", "--no-build-isolation", "--editable", ROOT]
    run([uv, "pip", "install", *into, *clone], settings)
    (folder / "ready").write_text(wanted, "utf-8")
    command = folder / "bin" / "reprocess"
    print(f"The command `reprocess` is now {command}", file=sys.stderr, flush=True)


def uv_program() -> Path:
    """The pinned uv, brought by pip if it is not there yet."""
    pinned, program = PINNED / "uv.txt", WORKSHOP / "uv" / "bin" / "uv"
    if not is_ready(program, pinned.read_text("utf-8")):
        # A person's own pip settings may say `user` or `require-virtualenv`: not for a target.
        settings = {**os.environ, "PIP_USER": "0", "PIP_REQUIRE_VIRTUALENV": "0"}
        pip = [sys.executable, "-m", "pip", "install", "--no-deps", "--only-binary", ":all:"]
        target: list[str | Path] = ["--upgrade", "--target", WORKSHOP / "uv", "--require-hashes"]
        run([*pip, *target, "--requirement", pinned], settings)
        (WORKSHOP / "uv" / "ready").write_text(pinned.read_text("utf-8"), "utf-8")
    return program


def pip_settings() -> dict[str, str]:
    """What pip would install with, by pip's own names; its environment goes before its files."""
    found: dict[str, dict[str, str]] = {"global": {}, "install": {}, ":env:": {}}
    for line in run([sys.executable, "-m", "pip", "config", "list"], os.environ).splitlines():
        name, _, value = line.partition("=")
        section, _, key = name.rpartition(".")
        if section in found:
            found[section][key] = str(ast.literal_eval(value))
    return found["global"] | found["install"] | found[":env:"]


def uv_settings(pip: Mapping[str, str], own: Mapping[str, str]) -> tuple[dict[str, str], list[str]]:
    """The variables and the options that make uv install from where pip installs.

    What the person has set for uv stays. With several indexes the best match counts, as for pip:
    every file must have its pinned digest, so no index can slip in a package of its own.
    """
    settings = {name: value for name, value in own.items() if name != "UV_SYSTEM_PYTHON"}
    settings |= {"UV_PYTHON_DOWNLOADS": "never", "UV_INDEX_STRATEGY": "unsafe-best-match"}
    for key, (name, between) in UV_NAMES.items():
        values = pip.get(key, "").split() if between else [pip.get(key, "")]
        if key == "find-links":  # pip passes over a folder that is not there, uv stops
            values = [value for value in values if "://" in value or Path(value).exists()]
        if any(values):
            settings.setdefault(name, between.join(values))
    if not os.access(own.get("HOME", "/"), os.W_OK):
        settings.setdefault("UV_CACHE_DIR", str(WORKSHOP / "cache"))
    offline = pip.get("no-index", "").lower() in {"1", "true", "yes", "on"}
    return settings, ["--no-index"] if offline else []


def run(command: Sequence[str | Path], settings: Mapping[str, str]) -> str:
    """What the command prints; where it fails, raise SetUpError with its own reason."""
    words = [str(word) for word in command]
    done = subprocess.run(
        words,
        cwd=ROOT,
        env=settings,
        stdin=subprocess.DEVNULL,  # what is piped to us is for the command that comes after
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        log = WORKSHOP / "set-up.log"
        log.write_text(f"{words}\n{done.stdout}\n{done.stderr}", "utf-8")
        lines = [line.strip() for line in done.stderr.splitlines() if line.strip()] or ["no reason"]
        reason = next((line for line in lines if line.lower().startswith("error")), lines[-1])
        tool = "uv" if Path(words[0]).name == "uv" else "pip"
        message = f"{tool} says: {reason} (check the network and pip's settings; more is in {log})."
        raise SetUpError(message)
    return done.stdout


if __name__ == "__main__":
    if sys.argv[1:] not in (["run"], ["dev"]):
        sys.exit(__doc__)
    print(prepare_or_exit(sys.argv[1]))
