"""Plays the day in the small department and prints every answer and a digest of every entry, for a comparison.

python -O -m tests.faults.refusing FOLDER
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from reprocess.clock import StoryClock
from reprocess.engine import request as asking
from reprocess.errors import ReprocessError
from reprocess.rules.answer import as_fields
from tests.ledger import small
from tests.ledger.day import DAY, Asked

WRONG: tuple[Asked, ...] = (
    Asked("w-1", asking.Release("S-3")),
    Asked("w-2", asking.Release("S-99")),
    Asked("w-3", asking.StartDwell("S-4", "disinfect", "W-1")),
    Asked("w-4", asking.StartDwell("S-4", "disinfect", "W-9")),
    Asked("w-5", asking.DoStep("S-4", "clean"), badge="B-NOBODY"),
    Asked("w-6", asking.DoStep("S-4", "inspect", {"whole": True}, {"gap_mm": "NaN"}), badge="B-B"),
    Asked("w-7", asking.DoStep("S-4", "inspect", {"whole": True}, {"gap_mm": "1e999"}), badge="B-B"),
    Asked("w-8", asking.DoStep("S-4", "polish")),
    Asked("w-9", asking.DoStep("S-4", "disinfect")),
    Asked("w-10", asking.EndDwell("S-4", "disinfect")),
    Asked("w-11", asking.LiftHold("S-1", "none", "x")),
    Asked("w-12", asking.Condemn("S-4", "alone")),
    Asked("w-13", asking.Contaminate("S-4", "sneezed at")),
    Asked("w-14", asking.Assemble("SET-1", "one-port", ("S-4", "S-4"), {"gaskets": 0, "plugs": 1})),
    Asked("clean", asking.DoStep("S-4", "clean")),
)


def main() -> None:
    """Prints one JSON object: whether Python leaves assertions out, and what was answered."""
    clock = StoryClock(small.START_US)
    told: list[object] = []
    with small.found(Path(sys.argv[1]) / "department.db", clock) as department:
        for asked in (*DAY, *WRONG):
            clock.push(asked.after_s)
            try:
                told.append(as_fields(asked.put(department)))
            except ReprocessError as fault:
                told.append([fault.code, fault.sentence])
        report = department.verify(full=True)
        with department.ledger.reading() as cursor:
            digests = [row[0].hex() for row in cursor.execute("SELECT digest FROM entry ORDER BY feed")]
    found = {"optimised": sys.flags.optimize, "answers": told, "sound": report.sound, "digests": digests}
    sys.stdout.write(json.dumps(found))


if __name__ == "__main__":
    main()
