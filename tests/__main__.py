"""`python3 -m tests`: the set-up, then every check (`python3 -m tests --help` lists them).

Only the standard library is known to be there; the checks themselves are in tests/checks.py.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

BOOTSTRAP = Path(__file__).resolve().parent.parent / ".ci" / "bootstrap.py"


def main() -> None:
    """Go on in the development environment, which is made or renewed first if it has to be."""
    spec = importlib.util.spec_from_file_location("bootstrap", BOOTSTRAP)
    assert spec is not None
    assert spec.loader is not None
    bootstrap = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(bootstrap)
    bootstrap.continue_in("dev", "tests.checks")


if __name__ == "__main__":
    main()
