"""What was scanned at a station, and what it asks: codes become things, a command and things become requests.

A scan is believed as a whole: where one code cannot be read, nothing is asked, as it might have been another command.
Facts are the exception, since a fact is never refused.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from reprocess.definitions.model import Step
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.gathering import Library, part_of
from reprocess.gathering.identity import bearer_of
from reprocess.ledger.append import Transaction
from reprocess.rules.scene import Part
from reprocess.scan import code as codes
from reprocess.scan.asset import read_part
from reprocess.scan.command import COMMANDS, Command, Defect, Group, read_command
from reprocess.scan.device_label import read_device_label
from reprocess.scan.identifier import UnreadableLabel
from reprocess.service.seeing import in_sight
from reprocess.service.who import Caller
from reprocess.terms import Stage, StreamKind, as_datetime, stream

UNREADABLE: Final = "unreadable"
UNKNOWN: Final = "unknown"
NUMBER: Final = "number"
_NUMBER: Final = re.compile(r"-?[0-9]{1,5}([.,][0-9]{1,3})?", re.ASCII)
"""What is typed or scanned as a reading or a count; a product's barcode has eight digits at least (GS1, GTIN-8)."""
FACTS: Final = frozenset({"HOLD", "FAIL", "TEST-FAIL", "DRIED-EARLY", "RE-WET", "LOAD-END"})
"""Commands that say what happened."""
OK: Final = frozenset({"CLEAN-CHECK-OK", "PASS", "TEST-PASS"})
"""Commands whose word says yes to every line of a checklist."""
FAILS: Final = frozenset({"FAIL", "TEST-FAIL"})


@dataclass(frozen=True, slots=True)
class Scanned:
    """Is what one string means.

    Attributes:
        seen: a harmless, shortened copy of the string; nothing of a badge.
        sort: item, badge, command, defect, solution, station, place, form, load, instrument, lot, number; else
            `unknown` where nothing of the name is on record, or `unreadable`.
        name: its id, or None where it has none, or may not be shown.
        reason: why it cannot be read or is not known, and what to do.
    """

    seen: str
    sort: str
    name: str | None = None
    reason: str | None = None


@dataclass(slots=True)
class Scan:
    """Is everything that one scan said, with the items' workflows.

    Attributes:
        offered: the step that was shown as the next one; `Yes` and `No` are about it where no command was scanned.
        noes: the lines of its checklist that are not so.
    """

    codes: list[Scanned] = field(default_factory=list)
    badges: list[str] = field(default_factory=list)
    parts: dict[str, Part | None] = field(default_factory=dict)
    offered: str | None = None
    noes: tuple[str, ...] = ()

    def names(self, sort: str) -> list[str]:
        """Returns the ids of one sort in the order in which they were scanned, each once."""
        return list(dict.fromkeys(one.name for one in self.codes if one.sort == sort and one.name is not None))

    @property
    def unread(self) -> list[Scanned]:
        """Returns what cannot be read."""
        return [one for one in self.codes if one.sort == UNREADABLE]

    @property
    def items(self) -> list[str]:
        """Returns the items, and what looks like the tag of one that is not on record."""
        wanted = (one.name for one in self.codes if one.sort in {"item", UNKNOWN} and one.name is not None)
        return list(dict.fromkeys(wanted))

    @property
    def numbers(self) -> list[str]:
        """Returns the readings and counts in the order in which they came, with a point as the decimal sign."""
        return [one.name.replace(",", ".") for one in self.codes if one.sort == NUMBER and one.name is not None]

    @property
    def says_yes(self) -> bool:
        """Tells whether somebody said yes to what was shown."""
        return "YES" in self.names("command")

    @property
    def says_no(self) -> bool:
        """Tells whether somebody said that something is not as it must be."""
        return "NO" in self.names("command")

    def first(self, sort: str) -> str | None:
        """Returns the first id of a sort, or None."""
        return next(iter(self.names(sort)), None)


def understood(read: Transaction, library: Library, who: Caller, strings: Sequence[str], now_us: int) -> Scan:
    """Returns what the strings of one scan mean."""
    scan = Scan()
    for one in strings:
        found = _meaning(read, who, one, as_datetime(now_us).year)
        if found.sort == "badge" and found.name is not None:
            scan.badges.append(found.name)
            found = Scanned("badge", "badge")
        scan.codes.append(found)
    for name in scan.names("item"):
        scan.parts[name] = part_of(read, library, read.item(name))
    return scan


def _meaning(read: Transaction, who: Caller, text: str, year: int) -> Scanned:
    if _NUMBER.fullmatch(text):
        return Scanned(text, NUMBER, text)
    tag = codes.read_code(text)
    seen = codes.echo(text)
    match tag:
        case codes.BadgeTag():
            return Scanned(seen, "badge", tag.id)
        case codes.CommandTag():
            return _command(tag, seen)
        case codes.SolutionTag():
            return _known(read, who, seen, tag.id, (("solution", StreamKind.SOLUTION),))
        case codes.StationTag():
            return _known(read, who, seen, tag.id, (("place", StreamKind.PLACE), ("station", StreamKind.STATION)))
        case codes.FormTag():
            return Scanned(seen, "form", tag.id)
        case codes.ItemTag():
            return _thing(read, who, seen, tag)
        case _:
            return _label(read, who, text, seen, year)


def _command(tag: codes.CommandTag, seen: str) -> Scanned:
    known = read_command(tag)
    if known is None:
        return Scanned(seen, UNREADABLE, tag.id, "That command is on no sheet; scan a command of the sheet.")
    return Scanned(seen, "defect", known.code) if isinstance(known, Defect) else Scanned(seen, "command", known.name)


def _thing(read: Transaction, who: Caller, seen: str, tag: codes.ItemTag) -> Scanned:
    """Returns what an item's tag means; a bare id may also be that of another thing."""
    bearer = tag.id if read.item(tag.id).known else bearer_of(read, tag.id)
    if bearer is not None:
        if in_sight(who, read.item(bearer).site):
            return Scanned(seen, "item", bearer)
        return Scanned(seen, UNKNOWN, None, _not_known(tag.id))
    found = _known(read, who, seen, tag.id, () if tag.checked else _OTHERS)
    return found if found.sort != UNKNOWN else Scanned(seen, UNKNOWN, tag.id, found.reason)


_OTHERS: Final = (
    ("solution", StreamKind.SOLUTION),
    ("load", StreamKind.LOAD),
    ("instrument", StreamKind.INSTRUMENT),
    ("place", StreamKind.PLACE),
    ("lot", StreamKind.LOT),
)


def _known(read: Transaction, who: Caller, seen: str, name: str, sorts: Sequence[tuple[str, StreamKind]]) -> Scanned:
    for sort, kind in sorts:
        state = read.state(stream(kind, name))
        if state.number and in_sight(who, getattr(state, "site", "")):
            return Scanned(seen, sort, name)
    return Scanned(seen, UNKNOWN, None, _not_known(name))


def _not_known(name: str) -> str:
    return f"{name} is not on record; scan it again, or ask a supervisor."


def _label(read: Transaction, who: Caller, text: str, seen: str, year: int) -> Scanned:
    """Returns what a maker's label means: one of our items, a lot on record, or nothing."""
    part = read_part(text, this_year=year)
    if isinstance(part, codes.ItemTag):
        return _thing(read, who, seen, part)
    label = read_device_label(text, this_year=year)
    if isinstance(label, UnreadableLabel):
        return Scanned(seen, UNREADABLE, None, part)
    if label.lot is None:
        return Scanned(seen, UNREADABLE, None, "That label names no part and no lot; scan our own tag.")
    return _known(read, who, seen, label.lot, (("lot", StreamKind.LOT),))


@dataclass(frozen=True, slots=True)
class Ask:
    """Is what must be scanned, or entered, before anything can be asked."""

    what: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Wanted:
    """Is what a scan comes to: requests with their subjects, or what is still to be scanned."""

    command: Command | None = None
    requests: tuple[tuple[str, Request], ...] = ()
    ask: Ask | None = None
    refused: str | None = None


def wanted(scan: Scan, station: str) -> Wanted:
    """Returns the requests that a scan asks for, in the order of its items; or what is missing for one."""
    commands = [name for name in scan.names("command") if COMMANDS[name].group is not Group.ANSWER]
    if len(commands) > 1:
        return Wanted(refused="Two commands in one scan. Scan one, then its items.")
    command = COMMANDS[commands[0]] if commands else _offered(scan)
    if command is None:
        return Wanted(ask=_without_command(scan))
    if scan.says_no and command.step is not None and command.name not in FACTS:
        command = replace(command, name="FAIL", action="fail")
    if scan.unread and command.name not in FACTS:
        return Wanted(command, refused="One code could not be read. Nothing was recorded. Scan all of it again.")
    several = next((one for one in ONE_OF if len(scan.names(one)) > 1), None)
    if several is not None and command.name not in FACTS:
        return Wanted(command, refused=f"Two {several}s in one scan. Nothing was recorded. Scan one, then its items.")
    return _requests(scan, command, station)


ONE_OF: Final = ("solution", "instrument", "load")
"""What a request names one of: which of two was used, nobody can tell."""


def _offered(scan: Scan) -> Command | None:
    """Returns the command that `Yes` or `No` is: of the step that was shown, for one item alone."""
    part = scan.parts.get(scan.items[0]) if len(scan.items) == 1 else None
    step = part.workflow.step_named(scan.offered) if part is not None and scan.offered is not None else None
    if part is None or step is None or step.assembles or not (scan.says_yes or scan.says_no):
        return None
    running = part.standing.dwell is not None and part.standing.dwell.step == step.step
    action = "start" if step.dwell is not None and not running else "done"
    return Command("YES", COMMANDS["YES"].word, Group.ANSWER, step.step, action)


def _without_command(scan: Scan) -> Ask | None:
    if scan.names("defect"):
        return Ask("command", "Scan Fail or Test fail as well, so that the step is known.")
    if scan.items or scan.names("solution") or scan.names("load"):
        return Ask("command", "Scan a command of the sheet.")
    return Ask("item", "Scan an item.") if scan.codes else None


def _requests(scan: Scan, command: Command, station: str) -> Wanted:
    if command.step == "load":
        return _about_load(scan, command)
    if command.step == "solution":
        return Wanted(command, ask=Ask("form", "This needs numbers. Enter it on the form for solutions."))
    if command.step is None:
        return Wanted(command, ask=Ask("help", "Call a supervisor. Nothing was recorded."))
    if not scan.items:
        return Wanted(command, ask=Ask("item", "Scan the items."))
    if command.name in FAILS and not scan.names("defect") and not scan.noes:
        return Wanted(command, ask=Ask("defect", "Scan what is wrong, from the defect sheet."))
    steps = {name: _step(part, command) for name, part in scan.parts.items()}
    labelled = [name for name, step in steps.items() if _needs_solution(step)]
    if command.action == "start" and labelled and scan.first("solution") is None:
        return Wanted(command, ask=Ask("solution", "Scan the solution that is used."))
    made = ((name, request_of(scan, command, name, station)) for name in scan.items)
    return Wanted(command, tuple((stream(StreamKind.ITEM, name), one) for name, one in made))


def _about_load(scan: Scan, command: Command) -> Wanted:
    load = scan.first("load")
    if load is None:
        return Wanted(command, ask=Ask("load", "Scan or type the load."))
    if command.action == "add" and not scan.items:
        return Wanted(command, ask=Ask("item", "Scan the items that go in."))
    made: Request
    match command.action:
        case "add":
            made = asking.AddToLoad(load, tuple(scan.items))
        case "start":
            made = asking.StartLoad(load)
        case _:
            made = asking.EndLoad(load)
    return Wanted(command, ((stream(StreamKind.LOAD, load), made),))


def _step(part: Part | None, command: Command) -> Step | None:
    return part.workflow.step_named(command.step or "") if part is not None else None


def _needs_solution(step: Step | None) -> bool:
    return step is not None and step.dwell is not None and step.dwell.claim is not None


def request_of(scan: Scan, command: Command, item: str, station: str) -> Request:
    """Returns the request that a command means for one item; commands of loads and solutions mean none."""
    return _MEANT.get(command.action or command.name, _done)(scan, command, item, station)


Meant = Callable[[Scan, Command, str, str], Request]


def _done(scan: Scan, command: Command, item: str, _: str) -> Request:
    step = _step(scan.parts.get(item), command)
    named = command.step or ""
    says = scan.says_yes or command.name in OK
    checks = {one.check: True for one in step.checks} if step is not None and says else {}
    return _end_of(scan, item, step, named, checks)


def _end_of(scan: Scan, item: str, step: Step | None, named: str, checks: dict[str, bool]) -> Request:
    """Returns the request that tells how a step ended: its end on the clock, the release, or the step itself."""
    counts, readings, temp = _measured(scan, step)
    if step is not None and step.dwell is not None:
        return asking.EndDwell(item, named, temp, checks, readings)
    if step is not None and step.reaches is Stage.READY:
        return asking.Release(item, checks, counts)
    return asking.DoStep(item, named, checks, readings, counts, scan.first("instrument"))


def _measured(scan: Scan, step: Step | None) -> tuple[dict[str, int], dict[str, str], str | None]:
    """Returns (counts, readings, temperature): the numbers of a scan in the order in which the step asks for them."""
    values = [] if step is None else values_at_end(step)
    pairs = list(zip(values, scan.numbers, strict=False))
    counts = {one.name: int(number) for one, number in pairs if one.sort == "count" and number.isdigit()}
    readings = {one.name: number for one, number in pairs if one.sort == "reading"}
    return counts, readings, next((number for one, number in pairs if one.sort == TEMPERATURE), None)


@dataclass(frozen=True, slots=True)
class Value:
    """Is a number that a step asks for: a count, a reading with its unit, or the temperature of a solution."""

    sort: str
    name: str
    unit: str | None = None


TEMPERATURE: Final = "temperature"
_OF_SOLUTION: Final = Value(TEMPERATURE, "temp_c", "degC")


def values_at_end(step: Step) -> list[Value]:
    """Returns the numbers that the end of a step asks for, in the order in which they are given."""
    counts = [Value("count", one.count) for one in step.counts]
    readings = [Value("reading", one.reading, one.unit) for one in step.readings if one.required]
    return [*counts, *readings, *([_OF_SOLUTION] if step.dwell is not None else [])]


def values_at_start(step: Step) -> list[Value]:
    """Returns the numbers that the start of a step's clock may ask for."""
    return [_OF_SOLUTION] if step.dwell is not None else []


def _start(scan: Scan, command: Command, item: str, _: str) -> Request:
    used, tool = scan.first("solution"), scan.first("instrument")
    temp = next(iter(scan.numbers), None)
    return asking.StartDwell(item, command.step or "", used, temp_c=temp, instrument=tool)


def _fail(scan: Scan, command: Command, item: str, _: str) -> Request:
    if scan.noes:
        step = _step(scan.parts.get(item), command)
        return _end_of(scan, item, step, command.step or "", dict.fromkeys(scan.noes, False))
    return asking.FailStep(item, command.step or "", tuple(scan.names("defect")))


def _hold(_: Scan, __: Command, item: str, station: str) -> Request:
    return asking.PlaceHold(item, "administrative", f"scanned Hold at {station}", "supervisor")


_MEANT: Final[dict[str, Meant]] = {
    "start": _start,
    "rewet": lambda _, __, item, ___: asking.Rewet(item),
    "dried": lambda _, __, item, ___: asking.BreakDwell(item, "dried"),
    "fail": _fail,
    "HOLD": _hold,
    "UNDO": lambda _, __, item, ___: asking.Undo(item),
}


def fitting(scan: Scan, item: str, station: str) -> list[tuple[Command, Any]]:
    """Returns the commands of the sheet that mean something for an item's workflow, each with its request."""
    part = scan.parts.get(item)
    found = []
    for command in COMMANDS.values():
        step = _step(part, command)
        clocked = step is not None and (step.dwell is not None or command.action not in {"start", "rewet", "dried"})
        if clocked and command.name not in FAILS:
            found.append((command, request_of(scan, command, item, station)))
    return found
