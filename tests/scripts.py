"""Checks the types of the pages' own scripts with TypeScript's compiler, which is installed here if npm is.

    python3 -m tests --only scripts

Nothing of it is needed to run the program: the scripts are served as they are written.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).resolve().parent.parent
VERSION: Final = "7.0.2"
PLACE: Final = ROOT / ".dev" / "typescript"
COMPILER: Final = PLACE / "node_modules" / ".bin" / "tsc"
PROJECT: Final = ROOT / "reprocess" / "service" / "pages" / "static" / "jsconfig.json"
INSTALL: Final = (
    "install",
    "--no-save",
    "--no-package-lock",
    "--ignore-scripts",
    "--no-audit",
    "--no-fund",
    "--silent",
    f"typescript@{VERSION}",
)


def compiler() -> Path | None:
    """Returns TypeScript's compiler, installed first where it is missing; None where it cannot be had."""
    if COMPILER.exists() and _version() == f"Version {VERSION}":
        return COMPILER
    npm = shutil.which("npm")
    if npm is None:
        return None
    PLACE.mkdir(parents=True, exist_ok=True)
    done = subprocess.run([npm, *INSTALL, "--prefix", str(PLACE)], cwd=PLACE, check=False)
    return COMPILER if done.returncode == 0 and COMPILER.exists() else None


def _version() -> str:
    done = subprocess.run([COMPILER, "--version"], capture_output=True, text=True, check=False)
    return done.stdout.strip()


def check(project: Path = PROJECT) -> int:
    """Returns 0 where every script's types are right, or where nothing is here to tell; else 1."""
    found = compiler()
    if found is None:
        sys.stdout.write("Skipped: TypeScript's compiler needs npm, which is not here or reaches no registry.\n")
        return 0
    return 1 if subprocess.run([found, "-p", str(project)], check=False).returncode else 0


if __name__ == "__main__":
    sys.exit(check())
