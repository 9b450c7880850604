"""Another process at the same department: `python -m tests.ledger.paced FILE` or `ADDRESS KEY`.

For each line on its standard input it notes a minute of use and answers with one line, the verdict.
"""

from __future__ import annotations

import sys
from pathlib import Path

from reprocess.clock import SystemClock
from reprocess.engine.request import NoteItem
from reprocess.ledger.address import Server
from reprocess.station import Call
from tests.ledger import small
from tests.ledger.rival import say


def main() -> None:
    """Notes a minute for each line until there are no more."""
    place, *key = sys.argv[1:]
    with small.opened(Server(place, Path(key[0])) if key else Path(place), SystemClock()) as department:
        say("ready")
        for number, _ in enumerate(sys.stdin):
            call = Call(NoteItem("S-2", minutes=1), "LMG-1", "B-A", None, f"paced-{number}")
            say(department.desk.take(call).verdict)


if __name__ == "__main__":
    main()
