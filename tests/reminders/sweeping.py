"""A process that sweeps one file once, and writes the key of everything it gave.

With its first reminder in its hands it waits for a line, so that a test can have two of them at it at once.
"""

from __future__ import annotations

import sys
from pathlib import Path

from reprocess.demo.clock import StoryClock
from reprocess.ledger.open import open_ledger
from reprocess.reminders import rounds


def main(path: str, wall_us: int, node: str) -> None:
    """Sweeps until everything that is due rang or is in another sweep's hands."""
    ledger = open_ledger(Path(path))
    clock = StoryClock(wall_us)
    given: list[str] = []

    def give(rang: rounds.Rang) -> bool:
        sys.stdout.write(f"{rang.due.key}\n")
        sys.stdout.flush()
        if not given:
            sys.stdin.readline()
        given.append(rang.due.key)
        return True

    # Many small batches, so that the two meet often.
    rounds.CLAIMED = rounds.TOGETHER = 10  # type: ignore[misc]
    rounds.sweep(ledger, clock, give, node)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), sys.argv[3])
