"""One day at Larkmoor General, Thursday 5 March 2026, refusals and all. Every name and number is invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

from reprocess.clock import StoryClock, keep
from reprocess.demo.crew import Crew
from reprocess.demo.teller import Teller
from reprocess.department import Department, found_department
from reprocess.engine import request as asking
from reprocess.founding import day_us
from reprocess.rules.answer import Answer
from reprocess.terms import DAY_S, SECOND_US, instant

START = datetime(2026, 3, 5, 6, 50, tzinfo=UTC)
KITS = range(41, 50)


@dataclass(frozen=True, slots=True)
class Told:
    """Is what the demo leaves: how many scans and refusals, and everything told, for `--json`."""

    scans: int
    refusals: int
    entries: int
    sound: bool
    told: list[dict[str, Any]]


def found(path: Path) -> tuple[Department, StoryClock]:
    """Returns the demo's department, newly made, with its clock at the start of the day."""
    clock = StoryClock(instant(START))
    text = files("reprocess.demo").joinpath("larkmoor.yaml").read_text(encoding="utf-8")
    return found_department(path, text, name="larkmoor.yaml", clock=clock), clock


def play(path: Path, say: Callable[[str], None]) -> Told:
    """Plays the day in a new department and returns what it came to; the database keeps its own "now"."""
    department, clock = found(path)
    keep(clock, path)
    with department:
        crew, teller = Crew(department, clock), Teller(clock, say)
        for act in (_morning, _shortcuts, _film, _separation, _lapsed, _whole_kit, _ports, _worn, _bath, _evening):
            act(crew, teller)
        report = department.verify(full=True)
        teller.scene("The day is verified: every entry's words, chain and seal.")
        teller.line(
            f"{'Sound' if report.sound else 'NOT SOUND'}: {report.entries} entries of {report.streams} streams."
        )
        keep(clock, path)
        return Told(crew.scans, len(crew.refused), report.entries, report.sound, teller.told)


def _until(clock: StoryClock, hour: int, minute: int) -> None:
    at = instant(START.replace(hour=hour, minute=minute))
    clock.push(max(0, (at - clock.wall_us) / SECOND_US))


def lasting(days: int) -> int:
    """Returns the end of something that lasts so many days from the story's day on."""
    return day_us("2026-03-05", "Europe/London") + days * DAY_S * SECOND_US


def _morning(crew: Crew, teller: Teller) -> None:
    _until(crew.clock, 7, 5)
    teller.scene("Shift change. Nine used respirators are dropped at the return hatch within four minutes.")
    for number in KITS:
        crew.clock.push(25)
        used = crew.clock.wall_us - 20 * 60 * SECOND_US
        for item in (f"KIT-{number:03d}", *_parts_of(number)):
            crew.scan("joss", asking.Contaminate(item, "used", use_ended_us=used), station="LMG-HATCH")
    stages = [one.stage for one in crew.department.items(site="LMG")]
    teller.line(f"{len(KITS)} kits with {len(KITS) * 7} parts wait, all used: {stages.count('used')} items in all.")
    crew.scan("mirela", asking.MakeSolution("LMG-W1", "quat-alcohol-wipe", "Q-118", lasting(200)))
    crew.scan("mirela", asking.MakeSolution("LMG-W2", "hydrogen-peroxide-wipe", "H-042", lasting(150)))
    made = asking.MakeSolution(
        "LMG-B2",
        "hypochlorite-50ppm",
        "C-7F",
        lasting(60),
        stock_percent="5.25",
        one_in="1000",
        water_l="10",
        temp_c="38",
    )
    teller.answer("mirela", "make bath LMG-B2, 1 in 1000 of 5.25 % stock", crew.scan("mirela", made))
    _until(crew.clock, 8, 10)
    teller.answer("mirela", "strip test of LMG-B2 reads 52 ppm", crew.scan("mirela", _strip("LMG-B2", "52")))


def _parts_of(number: int) -> tuple[str, ...]:
    return (
        f"BLW-{number:03d}",
        f"TUB-{number + 70}",
        f"HCV-{number:03d}",
        f"FLT-{2 * number:03d}",
        f"FLT-{2 * number + 1:03d}",
        f"BAT-{number:03d}",
        f"BLT-{number:03d}",
    )


def _strip(solution: str, reading: str) -> asking.TestSolution:
    return asking.TestSolution(solution, "S-31", lasting(90), reading=reading, read_after_s=80)


def _shortcuts(crew: Crew, teller: Teller) -> None:
    teller.scene("Mirela is in a hurry with blower 041 and reaches for the disinfectant first.")
    start = asking.StartDwell("BLW-041", "disinfect", "LMG-W1")
    teller.answer("mirela", "BLW-041 disinfect start in LMG-W1", crew.scan("mirela", start))
    teller.line("She cleans it first. Then the phone rings during the contact, and she wants to be done with it.")
    crew.take("BLW-041", "cleaned")
    crew.clock.push(20)
    crew.scan("mirela", start)
    for wait in (85, 80):
        crew.clock.push(wait)
        teller.ring(crew.department)
        crew.scan("mirela", asking.Rewet("BLW-041"))
    crew.clock.push(14)
    done = asking.EndDwell("BLW-041", "disinfect")
    teller.answer("mirela", "BLW-041 disinfect done, at 2:59", crew.scan("mirela", done))
    crew.clock.push(1)
    teller.answer("mirela", "BLW-041 disinfect done, at 3:00", crew.scan("mirela", done))


def _film(crew: Crew, teller: Teller) -> None:
    crew.take("TUB-117", "cleaned")
    teller.scene("Tube 117: at 2:31 of 3:00 Mirela sees that the film has dried, and says so.")
    start = asking.StartDwell("TUB-117", "disinfect", "LMG-W1")
    crew.scan("mirela", start)
    crew.clock.push(80)
    crew.scan("mirela", asking.Rewet("TUB-117"))
    crew.clock.push(71)
    dried = crew.scan("mirela", asking.BreakDwell("TUB-117", "dried"))
    teller.answer("mirela", "TUB-117 disinfect dried", dried)
    teller.line("She wets it and starts again at zero; parts of a contact are never added up.")
    crew.clock.push(5)
    crew.scan("mirela", start)
    for wait in (80, 80):
        crew.clock.push(wait)
        crew.scan("mirela", asking.Rewet("TUB-117"))
    crew.clock.push(24)
    done = crew.scan("mirela", asking.EndDwell("TUB-117", "disinfect"))
    teller.answer("mirela", "TUB-117 disinfect done, second attempt, 3:04", done)
    crew.take("TUB-117", "rinse")


def _separation(crew: Crew, teller: Teller) -> None:
    crew.take("BLW-041", "dried")
    teller.scene("Blower 041 is dry. Mirela, who cleaned it, also wants to inspect it.")
    step = crew.department.part("BLW-041")
    checks = {}
    if step is not None and (inspect := step.workflow.step_named("inspect")) is not None:
        checks = {one.check: True for one in inspect.checks}
    look = asking.DoStep("BLW-041", "inspect", checks)
    teller.answer("mirela", "BLW-041 inspect pass", crew.scan("mirela", look, station="LMG-C1"))
    teller.line("Petra inspects it instead, tests the flow with indicator FI-09, and Joss releases it.")
    crew.take("BLW-041", "ready")


def _lapsed(crew: Crew, teller: Teller) -> None:
    teller.scene("Quillon starts on blower 042; his competencies ended at midnight.")
    crew.scan("mirela", _apart(crew, "BLW-042"))
    crew.clock.push(90)
    teller.answer("quillon", "BLW-042 clean", crew.scan("quillon", asking.DoStep("BLW-042", "clean")))


def _apart(crew: Crew, item: str) -> asking.DoStep:
    part = crew.department.part(item)
    step = part.workflow.step_named("take-apart") if part is not None else None
    checks = {one.check: True for one in step.checks} if step is not None else {}
    counts = {one.count: one.exactly or 0 for one in step.counts} if step is not None else {}
    return asking.DoStep(item, "take-apart", checks, {}, counts)


def _whole_kit(crew: Crew, teller: Teller) -> None:
    teller.scene("The bench works on: the parts of kits 041 and 042 go through their workflows.")
    before = crew.scans
    for number in (41, 42):
        for item in _parts_of(number):
            crew.take(item, "ready", solution="LMG-B2")
    ready = [one.item for one in crew.department.items(site="LMG", stage="ready")]
    teller.line(f"{crew.scans - before} scans later {len(ready)} parts are ready.")
    assembled = assemble(crew, "KIT-041", 41, plugs=1, gaskets=2)
    teller.answer("petra", "assemble KIT-041: two filters, one plug, two gaskets", assembled)
    crew.take("KIT-041", "ready")
    teller.line("The flow is confirmed again with this very assembly, and Joss releases KIT-041.")


def assemble(crew: Crew, kit: str, number: int, *, plugs: int, gaskets: int) -> Answer:
    """Returns the answer to putting the parts of that number together as a kit."""
    part = crew.department.part(kit)
    step = part.workflow.step_named("assemble") if part is not None else None
    checks = {one.check: True for one in step.checks} if step is not None else {}
    counts = {"plugs": plugs, "gaskets": gaskets}
    crew.clock.push(180)
    request = asking.Assemble(kit, "three-port-hepa", _parts_of(number), counts, checks)
    return crew.scan("petra", request)


def _ports(crew: Crew, teller: Teller) -> None:
    teller.scene("Kit 052 at assembly: two filters are on, and the third port is empty.")
    teller.answer("petra", "assemble KIT-052: no plug", assemble(crew, "KIT-052", 42, plugs=0, gaskets=2))
    teller.line("A plug from the cup is processed stock; with it the ports are closed.")
    teller.answer("petra", "assemble KIT-052: one plug", assemble(crew, "KIT-052", 42, plugs=1, gaskets=2))


def _worn(crew: Crew, teller: Teller) -> None:
    crew.take("KIT-052", "ready")
    teller.scene("Kit 052 is ready. Bram teaches how to wear it; Hedda watches him. He is in a hurry.")
    part = crew.department.part("KIT-052")
    wearing = part.workflow.wearing if part is not None else None
    last = wearing.put_on[-1] if wearing is not None else None
    checks = {one.check: True for one in last.checks} if last is not None else {}
    hasty = asking.PutOn("KIT-052", "head-cover", checks)
    teller.answer("bram", "KIT-052 put on the head cover first", crew.scan("bram", hasty))
    crew.wear("bram", "hedda", "KIT-052")
    teller.line("Then he looks at tube, cover, gaskets, plug, charge, flow and strap, in order, and wears it.")
    crew.clock.push(2400)
    alarm = crew.scan("bram", asking.TellSignal("KIT-052", "low-battery"))
    teller.answer("bram", "KIT-052: the alarm sounds", alarm)
    crew.take_off("bram", "hedda", "KIT-052", ("soil",))
    teller.line(f"Taken off in order; kit 052 and every part of it is {crew.department.item('KIT-052').stage}, soiled.")


def _bath(crew: Crew, teller: Teller) -> None:
    for number in (43, 44):
        crew.take(f"TUB-{number + 70}", "disinfected", solution="LMG-B2")
    crew.take("TUB-115", "cleaned")
    _until(crew.clock, 15, 59)
    soak = asking.StartDwell("TUB-115", "disinfect", "LMG-B2", None, "38")
    crew.scan("mirela", soak)
    _until(crew.clock, 16, 0)
    teller.scene("Afternoon test of bath LMG-B2: the strip reads 35 ppm. The last pass was this morning.")
    failed = crew.scan("mirela", _strip("LMG-B2", "35"))
    teller.answer("mirela", "strip test of LMG-B2 reads 35 ppm", failed)
    kit = crew.department.item("KIT-041")
    teller.line(f"KIT-041 holds one of those tubes; it was ready, it is {kit.stage} now.")
    crew.clock.push(40)
    try_it = crew.scan("joss", asking.Release("KIT-041", _release_checks(crew, "KIT-041")))
    teller.answer("joss", "KIT-041 release, all the same", try_it)


def _release_checks(crew: Crew, item: str) -> dict[str, bool]:
    part = crew.department.part(item)
    return {one.check: True for one in part.workflow.release_step.checks} if part is not None else {}


def _evening(crew: Crew, teller: Teller) -> None:
    _until(crew.clock, 16, 40)
    crew.scan("petra", asking.StartDwell("TUB-117", "dry"))
    _until(crew.clock, 17, 30)
    teller.scene("End of the shift: the bell rings what nobody has seen to, once each.")
    rang = teller.ring(crew.department)
    teller.line(f"{rang} reminders; a second look rings nothing again: {teller.ring(crew.department)}.")
    teller.scene("What was refused today, by rule:")
    rules: dict[str, int] = {}
    for answer in crew.refused:
        for rule in answer.rules():
            rules[rule] = rules.get(rule, 0) + 1
    teller.line(", ".join(f"{rule} {times}x" for rule, times in sorted(rules.items())))
    stages: dict[str, int] = {}
    for one in crew.department.items(site="LMG"):
        stages[one.stage] = stages.get(one.stage, 0) + 1
    held = sum(1 for one in crew.department.items(site="LMG") if one.held)
    teller.line(f"Items: {', '.join(f'{count} {stage}' for stage, count in stages.items())}; {held} on hold.")
