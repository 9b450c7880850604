"""What is wrong with the text of a definition: every fault, its place, and a sentence that says what is wanted."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field

FAULTS_MAX = 100
"""Most faults that are listed for one text (our choice); the rest are counted."""
SHOWN_MAX = 40
"""Most characters of a value that a sentence repeats (our choice)."""


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """Is one fault: line and column from 1, the path of keys down to it, and the sentence."""

    line: int
    column: int
    path: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Faults:
    """Is what a text answers that cannot be used.

    Attributes:
        name: what the text is called, such as its file's name.
        faults: at least one fault, by line and column.
        left_out: how many further faults were found and not listed.
    """

    name: str
    faults: tuple[Fault, ...]
    left_out: int = 0


@dataclass(slots=True)
class Found:
    """Collects the faults of one text while it is read."""

    faults: set[Fault] = field(default_factory=set)
    left_out: int = 0

    @property
    def is_full(self) -> bool:
        """Returns whether no further fault is listed; a sentence need not be worded then."""
        return len(self.faults) >= FAULTS_MAX

    def add(self, line: int, column: int, path: str, sentence: str) -> None:
        """Keeps one fault, or counts it when enough are listed."""
        if self.is_full:
            self.left_out += 1
            return
        self.faults.add(Fault(line, column, path, sentence))

    def under(self, name: str) -> Faults:
        """Returns everything found, by line and column."""
        return Faults(name, tuple(sorted(self.faults)), self.left_out)


def as_text(faults: Faults) -> str:
    """Returns one line a fault, such as `blower.yaml:12:7 steps[dry].dwell.least_s: ...`."""
    lines = []
    for fault in faults.faults:
        path = f" {fault.path}:" if fault.path else ""
        lines.append(f"{faults.name}:{fault.line}:{fault.column}{path} {fault.sentence}")
    if faults.left_out:
        lines.append(f"{faults.name}: {faults.left_out} more faults are not listed.")
    return "\n".join(lines)


def shown(text: str) -> str:
    """Returns a value as a sentence repeats it: on one line, short, without hidden characters."""
    cut = text if len(text) <= SHOWN_MAX else text[: SHOWN_MAX - 1] + "…"
    return "`" + "".join(_visible(one) for one in cut) + "`"


def _visible(character: str) -> str:
    if character == "`":
        return "'"
    if character == " " or unicodedata.category(character)[0] not in "CZ":
        return character
    return f"\\u{ord(character):04x}"
