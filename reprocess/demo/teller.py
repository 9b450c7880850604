"""How the story is told: the hour, what happens, and each answer in the words that a technician sees."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.gathering import local
from reprocess.reminders.channels import terminal
from reprocess.reminders.rounds import sweep
from reprocess.rules import words
from reprocess.rules.answer import Answer, as_fields
from reprocess.terms import subject_of

WIDTH = 100
ZONE = "Europe/London"


@dataclass(slots=True)
class Teller:
    """Tells the story line by line, and keeps what was told for `--json`."""

    clock: StoryClock
    say: Callable[[str], None]
    told: list[dict[str, Any]] = field(default_factory=list)

    def show(self, at_us: int) -> str:
        """Returns an instant as the hospital's local time."""
        return local(ZONE, at_us).strftime("%d %b %Y %H:%M")

    def hour(self) -> str:
        """Returns the hour of the story."""
        return local(ZONE, self.clock.wall_us).strftime("%H:%M")

    def scene(self, text: str) -> None:
        """Tells what happens now."""
        self.told.append({"at": self.hour(), "scene": text})
        self.say("")
        for number, line in enumerate(textwrap.wrap(text, WIDTH - 7)):
            self.say(f"{self.hour()}  {line}" if number == 0 else f"       {line}")

    def line(self, text: str) -> None:
        """Tells one more line of the scene."""
        self.told.append({"at": self.hour(), "line": text})
        for line in textwrap.wrap(text, WIDTH - 7):
            self.say(f"       {line}")

    def ring(self, department: Department) -> int:
        """Gives what is due now, once, and tells it; returns how many reminders rang."""
        rang = sweep(department.ledger, self.clock, terminal(self._rung), "larkmoor")
        return len(rang)

    def _rung(self, text: str) -> None:
        self.told.append({"at": self.hour(), "reminder": text})
        self.say(f"       bell: {text}")

    def answer(self, who: str, asked: str, answer: Answer) -> Answer:
        """Tells a scan and its answer: verdict, rule, why, and what to do next."""
        self.told.append({"at": self.hour(), "who": who, "asked": asked, "answer": as_fields(answer)})
        self.say(f"       {who.capitalize()} scans: {asked}")
        self.say(f"         {answer.word}  {subject_of(answer.subject)}")
        for reason in answer.reasons:
            self.say(f"         {reason.rule}  {words.sentence(reason, self.show)}")
            self.say(f"              {words.next_action(reason, self.show)}")
        for warning in answer.warnings:
            self.say(f"         note {warning.rule}  {words.sentence(warning, self.show)}")
        return answer
