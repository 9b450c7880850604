"""Everything about time in a workflow: dwells, pauses between steps, limits of a life, what comes back.

Durations are whole seconds, dates days of 24 hours; temperatures are degrees Celsius; shares are percent.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from reprocess.definitions.block import Days, Name, Names, Number, Seconds, Sourced
from reprocess.definitions.lines import Failing


class Thermal(Sourced):
    """Is a thermal dose to reach: A0 in seconds at 80 degC, z = 10 K, counted from the floor temperature up."""

    a0_least_s: Seconds
    floor_c: Number
    sampling: Literal["smaller-neighbour", "left-rectangles", "trapezium", "straight-lines"] = "smaller-neighbour"


class Loading(Sourced):
    """Says that a load of a machine may do the step, and what the load must keep to.

    Attributes:
        hottest_c: the highest temperature that the item bears, in degrees Celsius (W02).
        indicators: the indicators whose results must be on record before the load passes (G11).
    """

    hottest_c: Number
    indicators: Names = ()


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
        loading: what a load must keep to that does this step; a thermal step without it goes into no load.
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
    loading: Loading | None = None
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
        if self.loading is not None and self.kind != "thermal":
            message = "`loading` belongs to a thermal dwell: a load is judged by its heat"
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


class Limit(Sourced):
    """Is a limit on a part's life (T12): at `warn_percent` a reminder, at `most` no release and no issue."""

    limit: Literal["cycles", "age-days", "opened-days", "sealed-expiry", "charge-cycles", "hours"]
    most: Annotated[int, Field(gt=0)] | None = None
    warn_percent: Annotated[int, Field(gt=0, lt=100)] = 90


class Recurring(Sourced):
    """Says how often a step must have passed, in whichever cycle: a test that wear or time calls for, not use.

    Its latest pass counts across cycles, until it is due again or the step fails. An item on which it never passed
    counts from being put into service.

    Attributes:
        step: a step without a clock that is not mandated by itself.
        every_days: how long a pass counts, in days of 24 hours.
        every_charge_cycles: how many charge cycles a pass counts for.
        rule: the rule of the catalogue that the answer names.
        grace_days: for so long after `every_days` the step is only asked for; then the item is not ready without it.
    """

    step: Name
    every_days: Days | None = None
    every_charge_cycles: Annotated[int, Field(gt=0)] | None = None
    rule: Annotated[str, StringConstraints(pattern=r"^[A-Z][0-9]{2}$")]
    warn_percent: Annotated[int, Field(gt=0, lt=100)] = 90
    grace_days: Days | None = None

    @model_validator(mode="after")
    def _grace_is_after_days(self) -> Self:
        if self.grace_days is not None and self.every_days is None:
            message = "`grace_days` come after `every_days`"
            raise ValueError(message)
        return self

    @model_validator(mode="after")
    def _comes_back(self) -> Self:
        if self.every_days is None and self.every_charge_cycles is None:
            message = "a recurring step says `every_days`, `every_charge_cycles` or both"
            raise ValueError(message)
        return self


class Delay(Sourced):
    """Says what a late start of cleaning asks for (T11).

    Attributes:
        until: the steps with which cleaning begins; what comes before them does not stop the clock.
        extended_s: after so long the item takes the way of the late class.
        held_s: after so long it is held as well.
    """

    until: Annotated[Names, Field(min_length=1)]
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
