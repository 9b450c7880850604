"""Two shells at the same items with the same keys, killed at random moments: every acknowledged key is one entry."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

CLONE = Path(__file__).resolve().parent.parent.parent
KILLS = 20
"""`python -m tests.faults.killing --kills 200` is the whole trial."""
PATIENCE_S = 120


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork")
def test_every_acknowledged_key_is_one_entry() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.killing", "--kills", str(KILLS)],
        cwd=CLONE,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    told = json.loads(done.stdout)
    assert told["good"], told
    assert done.returncode == 0
    assert told["once"] == told["acknowledged"] >= KILLS
    assert told["shared"] > 0
