"""Workflow: what must happen to one kind of item, as frozen, strict, sourced models.

Every block that carries a number says where the number comes from (`source`) or says that it is only an
example (`example: true`).
"""

from __future__ import annotations

from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from reprocess.definitions.block import LINES_MAX, Frozen, Key, Name, Names, Several, Word
from reprocess.definitions.lines import Check, Count, Failing, Reading
from reprocess.definitions.times import Delay, Dwell, Fastest, Limit, Promptly, Readiness, Recurring, Reinspection
from reprocess.definitions.water import Water
from reprocess.definitions.wearing import Wearing
from reprocess.terms import SPINE, Stage

STEPS_MAX = 40
"""Most steps in one workflow; the exhaustive proof stays instant (our choice)."""
CONTAMINATION_CLASSES = ("routine", "soiled", "blood", "isolation", "late")
"""What can have happened to an item (P16, U08, T11); a step may be mandated for some of them only."""


class Step(Frozen):
    """Is one step of a workflow.

    Attributes:
        after: the steps that must be satisfied before this one (its prerequisites).
        reaches: the stage that this step reaches, if it ends a stage.
        competency: what the actor must hold; the step's name where absent (A02).
        zone: the side of the bench at which the step may be done (P09).
        not_by: steps whose actors in this cycle may not do this one (S01); persons are compared, never badges.
        not_alone: whether this step may not be done by the only actor of the cycle (S02).
        two_people: whether a second person must scan too (S08).
        mandated: whether ready needs it.
        for_classes: contamination classes for which the step is mandated; all of them where empty.
        new_only: whether the step exists only before the first use (one-wearer parts, sealed filters).
        instrument: kind of the measuring instrument that must be named (M02).
        assembles: whether the step needs the parts of an approved configuration (C02-C05).
        needs_water: the water that a rinse without a clock needs (L11).
    """

    step: Name
    title: Word
    after: Names = ()
    reaches: Stage | None = None
    competency: Name | None = None
    zone: Literal["dirty", "clean", "any"] = "any"
    not_by: Names = ()
    not_alone: bool = False
    two_people: bool = False
    mandated: bool = True
    for_classes: Names = ()
    new_only: bool = False
    instrument: Name | None = None
    assembles: bool = False
    checks: Annotated[tuple[Check, ...], Several, Field(max_length=LINES_MAX)] = ()
    readings: Annotated[tuple[Reading, ...], Several, Field(max_length=LINES_MAX)] = ()
    counts: Annotated[tuple[Count, ...], Several, Field(max_length=LINES_MAX)] = ()
    dwell: Dwell | None = None
    promptly: Promptly | None = None
    fastest: Fastest | None = None
    needs_water: Water | None = None
    caution: Key | None = None

    @model_validator(mode="after")
    def _water_is_for_a_plain_step(self) -> Self:
        if self.needs_water is not None and self.dwell is not None:
            message = "`needs_water` belongs to a rinse without a clock"
            raise ValueError(message)
        return self

    @property
    def competency_needed(self) -> str:
        """Returns the competency that the actor must hold."""
        return self.competency or self.step


class Never(Frozen):
    """Is a method that must not be used on the item (P12): refused as a request, held when reported as done."""

    method: Name
    text: Word
    failing: Failing


class Workflow(Frozen):
    """Is what must happen to one kind of item between use and readiness.

    Attributes:
        follows: the authority this file follows where they disagree.
        example: whether the file as a whole is an example; every page and print-out then shows a banner.
        stages: the stages the item has, in order; a part that is only wiped outside never shows `disinfected`.
        single_wearer: whether the item serves one wearer once and then ends condemned (U09).
        counted: whether items are batches with a quantity and no serial.
        wearing: how the assembly is put on, worn and taken off.
        accepts_attested: whether a countersigned late entry may count towards release (G10, D06).
        early_release: whether two people may release an item before its load's indicators are read (G11).
    """

    workflow: Name
    title: Word
    item_kind: Name
    item_class: Literal["non-critical", "semi-critical", "filter", "assembly"]
    follows: Word
    example: bool = False
    stages: Annotated[tuple[Stage, ...], Several, Field(min_length=2, max_length=6)]
    single_wearer: bool = False
    counted: bool = False
    accepts_attested: bool = False
    early_release: bool = False
    steps: Annotated[tuple[Step, ...], Several, Field(min_length=1, max_length=STEPS_MAX)]
    limits: Annotated[tuple[Limit, ...], Several, Field(max_length=LINES_MAX)] = ()
    recurring: Annotated[tuple[Recurring, ...], Several, Field(max_length=LINES_MAX)] = ()
    never: Annotated[tuple[Never, ...], Several, Field(max_length=LINES_MAX)] = ()
    delay: Delay | None = None
    readiness: Readiness | None = None
    reinspection: Reinspection | None = None
    wearing: Wearing | None = None

    @model_validator(mode="after")
    def _stages_are_of_the_spine(self) -> Self:
        wanted = [stage for stage in SPINE if stage in self.stages]
        if list(self.stages) != wanted or Stage.USED not in wanted or Stage.READY not in wanted:
            message = "`stages` starts with used, ends with ready and keeps the order of the trade"
            raise ValueError(message)
        return self

    def step_named(self, name: str) -> Step | None:
        """Returns the step of that name, or None when the workflow has none."""
        return self._by_name.get(name)

    @cached_property
    def _by_name(self) -> dict[str, Step]:
        return {step.step: step for step in reversed(self.steps)}

    @cached_property
    def _needs(self) -> dict[tuple[str, str], tuple[str, ...]]:
        return {}

    @cached_property
    def _by_class(self) -> dict[str, frozenset[str]]:
        return {}

    def mandated_for(self, contamination_class: str) -> frozenset[str]:
        """Returns the names of the steps that ready needs after a contamination of that class."""
        known = self._by_class.get(contamination_class)
        if known is None:
            known = self._by_class[contamination_class] = frozenset(
                step.step
                for step in self.steps
                if step.mandated and (not step.for_classes or contamination_class in step.for_classes)
            )
        return known

    def recurs(self, step: str) -> bool:
        """Tells whether a pass of the step counts across cycles until it is due again."""
        return any(one.step == step for one in self.recurring)

    def needed_before(self, step: Step, contamination_class: str) -> tuple[str, ...]:
        """Returns the prerequisites of a step that exist for that class, in the file's order."""
        known = self._needs.get((step.step, contamination_class))
        if known is None:
            known = self._needs[step.step, contamination_class] = tuple(
                name
                for name in step.after
                if (one := self.step_named(name)) is not None
                and (not one.for_classes or contamination_class in one.for_classes)
            )
        return known

    def mandated_with_needs(self, contamination_class: str) -> tuple[tuple[Step, frozenset[str]], ...]:
        """Returns the mandated steps of that class in the file's order, each with its prerequisites."""
        known = self._mandated.get(contamination_class)
        if known is None:
            needed = self.mandated_for(contamination_class)
            known = self._mandated[contamination_class] = tuple(
                (step, frozenset(self.needed_before(step, contamination_class)))
                for step in self.steps
                if step.step in needed
            )
        return known

    @cached_property
    def _mandated(self) -> dict[str, tuple[tuple[Step, frozenset[str]], ...]]:
        return {}

    def resting_on(self, name: str) -> frozenset[str]:
        """Returns the step and every step that rests on it, directly or through others."""
        fallen = {name}
        for _ in self.steps:
            fallen |= {one.step for one in self.steps if fallen.intersection(one.after)}
        return frozenset(fallen)

    def falling_with(self, name: str) -> frozenset[str]:
        """Returns what is no longer satisfied once a step is not: all that rests on it, and the release in any case.

        A step that is not mandated, such as one that recurs, has no step that rests on it; ready does all the same.
        """
        return self.resting_on(name) | {step.step for step in self.steps if step.reaches is Stage.READY}

    def stage_for(self, satisfied: frozenset[str]) -> Stage:
        """Returns the highest stage all of whose steps so far are satisfied; `used` when none is."""
        reached = Stage.USED
        for stage in self.stages[1:]:
            if satisfied.isdisjoint(self._makers.get(stage, ())):
                break
            reached = stage
        return reached

    @cached_property
    def _makers(self) -> dict[Stage, tuple[str, ...]]:
        return {stage: tuple(step.step for step in self.steps if step.reaches is stage) for stage in self.stages}

    @property
    def release_step(self) -> Step:
        """Returns the step that reaches ready; the proof makes sure that there is exactly one."""
        return next(step for step in self.steps if step.reaches is Stage.READY)
