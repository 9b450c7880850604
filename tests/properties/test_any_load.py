"""However loads are scanned, ended, failed, counted and used: nothing is ready on a load that does not count.

The judge below knows the stored words alone, in the order of the whole record; it asks nothing of the engine.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from reprocess.engine import request as asking
from reprocess.engine.request import Request
from tests.engine.floor import Floor, opened, prepare
from tests.engine.loading import a_washer, bowls, record_of
from tests.oracle.rows import rows_of

ITEMS = ("BWL-1", "BWL-2", "BWL-3")
GOOD = ({"wash_min": "5"}, {"cycle-whole": True})
PEOPLE = ("anna", "ben", "dan")
SHARED_MEMORY = Path("/dev/shm")  # noqa: S108 - a folder of its own is made in it

Action = tuple[str, int, tuple[str, ...], int]
"""A verb, which load (0 is the latest one), which items, and a number."""
SOME = st.lists(st.sampled_from(ITEMS), min_size=1, max_size=3, unique=True).map(tuple)
WHICH = st.sampled_from((0, 0, 0, 1))
VERBS = (
    *("wash",) * 8, *("finish",) * 8, "run", "run", "good", "good", "out", "open", "add", "remove", "start", "recount",
    "short", "none", "bad", "late-good", "late-bad", "power", "absent", "fail", "fail", "rinse", "rinse", "inspect",
    "release", "used", "undo", "issue", "lift",
)  # fmt: skip
ACTIONS = st.tuples(st.sampled_from(VERBS), WHICH, SOME, st.integers(0, 3))
SCRIPTS = st.lists(ACTIONS, min_size=6, max_size=30)


class Run:
    """Plays one script, each action by whoever is next, and counts what was reached."""

    def __init__(self, floor: Floor, reached: Counter[str]) -> None:
        self.floor = floor
        self.reached = reached
        self.turn = 0
        self.loads = ["LD-0", "LD-0"]

    def play(self, script: list[Action]) -> None:
        for verb, which, items, number in script:
            if verb in {"run", "open", "wash"}:
                self.loads.append(f"LD-{len(self.loads)}")
            load = self.loads[-1 - which] if verb not in {"run", "open", "wash"} else self.loads[-1]
            for request, second in self.requests(verb, load, items, number):
                self.turn += 1
                self.floor.clock.push(300 if verb in {"run", "wash"} else 5)
                who = PEOPLE[self.turn % 3]
                answer = self.floor.ask(request, who, second=PEOPLE[(self.turn + 1) % 3] if second else None)
                self.reached[f"{request.asked} {answer.verdict}"] += 1

    def requests(self, verb: str, load: str, items: tuple[str, ...], number: int) -> Iterator[tuple[Request, bool]]:
        match verb:
            case "wash":
                yield from self.requests("run", load, items, number)
                yield from self.more("good", load, items)
                yield asking.UnloadLoad(load, items if number else items[1:]), False
            case "run":
                for item in items:
                    yield asking.DoStep(item, "rinse"), False
                yield asking.OpenLoad(load, "WD-1", "P90"), False
                yield asking.AddToLoad(load, items), False
                yield asking.StartLoad(load), False
            case "open":
                yield asking.OpenLoad(load, "WD-1", "P90"), False
            case "add":
                yield asking.AddToLoad(load, items), False
            case "remove" | "absent":
                yield asking.RemoveFromLoad(load, items[:1], number if verb == "absent" else None), verb == "absent"
            case "start":
                yield asking.StartLoad(load), False
            case "out" | "recount":
                yield asking.UnloadLoad(load, items, recount=verb == "recount"), verb == "recount"
            case "fail":
                yield asking.FailLoad(load, ("cycle", "power", "calibration", "other")[number], "seen later"), False
            case _:
                yield from self.more(verb, load, items)

    def more(self, verb: str, load: str, items: tuple[str, ...]) -> Iterator[tuple[Request, bool]]:
        record = record_of(("90", 60 + 10 * self.turn))
        match verb:
            case "good" | "bad" | "short":
                text = record_of(("90", 30)) if verb == "short" else record
                yield asking.EndLoad(load, text, "LG-1", *GOOD, {"cleaning": verb != "bad"}), False
            case "none":
                yield asking.EndLoad(load), False
            case "late-good" | "late-bad":
                yield asking.EndLoad(load, indicators={"cleaning": verb == "late-good"}), False
            case "power":
                yield asking.EndLoad(load, record, "LG-1", *GOOD, {"cleaning": True}, interrupted=True), False
            case _:
                for item in items:
                    yield from self.about(verb, item)

    def about(self, verb: str, item: str) -> Iterator[tuple[Request, bool]]:
        inspect = asking.DoStep(item, "inspect", {"whole": True})
        match verb:
            case "rinse":
                yield asking.DoStep(item, "rinse"), False
            case "inspect":
                yield inspect, False
            case "release":
                yield asking.Release(item), False
            case "finish":
                yield inspect, False
                yield asking.Release(item), False
            case "used":
                yield asking.Contaminate(item, "used"), False
            case "undo":
                yield asking.Undo(item), False
            case "issue":
                yield asking.IssueItem(item, None, "ward-7", "emergency"), False
            case "lift":
                holds = sorted(self.floor.item(item).holds)
                yield asking.LiftHold(item, holds[0] if holds else "none", "settled"), True
            case _:
                raise AssertionError(verb)


class Judge:
    """Folds the stored words of items and loads, and says which item may be ready."""

    def __init__(self) -> None:
        self.loads: dict[str, dict[str, Any]] = {}
        self.items: dict[str, dict[str, Any]] = {}

    def learn(self, stream: str, number: int, kind: str, body: dict[str, Any]) -> None:
        sort, _, name = stream.partition(":")
        if sort == "load":
            self._load(
                self.loads.setdefault(name, {"in": {}, "passed": False, "failed": False, "off": False}), kind, body
            )
        if sort == "item" and name in ITEMS:
            self._item(name, number, kind, body)

    def _load(self, load: dict[str, Any], kind: str, body: dict[str, Any]) -> None:
        match kind:
            case "load-added":
                assert not load["passed"]
                load["in"].update(body["items"])
            case "load-removed":
                load["in"] = {item: cycle for item, cycle in load["in"].items() if item not in body["items"]}
                load["missing"] = set(load.get("missing", ())) - set(body["items"])
            case "load-passed":
                assert not load["failed"]
                load["passed"] = True
            case "load-failed":
                load["failed"] = True
            case "load-unloaded":
                load["missing"] = set(body["missing"])
                load["strange"] = set(load.get("strange", ())) | set(body["strange"])
            case "load-recounted":
                load["missing"] = load["strange"] = set()
            case _:
                pass

    def _item(self, name: str, number: int, kind: str, body: dict[str, Any]) -> None:
        item = self.items.setdefault(name, {"cycle": 1, "heat": None, "ready": False, "holds": set()})
        match kind:
            case "item-contaminated":
                item.update(cycle=body["cycle"], heat=None, ready=False)
            case "dwell-ended":
                load = self.loads[body["load"]]
                assert load["passed"]
                assert load["in"][name] == item["cycle"], "a load counts for the cycle in which the item went in"
                assert float(body["dose_a0_s"]) >= 600
                item.update(heat=body["load"], heat_number=number)
            case "steps-fell":
                item["ready"] = item["ready"] and "release" not in body["fell"] and not body["fell"]
                item["heat"] = None if "heat" in body["fell"] else item["heat"]
            case "hold-placed":
                item["holds"].add(body["hold"])
            case "hold-lifted":
                item["holds"].discard(body["hold"])
            case "item-released":
                load = self.loads[item["heat"]]
                assert body["evidence"]["heat"] == item["heat_number"]
                assert load["passed"]
                assert not load["failed"], "nothing is released on a load that failed"
                assert not load.get("missing"), "nothing is released on a load that was miscounted"
                assert not load.get("strange")
                assert not item["holds"]
                item["ready"] = True
            case _:
                pass

    def settle(self) -> None:
        """Asserts what must hold once a whole request is on record."""
        for name, item in self.items.items():
            if item["ready"]:
                assert not self.loads[item["heat"]]["failed"], f"{name} is ready on a load that failed"
                assert name in self.loads[item["heat"]]["in"], f"{name} is ready on a load that it never was in"


def judged(path: Path) -> Judge:
    """Returns the judge after the whole record, settled after each request."""
    with closing(sqlite3.connect(path)) as connection:
        rows = list(rows_of(connection))
    undone = {(row["stream"], n) for row in rows if row["kind"] == "entry-undone" for n in row["body"]["numbers"]}
    judge = Judge()
    key = None
    for row in rows:
        if row["key"] != key:
            judge.settle()
        key = row["key"]
        if (row["stream"], row["number"]) not in undone:
            judge.learn(row["stream"], row["number"], row["kind"], row["body"])
    judge.settle()
    return judge


@pytest.fixture(scope="module")
def template() -> Iterator[Path]:
    """Yields the folder of a closed department with a washer and three rinsed bowls, and room beside it."""
    with TemporaryDirectory(dir=SHARED_MEMORY if SHARED_MEMORY.is_dir() else None) as place:
        folder = Path(place)
        (folder / "first").mkdir()
        prepare(folder / "first")
        floor = opened(folder / "first", folder / "second")
        with floor.department:
            a_washer(floor)
            bowls(floor, 3)
        yield folder / "second" / "larkmoor"


def test_nothing_is_ready_on_a_load_that_failed_or_is_not_finished(
    template: Path, pytestconfig: pytest.Config, record_property: Any
) -> None:
    """G11, W03-W08: see `Judge`; a run that seldom gets anywhere fails."""
    reached: Counter[str] = Counter()
    ready = 0
    long = bool(pytestconfig.getoption("--long"))

    @settings(
        max_examples=2000 if long else 60, derandomize=not long, deadline=None, database=None,
        suppress_health_check=list(HealthCheck), phases=(Phase.generate,),
    )  # fmt: skip
    @given(SCRIPTS)
    def play(script: list[Action]) -> None:
        nonlocal ready
        with TemporaryDirectory(dir=template.parent.parent) as place:
            floor = opened(template, Path(place))
            floor.clock.ids = 5_000_000
            with floor.department:
                Run(floor, reached).play(script)
                for name in ITEMS:
                    floor.assert_kept_whole(name)
            judge = judged(Path(place) / "larkmoor" / "larkmoor.db")
            ready += sum(item["ready"] for item in judge.items.values())

    play()
    record_property("items ready at the end", ready)
    record_property("what was reached", dict(sorted(reached.items())))
    assert ready > 10
    for asked in (
        "end-load accepted",
        "fail-load held",
        "unload-load held",
        "unload-load accepted",
        "release accepted",
    ):
        assert reached[asked], (asked, reached)
