"""Plays a script on a department and judges every entry and every answer by the oracle."""

from __future__ import annotations

import shutil
import sqlite3
from collections import Counter
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

from reprocess import enrolment
from reprocess.department import Department, open_department
from reprocess.engine import request as ask
from reprocess.engine.enrolling import Enrol
from reprocess.engine.request import Request
from reprocess.enrolment import EnrolCall
from reprocess.errors import KeyReusedError, WrongUseError
from reprocess.gathering import Library
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.rules.asked import Override
from reprocess.station import Call, Desk
from tests.oracle import contact, files, lawful, rows
from tests.oracle.fold import World, learn, stage
from tests.oracle.rows import Row
from tests.properties import happening, scans, twisting
from tests.properties.bending import MAY_PASS, WAYS, Bend, bent
from tests.properties.clocks import SECOND_US, TwoNodes
from tests.properties.scans import Scan
from tests.properties.script import FLAWS, Action, Climb, Event, Script, Time, Twist

LEFT_BY_REFUSALS = {"dwell-broken", "delay-found", "clock-anomaly", "steps-fell", "hold-placed", "held-sighted"}
"""What a refused request may leave in its item's own stream (I2)."""
HOLDS_OF_REFUSALS = {"T06", "T07", "T11", "D07"}
LIBRARY = Library()
"""What was read once, by digest; reading YAML is four fifths of the time of a script."""
E37_S = 300
"""Seconds within which one badge at two sites is doubted."""
SWEEP_MOST = 6_000
"""Most requests of one sweep; it needs about half of them."""
TRIES = 3
"""How often one climb tries each of its flaws."""
NEVER_REFUSED = {
    "contaminate",
    "report-method",
    "fail-step",
    "place-hold",
    "set-aside",
    "note-item",
    "take-off",
    "tell-signal",
}


@dataclass(slots=True)
class Tally:
    """Counts what a run reached, so that a run that proves nothing is seen."""

    examples: int = 0
    reached_ready: int = 0
    counted: Counter[str] = field(default_factory=Counter)


PASSED_OVER = ("D06", "M09", "T12")
"""Rules that are asked again with an override, by a supervisor and the programme administrator."""


class Play:
    """Is one department in the middle of a script."""

    def __init__(self, path: Path, clock: TwoNodes, world: World, feed: int) -> None:
        self.path = path
        self.clock = clock
        self.world = world
        self.feed = self.began = feed
        self.department = opened(path, clock)
        self.looking = sqlite3.connect(path)
        self.asked: list[tuple[Call, str]] = []
        self.log: list[tuple[Call | EnrolCall, TwoNodes]] = []
        self.verdicts: list[str | None] = []
        self.items: tuple[str, ...] = ()
        self.tally = Tally()
        self.keys = 0
        self.passing_over = False
        self.truth: dict[int, tuple[int, int]] = {}

    def close(self) -> None:
        """Closes the department."""
        self.looking.close()
        self.department.close()

    def run(self, script: Script) -> None:
        """Plays all of it, then closes the book and looks at it as a whole."""
        released = self.tally.counted["item-released"]
        self.passing_over = True
        for action in script.actions:
            self.act(action)
        self.close_the_book()
        self.tally.examples += 1
        self.tally.reached_ready += self.tally.counted["item-released"] > released

    def act(self, action: Action) -> None:
        """Does one thing of a script."""
        match action:
            case Time("swap"):
                self.clock.swap()
            case Time(how, seconds):
                {"step": self.clock.step, "sleep": self.clock.sleep, "reboot": self.clock.reboot}.get(
                    how, self.clock.push
                )(seconds)
            case Climb():
                self.climb(action)
            case Event():
                self.happen(action)
            case Twist():
                self.twist(action)

    # One request ---------------------------------------------------------------------------------------------

    def ask(self, scan: Scan) -> Answer | None:
        """Makes one request and judges what came of it; None where it could not be read.

        What one rule alone refused is asked once more by people who may pass over it, so that the oracle sees that.
        """
        answer = self.ask_once(scan)
        if self.passing_over and answer is not None and answer.verdict is Verdict.REFUSED and len(answer.rules()) == 1:
            rule = answer.rules()[0]
            if rule in PASSED_OVER:
                by_two = replace(scan, badge="B-CARA-1", second="B-GINA-1", wait_s=0)
                self.ask_once(by_two, Override(rule, "other", "as agreed", reference="M-1"))
        return answer

    def ask_once(self, scan: Scan, override: Override | None = None) -> Answer | None:
        """Makes one request, perhaps with an override, and judges what came of it."""
        self.clock.push(scan.wait_s)
        call = Call(scan.request, scan.station, scan.badge, scan.second, self.new_key(), override=override)
        self.log.append((call, self.clock.copy()))
        try:
            answer = self.department.desk.take(call)
        except WrongUseError as fault:
            self.tally.counted[f"error {fault.code}"] += 1
            self.verdicts.append(None)
            assert not self.learn(), "an error wrote something"
            return None
        self.asked.append((call, as_text(answer)))
        self.verdicts.append(str(answer.verdict))
        new = self.learn()
        self.tally.counted[f"{scan.request.asked} {answer.verdict}"] += 1
        self.tally.counted.update(f"rule {rule}" for rule in answer.rules())
        self.tally.counted.update(f"{one.rule} {one.key}" for one in answer.reasons)
        assert new, "nothing was recorded"
        if answer.verdict is Verdict.REFUSED:
            refusal_changed_nothing(answer, new)
            self.was_no_fact(scan.request, answer)
            self.was_not_too_warm(scan.request)
        return answer

    def new_key(self) -> str:
        """Returns a key that was not used before, the same in every run of a script."""
        self.keys += 1
        return f"{self.began}-{self.keys}"

    def learn(self) -> list[Row]:
        """Takes the new entries into the oracle's world; every one must have been lawful."""
        new = list(rows.rows_of(self.looking, self.feed))
        self.world.setdefault("overrides", []).extend(row for row in new if row["kind"] == "override-used")
        for row in new:
            self.feed = row["feed"]
            self.tally.counted[row["kind"]] += 1
            self.truth[row["feed"]] = self.clock.true_us, self.clock.steps
            judged([*lawful.faults(self.world, row), *self.in_truth(row)])
            learn(self.world, row)
        judged(list(lawful.of_request(self.world, new)))
        for name in {row["stream"] for row in new}:
            if name.startswith("item:"):
                self.compare(name.partition(":")[2])
        return new

    def in_truth(self, row: Row) -> list[str]:
        """Returns what is wrong with a dwell by the true time, which no clock of the department knows (I3)."""
        item = self.world["items"].get(row["stream"].partition(":")[2], {})
        if row["kind"] != "dwell-ended" or row["body"]["evidence"] != "measured" or not item["dwell"]:
            return []
        start, wet = item["dwell"]["start"], item["dwell"]["wet"]
        began, stepped = self.truth[start["feed"]]
        least_us = start["body"]["least_s"] * SECOND_US
        found = []
        if self.clock.true_us - began < least_us:
            found.append(f"only {self.clock.true_us - began} us really passed")
        film_us = (start["body"].get("film_s") or 0) * SECOND_US
        marks = [*(self.truth[one["feed"]][0] for one in wet), self.clock.true_us]
        gaps = [(mark, after - mark) for mark, after in pairwise(marks)]
        # A sleep that a step of the wall clock hides on a computer without a boot-time clock cannot be seen by anybody.
        if film_us and stepped == self.clock.steps:
            found += [f"{gap} us dry" for mark, gap in gaps if gap > film_us and mark - began + film_us < least_us]
        return found

    def compare(self, name: str) -> None:
        """Says that the engine's standing of an item is the oracle's."""
        ours, theirs = self.world["items"][name], self.department.item(name)
        assert str(theirs.stage) == stage(self.world, ours), name
        assert set(theirs.holds) == set(ours["holds"]), name
        if ours["aside"]:
            return
        satisfied = {step: row["number"] for step, row in ours["satisfied"].items()}
        assert {step: held.number for step, held in theirs.satisfied.items()} == satisfied, name
        running = ours["dwell"]["start"]["number"] if ours["dwell"] else None
        assert (theirs.dwell.number if theirs.dwell else None) == running, name
        theirs_of = theirs.cycle, theirs.contamination_class, theirs.digest
        assert theirs_of == (ours["cycle"], ours["class"], ours["digest"]), name

    def was_no_fact(self, request: Request, answer: Answer) -> None:
        """Says that what was refused was no fact; an interruption of nothing may be refused."""
        item = self.world["items"].get(answer.subject.partition(":")[2], {})
        never = NEVER_REFUSED | ({"break-dwell"} if item.get("dwell") else set())
        assert request.asked not in never, (request, answer.rules())

    def was_not_too_warm(self, request: Request) -> None:
        """Says that a contact which ended outside its temperatures does not go on (T07)."""
        running = self.world["items"].get(getattr(request, "item", ""), {}).get("dwell")
        temp = getattr(request, "temp_c", None)
        if not isinstance(request, ask.EndDwell) or not running or not files.within(temp, "0", "100"):
            return
        start = running["start"]
        step = files.steps_of(self.world["files"][self.world["items"][request.item]["digest"]])[start["body"]["step"]]
        bath = start["body"].get("temp_c") is not None
        assert not bath or contact.least_s(self.world, start, step, temp) is not None, f"goes on at {temp} degC"

    # What a script is made of -----------------------------------------------------------------------------------

    def climb(self, climb: Climb) -> None:
        """Makes the next good scans of an item, one of them with a flaw."""
        name = self.items[climb.which % len(self.items)]
        left = Counter(dict.fromkeys(climb.flaws, TRIES))
        refused = 0
        for _ in range(climb.scans):
            for flaw in climb.flaws:
                self.try_flawed(name, flaw, climb, left)
            scan = self.next_scan(name, climb)
            if scan is None:
                return
            answer = self.ask(scan)
            refused += answer is None or not answer.accepted
            ready = stage(self.world, self.world["items"][name]) == "ready"
            if refused > 1 or (ready and scan.request.asked == "release"):
                return

    def next_scan(self, name: str, climb: Climb) -> Scan | None:
        """Returns the next good scan of an item, made by the one person of the climb where there is one."""
        scan = scans.next_scan(self.world, name, self.clock.now(), climb.choice)
        return scan if scan is None or climb.by is None else replace(scan, badge=climb.by)

    def try_flawed(self, name: str, flaw: str, climb: Climb, left: Counter[str]) -> None:
        """Makes the next scan with a flaw first, where it applies and was not tried often enough."""
        scan = self.next_scan(name, climb)
        if scan is None or not left[flaw]:
            return
        other = bent(scan, flaw, self.bend(scan, name, climb.choice + 5 * left[flaw]))
        if other != scan:
            left[flaw] -= 1
            self.ask(other)

    def bend(self, scan: Scan, name: str, choice: int) -> Bend:
        """Returns what a scan is bent by; it may be about a part of the item that is climbed."""
        return Bend(self.world, self.clock, str(getattr(scan.request, "item", name)), choice)

    def sweep(self, name: str) -> None:
        """Makes all good scans of an item, and before each of them, once, every wrong one that there is.

        A wrong scan that was lawful after all goes on with the step; so the item is used and made ready again until a
        whole cycle has nothing new to try.
        """
        tried: set[tuple[str, str, str, int]] = set()
        refused, before, cycle = 0, -1, 0
        for _ in range(SWEEP_MOST):
            scan = scans.next_scan(self.world, name, self.clock.now(), cycle)
            if scan is None or refused > 2:
                return
            wrong = self.untried(scan, name, tried)
            answer = self.ask(wrong or scan)
            if answer is not None and "E37" in answer.rules():
                self.clock.push(E37_S)  # the wrong scan just before was at another site
            elif wrong is None:
                refused = 0 if answer is not None and answer.accepted else refused + 1
            if wrong is None and scan.request == ask.Release(name, getattr(scan.request, "checks", {})) and not refused:
                if len(tried) == before:
                    return
                before, cycle = len(tried), cycle + 1

    def untried(self, scan: Scan, name: str, tried: set[tuple[str, str, str, int]]) -> Scan | None:
        """Returns a wrong scan that was not tried at this step yet, or None when all were."""
        at = scan.request.asked, str(getattr(scan.request, "step", ""))
        for flaw in (*(one for one in dict.fromkeys(FLAWS) if one not in MAY_PASS), *MAY_PASS):
            for choice in range(WAYS.get(flaw, 1)):
                if (*at, flaw, choice) not in tried:
                    other = bent(scan, flaw, self.bend(scan, name, choice))
                    if other != scan:
                        tried.add((*at, flaw, choice))
                        return other
        return None

    def twist(self, twist: Twist) -> None:
        """Brings an item into a bath or an assembly to ready, then does what is seldom done there."""
        name = self.items[twist.which % len(self.items)]
        refused = 0
        for _ in range(14):
            if twisting.there(self.world, name, twist.what):
                self.tally.counted[f"twist {twist.what}"] += 1
                for what in twisting.scans_of(self.world, name, twist, self.clock):
                    if isinstance(what, Enrol):
                        self.enrol(what)
                    else:
                        self.ask(what)
                return
            scan = scans.next_scan(self.world, name, self.clock.now(), twist.choice)
            answer = self.ask(scan) if scan is not None else None
            refused += answer is None or not answer.accepted
            if refused > 1:
                return

    def happen(self, event: Event) -> None:
        """Lets something else happen."""
        if event.what in {"repeat", "reuse"}:
            self.again(event)
        elif event.what == "reopen":
            self.reopen()
        elif event.what in {"withdraw", "badge-lost", "faulty", "verified"}:
            self.enrol(happening.enrolment(event, self.clock.now().wall_us))
        else:
            name = self.items[event.which % len(self.items)]
            scan = happening.scan_of(self.world, event, name, self.clock.now().wall_us)
            if scan is not None:
                self.ask(scan)

    def enrol(self, request: Enrol) -> None:
        """Changes who may do what, or what measures."""
        call = EnrolCall(request, "LMG-A", "B-CARA-1", None, self.new_key())
        self.log.append((call, self.clock.copy()))
        answer = enrolment.take(self.department.ledger, LIBRARY, self.clock, call)
        self.verdicts.append(str(answer.verdict))
        self.learn()

    def again(self, event: Event) -> None:
        """Repeats an earlier request with its key, or uses its key for another one (I9)."""
        if not self.asked:
            return
        call, told = self.asked[event.choice % len(self.asked)]
        if event.what == "repeat":
            answer = self.department.desk.take(call)
            assert answer.repeated
            assert as_text(replace(answer, repeated=False)) == told
        else:
            other = replace(call, request=ask.BreakDwell("BLW-1", "dried"), second="B-HUGO-2")
            try:
                self.department.desk.take(other)
            except KeyReusedError:
                pass
            else:
                raise AssertionError(call.key)
        assert not self.learn()

    def reopen(self) -> None:
        """Closes the department and opens it again; everything stands where it stood (I11, I12)."""
        self.department.close()
        self.department = opened(self.path, self.clock)
        for name in self.items:
            self.compare(name)

    def close_the_book(self) -> None:
        """Looks at the whole: every standing, the chain, and the latest answers asked for again."""
        self.reopen()
        for name in self.world["items"]:
            self.compare(name)
        report = self.department.verify(full=self.feed % 3 == 0)
        assert report.sound, report.findings
        for call, told in self.asked[-3:]:
            assert as_text(replace(self.department.desk.take(call), repeated=False)) == told
        assert not self.learn()


def judged(told: list[str]) -> None:
    """Says that nothing was found wrong."""
    assert not told, told


def opened(path: Path, clock: TwoNodes) -> Department:
    """Returns an open department that need not read again the files that another one has read."""
    department = open_department(path, clock=clock)
    return replace(department, desk=Desk(department.ledger, LIBRARY, clock), library=LIBRARY)


def refusal_changed_nothing(answer: Answer, new: list[Row]) -> None:
    """Says that a refusal left nothing but facts in the item's own stream (I2)."""
    own = [row for row in new if row["stream"] == answer.subject]
    if answer.found:
        assert own[0]["kind"] == "step-failed"
        return
    for row in own:
        assert row["kind"] in LEFT_BY_REFUSALS, row["kind"]
        assert row["kind"] != "hold-placed" or row["body"]["rule"] in HOLDS_OF_REFUSALS, row["body"]["rule"]


def copied(template: Path, place: Path) -> Path:
    """Returns a copy of a department that was closed: its database and its key."""
    for suffix in ("-wal", "-shm"):
        place.with_name(place.name + suffix).unlink(missing_ok=True)
    for suffix in ("", ".key"):
        shutil.copyfile(template.with_name(template.name + suffix), place.with_name(place.name + suffix))
    return place
