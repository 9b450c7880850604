"""Every check of the project, cheapest first; all of them run, also after one has failed.

    python3 -m tests                  format, lint, types, imports, scripts, tests
    python3 -m tests --only lint      one of them
    python3 -m tests --cov            the tests with branch coverage
    python3 -m tests --bench          the benchmarks, and nothing else
    python3 -m tests --published      the published values beside ours, as a table
    python3 -m tests -- -k contact    what follows `--` goes to pytest

The code it ends with is 0 if everything passed, else 1.
"""

import argparse
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PYTHON = sys.executable
CHECKS: dict[str, list[str]] = {
    "format": [PYTHON, "-m", "ruff", "format", "--check", "."],
    "lint": [PYTHON, "-m", "ruff", "check", "."],
    "types": [PYTHON, "-m", "mypy"],
    "imports": [str(Path(PYTHON).parent / "lint-imports"), "--no-logo"],
    "scripts": [PYTHON, "-m", "tests.scripts"],
    "tests": [PYTHON, "-m", "pytest", "-q", "-n", "2"],
}
COVERAGE = ["--cov", "--cov-report=term"]
PUBLISHED = [PYTHON, "-m", "pytest", "-q", "tests/published", "-n", "0", "--published"]
BENCHMARKS = [PYTHON, "-m", "tests.bench"]


def main(arguments: Sequence[str]) -> int:
    """Run what is asked for; 0 if all of it passed, else 1."""
    asked = read(arguments)
    if asked.bench:
        return subprocess.call([*BENCHMARKS, *asked.pytest], cwd=ROOT)
    if asked.published:
        return subprocess.call([*PUBLISHED, *asked.pytest], cwd=ROOT)
    checks = {name: CHECKS[name] for name in ([asked.only] if asked.only else CHECKS)}
    if "tests" in checks:
        checks["tests"] = [*checks["tests"], *(COVERAGE if asked.cov else []), *asked.pytest]
    failed = [name for name, command in checks.items() if not passes(name, command)]
    if failed:
        print(f"Not passed: {', '.join(failed)}.", flush=True)
    return 1 if failed else 0


def read(arguments: Sequence[str]) -> argparse.Namespace:
    """The options, and in `pytest` what stands after `--`."""
    about, _, usage = (__doc__ or "").partition("\n\n")
    parser = argparse.ArgumentParser(
        prog="python3 -m tests",
        description=about,
        epilog=usage,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--only", choices=CHECKS, help="run this check and no other")
    parser.add_argument("--cov", action="store_true", help="measure branch coverage")
    parser.add_argument("--bench", action="store_true", help="run the benchmarks instead")
    parser.add_argument("--published", action="store_true", help="print the published values beside ours instead")
    parser.add_argument("pytest", nargs="*", help="after `--`: options of pytest")
    return parser.parse_args(arguments)


def passes(name: str, command: Sequence[str]) -> bool:
    """Run one check under a heading; whether it passed. Its own closing line stays the last."""
    print(f"== {name}", flush=True)
    return subprocess.call(command, cwd=ROOT) == 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
