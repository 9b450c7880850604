"""Two readings of one ratio never meet, and what is measured gives what was wanted."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.dilution import (
    CannotMix,
    Parts,
    Strength,
    Volumes,
    added_to,
    degrees_chlorum,
    made_up_to,
    mixed,
    one_in,
    one_plus,
    parts_for,
    percent,
    powder_g_per_l,
    powder_made_up,
    ppm,
    volumes_for,
)

amounts = st.fractions(min_value=Fraction(1, 1000), max_value=100_000)


def test_one_in_ten_and_one_plus_ten_are_different_mixtures() -> None:
    assert one_in(10) == Parts(stock=Fraction(1), water=Fraction(9))
    assert one_plus(10) == Parts(stock=Fraction(1), water=Fraction(10))


def test_adding_to_a_litre_and_making_up_to_a_litre_are_different_mixtures() -> None:
    assert added_to(250, 1000).total == 1250
    assert made_up_to(250, 1000).total == 1000


def test_a_thousand_ppm_is_a_tenth_of_a_percent() -> None:
    assert ppm(1000) == percent(Decimal("0.1"))
    assert ppm(1000).percent == Fraction(1, 10)


def test_a_stock_that_is_already_right_needs_no_water() -> None:
    assert parts_for(ppm(500), ppm(500)) == one_plus(0)


@given(amounts, amounts, amounts)
def test_what_is_measured_gives_the_strength_and_the_volume_wanted(
    stock_ppm: Fraction, wanted_ppm: Fraction, total_ml: Fraction
) -> None:
    volumes = volumes_for(ppm(stock_ppm), ppm(wanted_ppm), total_ml)
    if wanted_ppm > stock_ppm:
        assert isinstance(volumes, CannotMix)
        return
    assert isinstance(volumes, Volumes)
    assert volumes.stock_ml + volumes.water_ml == total_ml
    assert mixed(ppm(stock_ppm), added_to(volumes.stock_ml, volumes.water_ml)) == ppm(wanted_ppm)


@given(amounts)
def test_one_plus_n_is_weaker_than_one_in_n(n: Fraction) -> None:
    assert mixed(percent(5), one_plus(n + 1)) < mixed(percent(5), one_in(n + 1))


@pytest.mark.parametrize(
    ("stock", "wanted", "total_ml", "word"),
    [
        (ppm(100), ppm(101), 1000, "weaker"),
        (ppm(100), ppm(0), 1000, "more than zero"),
        (ppm(100), ppm(50), 0, "more than zero"),
        (ppm(100), ppm(50), -1, "more than zero"),
    ],
)
def test_a_wish_that_no_dilution_fulfils_is_answered_in_a_sentence(
    stock: Strength, wanted: Strength, total_ml: int, word: str
) -> None:
    answer = volumes_for(stock, wanted, total_ml)
    assert isinstance(answer, CannotMix)
    assert word in answer.reason


@given(st.fractions(min_value=Fraction(1, 100), max_value=100), amounts)
def test_powder_weighed_for_a_strength_gives_that_strength(active_percent: Fraction, wanted_ppm: Fraction) -> None:
    powder_g = powder_g_per_l(active_percent, ppm(wanted_ppm)) * 20
    assert powder_made_up(active_percent, powder_g, total_l=20) == ppm(wanted_ppm)


@given(st.fractions(min_value=0, max_value=50))
def test_degrees_chlorum_are_a_strength_in_percent(degrees: Fraction) -> None:
    assert degrees_chlorum(degrees).percent == degrees * Fraction(3, 10)


def test_quantities_that_cannot_exist_are_not_made() -> None:
    with pytest.raises(ValueError, match="less than zero"):
        ppm(-1)
    with pytest.raises(ValueError, match="less than zero"):
        degrees_chlorum(-1)
    with pytest.raises(ValueError, match="some stock"):
        added_to(0, 1000)
    with pytest.raises(ValueError, match="less than no water"):
        one_in(Decimal("0.5"))
    with pytest.raises(ValueError, match="volume above zero"):
        powder_made_up(70, 15, total_l=0)
    with pytest.raises(ValueError, match="active share"):
        powder_g_per_l(0, percent(1))
    with pytest.raises(ValueError, match="active share"):
        powder_g_per_l(Decimal("100.1"), percent(1))
