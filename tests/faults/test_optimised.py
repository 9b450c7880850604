"""`PYTHONOPTIMIZE=1` leaves out assertions; no refusal, no entry and no verification may depend on one."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

CLONE = Path(__file__).resolve().parent.parent.parent
PATIENCE_S = 60


def played(folder: Path, *options: str) -> dict[str, Any]:
    folder.mkdir()
    done = subprocess.run(
        [sys.executable, *options, "-m", "tests.faults.refusing", str(folder)],
        cwd=CLONE,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=True,
    )
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def test_no_refusal_and_no_entry_depends_on_assertions(tmp_path: Path) -> None:
    plain, optimised = played(tmp_path / "plain"), played(tmp_path / "optimised", "-O")
    assert (plain.pop("optimised"), optimised.pop("optimised")) == (0, 1)
    assert plain == optimised
    assert plain["sound"]
    verdicts = [one["verdict"] if isinstance(one, dict) else "wrong use" for one in plain["answers"]]
    assert min(verdicts.count(word) for word in ("accepted", "refused", "held", "wrong use")) >= 3
