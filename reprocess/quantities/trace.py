"""A temperature trace: what a logger saw, accepted only when it can be evidence at all."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum, unique
from itertools import islice, pairwise
from math import isfinite

PLAUSIBLE_C = (-40.0, 200.0)
"""A sample outside is a broken sensor. Our own choice: hot air and steam stay well inside."""

AT_S_MAX = 1e11
"""Times may count from the start of the trace or from 1970; either stays below. Our own choice."""

SAMPLES_MAX = 200_000
"""Two days at a sample a second. Our own choice."""

SAMPLES_MIN = 2
"""One sample spans no time."""


@dataclass(frozen=True, slots=True)
class Sample:
    """A temperature at a time, in seconds from any fixed zero and degrees Celsius."""

    at_s: float
    celsius: float


@dataclass(frozen=True, slots=True)
class Interval:
    """The time from one sample to the next; `observed` is false across a gap in the trace."""

    before: Sample
    after: Sample
    observed: bool

    @property
    def seconds(self) -> float:
        """Returns how long it lasted; always above zero."""
        return self.after.at_s - self.before.at_s


@dataclass(frozen=True, slots=True)
class Trace:
    """Samples that passed `read_trace`, oldest first, at least two.

    Between samples further apart than `gap_s_max` seconds nothing was observed, so nothing counts.
    """

    samples: tuple[Sample, ...]
    gap_s_max: float

    def intervals(self) -> tuple[Interval, ...]:
        """Returns the times between neighbouring samples, oldest first."""
        return tuple(
            Interval(before, after, observed=after.at_s - before.at_s <= self.gap_s_max)
            for before, after in pairwise(self.samples)
        )


@unique
class TraceFault(StrEnum):
    """What kept samples from being a trace; the values are stored words."""

    TOO_FEW = "too-few"
    TOO_MANY = "too-many"
    NOT_FINITE = "not-finite"
    IMPLAUSIBLE = "implausible"
    NOT_INCREASING = "not-increasing"


_SENTENCES = {
    TraceFault.TOO_FEW: "A trace needs at least two samples; this one ends at sample {number}.",
    TraceFault.TOO_MANY: "Sample {number} is more than one trace may hold; split the file.",
    TraceFault.NOT_FINITE: "Sample {number} is not a number; the trace cannot be used.",
    TraceFault.IMPLAUSIBLE: "Sample {number} is not believable; check the sensor and its unit.",
    TraceFault.NOT_INCREASING: "Sample {number} is not later than the one before it.",
}


@dataclass(frozen=True, slots=True)
class BadTrace:
    """The answer to samples that are no trace; `sample` counts from 1."""

    fault: TraceFault
    sample: int

    @property
    def sentence(self) -> str:
        """Returns the reason as one sentence for the operator."""
        return _SENTENCES[self.fault].format(number=self.sample)


def read_trace(samples: Iterable[tuple[float, float]], *, gap_s_max: float) -> Trace | BadTrace:
    """Returns the (seconds, degrees Celsius) pairs as a trace, or the first bad sample and why.

    Spacing may be irregular; times must strictly increase. `gap_s_max` is the longest time between
    two samples that counts as observed; `math.inf` gives up that protection.
    """
    checked: list[Sample] = []
    for number, (at_s, celsius) in enumerate(islice(samples, SAMPLES_MAX + 1), start=1):
        sample = Sample(at_s, celsius)
        fault = _fault(sample, checked)
        if fault is not None:
            return BadTrace(fault, number)
        checked.append(sample)
    if len(checked) < SAMPLES_MIN:
        return BadTrace(TraceFault.TOO_FEW, len(checked))
    return Trace(tuple(checked), gap_s_max)


def inside(value: float, bounds: tuple[float, float]) -> bool:
    """Returns whether the value lies between the bounds, both included; NaN never does."""
    return bounds[0] <= value <= bounds[1]


def _fault(sample: Sample, earlier: list[Sample]) -> TraceFault | None:
    if len(earlier) >= SAMPLES_MAX:
        return TraceFault.TOO_MANY
    if not (isfinite(sample.at_s) and isfinite(sample.celsius)):
        return TraceFault.NOT_FINITE
    if not (inside(sample.celsius, PLAUSIBLE_C) and abs(sample.at_s) <= AT_S_MAX):
        return TraceFault.IMPLAUSIBLE
    if earlier and sample.at_s <= earlier[-1].at_s:
        return TraceFault.NOT_INCREASING
    return None
