"""One of two processes at the same department (see test_two_processes.py).

`python -m tests.ledger.rival NAME FILE`, or `NAME ADDRESS KEY` on a server.

It waits for a line on its standard input, so that both begin at once, and prints one JSON line for each request.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from reprocess.clock import SystemClock
from reprocess.engine.request import DoStep, NoteItem
from reprocess.ledger.address import Server
from reprocess.station import Call
from tests.ledger import small

ROUNDS = 40


def main() -> None:
    """Cleans every shell, which only one of the two can, and notes a minute of use of one shell each time."""
    name, place, *key = sys.argv[1:]
    with small.opened(Server(place, Path(key[0])) if key else Path(place), SystemClock()) as department:
        department.item("S-1")
        say("ready")
        sys.stdin.readline()
        for number in range(ROUNDS):
            item = f"R-{number}"
            answer = department.desk.take(Call(DoStep(item, "clean"), "LMG-1", "B-A", None, f"{name}-{number}"))
            shared = department.desk.take(Call(NoteItem("S-1", minutes=1), "LMG-1", "B-A", None, f"both-{number}"))
            own = department.desk.take(Call(NoteItem("S-2", minutes=1), "LMG-1", "B-A", None, f"{name}-note-{number}"))
            told = {
                "item": item,
                "verdict": answer.verdict,
                "reasons": [one.facts.get("by") for one in answer.reasons],
                "repeated": shared.repeated,
                "own": own.verdict,
            }
            say(json.dumps(told))


def say(line: str) -> None:
    """Writes a line that the other end of the pipe sees at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
