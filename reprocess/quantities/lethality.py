"""How much heat a temperature trace delivered: A0, F0, and unbroken holds in a band.

A dose is a number of seconds at a reference temperature that would have killed as much. It depends
on how the time between two samples is read, on the temperature below which nothing counts and on
the phase of the trace that is counted, so a result always states all three. As evidence for a
target use `a0_as_evidence` or `f0_as_evidence`, which read every interval at its smaller neighbour.

Source: EN ISO 15883-1, Annex B: A0 is the sum of 10 ** ((T - 80) / z) dt with z = 10 K, in
seconds, T in degrees Celsius, inside the disinfection phase. The floor (65 degrees Celsius) stands
in some texts only. What D and z values say of a dose stands in `equivalence`.
"""

from dataclasses import dataclass
from enum import StrEnum, unique
from math import expm1, fsum, inf, log
from typing import assert_never

from reprocess.quantities.trace import PLAUSIBLE_C, Interval, Trace, inside

A0_REFERENCE_C = 80.0
A0_Z_K = 10.0
"""Source of both: EN ISO 15883-1, Annex B."""

F0_REFERENCE_C = 121.1
F0_Z_K = 10.0
"""121.1 degrees Celsius are 250 Fahrenheit to a decimal. Sources print 121, 121.1 and 121.11.

The published values that `tests/published` compares with stand on 121 where one reference is named
(V04-21), and on each of the three where it is the question (V04-23). For another reference than
121.1 name the scale: `lethal_seconds`.
"""

SECONDS_PER_MINUTE = 60

Z_K_RANGE = (1.0, 100.0)
"""A z value outside is a slip of the hand. Our own choice."""


@unique
class Sampling(StrEnum):
    """How the time between two samples is read; the values are stored words.

    Without a floor a trapezium never falls below straight lines, as the rate bends upwards with
    temperature. None of them sees a dip between two samples.
    """

    LEFT_RECTANGLES = "left-rectangles"
    """Each sample holds until the next; overstates a cooling trace. The last one adds nothing."""
    TRAPEZIUM = "trapezium"
    """The mean of the two lethal rates."""
    STRAIGHT_LINES = "straight-lines"
    """The exact integral, the temperature running straight from sample to sample."""
    SMALLER_NEIGHBOUR = "smaller-neighbour"
    """The cooler of the two samples holds throughout: the conservative one."""


@dataclass(frozen=True, slots=True)
class Scale:
    """The reference temperature, z value and floor of a dose.

    `floor_c` is the temperature below which nothing counts; it counts itself. None: no floor.

    Raises:
        ValueError: the scale is not one that a standard could mean.
    """

    reference_c: float
    z_k: float
    floor_c: float | None

    def __post_init__(self) -> None:
        temperatures = (
            self.reference_c,
            self.reference_c if self.floor_c is None else self.floor_c,
        )
        if not all(inside(celsius, PLAUSIBLE_C) for celsius in temperatures):
            sentence = f"A reference or floor lies outside {PLAUSIBLE_C} degrees Celsius."
            raise ValueError(sentence)
        if not inside(self.z_k, Z_K_RANGE):
            sentence = f"A z value of {self.z_k} K lies outside {Z_K_RANGE} K."
            raise ValueError(sentence)

    def rate(self, celsius: float) -> float:
        """Returns the seconds at the reference that one second at this temperature is worth."""
        if self.floor_c is not None and celsius < self.floor_c:
            return 0.0
        return float(10.0 ** ((celsius - self.reference_c) / self.z_k))


@dataclass(frozen=True, slots=True)
class Phase:
    """The part of a trace that counts, in the seconds of the trace, both ends included.

    An interval counts when it lies wholly inside; one that crosses an end is not credited.

    Raises:
        ValueError: it does not end after it began.
    """

    began_s: float
    ended_s: float

    def __post_init__(self) -> None:
        if not self.began_s < self.ended_s:
            sentence = f"A phase from {self.began_s} s to {self.ended_s} s does not end after it began."
            raise ValueError(sentence)

    def holds(self, part: Interval) -> bool:
        """Returns whether the interval lies wholly inside."""
        return self.began_s <= part.before.at_s and part.after.at_s <= self.ended_s


@dataclass(frozen=True, slots=True)
class Lethality:
    """A heat dose in seconds at the reference, with everything it depends on."""

    equivalent_s: float
    scale: Scale
    sampling: Sampling
    gap_s_max: float
    unobserved_s: float
    """Seconds of the phase that counted for nothing, as no sample fell into them."""
    phase: Phase | None = None
    """The part of the trace that was counted. None: the whole of it."""

    @property
    def equivalent_min(self) -> float:
        """Returns the same dose in minutes, the unit in which F0 is told."""
        return self.equivalent_s / SECONDS_PER_MINUTE

    def reaches(self, target_s: float) -> bool:
        """Returns whether the unrounded dose meets a target above zero; equality counts as met."""
        return 0 < target_s <= self.equivalent_s


@dataclass(frozen=True, slots=True)
class Hold:
    """The longest unbroken time in a band, bounds included, with everything it depends on."""

    seconds: float
    lowest_c: float
    highest_c: float
    sampling: Sampling
    gap_s_max: float
    phase: Phase | None = None
    """The part of the trace that was looked at. None: the whole of it."""


def a0(trace: Trace, *, floor_c: float | None, sampling: Sampling, phase: Phase | None = None) -> Lethality:
    """Returns the A0 of a trace: seconds at 80 degrees Celsius with z = 10 K."""
    return lethal_seconds(trace, Scale(A0_REFERENCE_C, A0_Z_K, floor_c), sampling, phase)


def a0_as_evidence(trace: Trace, *, floor_c: float | None, phase: Phase | None = None) -> Lethality:
    """Returns the A0 that may stand against a target: the conservative reading of the trace.

    Every interval counts at the cooler of its two samples, so a trace that rises or falls between
    samples is never credited with more than it delivered. The error of the sensor is not taken off.
    """
    return a0(trace, floor_c=floor_c, sampling=Sampling.SMALLER_NEIGHBOUR, phase=phase)


def f0(trace: Trace, *, floor_c: float | None, sampling: Sampling, phase: Phase | None = None) -> Lethality:
    """Returns the F0 of a trace: seconds at 121.1 degrees Celsius with z = 10 K."""
    return lethal_seconds(trace, Scale(F0_REFERENCE_C, F0_Z_K, floor_c), sampling, phase)


def f0_as_evidence(trace: Trace, *, floor_c: float | None, phase: Phase | None = None) -> Lethality:
    """Returns the F0 that may stand against a target, read like the A0 of `a0_as_evidence`."""
    return f0(trace, floor_c=floor_c, sampling=Sampling.SMALLER_NEIGHBOUR, phase=phase)


def lethal_seconds(trace: Trace, scale: Scale, sampling: Sampling, phase: Phase | None = None) -> Lethality:
    """Returns the dose of a trace on any scale, in seconds, counted over the phase or the whole trace."""
    intervals = _counted(trace, phase)
    doses = (_mean_rate(scale, sampling, part) * part.seconds for part in intervals if part.observed)
    return Lethality(
        equivalent_s=fsum(doses),
        scale=scale,
        sampling=sampling,
        gap_s_max=trace.gap_s_max,
        unobserved_s=fsum(part.seconds for part in intervals if not part.observed),
        phase=phase,
    )


def seconds_needed(equivalent_s: float, *, celsius: float, scale: Scale) -> float:
    """Returns the seconds at a constant temperature that give the dose; below the floor, inf."""
    rate = scale.rate(celsius)
    return equivalent_s / rate if rate > 0 else inf


def longest_hold(
    trace: Trace, *, lowest_c: float, highest_c: float, sampling: Sampling, phase: Phase | None = None
) -> Hold:
    """Returns the longest unbroken time in the band within the phase; a dip or a gap starts it anew.

    With left rectangles the first sample of an interval speaks for it. With every other rule both
    samples must be inside, and the part of an interval before a crossing is not credited.

    Source: EN ISO 15883-1, 4.3.1 (the hold is continuous).
    """
    band = (lowest_c, highest_c)
    longest_s = 0.0
    began_s: float | None = None
    for part in _counted(trace, phase):
        if not (part.observed and _stays_inside(part, band, sampling)):
            began_s = None
            continue
        began_s = part.before.at_s if began_s is None else began_s
        longest_s = max(longest_s, part.after.at_s - began_s)
    return Hold(longest_s, lowest_c, highest_c, sampling, trace.gap_s_max, phase)


def _counted(trace: Trace, phase: Phase | None) -> tuple[Interval, ...]:
    """Returns the intervals that lie in the phase, oldest first; they follow each other without a break."""
    return tuple(part for part in trace.intervals() if phase is None or phase.holds(part))


def _stays_inside(part: Interval, band: tuple[float, float], sampling: Sampling) -> bool:
    if sampling is Sampling.LEFT_RECTANGLES:
        return inside(part.before.celsius, band)
    return inside(part.before.celsius, band) and inside(part.after.celsius, band)


def _mean_rate(scale: Scale, sampling: Sampling, part: Interval) -> float:
    """Returns the lethal rate that an interval has on average under the sampling rule."""
    cooler, warmer = sorted((part.before.celsius, part.after.celsius))
    match sampling:
        case Sampling.LEFT_RECTANGLES:
            return scale.rate(part.before.celsius)
        case Sampling.TRAPEZIUM:
            return (scale.rate(cooler) + scale.rate(warmer)) / 2
        case Sampling.STRAIGHT_LINES:
            return _mean_rate_on_a_line(scale, cooler, warmer)
        case Sampling.SMALLER_NEIGHBOUR:
            return scale.rate(cooler)
        case _:
            assert_never(sampling)


def _mean_rate_on_a_line(scale: Scale, cooler: float, warmer: float) -> float:
    """Returns the mean of the lethal rate over a straight line, the part below the floor as 0.

    With u = ln(10) (T2 - T1) / z the mean of the rate from T1 to T2 is rate(T1) (e^u - 1) / u.
    """
    if cooler == warmer:
        return scale.rate(cooler)
    start = cooler if scale.floor_c is None else max(cooler, scale.floor_c)
    if start >= warmer:
        return 0.0
    rise = log(10.0) * (warmer - start) / scale.z_k
    # Two temperatures may differ by so little that nothing is left of the rise.
    growth = expm1(rise) / rise if rise > 0 else 1.0
    return (warmer - start) / (warmer - cooler) * scale.rate(start) * growth
