"""A record of a million entries with one bath that fails: tubes in kits, worn through years, written in bulk."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from reprocess import found_department
from reprocess.clock import StoryClock, uuid7
from reprocess.department import Department, open_department
from reprocess.engine.enrolling import Commission
from reprocess.engine.request import MakeSolution, TestSolution
from reprocess.ledger.append import Transaction, transaction
from reprocess.lookback.trace import Lookback
from reprocess.record import words
from reprocess.record.entry import Draft, Envelope
from reprocess.record.moment import Moment
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.terms import SECOND_US
from tests.bench.ours import FOUNDING, START_US

ENTRIES = 1_000_000
ITEMS = 4_000
REACHED = 400
"""Items that were in the bath that fails, of which every second one was worn."""
MINUTE_US = 60 * SECOND_US
AGENT = "hypochlorite-50ppm"
FAR_US = START_US + 10**15
BATH = "HYP-LAST"
LATER_US = START_US + 400 * 24 * 60 * MINUTE_US
"""When the bath is tested again: after everything."""


@dataclass(slots=True)
class Writer:
    """Writes cycles of tubes in kits, a request each, into one open transaction."""

    work: Transaction
    digest: str
    kit_digest: str
    at_us: int
    requests: int = 0
    entries: int = 0

    def _ids(self) -> Iterator[str]:
        number = self.entries
        while True:
            number += 1
            yield uuid7(self.at_us // 1000, number)

    def write(self, *drafts: Draft) -> None:
        """Writes the entries of one request, ten seconds after the one before."""
        self.at_us += 10 * SECOND_US
        self.requests += 1
        moment = Moment(self.at_us, self.at_us - START_US, None, "boot", "bench")
        envelope = Envelope(moment, 0, "P-1", None, "D1", f"bulk-{self.requests}-{self.at_us}", "bulk")
        prepared = self.work.prepare(drafts, envelope, self._ids())
        self.work.write(prepared, as_text(Answer(Verdict.ACCEPTED, drafts[0].stream, "bulk")))
        self.entries += len(drafts)

    def reprocessed(self, number: int, cycle: int, bath: str, *, release: bool = True) -> None:
        """A tube goes through one whole cycle in a bath."""
        item = f"item:TUB-{number}"
        used = words.ItemContaminated(
            cause="used", contamination_class="routine", cycle=cycle, workflow="tube", digest=self.digest
        )
        begun = words.DwellStarted(
            step="disinfect", cycle=cycle, dwell="immersion", attempt=1, least_s=120, agent=AGENT, solution=bath
        )
        ended = words.DwellEnded(
            step="disinfect", stage="disinfected", evidence="measured", proven_s=121, least_s=120, greatest_seen_s=121
        )
        self.write(Draft(item, used))
        self.write(Draft(item, words.StepDone(step="clean", stage="cleaned", evidence="measured")))
        self.write(Draft(item, begun))
        self.write(Draft(item, ended))
        self.write(Draft(item, words.StepDone(step="inspect", stage="inspected", evidence="measured")))
        if release:
            released = words.ItemReleased(
                step="release", stage="ready", digest=self.digest, cycle=cycle, evidence={"disinfect": 4}
            )
            self.write(Draft(item, released))

    def worn(self, number: int, wearer: str, *, back: bool = True) -> None:
        """A tube is built into its kit and worn by somebody in it."""
        item, kit = f"item:TUB-{number}", f"item:KIT-{number}"
        issued = words.ItemIssued(
            cycle=1, wearer=wearer, place=f"WARD-{number % 20}", purpose="isolation", members={"tube": f"TUB-{number}"}
        )
        self.write(Draft(item, words.MemberJoined(assembly=f"KIT-{number}", slot="tube")))
        self.write(Draft(kit, issued))
        if back:
            returned = words.ItemReturned(place="SINK", wearer=wearer)
            left = words.MemberLeft(assembly=f"KIT-{number}", cause="used")
            self.write(Draft(kit, returned), Draft(item, left))


def built(place: Path, entries: int) -> tuple[Path, int, float]:
    """Returns a department's file with about that many entries, the instant before its last bath, and the seconds."""
    began = time.perf_counter()
    path = place / "million.db"
    clock = StoryClock(START_US)
    with found_department(path, FOUNDING, clock=clock) as made:
        bench = made.station("D1", badge="B-1")
        bench.enrol(Commission("TUB-0", "breathing-tube-immersion", "LT-1"))
        bench.enrol(Commission("KIT-0", "respirator", "LR-1"))
        digests = made.item("TUB-0").digest, made.item("KIT-0").digest
        with transaction(made.ledger) as work:
            _commissioned(Writer(work, *digests, START_US + MINUTE_US))
        at_us, written, round_ = START_US + 2 * ITEMS * MINUTE_US, 0, 2
        while written < entries:
            with transaction(made.ledger) as work:
                writer = Writer(work, *digests, at_us)
                for number in range(ITEMS):
                    writer.reprocessed(number, round_, f"HYP-{round_}-{number // 100}")
                    writer.worn(number, f"W-{(number * 7 + round_) % 3000}")
                at_us, written, round_ = writer.at_us, written + writer.entries, round_ + 1
        before_us = at_us
        clock.push((at_us - clock.wall_us) // SECOND_US + 60)
        _last_bath(made, digests, round_, clock.now().wall_us)
    return path, before_us, time.perf_counter() - began


def _commissioned(writer: Writer) -> None:
    for name, kind, model, workflow, digest in (
        ("TUB", "breathing-tube", "LT-1", "breathing-tube-immersion", writer.digest),
        ("KIT", "respirator", "LR-1", "respirator", writer.kit_digest),
    ):
        body = words.ItemCommissioned(
            item_kind=kind, model=model, site="LMG", workflow=workflow, digest=digest, in_service_us=START_US
        )
        for number in range(1, ITEMS):
            writer.write(Draft(f"item:{name}-{number}", body))


def _last_bath(made: Department, digests: tuple[str, str], round_: int, at_us: int) -> None:
    """The bath that will fail: made, passed, used for many tubes, half of which were worn since."""
    bench = made.station("D1", badge="B-1")
    bench.ask(MakeSolution(BATH, AGENT, "LOT-1", FAR_US))
    bench.ask(TestSolution(BATH, "STRIPS-1", FAR_US, reading="50", read_after_s=80))
    with transaction(made.ledger) as work:
        writer = Writer(work, *digests, at_us)
        for number in range(REACHED):
            writer.reprocessed(number, round_, BATH, release=number % 4 != 3)
            if number % 2 == 0:
                writer.worn(number, f"W-{number}", back=number % 4 == 0)


@dataclass(frozen=True, slots=True)
class Taken:
    """Is how long something took, in seconds of the clock on the wall and of this process's own work."""

    wall_s: float
    work_s: float


def failed_test(path: Path) -> tuple[Taken, Answer]:
    """Returns how long a failed test takes with all that follows from it, and its answer.

    The department has read its files before, as a server has by its first scan.
    """
    with open_department(path, clock=StoryClock(LATER_US)) as opened:
        opened.agents()
        for item in ("TUB-0", "KIT-0"):
            opened.part(item)
        bench = opened.station("D1", badge="B-1")
        request = TestSolution(BATH, "STRIPS-1", FAR_US, reading="10", read_after_s=80)
        return _timed(lambda: bench.ask(request))


def looked_back(path: Path, as_of_us: int | None) -> tuple[Taken, Lookback]:
    """Returns how long a look-back of the bath takes, and what it found."""
    with open_department(path, clock=StoryClock(LATER_US)) as opened:
        return _timed(lambda: opened.lookback("solution", BATH, as_of_us=as_of_us))


Result = TypeVar("Result")


def _timed(work: Callable[[], Result]) -> tuple[Taken, Result]:
    wall, own = time.perf_counter(), time.process_time()
    result = work()
    return Taken(time.perf_counter() - wall, time.process_time() - own), result


def figures(place: Path) -> Iterator[str]:
    """Builds the record, looks back, lets the bath fail, and yields what each took beside its raw limit."""
    path, before_us, took_s = built(place, ENTRIES)
    before = entries_in(path)
    yield (f"built {before:,} entries in {took_s:,.0f} s")
    then_us = before_us + (ITEMS + REACHED * 8) * 10 * SECOND_US
    for title, as_of_us in (("now", None), ("as of a past instant", then_us)):
        taken, found = looked_back(path, as_of_us)
        raw_s = raw_reads_s(path)
        yield (
            f"look-back {title}: {len(found.items)} items, {len(found.wearers)} wearers in {taken.wall_s:.2f} s "
            f"({taken.work_s:.2f} s of work), raw {raw_s:.3f} s, ratio {raw_s / taken.wall_s:.2f} (aim under 1 s)"
        )
    taken, answer = failed_test(path)
    written = entries_in(path) - before
    raw_s = raw_writes_s(place, written)
    told = {name: fact for one in answer.reasons for name, fact in one.facts.items() if name != "items"}
    yield (
        f"failed bath test: {told['held']} items held, {told['wearers']} wearers, {written} entries in "
        f"{taken.wall_s:.2f} s ({taken.work_s:.2f} s of work), raw {raw_s:.3f} s, "
        f"ratio {raw_s / taken.wall_s:.2f} (aim under 1 s)"
    )


def raw_writes_s(place: Path, rows: int) -> float:
    """Returns the seconds in which the driver alone inserts so many rows and updates as many, durable, in one go."""
    connection = sqlite3.connect(place / f"raw-{rows}.db", isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE entry (feed INTEGER PRIMARY KEY, stream TEXT, body TEXT)")
    connection.execute("CREATE TABLE standing (stream TEXT PRIMARY KEY, state TEXT)")
    connection.executemany("INSERT INTO standing VALUES (?, '')", [(f"item:{one}",) for one in range(rows)])
    body = "x" * 300
    began = time.perf_counter()
    connection.execute("BEGIN IMMEDIATE")
    for number in range(rows):
        connection.execute("INSERT INTO entry VALUES (NULL, ?, ?)", (f"item:{number}", body))
        connection.execute("UPDATE standing SET state = ? WHERE stream = ?", (body * 6, f"item:{number}"))
    connection.execute("COMMIT")
    took = time.perf_counter() - began
    connection.close()
    return took


def raw_reads_s(path: Path) -> float:
    """Returns the seconds in which the driver alone reads the standings and intervals of as many items, by key."""
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    began = time.perf_counter()
    for number in range(REACHED):
        connection.execute("SELECT state FROM standing WHERE stream = ?", (f"item:TUB-{number}",)).fetchall()
        connection.execute("SELECT * FROM touch WHERE item = ? AND until_feed IS NULL", (f"TUB-{number}",)).fetchall()
    took = time.perf_counter() - began
    connection.close()
    return took


def entries_in(path: Path) -> int:
    """Returns how many entries a record has."""
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    total = int(connection.execute("SELECT max(feed) FROM entry").fetchone()[0])
    connection.close()
    return total
