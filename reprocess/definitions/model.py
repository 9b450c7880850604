"""Workflow: what must happen to one kind of item, as frozen, strict, sourced models.

Every block that carries a number says where the number comes from (`source`) or says that it is only an
example (`example: true`). Durations are whole seconds; temperatures are degrees Celsius; shares are percent.
"""

from __future__ import annotations

from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from reprocess.definitions.block import (
    LINES_MAX,
    Days,
    DefectCode,
    Frozen,
    Key,
    Name,
    Names,
    Number,
    Seconds,
    Several,
    Sourced,
    Word,
)
from reprocess.terms import SPINE, Stage

STEPS_MAX = 40
"""Most steps in one workflow; the exhaustive proof stays instant (our choice)."""
CONTAMINATION_CLASSES = ("routine", "soiled", "blood", "isolation", "late")
"""What can have happened to an item (P16, U08, T11); a step may be mandated for some of them only."""


class Failing(Frozen):
    """Says what follows when a check or reading of a step is not as it must be.

    Attributes:
        defect: the stable code of the defect.
        back_to: the step from which the item starts again; the step itself when absent.
        hold: whether the item is held until a person decides (H01).
        route: where the trade sends it next.
        rule: the rule of the catalogue that the answer names; H01 where absent.
    """

    defect: DefectCode
    rule: Annotated[str, StringConstraints(pattern=r"^[A-Z][0-9]{2}$")] | None = None
    back_to: Name | None = None
    hold: bool = False
    route: Literal["reclean", "redry", "repair", "replace", "discard", "quarantine"] = "reclean"


class Check(Frozen):
    """Is one line that a person answers yes or no; `yes` is always the good answer."""

    check: Name
    text: Word
    failing: Failing


class Reading(Sourced):
    """Is a measured value with its unit, its limits and its plausible range (M08); limits include equality.

    Attributes:
        reading: the key, ending in the unit, such as `flow_l_per_min`.
        plausible_least: below this the value is a slip of the keyboard, asked again.
        plausible_most: above this likewise.
    """

    reading: Key
    unit: Word
    least: Number | None = None
    most: Number | None = None
    plausible_least: Number
    plausible_most: Number
    required: bool = True
    failing: Failing | None = None

    @model_validator(mode="after")
    def _range_is_a_range(self) -> Self:
        edges = [self.plausible_least, self.least, self.most, self.plausible_most]
        given = [edge for edge in edges if edge is not None]
        if given != sorted(given) or self.plausible_least >= self.plausible_most:
            message = "the limits of a reading must rise: plausible_least, least, most, plausible_most"
            raise ValueError(message)
        return self


class Count(Sourced):
    """Is a number of parts that must be present: exactly this many, or as many as the configuration says (M07)."""

    count: Name
    exactly: Annotated[int, Field(ge=0, le=99)] | None = None
    from_configuration: Literal["gaskets", "plugs", "filters"] | None = None
    failing: Failing

    @model_validator(mode="after")
    def _one_way_to_know(self) -> Self:
        if (self.exactly is None) == (self.from_configuration is None):
            message = "a count says either `exactly` or `from_configuration`"
            raise ValueError(message)
        return self


class Thermal(Sourced):
    """Is a thermal dose to reach: A0 in seconds at 80 degC, z = 10 K, counted from the floor temperature up."""

    a0_least_s: Seconds
    floor_c: Number
    sampling: Literal["smaller-neighbour", "left-rectangles", "trapezium", "straight-lines"] = "smaller-neighbour"


DwellKind = Literal["wet-contact", "immersion", "thermal", "drying", "aeration", "charging", "rest"]


class Dwell(Sourced):
    """Is a clock between two records.

    Attributes:
        agents: the agents allowed on this item by this step (P14); their labels give the least time.
        claim: what the contact must achieve, as the label words it; with `method` it picks the label's row.
        method: how the agent is applied.
        least_s: the item's own instructions; the largest of label, item and site floor wins (T01).
        greatest_s: longest time; past it the item is held for a look at the material (T06).
        film_life_s: how long the film stays wet; the label's value where absent. Cue at 0.8 of it (T03).
        temp_most_c: the item's own ceiling for the liquid (T07).
        confirm_within_s: how long the end may wait for its scan before the reminder grows louder (T17).
        restarts_most: restarts in one cycle after which a supervisor is told (T05).
        unobserved: what follows when the clock was not seen running (E07).
        failing: what follows when the dwell ran past `greatest_s`.
    """

    kind: DwellKind
    agents: Names = ()
    claim: Name | None = None
    method: Literal["wipe", "immersion", "automated", "none"] = "none"
    least_s: Seconds | None = None
    greatest_s: Seconds | None = None
    film_life_s: Seconds | None = None
    temp_most_c: Number | None = None
    confirm_within_s: Seconds | None = None
    restarts_most: Annotated[int, Field(ge=0, le=20)] | None = None
    unobserved: Literal["restart", "two-people"] = "restart"
    thermal: Thermal | None = None
    failing: Failing | None = None

    @model_validator(mode="after")
    def _kind_has_its_parts(self) -> Self:
        chemical = self.kind in {"wet-contact", "immersion"}
        if chemical and not (self.agents and self.claim and self.method != "none"):
            message = "a contact names its `agents`, its `claim` and its `method`"
            raise ValueError(message)
        if self.kind == "thermal" and self.thermal is None:
            message = "a thermal dwell needs `thermal` with its A0"
            raise ValueError(message)
        if not chemical and self.kind != "thermal" and self.least_s is None:
            message = f"a {self.kind} dwell needs `least_s`"
            raise ValueError(message)
        if self.kind == "wet-contact" and self.unobserved != "restart":
            message = "a wet contact that was not observed always restarts"
            raise ValueError(message)
        if self.least_s and self.greatest_s and self.least_s >= self.greatest_s:
            message = "`greatest_s` must be more than `least_s`"
            raise ValueError(message)
        return self


class Promptly(Sourced):
    """Says how soon a step must start after another one ended (T08)."""

    of: Name
    warn_s: Seconds
    most_s: Seconds
    back_to: Name


class Fastest(Sourced):
    """Is the human floor of a hands-on step (T15): faster than this and the tool asks why."""

    least_s: Seconds


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
    caution: Key | None = None

    @property
    def competency_needed(self) -> str:
        """Returns the competency that the actor must hold."""
        return self.competency or self.step


class Limit(Sourced):
    """Is a limit on a part's life (T12): at `warn_percent` a reminder, at `most` no release and no issue."""

    limit: Literal["cycles", "age-days", "opened-days", "sealed-expiry", "charge-cycles", "hours"]
    most: Annotated[int, Field(gt=0)] | None = None
    warn_percent: Annotated[int, Field(gt=0, lt=100)] = 90


class Never(Frozen):
    """Is a method that must not be used on the item (P12): refused as a request, held when reported as done."""

    method: Name
    text: Word
    failing: Failing


class Delay(Sourced):
    """Says what a late start of cleaning asks for (T11)."""

    extended_s: Seconds
    held_s: Seconds

    @model_validator(mode="after")
    def _held_is_later(self) -> Self:
        if self.held_s <= self.extended_s:
            message = "`held_s` must be more than `extended_s`"
            raise ValueError(message)
        return self


class Readiness(Sourced):
    """Says how long ready stays ready on the shelf (T13)."""

    days_most: Days


class Reinspection(Sourced):
    """Says how often an item in store is inspected again (Q03): months on the anchored day."""

    every_months: Annotated[int, Field(gt=0, le=60)]


class Workflow(Frozen):
    """Is what must happen to one kind of item between use and readiness.

    Attributes:
        follows: the authority this file follows where they disagree.
        example: whether the file as a whole is an example; every page and print-out then shows a banner.
        stages: the stages the item has, in order; a part that is only wiped outside never shows `disinfected`.
        single_wearer: whether the item serves one wearer once and then ends condemned (U09).
        counted: whether items are batches with a quantity and no serial.
        accepts_attested: whether a countersigned late entry may count towards release (G10, D06).
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
    steps: Annotated[tuple[Step, ...], Several, Field(min_length=1, max_length=STEPS_MAX)]
    limits: Annotated[tuple[Limit, ...], Several, Field(max_length=LINES_MAX)] = ()
    never: Annotated[tuple[Never, ...], Several, Field(max_length=LINES_MAX)] = ()
    delay: Delay | None = None
    readiness: Readiness | None = None
    reinspection: Reinspection | None = None

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
