"""Whether a profile holds of the workflows that it names, told in the form of a proof."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from reprocess.definitions.configuration import Configuration
from reprocess.definitions.model import Workflow
from reprocess.definitions.profile import Profile
from reprocess.definitions.proof import CounterExample
from reprocess.terms import Digest

PROFILE_PROPERTIES: Mapping[str, str] = MappingProxyType(
    {
        "names": "every workflow that the profile names exists",
        "kinds": "no two workflows of the profile are for the same kind of item",
        "intervals": "every interval is of a workflow of the profile",
        "reinspection": "each workflow that must be inspected again is, and not later than the profile allows",
        "readiness": "no item stays ready longer than the profile allows",
        "parts": "where parts are assembled, every part of at least one configuration has a workflow",
    }
)
"""Every property of a profile, in the order in which they are told."""


@dataclass(frozen=True, slots=True)
class ProfileProof:
    """Is what judging a profile came to.

    Attributes:
        profile: the profile's name.
        digest: SHA-256 of the text that was judged.
        workflows: the workflows that it was judged against: those that it names and that exist.
        configurations: the configurations all of whose parts have a workflow in the profile.
        proved: the keys of the properties that hold.
        notes: what is not wrong and should be known.
        counter_examples: where properties fail; empty when the profile holds.
    """

    profile: str
    digest: Digest
    workflows: tuple[str, ...]
    configurations: tuple[str, ...]
    proved: tuple[str, ...]
    notes: tuple[str, ...]
    counter_examples: tuple[CounterExample, ...]

    @property
    def is_sound(self) -> bool:
        """Returns whether every property holds."""
        return not self.counter_examples


def prove_profile(
    profile: Profile,
    workflows: Mapping[str, Workflow],
    configurations: Mapping[str, Configuration],
    *,
    digest: Digest,
) -> ProfileProof:
    """Returns what holds of a profile and what does not.

    A workflow that is named and does not exist is told once, and nothing more is asked of it.

    Args:
        profile: the profile to judge.
        workflows: every known workflow by name.
        configurations: every known configuration by name.
        digest: SHA-256 of the profile's text, which the proof names.
    """
    taken = [workflows[name] for name in profile.workflows if name in workflows]
    kinds = {one.item_kind for one in taken}
    wrong = (
        *_unknown(profile, workflows),
        *_two_of_a_kind(taken),
        *_strangers(profile),
        *_inspected_too_late(profile, taken),
        *_ready_too_long(profile, taken),
        *_without_parts(taken, kinds, configurations),
    )
    failed = {one.fails for one in wrong}
    return ProfileProof(
        profile=profile.profile,
        digest=digest,
        workflows=tuple(one.workflow for one in taken),
        configurations=tuple(name for name, one in configurations.items() if not _lacking(one, kinds)),
        proved=tuple(key for key in PROFILE_PROPERTIES if key not in failed),
        notes=_notes(profile),
        counter_examples=wrong,
    )


def _unknown(profile: Profile, workflows: Mapping[str, Workflow]) -> Iterator[CounterExample]:
    for name in profile.workflows:
        if name not in workflows:
            yield CounterExample("names", f"There is no workflow called {name}.")


def _two_of_a_kind(taken: list[Workflow]) -> Iterator[CounterExample]:
    first: dict[str, str] = {}
    for one in taken:
        held = first.setdefault(one.item_kind, one.workflow)
        if held != one.workflow:
            yield CounterExample("kinds", f"{held} and {one.workflow} are both for {one.item_kind}; take one of them.")


def _strangers(profile: Profile) -> Iterator[CounterExample]:
    named = [one.workflow for one in profile.reinspection] + [one.workflow for one in profile.readiness]
    for name in dict.fromkeys(named):
        if name not in profile.workflows:
            yield CounterExample("intervals", f"{name} has an interval and is no workflow of this profile.")


def _inspected_too_late(profile: Profile, taken: list[Workflow]) -> Iterator[CounterExample]:
    for line in profile.reinspection:
        for one in taken:
            own = one.reinspection
            if one.workflow != line.workflow or (own is not None and own.every_months <= line.longest_months):
                continue
            own_words = (
                f"inspected again every {months(own.every_months)}" if own is not None else "never inspected again"
            )
            sentence = f"{one.workflow} is {own_words}; every {months(line.longest_months)} is the longest here."
            yield CounterExample("reinspection", sentence)


def _ready_too_long(profile: Profile, taken: list[Workflow]) -> Iterator[CounterExample]:
    for line in profile.readiness:
        for one in taken:
            own = one.readiness
            if one.workflow != line.workflow or (own is not None and own.days_most <= line.days_most):
                continue
            own_words = f"for {own.days_most} d" if own is not None else "without a limit"
            yield CounterExample(
                "readiness", f"{one.workflow} stays ready {own_words}; {line.days_most} d is the most here."
            )


def _without_parts(
    taken: list[Workflow], kinds: set[str], configurations: Mapping[str, Configuration]
) -> Iterator[CounterExample]:
    assembled = [one.workflow for one in taken if any(step.assembles for step in one.steps)]
    lacking = {name: _lacking(one, kinds) for name, one in configurations.items()}
    if not assembled or not all(lacking.values()):
        return
    names = " and ".join(assembled)
    if not lacking:
        yield CounterExample("parts", f"{names}: there is no configuration to assemble.")
        return
    nearest = min(lacking, key=lambda name: len(lacking[name]))
    sentence = f"{names}: nothing can be assembled; for {nearest} no workflow takes {', '.join(lacking[nearest])}."
    yield CounterExample("parts", sentence)


def _lacking(configuration: Configuration, kinds: set[str]) -> tuple[str, ...]:
    """Returns the kinds of item that a configuration needs and that are not among those given."""
    return tuple(dict.fromkeys(slot.item_kind for slot in configuration.slots if slot.item_kind not in kinds))


def _notes(profile: Profile) -> tuple[str, ...]:
    if not profile.example:
        return ()
    return ("the whole file is an example; a department confirms its numbers before it relies on them",)


def months(number: int) -> str:
    """Returns a number of months as it follows `every`: `month`, `3 months`."""
    return "month" if number == 1 else f"{number} months"


def profile_text(proof: ProfileProof) -> str:
    """Returns the judgement as one page: what was judged, what holds and what does not."""
    verdict = "holds" if proof.is_sound else "FAILS"
    lines = [
        f"Proof of the profile {proof.profile}: {verdict}",
        f"Text (SHA-256): {proof.digest}",
        f"Judged against: {', '.join(proof.workflows) or 'no workflow'}",
        f"Configurations with a workflow for every part: {', '.join(proof.configurations) or 'none'}",
        "",
        "What holds:",
        *(f"  {key}: {PROFILE_PROPERTIES[key]}" for key in proof.proved),
    ]
    if proof.counter_examples:
        lines += ["", "What fails:", *(f"  {one.fails}: {one.sentence}" for one in proof.counter_examples)]
    if proof.notes:
        lines += ["", "To know:", *(f"  {note}" for note in proof.notes)]
    return "\n".join(lines) + "\n"
