"""What D and z values say: log reductions, equivalent times, first-order rates. Advice only.

A D value is the time at one temperature that leaves one organism in ten alive. A z value is the
rise in kelvin that makes D ten times shorter. Both belong to one population in one medium.

No contact time and no heat dose is ever computed from these: the workflow file and the label
govern, and nothing in `rules` or `engine` reads this module.

Source: first-order inactivation as in FDA, Kinetics of Microbial Inactivation for Alternative Food
Processing Technologies, 2 June 2000: log10(N0 / N) = t / D and D(T) = D(Tr) 10 ** ((Tr - T) / z).
"""

from dataclasses import dataclass, replace
from math import inf, isfinite, log, log10

from reprocess.quantities.lethality import Z_K_RANGE, Lethality, Scale
from reprocess.quantities.trace import PLAUSIBLE_C, inside

D_S_RANGE = (1e-3, 1e7)
"""From a millisecond to four months. A D value outside is a slip of the hand. Our own choice."""

SECONDS_MAX = 1e11
"""The longest time that is reckoned with, as in `trace`. Our own choice."""

LOG10_MAX = 100.0
"""No population has more powers of ten to lose. Our own choice."""

_LN_10 = log(10.0)


@dataclass(frozen=True, slots=True)
class Resistance:
    """How a population withstands heat: its D value at the scale's reference, and the scale's z value.

    Raises:
        ValueError: the D value is not one that a table could mean.
    """

    d_s: float
    scale: Scale

    def __post_init__(self) -> None:
        if not inside(self.d_s, D_S_RANGE):
            sentence = f"A D value of {self.d_s} s lies outside {D_S_RANGE} s."
            raise ValueError(sentence)

    def d_s_at(self, celsius: float) -> float:
        """Returns the D value at another temperature, in seconds; below the floor of the scale, inf.

        Raises:
            ValueError: the temperature is not believable.
        """
        rate = self.scale.rate(_plausible(celsius))
        return self.d_s / rate if rate > 0 else inf

    def log10_reduction(self, seconds: float, *, celsius: float) -> float:
        """Returns the powers of ten by which so long at a constant temperature lowers the population.

        Raises:
            ValueError: the time is negative or too long, or the temperature is not believable.
        """
        return _lasting(seconds) / self.d_s_at(celsius)

    def seconds_for(self, log10_reduction: float, *, celsius: float) -> float:
        """Returns the seconds at a constant temperature that lower the population so far; below the floor, inf.

        Raises:
            ValueError: the reduction is not above zero or too large, or the temperature is not believable.
        """
        if not 0 < log10_reduction <= LOG10_MAX:
            sentence = f"A wanted reduction of {log10_reduction} powers of ten is not above 0 and at most {LOG10_MAX}."
            raise ValueError(sentence)
        return log10_reduction * self.d_s_at(celsius)

    def log10_reduction_of(self, dose: Lethality) -> float:
        """Returns the powers of ten by which a dose on the same scale lowers the population.

        Raises:
            ValueError: the dose stands on another scale.
        """
        if dose.scale != self.scale:
            sentence = f"A dose on {dose.scale} says nothing about a D value on {self.scale}."
            raise ValueError(sentence)
        return dose.equivalent_s / self.d_s


def equivalent_s(seconds: float, *, celsius: float, at_c: float, scale: Scale) -> float:
    """Returns the seconds at `at_c` worth as much as so many at `celsius`, by the scale's z value and floor.

    Below the floor time is worth nothing, so the answer is 0; and inf when only `at_c` lies below it.

    Raises:
        ValueError: the time is negative or too long, or a temperature is not believable.
    """
    _plausible(at_c)
    worth = replace(scale, reference_c=at_c).rate(_plausible(celsius))
    if worth > 0 and scale.rate(at_c) == 0:
        return inf
    return _lasting(seconds) * worth


def rate_per_s(d_s: float) -> float:
    """Returns the first-order rate that a D value stands for, in 1/s: ln(10) / D.

    Raises:
        ValueError: the D value is not one that a table could mean.
    """
    if not inside(d_s, D_S_RANGE):
        sentence = f"A D value of {d_s} s lies outside {D_S_RANGE} s."
        raise ValueError(sentence)
    return _LN_10 / d_s


def z_k_between(d_s: float, celsius: float, other_d_s: float, other_celsius: float) -> float:
    """Returns the z value, in kelvin, of two D values of one population at two temperatures.

    Raises:
        ValueError: a temperature or a D value is not believable, or they give no z value in its range.
    """
    tenfolds = log10(rate_per_s(other_d_s)) - log10(rate_per_s(d_s))
    rise_k = _plausible(other_celsius) - _plausible(celsius)
    z_k = rise_k / tenfolds if tenfolds else inf
    if not inside(z_k, Z_K_RANGE):
        sentence = f"Two D values with a z value of {z_k} K give none in {Z_K_RANGE} K."
        raise ValueError(sentence)
    return z_k


def _plausible(celsius: float) -> float:
    if not inside(celsius, PLAUSIBLE_C):
        sentence = f"A temperature of {celsius} lies outside {PLAUSIBLE_C} degrees Celsius."
        raise ValueError(sentence)
    return celsius


def _lasting(seconds: float) -> float:
    if not (isfinite(seconds) and 0 <= seconds <= SECONDS_MAX):
        sentence = f"A time of {seconds} s lies outside 0 to {SECONDS_MAX} s."
        raise ValueError(sentence)
    return seconds
