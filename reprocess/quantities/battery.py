"""Battery: how worn a pack is, how long it still runs, and whether that is enough for a wear.

A pack is judged by the minutes it ran over the minutes it was rated for. What is left of a charge is
reckoned on the minutes that this very pack ran, not on the minutes printed on it.

Everything is exact but the powers of the Peukert law, which are cut to a step that the function
names. Every function raises ValueError, with a sentence, for a number that is not finite or lies
outside the range named beside it.

This is advice. The manufacturer's instructions govern when a pack is retired, charged or worn.

Sources: beside each number; NIOSH means "Getting optimal performance from a powered air-purifying
respirator depends on the condition of its battery", Publication 2013-146.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum, unique
from fractions import Fraction
from math import floor
from typing import Final, Self

from reprocess.quantities.exact import Exact, at_least, at_most, exactly, is_finite, require, within

ALARM_LEAVES_MIN: Final = 30
"""Minutes left when the low-battery alarm sounds: common practice, no source."""

ASSEMBLY_RUN_MIN_LEAST: Final = 240
"""A pack must run its assembly for 4 h. Source: NIOSH; 42 CFR 84.179(a) tests for as long."""

RUN_TEST_C_RANGE: Final = (15, 25)
"""A measured run time is comparable at 20 degrees Celsius, give or take 5.

Source: the rated capacity test of IEC 61951-2 (nickel-metal hydride), read in a summary.
"""

MINUTES_RANGE: Final = (0, 10_080)
RUN_C_RANGE: Final = (-40, 80)
CAPACITY_AH_RANGE: Final = (Decimal("0.001"), Decimal(1_000))
CURRENT_A_RANGE: Final = (Decimal("0.001"), Decimal(1_000))
RATED_HOURS_RANGE: Final = (Decimal("0.1"), Decimal(200))
PEUKERT_RANGE: Final = (1, 2)
HOURS_RANGE: Final = (0, 1_000)
"""What lies outside is a slip of the hand or no pack for a respirator. Our own choice."""

_PERCENT_RANGE: Final = (0, 100)
_PERCENT_WHOLE: Final = 100
_HOUR_STEPS: Final = 10**6


@unique
class Health(StrEnum):
    """What the run time of a pack says about it; the values are stored words."""

    GOOD = "good"
    WATCH = "watch"
    RETIRE = "retire"
    TEST_AGAIN = "test-again"
    """The run was measured too cold or too warm to say anything; until it is repeated, not good."""


@dataclass(frozen=True, slots=True)
class RetireLimits:
    """The shares of the rated value, in percent, below which a pack is watched and retired.

    Raises:
        ValueError: a limit is not above 0 or above 100, or a pack would be retired before it is watched.
    """

    watch_percent: Fraction
    retire_percent: Fraction

    def __post_init__(self) -> None:
        ordered = 0 < self.retire_percent <= self.watch_percent <= _PERCENT_WHOLE
        require("A pack is watched, then retired, between 100 % and 0 %.", holds=ordered)

    @classmethod
    def customary(cls) -> Self:
        """Returns the limits for a pack whose manufacturer states none: watched at 90 %, retired at 80 %.

        They are the strictest criteria in print, and our own choice. Ends of life in print: 60 %
        (IEC 61960-3, endurance), 70 and 80 % (NASA Ames ageing data), and 90 % after 500 and 80 %
        after 1000 cycles (GB 31484).
        """
        return cls(watch_percent=Fraction(90), retire_percent=Fraction(80))

    def judged(self, share_percent: Exact) -> Health:
        """Returns what a share of the rated run time or capacity says; equality counts as met."""
        share = _at_least_zero(share_percent, "A share in percent")
        if not at_least(share, self.retire_percent):
            return Health.RETIRE
        return Health.GOOD if at_least(share, self.watch_percent) else Health.WATCH


@dataclass(frozen=True, slots=True)
class RunTime:
    """A run from full to empty at the flow of use: minutes measured and rated, and how warm it was.

    Raises:
        ValueError: a time lies outside `MINUTES_RANGE`, the rated one is zero, or the temperature is
            outside `RUN_C_RANGE`.
    """

    measured_min: Fraction
    rated_min: Fraction
    celsius: Fraction

    def __post_init__(self) -> None:
        _minutes(self.measured_min)
        require("A pack is rated for more than no time.", holds=_minutes(self.rated_min) > 0)
        within(self.celsius, RUN_C_RANGE, "A temperature in degrees Celsius")

    @property
    def share_percent(self) -> Fraction:
        """Returns the measured share of the rated run time; a new pack may reach more than 100 %."""
        return self.measured_min / self.rated_min * _PERCENT_WHOLE

    @property
    def runs_the_assembly(self) -> bool:
        """Returns whether the pack ran for the 4 h that an approved assembly needs."""
        return at_least(self.measured_min, ASSEMBLY_RUN_MIN_LEAST)

    def health(self, limits: RetireLimits) -> Health:
        """Returns what the run says about the pack; a run too cold or too warm says nothing."""
        coldest, warmest = RUN_TEST_C_RANGE
        if not coldest <= self.celsius <= warmest:
            return Health.TEST_AGAIN
        return limits.judged(self.share_percent)


def run_time(measured_min: Exact, rated_min: Exact, celsius: Exact) -> RunTime:
    """Returns a run of so many minutes of the rated ones, at so many degrees Celsius."""
    warmth = within(celsius, RUN_C_RANGE, "A temperature in degrees Celsius")
    return RunTime(_minutes(measured_min), _minutes(rated_min), warmth)


def left_percent(capacity_ah: Exact, *, of_ah: Exact) -> Fraction:
    """Returns the capacity that is left, in percent of what is named: the rated or the first one.

    Sources use both, and they differ, so it is always named.
    """
    return _capacity(capacity_ah) / _capacity(of_ah) * _PERCENT_WHOLE


def faded_percent(capacity_ah: Exact, *, of_ah: Exact) -> Fraction:
    """Returns the capacity that is lost, in percent of what is named; 0 where nothing is lost."""
    return max(_PERCENT_WHOLE - left_percent(capacity_ah, of_ah=of_ah), Fraction(0))


def minutes_left(charge_percent: Exact, *, full_min: Exact) -> Fraction:
    """Returns the minutes that a state of charge still runs.

    `full_min` is what this pack runs when full, as it was measured at the flow of use. It assumes the
    same flow and warmth, and a charge that falls evenly; a meter on the pack may not.
    """
    charge = within(charge_percent, _PERCENT_RANGE, "A state of charge in percent")
    return _minutes(full_min) * charge / _PERCENT_WHOLE


def hours_by_one_ampere(capacity_ah: Exact, current_a: Exact, exponent: Exact) -> Fraction:
    """Returns C / I ** k: the capacity C is what the battery gives at a current of 1 A.

    The hours are cut to a millionth. Not for a capacity that is rated over a number of hours, as it
    then claims another time: use `hours_by_rating`.

    Source: Peukert's law for lead-acid batteries.
    """
    amperes = float(within(current_a, CURRENT_A_RANGE, "A current in A"))
    return _hours(float(_capacity(capacity_ah)) / amperes ** _peukert(exponent))


def hours_by_rating(capacity_ah: Exact, rated_hours: Exact, current_a: Exact, exponent: Exact) -> Fraction:
    """Returns H (C / (I H)) ** k: the capacity C is what the battery gives evenly over H hours.

    The hours are cut to a millionth.

    Source: Peukert's law for lead-acid batteries.
    """
    hours = within(rated_hours, RATED_HOURS_RANGE, "A rated time in hours")
    amperes = within(current_a, CURRENT_A_RANGE, "A current in A")
    return _hours(float(hours) * float(_capacity(capacity_ah) / (amperes * hours)) ** _peukert(exponent))


@unique
class WearFit(StrEnum):
    """How a planned wear and what is left of a charge go together; the values are stored words."""

    BEFORE_ALARM = "before-alarm"
    """The wear ends before the alarm sounds, or just then. The only one to plan with."""
    INTO_ALARM = "into-alarm"
    """The alarm sounds during the wear."""
    RUNS_OUT = "runs-out"
    """The pack is empty before the wear ends."""


@dataclass(frozen=True, slots=True)
class WearAdvice:
    """How a planned wear fits, and the minutes to the alarm and to an empty pack."""

    fit: WearFit
    to_alarm_min: Fraction
    to_empty_min: Fraction


def wear_advice(planned_min: Exact, left_min: Exact, *, alarm_leaves_min: Exact) -> WearAdvice:
    """Returns whether a planned wear fits into the minutes left before the low-battery alarm.

    `alarm_leaves_min` is the manufacturer's; where none is stated, `ALARM_LEAVES_MIN`. If less is
    left than the alarm leaves, no minute is left to it.
    """
    planned = _minutes(planned_min)
    require("A planned wear lasts longer than no time.", holds=planned > 0)
    left = _minutes(left_min)
    to_alarm = max(left - _minutes(alarm_leaves_min), Fraction(0))
    if at_most(planned, to_alarm):
        fit = WearFit.BEFORE_ALARM
    else:
        fit = WearFit.INTO_ALARM if at_most(planned, left) else WearFit.RUNS_OUT
    return WearAdvice(fit, to_alarm_min=to_alarm, to_empty_min=left)


def equivalent_full_cycles(discharges_percent: Iterable[Exact]) -> Fraction:
    """Returns the sum of the depths of discharge, each in percent, in full discharges.

    How often the pack was put on the charger does not count.
    """
    depths = (within(depth, _PERCENT_RANGE, "A depth of discharge in percent") for depth in discharges_percent)
    return sum(depths, Fraction(0)) / _PERCENT_WHOLE


def charge_cycles(discharges_percent: Iterable[Exact]) -> int:
    """Returns the charge cycles that are complete: one for each full capacity that was drawn.

    Two discharges by half are one cycle, however often the pack was charged between.
    """
    return floor(equivalent_full_cycles(discharges_percent))


def _hours(hours: float) -> Fraction:
    """Returns hours cut to a millionth; the cut is larger than any error of the power."""
    lowest, highest = HOURS_RANGE
    require(f"The law is not meant for more than {highest} h.", holds=lowest <= hours <= highest)
    return Fraction(floor(Fraction(hours) * _HOUR_STEPS), _HOUR_STEPS)


def _peukert(exponent: Exact) -> float:
    return float(within(exponent, PEUKERT_RANGE, "A Peukert exponent"))


def _capacity(capacity_ah: Exact) -> Fraction:
    return within(capacity_ah, CAPACITY_AH_RANGE, "A capacity in Ah")


def _minutes(minutes: Exact) -> Fraction:
    return within(minutes, MINUTES_RANGE, "A time in minutes")


def _at_least_zero(value: Exact, what: str) -> Fraction:
    require(f"{what} cannot be less than zero.", holds=is_finite(value) and value >= 0)
    return exactly(value)
