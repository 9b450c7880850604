"""A good scan with one thing in it wrong: too early, the wrong person, a value out of limits, a clock that jumps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, cast

from reprocess.engine import request as ask
from reprocess.engine.request import Request
from reprocess.rules.asked import Late
from tests.oracle import files
from tests.oracle.fold import World
from tests.properties import scans
from tests.properties.clocks import SECOND_US, TwoNodes
from tests.properties.scans import CLEANER, Scan
from tests.properties.script import BADGES, STATIONS, VALUES

WAYS = {
    "person": len(BADGES), "second": len(BADGES), "station": len(STATIONS), "reading": len(VALUES), "solution": 16,
    "temperature": 9, "other-step": 14, "no": 7, "missing-check": 7, "members": 5, "instrument": 5, "count": 2,
    "paper": 16, "paper-signed": 16, "paper-dwell": 16, "wall-forward": 2, "wall-back": 2, "dry-film": 2,
    "reboot-and-confirm": 4, "dawdle": 3, "strip": 6, "as-it-is": 2, "corrected": 4, "undone": 3,
}  # fmt: skip
"""In how many ways a flaw can show; in one where nothing is said."""
MAY_PASS = (
    "hasty", "undisturbed", "temperature", "solution", "person", "badge", "second", "countersigned", "by-the-other",
    "half-competent", "lapsed", "elsewhere", "cleaner", "paper", "paper-signed", "paper-dwell",
    "undone", "corrected",
)  # fmt: skip
"""Flaws that are sometimes lawful."""
KITS = ("KIT-FLT-1", "KIT-FLT-2", "KIT-FLT-3")


@dataclass(frozen=True, slots=True)
class Bend:
    """Is where a scan is bent: what is on record, what the clocks do, which item, which of several ways."""

    world: World
    clock: TwoNodes
    name: str
    choice: int


def bent(scan: Scan, flaw: str, bend: Bend) -> Scan:
    """Returns the scan with the flaw, or the scan itself where the flaw does not apply to it."""
    if flaw in WAITS:
        timed = scan.wait_s >= 45 if flaw == "hasty" else isinstance(scan.request, ask.EndDwell)
        if not timed and not (flaw == "dry-film" and isinstance(scan.request, ask.Rewet)):
            return scan
        return replace(scan, wait_s=max(0.0, WAITS[flaw](scan.wait_s, bend.choice)))
    if flaw == "dawdle":
        return replace(scan, wait_s=(1_790.0, 1_802.0, 90_000.0)[bend.choice % 3]) if _begins(scan.request) else scan
    if flaw in {"corrected", "undone"}:
        return _taken_back(scan, flaw, bend)
    if flaw == "as-it-is":
        trusting = scans.next_scan(bend.world, bend.name, bend.clock.now(), bend.choice, trusting=True)
        return trusting or scan
    if flaw in PEOPLE:
        return replace(scan, **PEOPLE[flaw](scan, bend))
    if flaw in CLOCKS:
        return CLOCKS[flaw](scan, bend) if isinstance(scan.request, ask.EndDwell | ask.Rewet) else scan
    if flaw == "station":
        return replace(scan, station=STATIONS[bend.choice % len(STATIONS)])
    if flaw in {"paper", "paper-signed"} and isinstance(scan.request, ask.DoStep | ask.EndDwell):
        now = bend.clock.now().wall_us
        away = (bend.choice % 40 + 1) * 60 * SECOND_US
        late = Late(now - away, "FORM-7", now - 2 * away)
        second = "B-CARA-1" if flaw == "paper-signed" else scan.second
        return replace(scan, request=replace(scan.request, late=late), second=second)
    if flaw == "paper-dwell" and isinstance(scan.request, ask.StartDwell):
        return _paper_dwell(scan, scan.request, bend)
    return replace(scan, request=_request(scan.request, flaw, bend))


def _taken_back(scan: Scan, flaw: str, bend: Bend) -> Scan:
    """Returns a correction or an undoing of what was done last: as it should be, alone, by others, too late."""
    rows = bend.world["rows"][bend.name]
    last, actor = rows[-1], f"B-{rows[-1]['actor']}-1" if rows[-1]["actor"] else None
    if flaw == "undone":
        badge = scan.badge if bend.choice == 1 else actor
        return Scan(ask.Undo(bend.name), scan.station, badge, wait_s=(1.0, 1.0, 61.0)[bend.choice % 3])
    said = last["body"].get("checks") or {}
    checks = dict.fromkeys(said, bend.choice != 2)
    second = (None, "B-IRIS-1", "B-IRIS-1", "B-CARA-2")[bend.choice % 4]
    return Scan(ask.Correct(bend.name, last["number"], "misheard", checks=checks), scan.station, "B-CARA-1", second)


def _begins(request: Request) -> bool:
    return isinstance(request, ask.DoStep | ask.StartDwell)


def _paper_dwell(scan: Scan, start: ask.StartDwell, bend: Bend) -> Scan:
    """Returns both ends of a dwell as a form tells them, often too short by a second or of an earlier cycle."""
    step = _steps(bend)[start.step]
    least_s = int(step["dwell"].get("least_s", 180))
    now, lasted_s = bend.clock.now().wall_us, least_s + (-1, 0, 0, 60)[bend.choice % 4]
    ended = now - (0, 60, 900, 7_200)[bend.choice // 4 % 4] * SECOND_US
    late = Late(ended, "FORM-8", ended - lasted_s * SECOND_US)
    said = scans.checks_of(step), scans.readings_of(step)
    request = ask.EndDwell(bend.name, start.step, start.temp_c, *said, late=late, solution=start.solution)
    return replace(scan, request=request, second="B-CARA-1" if bend.choice % 5 else scan.second)


WAITS: dict[str, Callable[[float, int], float]] = {
    "early": lambda wait, _: wait - 1,
    "early-by-a-millisecond": lambda wait, _: wait - 0.001,
    "dry-film": lambda wait, choice: wait + 15 + choice,
    "over-soaked": lambda wait, choice: wait + 1_700 + 100 * choice,
    "hasty": lambda _, __: 0.0,
}
PEOPLE: dict[str, Callable[[Scan, Bend], dict[str, Any]]] = {
    "person": lambda _, bend: {"badge": BADGES[bend.choice % len(BADGES)]},
    "badge": lambda scan, _: {"badge": scan.badge[:-1] + "2" if scan.badge else None},
    "nobody": lambda _, __: {"badge": None},
    "second": lambda _, bend: {"second": BADGES[bend.choice % len(BADGES)]},
    "countersigned": lambda _, __: {"second": "B-BEN-1"},
    "alone": lambda _, __: {"second": None},
    "cleaner": lambda scan, _: {"badge": CLEANER[scan.station[:3]]},
    "half-competent": lambda _, __: {"badge": "B-DINO-1"},
    "lapsed": lambda _, __: {"badge": "B-EMMA-1"},
    "elsewhere": lambda _, __: {"badge": "B-FINN-1"},
    "by-the-other": lambda scan, _: {"badge": scan.second, "second": scan.badge},
    "same-person": lambda scan, _: {"second": scan.badge},
}


def _sleep(scan: Scan, bend: Bend) -> Scan:
    bend.clock.sleep(scan.wait_s)
    return replace(scan, wait_s=0.0)


def _reboot(scan: Scan, bend: Bend) -> Scan:
    bend.clock.push(scan.wait_s / 2)
    bend.clock.reboot(scan.wait_s / 4)
    return replace(scan, wait_s=scan.wait_s / 4 + 1)


def _confirmed(scan: Scan, bend: Bend) -> Scan:
    """Returns the end after a restart, by two people; or too early, or by one, or by one with two badges."""
    early = bend.choice % 4 == 1
    scan = _reboot(replace(scan, wait_s=scan.wait_s / 2) if early else scan, bend)
    if not isinstance(scan.request, ask.EndDwell):
        return scan
    second = ("B-BEN-2", "B-BEN-2", None, scan.badge[:-1] + "2" if scan.badge else None)[bend.choice % 4]
    return replace(scan, request=replace(scan.request, undisturbed=True), second=second)


def _confirmed_no(scan: Scan, bend: Bend) -> Scan:
    scan = _confirmed(scan, replace(bend, choice=0))
    return replace(scan, request=_request(scan.request, "no", bend))


def _swap(scan: Scan, bend: Bend) -> Scan:
    bend.clock.push(scan.wait_s)
    bend.clock.swap()
    return replace(scan, wait_s=0.0)


def _forward(scan: Scan, bend: Bend) -> Scan:
    bend.clock.step(3_600)
    return replace(scan, wait_s=max(0.0, scan.wait_s - 1 - bend.choice % 60))


def _back(scan: Scan, bend: Bend) -> Scan:
    bend.clock.step(-3_600)
    return replace(scan, wait_s=max(0.0, scan.wait_s - bend.choice % 2))


def _future(scan: Scan, bend: Bend) -> Scan:
    bend.clock.step(scan.wait_s)
    return replace(scan, wait_s=1.0)


CLOCKS: dict[str, Callable[[Scan, Bend], Scan]] = {
    "sleep-through": _sleep,
    "reboot-through": _reboot,
    "reboot-and-confirm": _confirmed,
    "confirm-a-no": _confirmed_no,
    "swap-through": _swap,
    "wall-forward": _forward,
    "wall-back": _back,
    "in-the-future": _future,
}


def _request(request: Request, flaw: str, bend: Bend) -> Request:
    choice = bend.choice
    said: dict[str, Any] = {one: dict(getattr(request, one, None) or {}) for one in ("checks", "readings", "counts")}
    if flaw in LINES and said[LINES[flaw]]:
        key = LINES[flaw]
        bent: Any = request
        return cast("Request", replace(bent, **{key: _line(said[key], flaw, choice)}))
    if flaw == "instrument" and isinstance(request, ask.DoStep) and request.instrument:
        return replace(request, instrument=("FLOW-2", "FLOW-4", "LAMP-1", "FLOW-3", "FLOW-X")[choice % 5])
    if flaw == "no-instrument" and isinstance(request, ask.DoStep):
        return replace(request, instrument=None)
    if isinstance(request, ask.StartDwell | ask.EndDwell):
        if flaw == "temperature" and request.temp_c is not None:
            return replace(request, temp_c=("19.9", "20", "25.1", "43", "43.1", "NaN", "35", "60", "22")[choice % 9])
        if flaw == "no-temperature":
            return replace(request, temp_c=None)
    if isinstance(request, ask.StartDwell) and request.solution is not None:
        if flaw == "solution":
            return replace(request, solution=a_solution(bend.world, choice))
        if flaw == "no-solution":
            return replace(request, solution=None)
    if flaw == "strip" and isinstance(request, ask.TestSolution):
        return _other_strip(request, choice)
    if flaw == "members" and isinstance(request, ask.Assemble):
        return _other_members(request, choice)
    if flaw == "done-for-dwell" and isinstance(request, ask.StartDwell):
        return _as_done(_steps(bend)[request.step], bend)
    return _other_step(bend) if flaw == "other-step" else request


LINES = {
    "no": "checks",
    "missing-check": "checks",
    "reading": "readings",
    "no-readings": "readings",
    "count": "counts",
    "no-counts": "counts",
}


def _line(said: dict[str, Any], flaw: str, choice: int) -> dict[str, Any]:
    """Returns the lines of a step with one of them wrong or gone."""
    line = sorted(said)[choice % len(said)]
    match flaw:
        case "no":
            return {**said, line: False}
        case "reading":
            return {**said, line: VALUES[choice % len(VALUES)]}
        case "count":
            return {**said, line: said[line] + (1 if choice // 2 % 2 else -1)}
        case "missing-check":
            return {one: value for one, value in said.items() if one != line}
        case _:
            return {}


def _other_strip(request: ask.TestSolution, choice: int) -> ask.TestSolution:
    match choice % 6:
        case 0 | 1 | 2:
            return replace(request, read_after_s=(74, 91, None)[choice % 6])
        case 3:
            return replace(request, strip_expiry_us=request.strip_expiry_us - 3 * scans.DAY_US)
        case _:
            return replace(request, reading=("NaN", "49.99,", "0.29")[choice % 3])


def _other_members(request: ask.Assemble, choice: int) -> ask.Assemble:
    match choice % 5:
        case 0:
            return replace(request, members=request.members[1:])
        case 1:
            return replace(request, members=(*request.members, KITS[2]))
        case 2 | 3:
            other = KITS[2] if choice % 5 == 2 else KITS[1]
            return replace(request, members=tuple(other if one == KITS[0] else one for one in request.members))
        case _:
            return replace(request, configuration="three-port-canister")


def _steps(bend: Bend) -> dict[str, files.File]:
    return files.steps_of(bend.world["files"][bend.world["items"][bend.name]["digest"]])


def _other_step(bend: Bend) -> Request:
    steps = list(_steps(bend).values())
    step = steps[bend.choice % len(steps)]
    if step.get("reaches") == "ready":
        return ask.Release(bend.name, scans.checks_of(step))
    if "dwell" in step:
        temp = "22" if bend.choice % 2 else "30"
        return ask.StartDwell(bend.name, step["step"], a_solution(bend.world, bend.choice), None, temp)
    return _as_done(step, bend)


def _as_done(step: files.File, bend: Bend) -> Request:
    tool = scans.TOOLS.get(("LMG", step.get("instrument", "")))
    said = scans.checks_of(step), scans.readings_of(step), scans.counts_of(step)
    return ask.DoStep(bend.name, step["step"], *said, tool)


def a_solution(world: World, choice: int) -> str | None:
    """Returns one of the solutions on record."""
    known = sorted(world["solutions"])
    return known[choice % len(known)] if known else None
