"""How the month is told: the day, the hour, what happens, and the facts that each line of the story comes to."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from reprocess.clock import StoryClock
from reprocess.demo.month.days import LONDON
from reprocess.department import Department
from reprocess.gathering import local
from reprocess.rules import words
from reprocess.rules.answer import Answer
from reprocess.terms import subject_of

WIDTH = 100


@dataclass(slots=True)
class Scenes:
    """Tells the story; `facts` are kept by the name of each line, for whoever wants to check them."""

    department: Department
    clock: StoryClock
    say: Callable[[str], None]
    facts: dict[str, dict[str, Any]] = field(default_factory=dict)
    told: list[dict[str, Any]] = field(default_factory=list)

    def scene(self, name: str, text: str, zone: str = LONDON, **facts: Any) -> None:
        """Tells what happens now, and keeps what it comes to."""
        self.facts[name] = facts
        when = local(zone, self.clock.wall_us).strftime("%a %d %b %H:%M")
        self.told.append({"line": name, "at": when, "scene": text, "facts": facts})
        self.say("")
        for number, line in enumerate(textwrap.wrap(text, WIDTH - 18)):
            self.say(f"{when}  {line}" if number == 0 else f"{'':18}{line}")

    def answer(self, asked: str, answer: Answer) -> None:
        """Tells a scan and its answer in the words that people see."""
        self.say(f"{'':18}> {asked}")
        self.say(f"{'':18}  {answer.word}  {subject_of(answer.subject)}")
        for reason in answer.reasons:
            self.say(f"{'':18}  {reason.rule}  {words.sentence(reason, self._show)}")

    def line(self, text: str) -> None:
        """Tells one more line of the scene."""
        for each in textwrap.wrap(text, WIDTH - 18):
            self.say(f"{'':18}{each}")

    def _show(self, at_us: int) -> str:
        return local(LONDON, at_us).strftime("%d %b %H:%M")
