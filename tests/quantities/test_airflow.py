"""Air is as dense as in the tables, a meter is never believed too much, and no odd number goes in."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.airflow import (
    ALTITUDE_M_RANGE,
    Acceptance,
    Air,
    FilterLevel,
    Fit,
    Reference,
    acceptance,
    actual_flow,
    air_drawn_m3,
    converted,
    dry_air,
    each_filter_l_per_min,
    filter_level,
    moist_air,
    nominal_protection_factor,
    penetration_percent,
    reading_for,
    site_air,
    standard_air,
)
from reprocess.quantities.exact import Exact

NTPD, STPD = Reference.NTPD.air, Reference.STPD.air
BODY = moist_air(101_325, 37, 100)

altitudes_m = st.fractions(*ALTITUDE_M_RANGE, max_denominator=1000)
flows = st.fractions(min_value=0, max_value=400, max_denominator=1000)
pressures_pa = st.fractions(min_value=5_000, max_value=110_000, max_denominator=1000)
temperatures_c = st.fractions(min_value=-60, max_value=60, max_denominator=1000)
room_temperatures_c = st.fractions(min_value=0, max_value=50, max_denominator=1000)
percents = st.fractions(min_value=0, max_value=100, max_denominator=1000)
dry_airs = st.builds(dry_air, pressures_pa, temperatures_c)
moist_airs = st.builds(
    moist_air, st.fractions(min_value=20_000, max_value=110_000, max_denominator=1000), room_temperatures_c, percents
)
airs = dry_airs | moist_airs


# U.S. Standard Atmosphere, 1976: the bases of its layers, in geopotential metres.
# https://www.fxsolver.com/solve/preset/table/1 (after the barometric formula), densities by p / (R T).
@pytest.mark.parametrize(
    ("altitude_m", "pascal", "kelvin", "kg_per_m3"),
    [(0, "101325.00", "288.15", 1.2250), (11_000, "22632.10", "216.65", 0.3639), (20_000, "5474.89", "216.65", 0.0880)],
)
def test_the_layers_begin_where_the_standard_says(altitude_m: int, pascal: str, kelvin: str, kg_per_m3: float) -> None:
    air = standard_air(altitude_m)
    assert air.kelvin == Fraction(kelvin)
    assert float(air.pascal) == pytest.approx(float(pascal), rel=3e-6)
    assert float(air.kg_per_m3) == pytest.approx(kg_per_m3, abs=5e-5)
    assert air.vapour_pascal == 0


# U.S. Standard Atmosphere, 1976, the table in feet (geopotential) and pounds.
# https://www.engineeringtoolbox.com/standard-atmosphere-d_604.html
@pytest.mark.parametrize(("feet", "psi"), [(-5000, 17.554), (5000, 12.228), (10_000, 10.108), (15_000, 8.297)])
def test_the_table_in_feet_and_pounds_is_the_same_air(feet: int, psi: float) -> None:
    air = standard_air(feet * Fraction("0.3048"))
    assert float(air.pascal) / 6894.757 == pytest.approx(psi, abs=6e-3)


def test_the_two_layers_meet() -> None:
    below, at, above = (standard_air(11_000 + metres) for metres in (-Fraction(1, 1000), 0, Fraction(1, 1000)))
    assert below.pascal > at.pascal > above.pascal
    assert below.pascal - above.pascal < Fraction(1, 100)
    assert above.kelvin == at.kelvin


@given(altitudes_m, altitudes_m)
def test_air_is_thinner_the_higher(one_m: Fraction, other_m: Fraction) -> None:
    low, high = (standard_air(altitude_m) for altitude_m in sorted((one_m, other_m)))
    assert low.pascal >= high.pascal
    assert low.kelvin >= high.kelvin
    assert low.kg_per_m3 >= high.kg_per_m3
    if abs(one_m - other_m) >= 1:
        assert low.kg_per_m3 > high.kg_per_m3


@given(altitudes_m)
def test_a_site_has_the_pressure_of_its_altitude_and_its_own_temperature(altitude_m: Fraction) -> None:
    site = site_air(altitude_m, 20)
    assert (site.pascal, site.kelvin) == (standard_air(altitude_m).pascal, Fraction("293.15"))


# Handbook of Chemistry and Physics, 1992-93, vapour pressure of water in kPa.
# https://lcm91.tripod.com/documents/vp_H2O.htm
@pytest.mark.parametrize(
    ("celsius", "kpa"),
    [(0, 0.61129), (5, 0.8726), (10, 1.2281), (20, 2.3388), (25, 3.169), (30, 4.2455), (37, 6.2795), (50, 12.344)],
)
def test_saturated_air_holds_the_vapour_of_the_handbook(celsius: int, kpa: float) -> None:
    assert float(moist_air(101_325, celsius, 100).vapour_pascal) / 1000 == pytest.approx(kpa, rel=5e-4)


def test_the_handbook_copy_prints_a_wrong_digit_at_38() -> None:
    # 6.6398 stands there for 6.6298: 37 and 39 degrees agree with us, and the steps between do not.
    assert float(moist_air(101_325, 38, 100).vapour_pascal) / 1000 != pytest.approx(6.6398, rel=5e-4)
    assert float(moist_air(101_325, 38, 100).vapour_pascal) / 1000 == pytest.approx(6.6298, rel=5e-4)


# Density of moist air with a dew point of 10 degrees Celsius at 760 mmHg, in g/L.
# https://constructionwork.com/resource/density-of-moist-air
@pytest.mark.parametrize(("celsius", "kg_per_m3"), [(10, 1.241), (20, 1.199), (40, 1.122)])
def test_moist_air_is_as_dense_as_in_the_table(celsius: int, kg_per_m3: float) -> None:
    humidity = moist_air(101_325, 10, 100).vapour_pascal / moist_air(101_325, celsius, 100).vapour_pascal * 100
    assert float(moist_air(101_325, celsius, humidity).kg_per_m3) == pytest.approx(kg_per_m3, abs=0.001)


@given(room_temperatures_c, percents, percents)
def test_moist_air_is_lighter_than_dry_air(celsius: Fraction, one_percent: Fraction, other_percent: Fraction) -> None:
    drier, moister = (moist_air(90_000, celsius, each) for each in sorted((one_percent, other_percent)))
    assert dry_air(90_000, celsius).kg_per_m3 >= drier.kg_per_m3 >= moister.kg_per_m3 > 0


def test_dry_air_is_moist_air_without_moisture() -> None:
    assert moist_air(90_000, 20, 0) == dry_air(90_000, 20)


# Litres of saturated air of a room in litres at body temperature, saturated (37 degrees Celsius).
# https://lightbridge-ks.github.io/rslab/reference/get_btps_factor.html
@pytest.mark.parametrize(("celsius", "factor"), [(20, 1.102), (21, 1.096), (22, 1.091), (37, 1.0)])
def test_breath_of_a_room_is_wider_in_the_body(celsius: int, factor: float) -> None:
    assert float(converted(1, at=moist_air(101_325, celsius, 100), to=BODY)) == pytest.approx(factor, abs=6e-4)


def test_breath_of_the_body_in_standard_litres() -> None:
    # 273/310 x 713/760 = 0.8262, http://www.ld99.com/reference/old/text/2878909-322.html
    assert float(converted(1, at=BODY, to=STPD)) == pytest.approx(0.8262, abs=2e-4)


def test_the_two_references_are_twenty_degrees_apart() -> None:
    assert converted(1, at=NTPD, to=STPD) == Fraction("273.15") / Fraction("293.15")


@given(flows, airs, airs)
def test_a_flow_converted_there_and_back_is_the_same_flow(flow: Fraction, one: Air, other: Air) -> None:
    there = converted(flow, at=one, to=other)
    assert there >= 0
    # There it may be more litres than any meter shows.
    if there <= 2000:
        assert converted(there, at=other, to=one) == flow


@given(flows, airs, airs)
def test_a_reading_corrected_there_and_back_is_the_same_reading(flow: Fraction, calibrated: Air, site: Air) -> None:
    actual = actual_flow(flow, calibrated=calibrated, site=site)
    assert actual >= 0
    if actual <= 2000:
        assert reading_for(actual, calibrated=calibrated, site=site) == flow


@given(flows, airs)
def test_a_meter_in_the_air_of_its_calibration_needs_no_correction(flow: Fraction, air: Air) -> None:
    assert actual_flow(flow, calibrated=air, site=air) == flow == reading_for(flow, calibrated=air, site=air)


@given(flows, airs, airs)
def test_the_corrected_flow_is_never_above_the_law_and_hardly_below(flow: Fraction, calibrated: Air, site: Air) -> None:
    actual = actual_flow(flow, calibrated=calibrated, site=site)
    law = flow**2 * calibrated.kg_per_m3 / site.kg_per_m3
    assert actual**2 <= law <= (actual + flow / 10**12) ** 2


@given(flows, airs, airs, airs)
def test_the_thinner_the_air_the_more_flows_behind_one_reading(
    flow: Fraction, calibrated: Air, one: Air, other: Air
) -> None:
    thick, thin = sorted((one, other), key=lambda air: air.kg_per_m3, reverse=True)
    behind = [actual_flow(flow, calibrated=calibrated, site=air) for air in (thick, thin)]
    assert behind[0] <= behind[1]
    needed = [reading_for(flow, calibrated=calibrated, site=air) for air in (thick, thin)]
    assert needed[0] >= needed[1]


@given(flows, flows, airs)
def test_more_shown_is_more_flow(one: Fraction, other: Fraction, site: Air) -> None:
    low, high = (actual_flow(flow, calibrated=NTPD, site=site) for flow in sorted((one, other)))
    assert low < high or one == other


def test_a_reading_that_just_reaches_the_acceptance_flow_at_altitude() -> None:
    accepted = acceptance(Fit.LOOSE, approval=None)
    site = site_air(1500, 20)
    shown = reading_for(accepted.least_l_per_min, calibrated=NTPD, site=site)
    assert 155 < shown < 156
    assert accepted.met_by(actual_flow(shown, calibrated=NTPD, site=site))
    assert not accepted.met_by(actual_flow(shown - Fraction(1, 10**9), calibrated=NTPD, site=site))


@pytest.mark.parametrize("fit", Fit)
def test_the_stricter_of_class_and_approval_is_accepted(fit: Fit) -> None:
    of_class = acceptance(fit, approval=None)
    stricter = Acceptance(of_class.least_l_per_min + 10, "example approval, Larkmoor")
    weaker = Acceptance(of_class.least_l_per_min - 10, "example approval, Larkmoor")
    as_strict = Acceptance(of_class.least_l_per_min, "example approval, Larkmoor")
    assert acceptance(fit, approval=stricter) is stricter
    assert acceptance(fit, approval=weaker) == of_class
    assert acceptance(fit, approval=as_strict) is as_strict
    assert fit in of_class.source


@given(flows, st.integers(1, 6))
def test_the_filters_together_pass_the_whole_flow(flow: Fraction, filters: int) -> None:
    assert each_filter_l_per_min(flow, filters) * filters == flow


def test_170_litres_a_minute_for_four_hours() -> None:
    assert air_drawn_m3(170, 240) == Fraction("40.8")


@given(percents, percents)
def test_a_filter_that_passes_more_reaches_no_higher_level(one: Fraction, other: Fraction) -> None:
    order = [FilterLevel.LEVEL_100, FilterLevel.LEVEL_99, FilterLevel.LEVEL_95, None]
    levels = [filter_level(challenge=100, passed=passed) for passed in sorted((one, other))]
    assert order.index(levels[0]) <= order.index(levels[1])


@given(percents)
def test_what_passes_is_a_share_whatever_the_unit(passed: Fraction) -> None:
    assert penetration_percent(challenge=100, passed=passed) == passed
    assert penetration_percent(challenge=7, passed=passed * 7 / 100) == passed


@given(percents.filter(bool))
def test_a_leak_protects_by_at_least_one(leakage_percent: Fraction) -> None:
    assert nominal_protection_factor(leakage_percent) >= 1
    assert nominal_protection_factor(leakage_percent) * leakage_percent == 100


# No odd number goes in. A name, the function of one number, and its range.
OF_ONE_NUMBER: dict[str, tuple[Callable[[Exact], object], int, int]] = {
    "altitude": (standard_air, -2_000, 20_000),
    "site altitude": (lambda value: site_air(value, 20), -2_000, 20_000),
    "site temperature": (lambda value: site_air(0, value), -90, 120),
    "pressure": (lambda value: dry_air(value, 20), 1_000, 300_000),
    "temperature": (lambda value: dry_air(101_325, value), -90, 120),
    "moist temperature": (lambda value: moist_air(101_325, value, 50), 0, 50),
    "humidity": (lambda value: moist_air(101_325, 20, value), 0, 100),
    "flow to convert": (lambda value: converted(value, at=NTPD, to=STPD), 0, 2_000),
    "flow shown": (lambda value: actual_flow(value, calibrated=NTPD, site=STPD), 0, 2_000),
    "flow behind": (lambda value: reading_for(value, calibrated=NTPD, site=STPD), 0, 2_000),
    "flow to accept": (lambda value: acceptance(Fit.TIGHT, approval=None).met_by(value), 0, 2_000),
    "flow of filters": (lambda value: each_filter_l_per_min(value, 2), 0, 2_000),
    "flow drawn": (lambda value: air_drawn_m3(value, 1), 0, 2_000),
    "minutes": (lambda value: air_drawn_m3(170, value), 0, 10_080),
    "dust passed": (lambda value: filter_level(challenge=100, passed=value), 0, 100),
}


@pytest.mark.parametrize("name", OF_ONE_NUMBER)
@given(value=st.decimals(allow_nan=True, allow_infinity=True, min_value=None, max_value=None) | st.fractions())
def test_a_number_is_taken_in_its_range_and_refused_with_a_sentence_outside(name: str, value: Exact) -> None:
    function, lowest, highest = OF_ONE_NUMBER[name]
    finite = not isinstance(value, Decimal) or value.is_finite()
    if finite and lowest <= value <= highest:
        function(value)
        return
    with pytest.raises(ValueError, match=r"\.$"):
        function(value)


@pytest.mark.parametrize("name", OF_ONE_NUMBER)
def test_both_bounds_belong_to_the_range(name: str) -> None:
    function, lowest, highest = OF_ONE_NUMBER[name]
    for value in (lowest, highest):
        function(value)
    for outside in (lowest - Fraction(1, 10**9), highest + Fraction(1, 10**9)):
        with pytest.raises(ValueError, match=r"\.$"):
            function(outside)


def test_air_that_cannot_exist_is_not_made() -> None:
    with pytest.raises(ValueError, match="less than nothing"):
        Air(Fraction(101_325), Fraction(293), Fraction(-1))
    with pytest.raises(ValueError, match="all the pressure"):
        moist_air(1_000, 50, 100)
    with pytest.raises(ValueError, match="degrees Celsius"):
        Air(Fraction(101_325), Fraction(0))


def test_what_nobody_could_mean_is_refused() -> None:
    with pytest.raises(ValueError, match="more than zero"):
        Acceptance(Fraction(0), "example approval, Larkmoor")
    with pytest.raises(ValueError, match="needs its source"):
        Acceptance(Fraction(170), " ")
    with pytest.raises(ValueError, match="number of filters"):
        each_filter_l_per_min(170, 0)
    with pytest.raises(ValueError, match="number of filters"):
        each_filter_l_per_min(170, 7)
    with pytest.raises(ValueError, match="more than nothing"):
        filter_level(challenge=0, passed=0)
    with pytest.raises(ValueError, match="more than nothing"):
        penetration_percent(challenge=Decimal("nan"), passed=0)
    with pytest.raises(ValueError, match="more than zero"):
        nominal_protection_factor(0)
    with pytest.raises(ValueError, match="inward leakage"):
        nominal_protection_factor(101)
