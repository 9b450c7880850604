"""Airflow: how dense the air of a site is, what a float meter tells there, and the flow to reach.

Litres a minute mean nothing without the pressure and the temperature of the air they are counted
in, so a flow is converted from one named state of air to another and never guessed. Altitudes are
geopotential metres; for a building they are the metres of the map.

Everything is exact but powers, exponentials and roots. Those are reckoned inside and cut to a step
that the function names. Every function raises ValueError, with a sentence, for a number that is
not finite or lies outside the range named beside it.

This is advice. The manufacturer's instructions say how, and with which indicator, a flow is checked.

Sources: U.S. Standard Atmosphere, 1976 (atmosphere, gas constant of dry air); A. L. Buck, Journal
of Applied Meteorology 20 (1981) 1527, with his coefficients of 1996 (water vapour); 42 CFR Part 84
(flows and filters).
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum, unique
from fractions import Fraction
from math import exp, isqrt
from typing import Final

from reprocess.quantities.exact import Exact, at_least, exactly, is_finite, require, within

ALTITUDE_M_RANGE: Final = (-2_000, 20_000)
"""From where the tables of ISO 2533 begin to the top of the layer above the troposphere."""

PASCAL_RANGE: Final = (1_000, 300_000)
CELSIUS_RANGE: Final = (-90, 120)
"""Air outside is a slip of the hand or no ideal gas. Our own choice."""

MOIST_CELSIUS_RANGE: Final = (0, 50)
"""Where the vapour over water is known to a two-thousandth. Colder, ice would count."""

FLOW_L_PER_MIN_RANGE: Final = (0, 2_000)
MINUTES_RANGE: Final = (0, 10_080)
FILTERS_RANGE: Final = (1, 6)
"""No powered respirator blows more, runs longer than a week or holds more filters. Our own choice."""

_PERCENT_RANGE: Final = (0, 100)
_PERCENT_WHOLE: Final = 100
_LITRES_PER_M3: Final = 1_000

_ZERO_CELSIUS_K: Final = Fraction("273.15")
_SEA_LEVEL_PA: Final = 101_325
_SEA_LEVEL_C: Final = 15
_LAPSE_K_PER_M: Final = Fraction("0.0065")
_TROPOPAUSE_M: Final = 11_000
_GRAVITY_M_PER_S2: Final = Fraction("9.80665")
_DRY_J_PER_KG_K: Final = Fraction("287.05287")
_VAPOUR_J_PER_KG_K: Final = Fraction("461.5")
"""8.31432 J/(mol K) by 0.018015 kg/mol."""

_PASCAL_PLACES: Final = 6
_ROOT_STEPS: Final = 10**12


@dataclass(frozen=True, slots=True)
class Air:
    """A state of air: its whole pressure, its temperature and the share of the vapour in the pressure.

    Raises:
        ValueError: such air cannot exist, or lies outside `PASCAL_RANGE` or `CELSIUS_RANGE`.
    """

    pascal: Fraction
    kelvin: Fraction
    vapour_pascal: Fraction = Fraction(0)

    def __post_init__(self) -> None:
        within(self.pascal, PASCAL_RANGE, "A pressure in Pa")
        within(self.kelvin - _ZERO_CELSIUS_K, CELSIUS_RANGE, "A temperature in degrees Celsius")
        require("Vapour cannot press with less than nothing.", holds=self.vapour_pascal >= 0)
        require("Vapour cannot press with all the pressure of air.", holds=self.vapour_pascal < self.pascal)

    @property
    def dry_pascal(self) -> Fraction:
        """Returns the pressure without the vapour, in Pa."""
        return self.pascal - self.vapour_pascal

    @property
    def kg_per_m3(self) -> Fraction:
        """Returns the density, in kg/m3: dry air and vapour each as an ideal gas."""
        return (self.dry_pascal / _DRY_J_PER_KG_K + self.vapour_pascal / _VAPOUR_J_PER_KG_K) / self.kelvin


@unique
class Reference(StrEnum):
    """The dry air in which standard litres are counted; the values are stored words."""

    NTPD = "ntpd"
    """Normal temperature and pressure: 20 degrees Celsius and one atmosphere (as used at NIST)."""
    STPD = "stpd"
    """Standard temperature and pressure: 0 degrees Celsius and one atmosphere (physiology)."""

    @property
    def air(self) -> Air:
        """Returns the air of the reference."""
        return dry_air(_SEA_LEVEL_PA, _REFERENCE_CELSIUS[self])


_REFERENCE_CELSIUS: Final = {Reference.NTPD: 20, Reference.STPD: 0}


def dry_air(pascal: Exact, celsius: Exact) -> Air:
    """Returns dry air of this pressure (Pa) and temperature (degrees Celsius)."""
    return Air(
        pascal=within(pascal, PASCAL_RANGE, "A pressure in Pa"),
        kelvin=within(celsius, CELSIUS_RANGE, "A temperature in degrees Celsius") + _ZERO_CELSIUS_K,
    )


def moist_air(pascal: Exact, celsius: Exact, humidity_percent: Exact) -> Air:
    """Returns air of this pressure (Pa), temperature (degrees Celsius) and relative humidity.

    The temperature lies in `MOIST_CELSIUS_RANGE`. The vapour is known to a two-thousandth of itself.
    """
    humidity = within(humidity_percent, _PERCENT_RANGE, "A relative humidity in percent")
    warmth = within(celsius, MOIST_CELSIUS_RANGE, "The temperature of moist air in degrees Celsius")
    dry = dry_air(pascal, celsius)
    return Air(dry.pascal, dry.kelvin, _saturated_pascal(warmth) * humidity / _PERCENT_WHOLE)


def standard_air(altitude_m: Exact) -> Air:
    """Returns the dry air of the standard atmosphere at a geopotential altitude in metres.

    The altitude lies in `ALTITUDE_M_RANGE`. The temperature is exact, the pressure is rounded to a
    millionth of a pascal.
    """
    altitude = within(altitude_m, ALTITUDE_M_RANGE, "An altitude in metres")
    kelvin = _standard_kelvin(altitude)
    return Air(pascal=_standard_pascal(altitude, kelvin), kelvin=kelvin)


def site_air(altitude_m: Exact, celsius: Exact) -> Air:
    """Returns the dry air of a room: the standard pressure of its altitude, its own temperature.

    The weather moves the pressure by some percent; where a barometer hangs, use `dry_air`.
    """
    return dry_air(standard_air(altitude_m).pascal, celsius)


def converted(flow_l_per_min: Exact, *, at: Air, to: Air) -> Fraction:
    """Returns the same flow of dry air, counted in litres a minute of another state.

    With `at` the air of the room and `to` a reference it makes standard litres of actual ones, and
    the other way round. A mass flow meter shows litres at its reference already. Vapour is left out
    on both sides, because it condenses or is added on the way.
    """
    flow = _flow(flow_l_per_min)
    return flow * (at.dry_pascal / at.kelvin) / (to.dry_pascal / to.kelvin)


def actual_flow(indicated_l_per_min: Exact, *, calibrated: Air, site: Air) -> Fraction:
    """Returns the actual litres a minute behind the reading of a float meter.

    The actual flow is the reading times the square root of the density at calibration by the density
    at the site. The root is cut to 12 decimals, so the flow is never overstated.

    It assumes the same tube and float, a float so heavy that the air carries nothing of it, and a
    drag that does not depend on viscosity. A float with a mark for each altitude needs no correction.

    Source: the square-root law of variable-area meters and orifices.
    """
    return _flow(indicated_l_per_min) * _flow_ratio(calibrated, site)


def reading_for(actual_l_per_min: Exact, *, calibrated: Air, site: Air) -> Fraction:
    """Returns the reading that a float meter must show for an actual flow; undoes `actual_flow`.

    In thin air it lies below the actual flow. It is never understated.
    """
    return _flow(actual_l_per_min) / _flow_ratio(calibrated, site)


@unique
class Fit(StrEnum):
    """How a respirator meets the wearer; the values are stored words."""

    LOOSE = "loose-fitting"
    TIGHT = "tight-fitting"


@dataclass(frozen=True, slots=True)
class Acceptance:
    """The least flow that is accepted, in litres a minute, and who says so.

    Raises:
        ValueError: the flow is not above zero or nobody says so.
    """

    least_l_per_min: Fraction
    source: str

    def __post_init__(self) -> None:
        require("An acceptance flow is more than zero.", holds=_flow(self.least_l_per_min) > 0)
        require("An acceptance flow needs its source.", holds=bool(self.source.strip()))

    def met_by(self, flow_l_per_min: Exact) -> bool:
        """Returns whether the unrounded flow reaches the least one; equality counts as met."""
        return at_least(_flow(flow_l_per_min), self.least_l_per_min)


_LEAST_L_PER_MIN: Final = {Fit.LOOSE: 170, Fit.TIGHT: 115}
_LEAST_SOURCE: Final = "42 CFR 84.179(a) and 84.175(b), test airflow of a powered respirator"


def acceptance(fit: Fit, *, approval: Acceptance | None) -> Acceptance:
    """Returns the least flow for a class of respirator: its approval's own, or the class's if stricter.

    `approval` is what the approval or the manufacturer states; None: neither states a flow.
    """
    least = Acceptance(Fraction(_LEAST_L_PER_MIN[fit]), f"{_LEAST_SOURCE}, {fit}")
    if approval is not None and at_least(approval.least_l_per_min, least.least_l_per_min):
        return approval
    return least


def each_filter_l_per_min(flow_l_per_min: Exact, filters: int) -> Fraction:
    """Returns the flow through one of so many like filters.

    Source: 42 CFR 84.175(c).
    """
    return _flow(flow_l_per_min) / within(filters, FILTERS_RANGE, "A number of filters")


def air_drawn_m3(flow_l_per_min: Exact, minutes: Exact) -> Fraction:
    """Returns the air that went through in so many minutes, in m3."""
    return _flow(flow_l_per_min) * within(minutes, MINUTES_RANGE, "A time in minutes") / _LITRES_PER_M3


@unique
class FilterLevel(StrEnum):
    """The efficiency levels of particulate filters, strictest first; the values are stored words."""

    LEVEL_100 = "100"
    LEVEL_99 = "99"
    LEVEL_95 = "95"


EFFICIENCY_PERCENT_LEAST: Final = {
    FilterLevel.LEVEL_100: Decimal("99.97"),
    FilterLevel.LEVEL_99: Decimal(99),
    FilterLevel.LEVEL_95: Decimal(95),
}
"""Source: 42 CFR 84.170(a)(3)."""


def filter_level(*, challenge: Exact, passed: Exact) -> FilterLevel | None:
    """Returns the highest level that a filter reaches, or None; equality counts as reached.

    `challenge` is what was offered and `passed` what came through, both in the same unit.
    """
    efficiency_percent = _PERCENT_WHOLE - penetration_percent(challenge=challenge, passed=passed)
    reached = (level for level, least in EFFICIENCY_PERCENT_LEAST.items() if at_least(efficiency_percent, least))
    return next(reached, None)


def penetration_percent(*, challenge: Exact, passed: Exact) -> Fraction:
    """Returns the share of what was offered that came through, in percent.

    `challenge` is above zero, and no more than all of it can pass.
    """
    require("A filter is offered more than nothing.", holds=is_finite(challenge) and challenge > 0)
    require(
        "No more can pass than was offered.", holds=is_finite(passed) and 0 <= exactly(passed) <= exactly(challenge)
    )
    return exactly(passed) / exactly(challenge) * _PERCENT_WHOLE


def nominal_protection_factor(inward_leakage_percent: Exact) -> Fraction:
    """Returns by how much less is breathed in at most: the reciprocal of the inward leakage.

    Source: EN 12941, as summarised elsewhere. A country may assign less.
    """
    leakage = within(inward_leakage_percent, _PERCENT_RANGE, "An inward leakage in percent")
    require("An inward leakage is more than zero.", holds=leakage > 0)
    return _PERCENT_WHOLE / leakage


def _standard_kelvin(altitude_m: Fraction) -> Fraction:
    return _SEA_LEVEL_C + _ZERO_CELSIUS_K - _LAPSE_K_PER_M * min(altitude_m, Fraction(_TROPOPAUSE_M))


def _standard_pascal(altitude_m: Fraction, kelvin: Fraction) -> Fraction:
    """Returns the pressure: a power of the temperature, and above the tropopause an exponential."""
    exponent = float(_GRAVITY_M_PER_S2 / (_LAPSE_K_PER_M * _DRY_J_PER_KG_K))
    pascal = _SEA_LEVEL_PA * float(kelvin / _standard_kelvin(Fraction(0))) ** exponent
    above_m = max(altitude_m - _TROPOPAUSE_M, Fraction(0))
    pascal *= exp(-float(_GRAVITY_M_PER_S2 * above_m / (_DRY_J_PER_KG_K * kelvin)))
    return round(Fraction(pascal), _PASCAL_PLACES)


def _saturated_pascal(celsius: Fraction) -> Fraction:
    """Returns the pressure of vapour over water, rounded to a millionth of a pascal.

    Source: A. L. Buck, with the coefficients of 1996.
    """
    degrees = float(celsius)
    pascal = 611.21 * exp((18.678 - degrees / 234.5) * degrees / (257.14 + degrees))
    return round(Fraction(pascal), _PASCAL_PLACES)


def _flow_ratio(calibrated: Air, site: Air) -> Fraction:
    """Returns the square root of a ratio of densities, cut to 12 decimals, in whole numbers."""
    square = calibrated.kg_per_m3 / site.kg_per_m3
    return Fraction(isqrt(square.numerator * _ROOT_STEPS**2 // square.denominator), _ROOT_STEPS)


def _flow(flow_l_per_min: Exact) -> Fraction:
    return within(flow_l_per_min, FLOW_L_PER_MIN_RANGE, "A flow in L/min")
