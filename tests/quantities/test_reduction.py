"""A log reduction is exact, one thing in three notations, and a table is never read past its edge."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from math import log10

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.dilution import ppm
from reprocess.quantities.reduction import (
    AXES_MAX,
    LOG10_MAX,
    CtTable,
    Heading,
    Reduction,
    SafeSide,
    added_up,
    concentration_time,
    counted,
    percent_killed,
    powers_of_ten,
    scaled,
)
from tests.quantities.refusing import answer

shares = st.fractions(min_value=Fraction(1, 10**12), max_value=1)
counts = st.integers(1, 10**15)
positive = st.fractions(min_value=Fraction(1, 1000), max_value=10**6)


def test_three_notations_of_one_thing() -> None:
    for one in (counted(10**7, 10**4, detection_limit=1), powers_of_ten(3), percent_killed(Decimal("99.9"))):
        assert one == Reduction(Fraction(1, 1000))
        assert (one.log10, one.percent, one.text) == (3.0, Fraction("99.9"), "3.0")
        assert one.survivors(5000) == 5


def test_what_is_not_found_is_a_bound() -> None:
    bound = counted(10**6, 9, detection_limit=10)
    assert bound == counted(10**6, 0, detection_limit=10) == Reduction(Fraction(1, 10**5), at_least=True)
    assert bound.text == ">=5.0"
    assert counted(10**6, 10, detection_limit=10).text == "5.0"
    assert counted(5, 0, detection_limit=10).text == ">=0.0"


def test_a_hair_less_than_six_is_not_shown_and_not_judged_as_six() -> None:
    hair = Reduction(Fraction(1, 10**6) + Fraction(1, 10**40))
    assert hair.log10 == 6.0
    assert hair.text == "5.9"
    assert not hair.reaches(6)
    assert Reduction(Fraction(1, 10**6)).reaches(6)
    assert Reduction(Fraction(1)).text == "0.0"


@given(shares)
def test_the_notations_agree_and_stay_in_range(surviving: Fraction) -> None:
    kill = Reduction(surviving)
    assert percent_killed(kill.percent) == kill
    assert 0 <= kill.percent < 100
    assert kill.log10 >= 0.0
    assert 10 ** -float(kill.text) >= surviving * (1 - Fraction(1, 10**9))
    assert float(kill.text) <= kill.log10 + 1e-9 < float(kill.text) + 0.1 + 2e-9


@given(counts, counts, counts)
def test_counting_never_claims_more_than_the_limit_of_the_method(before: int, after: int, limit: int) -> None:
    kill = answer(lambda: counted(before, after, detection_limit=limit))
    assert (kill is None) == (after > before)
    if kill is None:
        return
    assert kill.at_least == (after < limit)
    assert kill.surviving * before == (after if after >= limit else min(limit, before))
    assert kill.survivors(before) <= before


@given(st.integers(0, LOG10_MAX))
def test_whole_powers_are_exact(powers: int) -> None:
    kill = powers_of_ten(powers)
    assert kill.surviving == Fraction(1, 10**powers)
    assert kill.reaches(powers)
    assert not kill.reaches(powers + 1)
    assert kill.text == f"{powers}.0"


@given(st.decimals(0, LOG10_MAX, places=3))
def test_broken_powers_come_back(powers: Decimal) -> None:
    assert powers_of_ten(powers).log10 == pytest.approx(float(powers), abs=1e-9)


@given(positive, positive)
def test_ct_is_the_same_for_half_the_time_at_double_the_strength(mg_per_l: Fraction, minutes: Fraction) -> None:
    ct = concentration_time(ppm(mg_per_l), minutes)
    assert ct == concentration_time(ppm(2 * mg_per_l), minutes / 2) > 0


def test_twice_the_powers_of_ten_take_twice_the_ct() -> None:
    assert scaled(30, printed_for=3, wanted=6) == 60
    assert added_up([Fraction(1, 3), Fraction(1, 3)], printed_for=3) == 2


@given(positive, positive, positive)
def test_a_scaled_ct_comes_back(ct: Fraction, printed_for: Fraction, wanted: Fraction) -> None:
    there = scaled(ct, printed_for=printed_for, wanted=wanted)
    assert there > 0
    assert scaled(there, printed_for=wanted, wanted=printed_for) == ct
    assert added_up([Fraction(1, 2), Fraction(1, 2)], printed_for=printed_for) == printed_for


def small_table() -> CtTable:
    headings = (
        Heading("degrees Celsius", (Fraction(5), Fraction(10), Fraction(20)), SafeSide.LOWER),
        Heading("pH", (Fraction(7), Fraction(8)), SafeSide.HIGHER),
    )
    # Colder and more alkaline is slower, as in every printed table.
    cells: dict[tuple[Fraction, ...], Fraction] = {
        (c, ph): 100 * ph / c for c in headings[0].printed for ph in headings[1].printed
    }
    return CtTable(headings, cells, 3)


@given(st.fractions(0, 30), st.fractions(6, 9))
def test_between_two_rows_the_slower_one_is_read_and_past_the_edge_none(celsius: Fraction, ph: Fraction) -> None:
    table = small_table()
    if celsius < 5 or ph > 8:
        with pytest.raises(ValueError, match="safe side"):
            table.on_the_safe_side(celsius, ph)
        return
    ct = table.on_the_safe_side(celsius, ph)
    assert ct in table.cells.values()
    # Inside the print the reading is never below what the rule of the table gives at the point itself.
    assert ct >= 100 * max(ph, Fraction(7)) / max(celsius, Fraction(5)) or celsius > 20


def test_the_printed_point_is_read_as_it_is_printed() -> None:
    table = small_table()
    for at, ct in table.cells.items():
        assert table.on_the_safe_side(*at) == ct


@given(st.fractions(-10, 120), st.fractions(-10, 120))
def test_whatever_is_put_in_is_answered_in_range_or_refused_in_a_sentence(one: Fraction, other: Fraction) -> None:
    makers = (
        lambda: percent_killed(one).percent,
        lambda: powers_of_ten(one).percent,
        lambda: counted(one, other, detection_limit=1).percent,
        lambda: concentration_time(ppm(abs(one)), other),
        lambda: scaled(one, printed_for=other, wanted=1),
        lambda: added_up([one], printed_for=other),
    )
    for make in makers:
        given_back = answer(make)
        assert given_back is None or given_back >= 0


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Reduction(Fraction(0)), "share of survivors"),
        (lambda: Reduction(Fraction(2)), "share of survivors"),
        (lambda: percent_killed(100), "less than 100"),
        (lambda: powers_of_ten(-1), "powers of ten"),
        (lambda: counted(0, 0, detection_limit=1), "above zero"),
        (lambda: counted(1, 0, detection_limit=0), "above zero"),
        (lambda: counted(1, -1, detection_limit=1), "less than zero"),
        (lambda: powers_of_ten(1).survivors(-1), "less than zero"),
        (lambda: concentration_time(ppm(1), -1), "less than zero"),
        (lambda: scaled(1, printed_for=0, wanted=1), "above zero"),
        (lambda: scaled(-1, printed_for=3, wanted=1), "less than zero"),
        (lambda: added_up([-1], printed_for=3), "less than zero"),
        (lambda: added_up([1], printed_for=0), "above zero"),
        (lambda: Heading("pH", (Fraction(7), Fraction(7)), SafeSide.HIGHER), "must rise"),
        (lambda: Heading("pH", (), SafeSide.HIGHER), "must rise"),
        (lambda: CtTable((), {}, 3), "headings"),
        (lambda: CtTable(small_table().headings * AXES_MAX, {}, 3), "headings"),
        (lambda: CtTable(small_table().headings, {}, 3), "each combination"),
        (lambda: CtTable(small_table().headings, dict.fromkeys(small_table().cells, Fraction(0)), 3), "above zero"),
        (lambda: CtTable(small_table().headings, small_table().cells, 0), "log reduction above zero"),
        (lambda: small_table().on_the_safe_side(10), "one value for each"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(make: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make()


def test_the_logarithm_is_the_one_of_the_library() -> None:
    assert Reduction(Fraction(3, 1000)).log10 == pytest.approx(-log10(0.003))
