"""Two shells log the same items with the same keys and are killed with kill -9 at random moments.

    python -m tests.faults.killing --kills 200

Each shell is a process of its own, forked from one that has read the program already, so that it is at work within
milliseconds of its birth. It goes through one list of requests, prints each key as soon as it was answered, and begins
a little before the last one that was acknowledged when it is born again, as a shell that was not sure would.

Printed at the end, as one line of JSON: the kills, the keys acknowledged, how many of them are exactly one entry, how
many answers differed between the two shells, and what full verification finds.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import select
import signal
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

from reprocess.clock import SystemClock
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.gathering import Library
from reprocess.ledger.verify import verify
from reprocess.rules.answer import as_text
from reprocess.scheduling import refresh_all
from reprocess.station import Call
from tests.ledger import small
from tests.ledger.day import LASTING_US

ITEMS = ("S-1", "S-2", "S-3")
AGAIN = 3
"""How many requests a shell sends again after it was killed, because it is not sure of them."""
LIFE_S = (0.002, 0.080)
"""A shell lives that long at least and at most after its first answer."""
BORN_S_MAX = 30.0
LIBRARY = Library()
"""The files as read before the shells are forked, so that they are at work at once."""


def requests() -> Iterator[Request]:
    """Yields what both shells log, without end: uses, steps, contacts, refusals and notes, item after item."""
    yield asking.MakeSolution("W-1", "wipe", "Q-1", LASTING_US)
    while True:
        for item in ITEMS:
            yield asking.DoStep(item, "clean")
            yield asking.StartDwell(item, "disinfect", "W-1")
            yield asking.EndDwell(item, "disinfect")
            yield asking.BreakDwell(item, "dried")
            yield asking.NoteItem(item, minutes=1)
            yield asking.Release(item)
            yield asking.Contaminate(item, "used")
            yield asking.ReportMethod(item, "steam")


def calls(start: int) -> Iterator[tuple[int, Call]]:
    """Yields the numbered calls from a number on; the same number is the same call in both shells."""
    for number, request in enumerate(requests()):
        if number >= start:
            yield number, Call(request, "LMG-1", "B-A", None, f"key-{number}")


def shell(path: Path, start: int, say: int) -> None:
    """Logs without end and writes a line for every answer: the number, and a digest of what was answered."""
    with small.opened(path, SystemClock(), library=LIBRARY) as department:
        for number, call in calls(start):
            answer = department.desk.take(call)
            text = as_text(answer).replace('"repeated":true,', "")
            os.write(say, f"{number} {sha256(text.encode()).hexdigest()[:16]}\n".encode())


@dataclass
class Shell:
    """Is one of the two shells through all its lives, with what it was answered."""

    path: Path
    acknowledged: dict[int, str] = field(default_factory=dict)
    contradicted: int = 0

    def live_and_die(self, life_s: float) -> None:
        """Forks a shell, lets it work for a while after its first answer, and kills it."""
        heard, say = os.pipe()
        start = max(0, max(self.acknowledged, default=0) - AGAIN)
        child = os.fork()
        if child == 0:
            self._be_the_shell(heard, start, say)
        os.close(say)
        select.select([heard], [], [], BORN_S_MAX)
        select.select([], [], [], life_s)
        os.kill(child, signal.SIGKILL)
        said = b""
        while part := os.read(heard, 65_536):
            said += part
        os.close(heard)
        os.waitpid(child, 0)
        self._take(said)

    def _be_the_shell(self, heard: int, start: int, say: int) -> None:
        os.close(heard)
        try:
            shell(self.path, start, say)
        finally:
            os._exit(1)

    def _take(self, said: bytes) -> None:
        for line in said.decode().split("\n")[:-1]:
            number, digest = line.split()
            if self.acknowledged.setdefault(int(number), digest) != digest:
                self.contradicted += 1


@dataclass(frozen=True, slots=True)
class Outcome:
    """Is what two hundred deaths came to.

    Attributes:
        acknowledged: keys that at least one of the shells was answered.
        once: those of them that are exactly one entry.
        shared: keys that both shells were answered.
        contradicted: keys with two different answers.
    """

    kills: int
    acknowledged: int
    once: int
    shared: int
    contradicted: int
    entries: int
    findings: tuple[str, ...]

    @property
    def good(self) -> bool:
        """Tells whether nothing was lost, doubled or contradicted."""
        return self.acknowledged == self.once and not self.contradicted and not self.findings


def kill(path: Path, kills: int, seed: int) -> Outcome:
    """Founds a department, kills its two shells so many times in all, and returns what is on record then."""
    small.found(path, SystemClock()).close()
    with small.opened(path, SystemClock(), library=LIBRARY) as department:
        for item in (*ITEMS, "SET-1"):
            department.part(item)
        department.agents()
    dice = random.Random(seed)  # noqa: S311 - a seed makes a failure repeatable
    other = _forked(path, kills // 2, dice.random())
    mine = _lives(path, kills - kills // 2, dice.random())
    theirs, contradicted = _result(other)
    with small.opened(path, SystemClock()) as department:
        return _judged(department, kills, mine, theirs, contradicted)


def _lives(path: Path, kills: int, seed: float) -> Shell:
    dice = random.Random(seed)  # noqa: S311 - a seed makes a failure repeatable
    one = Shell(path)
    for _ in range(kills):
        one.live_and_die(dice.uniform(*LIFE_S))
    return one


def _forked(path: Path, kills: int, seed: float) -> tuple[int, int]:
    """Returns (process, pipe) of the keeper of the second shell, which works at the same time."""
    heard, say = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(heard)
        try:
            one = _lives(path, kills, seed)
            with os.fdopen(say, "w", encoding="ascii") as file:
                json.dump([one.acknowledged, one.contradicted], file)
        finally:
            os._exit(0)
    os.close(say)
    return child, heard


def _result(other: tuple[int, int]) -> tuple[dict[int, str], int]:
    child, heard = other
    with os.fdopen(heard, encoding="ascii") as file:
        acknowledged, contradicted = json.load(file)
    os.waitpid(child, 0)
    return {int(number): digest for number, digest in acknowledged.items()}, contradicted


def _judged(department: Department, kills: int, mine: Shell, theirs: dict[int, str], contradicted: int) -> Outcome:
    answered = {**theirs, **mine.acknowledged}
    shared = [number for number in theirs if number in mine.acknowledged]
    differing = sum(theirs[number] != mine.acknowledged[number] for number in shared)
    with department.ledger.reading() as cursor:
        counted = dict(cursor.execute("SELECT request_key, sum(request_part = 0) FROM entry GROUP BY request_key"))
    report = verify(department.ledger, full=True, refresh=lambda work: refresh_all(work, department.library))
    return Outcome(
        kills=kills,
        acknowledged=len(answered),
        once=sum(counted.get(f"key-{number}") == 1 for number in answered),
        shared=len(shared),
        contradicted=mine.contradicted + contradicted + differing,
        entries=report.entries,
        findings=tuple(one.sentence for one in report.findings),
    )


def main() -> int:
    """Returns 0 when nothing was lost, doubled or contradicted."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--kills", type=int, default=20, help="how many times a shell is killed, both together")
    parser.add_argument("--seed", type=int, default=1, help="of the moments at which they are killed")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        outcome = kill(Path(folder) / "department.db", asked.kills, asked.seed)
    told = {name: getattr(outcome, name) for name in Outcome.__slots__}
    sys.stdout.write(f"{json.dumps({**told, 'good': outcome.good})}\n")
    return 0 if outcome.good else 1


if __name__ == "__main__":
    sys.exit(main())
