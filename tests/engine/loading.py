"""The words of a table line about a load, and the machine, logger and bowls that such tests play with.

LD-1 load-open WD-1 P90             a load for a machine and a programme
LD-1 load-add BWL-1 BWL-2           items go in; load-remove BWL-1; load-absent BWL-1 counted=3
LD-1 load-start
LD-1 load-end held 90 60            a record of 60 s at 90 degC, all else good; `held 90 60 held 70 10`, one after
                                    the other; `no-record`, `file NAME` of tests/engine/loading.FILES
LD-1 load-end held 90 60 without cleaning wash_min · wash_min=4 · no cycle-whole · bad cleaning
LD-1 load-end held 90 60 by-hand · interrupted · resumed ST-7 · with LG-2
LD-1 load-end only cleaning · only bad cleaning     an indicator that is read later
LD-1 load-out BWL-1 BWL-2           scanned out, the last of them; load-out BWL-1 more; load-recount BWL-1 BWL-2
LD-1 load-fail calibration the logger was off
"""

from __future__ import annotations

from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission, Enrol
from reprocess.engine.request import Request
from reprocess.record import words as bodies
from reprocess.record.words import Body
from reprocess.terms import DAY_S, SECOND_US, StreamKind, stream
from tests.engine.floor import BADGES, Floor

EVERY_S = 10
"""Seconds between two samples of a record in these tests."""
FILES: dict[str, str] = {}


def record_of(*parts: tuple[str, int]) -> str:
    """Returns a logger's file: so many seconds at each temperature, a sample every ten seconds."""
    rows = ["seconds,degC"]
    at_s = 0
    for celsius, seconds in parts:
        rows += [f"{at_s + second},{celsius}" for second in range(0, seconds + 1, EVERY_S)]
        at_s += seconds + EVERY_S
    return "\n".join(rows) + "\n"


def load_request(load: str, verb: str, rest: str) -> Request:
    """Returns the request that a line about a load means."""
    plain = [word for word in rest.split() if "=" not in word]
    pairs = dict(word.split("=") for word in rest.split() if "=" in word)
    match verb:
        case "load-open":
            return asking.OpenLoad(load, plain[0], plain[1])
        case "load-add":
            return asking.AddToLoad(load, tuple(plain))
        case "load-remove" | "load-absent":
            counted = int(pairs["counted"]) if "counted" in pairs else None
            return asking.RemoveFromLoad(load, tuple(plain), counted)
        case "load-start":
            return asking.StartLoad(load)
        case "load-out":
            return asking.UnloadLoad(load, tuple(word for word in plain if word != "more"), more="more" in plain)
        case "load-recount":
            return asking.UnloadLoad(load, tuple(plain), recount=True)
        case "load-fail":
            return asking.FailLoad(load, plain[0], " ".join(plain[1:]))
        case "load-end":
            return _end(load, plain, pairs)
        case _:
            raise AssertionError(verb)


def _end(load: str, plain: list[str], pairs: dict[str, str]) -> Request:
    if plain[0] == "only":
        return asking.EndLoad(load, indicators={plain[-1]: "bad" not in plain})
    left_out = _after(plain, "without")
    given = {"wash_min": "5", **pairs}
    checks = {"cycle-whole": "cycle-whole" not in _after(plain, "no")}
    indicators = {"cleaning": "cleaning" not in _after(plain, "bad")}
    return asking.EndLoad(
        load,
        _record(plain),
        next(iter(_after(plain, "with")), "LG-1"),
        {name: value for name, value in given.items() if name not in left_out},
        {name: good for name, good in checks.items() if name not in left_out},
        {name: good for name, good in indicators.items() if name not in left_out},
        "by-hand" in plain,
        "interrupted" in plain,
        next(iter(_after(plain, "resumed")), None),
    )


def _record(plain: list[str]) -> str | None:
    if "file" in plain:
        return FILES[_after(plain, "file")[0]]
    parts = [(plain[at + 1], int(plain[at + 2])) for at, word in enumerate(plain) if word == "held"]
    return record_of(*parts) if parts else None


STOPS = ("held", "without", "no", "bad", "with", "resumed", "by-hand", "interrupted", "file")


def _after(plain: list[str], word: str) -> list[str]:
    if word not in plain:
        return []
    found = []
    for one in plain[plain.index(word) + 1 :]:
        if one in STOPS:
            break
        found.append(one)
    return found


def enrol(floor: Floor, subject: str, body: Body) -> None:
    """Puts something about an instrument on record."""
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    assert office.enrol(Enrol(stream(StreamKind.INSTRUMENT, subject), body)).accepted


def passes_its_test(floor: Floor, machine: str) -> None:
    """Lets a machine pass its test of today."""
    until_us = floor.clock.now().wall_us + DAY_S * SECOND_US
    enrol(floor, machine, bodies.InstrumentVerified(until_us=until_us, reference="daily test"))


def a_washer(floor: Floor) -> None:
    """Sets up WD-1, tested today, with the programmes P90 and P80, and the logger LG-1."""
    enrol(floor, "WD-1", bodies.InstrumentRegistered(sort="washer", site="LMG"))
    enrol(floor, "LG-1", bodies.InstrumentRegistered(sort="temperature-logger", site="LMG"))
    passes_its_test(floor, "WD-1")
    passes_its_test(floor, "LG-1")
    for name, hottest in (("P90", "93"), ("P80", "82")):
        assert floor.ask(asking.SetProgramme("WD-1", name, hottest, 2400), "cora", second="ben").accepted


def bowls(floor: Floor, count: int, workflow: str = "bowl", prefix: str = "BWL") -> list[str]:
    """Returns that many used bowls, each rinsed; a cup goes into the machine as it comes."""
    names = [f"{prefix}-{number}" for number in range(1, count + 1)]
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    for name in names:
        assert office.enrol(Commission(name, workflow, "LB-1")).accepted
        if floor.workflow(name).step_named("rinse") is not None:
            rinsed = floor.ask(asking.DoStep(name, "rinse"))
            assert rinsed.accepted, rinsed.reasons
    return names


def runs(floor: Floor, load: str, names: list[str], *, programme: str = "P90", for_s: int = 2400) -> None:
    """Makes up a load, starts it, and lets the machine run."""
    for request in (
        asking.OpenLoad(load, "WD-1", programme),
        asking.AddToLoad(load, tuple(names)),
        asking.StartLoad(load),
    ):
        answer = floor.ask(request)
        assert answer.accepted, [(one.rule, one.key) for one in answer.reasons]
    floor.clock.push(for_s)


def passes(floor: Floor, load: str, names: list[str]) -> None:
    """Runs a load through to a pass, and scans everything out."""
    runs(floor, load, names)
    ended = floor.ask(_end(load, ["held", "90", "60"], {}))
    assert ended.accepted, [(one.rule, one.key, one.facts) for one in ended.reasons]
    assert floor.ask(asking.UnloadLoad(load, tuple(names))).accepted
