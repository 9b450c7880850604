"""The demo as a place to try: the story's department, whose time runs on from the story's end as fast as ours."""

from __future__ import annotations

import secrets
from contextlib import suppress
from pathlib import Path
from typing import Final

from reprocess.clock import STORY_BOOT, Clock, SystemClock, clock_for, clock_path, keep, uuid7
from reprocess.clock import StoryClock as StoryNow
from reprocess.demo import ward
from reprocess.demo.crew import NAMES
from reprocess.demo.story import play
from reprocess.department import Department, open_department
from reprocess.engine.request.access import IssueToken, SetPin
from reprocess.errors import LedgerError, ReprocessError, WrongUseError
from reprocess.ledger.append import Transaction, looking
from reprocess.record.moment import Moment
from reprocess.rules import permissions
from reprocess.rules.answer import Answer
from reprocess.signing_in.offices import set_first
from reprocess.signing_in.pins import Pins, must_be_good
from reprocess.signing_in.programs import Programs
from reprocess.station import Call
from reprocess.terms import DAY_S, SECOND_US

DAYS: Final = 30
"""How long a token for trying counts, in the story's time."""
ISSUER: Final = "bram"
SITES: Final = ("LMG",)
"""The issuer's own: nobody hands on what is not theirs to see."""
SIGNING_IN: Final = ("mirela", "petra", "hedda", "bram")
WHO: Final = {
    "B-MT": "technician, dirty side",
    "B-PV": "inspects and releases",
    "B-HQ": "supervisor",
    "B-BO": "programme administrator",
}
"""What those who sign in are, by badge."""
PIN_DIGITS: Final = 8
READING: Final = tuple(one for one in sorted(permissions.SCOPES) if one.endswith(":read"))


class SandboxClock(StoryNow):
    """Is a story's clock that runs on with the computer's; ids are made by chance, so that many may ask at once."""

    def __init__(self, path: Path, real: Clock) -> None:
        kept = clock_for(path)
        if not isinstance(kept, StoryNow):
            message = f"{path.name} is not a demo."
            raise WrongUseError(message)
        super().__init__(kept.wall_us, kept.count)
        self.running_us = kept.running_us
        self._path = path
        self._real = real
        self._began_us = real.now().mono_us

    def now(self) -> Moment:
        """Returns one reading of all clocks of the story."""
        passed_us = self._real.now().mono_us - self._began_us
        running_us = self.running_us + passed_us
        return Moment(self.wall_us + passed_us, running_us, running_us, STORY_BOOT, "larkmoor")

    def new_id(self) -> str:
        """Returns an id that was never given before."""
        return uuid7(self.now().wall_us // 1000, secrets.randbits(74))

    def keep(self) -> None:
        """Keeps the story's now beside the database, for the commands and for the next start."""
        now = self.now()
        kept = StoryNow(now.wall_us, self.count)
        kept.running_us = now.mono_us
        keep(kept, self._path)


def opened(path: Path, real: Clock | None = None) -> tuple[Department, SandboxClock]:
    """Returns the demo's department with its running clock; where there is none, its day and evening are played first.

    Raises:
        WrongUseError: what lies there is a department and no demo.
        LedgerError: it cannot be made or used.
    """
    if path.exists() and not clock_path(path).exists():
        message = f"{path.name} is a department, not a demo; name another file with --department."
        raise WrongUseError(message)
    if not path.exists():
        play(path, lambda _: None)
        _evening(path)
    clock = SandboxClock(path, real or SystemClock())
    return open_department(path, clock=clock), clock


def _evening(path: Path) -> None:
    """Lets the story go on until a ward can be served, so that there is something to issue."""
    clock = clock_for(path)
    if isinstance(clock, StoryNow):
        with open_department(path, clock=clock) as department:
            ward.prepare(department, clock)
        keep(clock, path)


def tokens(department: Department) -> dict[str, str]:
    """Returns new tokens for trying, by what they may: `reading`, and `everything` that a program may ever.

    Raises:
        LedgerError: the demo does not let them be issued any more.
    """
    return {
        "reading": _issued(department, "Trying out: reading", READING),
        "everything": _issued(department, "Trying out: everything", tuple(sorted(permissions.SCOPES))),
    }


def first_pins(department: Department) -> dict[str, str]:
    """Returns a first PIN by badge: a technician, whoever inspects and releases, a supervisor, an administrator.

    Each of them chooses an own one when signing in, as everywhere; those of an earlier start count no more.

    Raises:
        LedgerError: the demo does not let them be set any more.
    """
    return {NAMES[name][0]: _set(department, name) for name in SIGNING_IN}


def _set(department: Department, name: str) -> str:
    clock = department.clock
    office, station = NAMES[ISSUER]
    badge, _ = NAMES[name]
    with looking(department.ledger) as read:
        person = read.person_of(badge) or ""
    pin = _unguessed(badge)
    call = Call(SetPin(person), station, office, None, clock.new_id())

    def take(work: Transaction) -> Answer:
        outcome = department.desk.take_within(work, call)
        if isinstance(outcome, ReprocessError):
            raise outcome
        return outcome

    answer = set_first(department.ledger, clock, Pins(department.ledger.key), person, pin, take)
    if not answer.accepted:
        message = f"No PIN could be set ({', '.join(answer.rules())}); make the demo again."
        raise LedgerError(message)
    return pin


def _unguessed(badge: str) -> str:
    """Returns digits by chance that are not among the easily guessed ones; a hundred draws are more than enough."""
    for _ in range(100):
        pin = f"{secrets.randbelow(10**PIN_DIGITS):0{PIN_DIGITS}}"
        with suppress(WrongUseError):
            must_be_good(pin, (badge,))
            return pin
    message = "No PIN was found that is hard to guess."
    raise LedgerError(message)


def _issued(department: Department, label: str, scopes: tuple[str, ...]) -> str:
    clock = department.clock
    own = clock.new_id()
    token = f"trying-{own[-8:]}"
    badge, station = NAMES[ISSUER]
    until_us = clock.now().wall_us + DAYS * DAY_S * SECOND_US
    call = Call(IssueToken(token, label, scopes, SITES, until_us), station, badge, None, own)

    def take(work: Transaction) -> Answer:
        outcome = department.desk.take_within(work, call)
        if isinstance(outcome, ReprocessError):
            raise outcome
        return outcome

    answer, secret = Programs(department.ledger, clock).issue(token, take)
    if secret is None:
        message = f"No token could be issued ({', '.join(answer.rules())}); make the demo again."
        raise LedgerError(message)
    return secret
