"""What is proved about a workflow: each property, what it was proved over, and where it fails, as one page of text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from reprocess.terms import Digest

PROPERTIES: Mapping[str, str] = MappingProxyType(
    {
        "names": "every step, agent and class that is named exists, and no two steps share a name",
        "order": "no step waits for itself, directly or through others, so that each can be reached",
        "release": "exactly one step reaches ready, for every class, and nothing rests on it",
        "stages": "each stage is reached by one mandated step that rests on the step reaching the stage before",
        "disinfection": "disinfected is reached only through a contact or a thermal dose; a semi-critical item has it",
        "loops": "a failed step sends the item back to itself or to a step that it rests on",
        "recurring": "a step that recurs is a plain one of items with a serial number, and not mandated by itself",
        "mandated": "no sequence reaches ready without every mandated step since the last contaminating fact, in order",
        "exits": "whatever happened, ready can still be reached, or, after its one use, a one-wearer item be condemned",
        "one-wearer": "an item for one wearer is never ready after its first use",
        "people": "what must not be done by one person cannot be, and two people can do all of it",
        "contact": "each contact has a row on the label of each agent, a least time above zero and below the greatest, "
        "and a film life where the film may dry first",
        "holds": "each hold that this item may get can be lifted by somebody",
        "size": "the workflow is small enough to be searched to the end",
    }
)
"""Every property that a proof claims, in the order in which they are told."""


@dataclass(frozen=True, slots=True)
class CounterExample:
    """Shows that a property fails.

    Attributes:
        fails: the property's key in `PROPERTIES`.
        sentence: what is wrong.
        step: the step at which to look; None when it concerns the whole workflow.
        moves: the shortest sequence from used that shows it, in words; empty when none is needed.
    """

    fails: str
    sentence: str
    step: str | None = None
    moves: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Proof:
    """Is the outcome of the search over everything that can happen to an item under a workflow.

    Attributes:
        workflow: the workflow's name.
        digest: SHA-256 of the text that was judged.
        agents: the agents whose labels it rests on.
        states: how many different states were reached; a state is the set of satisfied steps and what the item went
            through (class, before or after first use).
        moves: how many moves were tried.
        least_s: the least possible time from used to ready, in seconds, hands and clocks in parallel where the
            prerequisites allow; None when ready cannot be reached.
        proved: the keys of the properties that hold.
        notes: what is not wrong and should be known.
        counter_examples: where properties fail; empty when the workflow is sound.
    """

    workflow: str
    digest: Digest
    agents: tuple[str, ...]
    states: int
    moves: int
    least_s: int | None
    proved: tuple[str, ...]
    notes: tuple[str, ...]
    counter_examples: tuple[CounterExample, ...]

    @property
    def is_sound(self) -> bool:
        """Returns whether every property holds."""
        return not self.counter_examples


def as_text(proof: Proof) -> str:
    """Returns the proof as one page: what was judged, what holds, what does not and the moves that show it."""
    verdict = "holds" if proof.is_sound else "FAILS"
    lines = [
        f"Proof of the workflow {proof.workflow}: {verdict}",
        f"Text (SHA-256): {proof.digest}",
        f"Labels it rests on: {', '.join(proof.agents) or 'none'}",
        f"Searched to the end: {proof.states} states, {proof.moves} moves",
        f"Least possible time from used to ready: {_duration(proof.least_s)}",
        "",
        "What holds:",
        *(f"  {key}: {PROPERTIES[key]}" for key in proof.proved),
    ]
    if proof.counter_examples:
        lines += ["", "What fails:"]
        for one in proof.counter_examples:
            lines.append(f"  {one.fails}: {one.sentence}")
            lines += [f"    {number}. {move}" for number, move in enumerate(one.moves, start=1)]
    if proof.notes:
        lines += ["", "To know:", *(f"  {note}" for note in proof.notes)]
    return "\n".join(lines) + "\n"


def _duration(seconds: int | None) -> str:
    if seconds is None:
        return "ready cannot be reached"
    minutes, rest = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{seconds} s ({hours} h {minutes} min {rest} s)"
