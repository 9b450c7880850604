"""Published kills and contact tables come out of `quantities.reduction`, `quantities.kinetics` and `quantities.decay`.

They are advice. No time of contact is computed from them: see `tests/quantities/test_advice.py`.
"""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from inspect import Parameter, signature
from math import exp, fsum, lgamma, log, sqrt

import pytest

from reprocess.quantities.decay import Decay, factor_for_10_k
from reprocess.quantities.dilution import ppm
from reprocess.quantities.exact import Exact
from reprocess.quantities.kinetics import Kinetics, from_one_kill, line_through
from reprocess.quantities.reduction import (
    CtTable,
    Heading,
    SafeSide,
    added_up,
    concentration_time,
    counted,
    scaled,
)
from tests.published.kinetics_data import (
    CHLORINE_MG_PER_L,
    GIARDIA,
    GIARDIA_PH,
    VIRUS_PH,
    VIRUSES,
    numbers,
    survival,
)
from tests.published.memory import FromMemory
from tests.published.report import Agrees, Differs
from tests.published.source import Basis, Published

CHLORINE_LOSS_PER_MIN = 0.8884642
"""The loss that the fits of the same paper stand on (V05-24)."""

EPA = "US EPA 815-R-20-003 (June 2020), Disinfection Profiling and Benchmarking, Appendix B, read in a package"
EPA_ADDRESS = (
    "py-disinfection 0.1.11 (package); "
    "https://www.epa.gov/system/files/documents/2022-02/disprof_bench_3rules_final_508.pdf (not opened)"
)
HOLCOMB = "Holcomb et al., Emerg Infect Dis 2024;30(10), doi 10.3201/eid3010.240917, tutorial v1.9"
HOLCOMB_ADDRESS = "https://cdcgov.github.io/WDPB_EMEL/manuscripts/elizabethkingia/kinetics_tutorial.html"


def epa(
    id: str, statement: str, condition: str = "free chlorine", unit: str = "mg min/L", basis: Basis = "published"
) -> Published:
    return Published(id, statement, unit, condition, EPA, EPA_ADDRESS, "seen", basis)


def holcomb(id: str, statement: str, unit: str, condition: str, basis: Basis = "published") -> Published:
    return Published(id, statement, unit, condition, HOLCOMB, HOLCOMB_ADDRESS, "seen", basis)


@pytest.fixture(scope="module")
def giardia() -> CtTable:
    """Returns the table of Giardia: degrees Celsius, pH and mg/L of free chlorine."""
    ph = tuple(Fraction(one) for one in GIARDIA_PH)
    cells: dict[tuple[Fraction, ...], Fraction] = {
        (celsius, one, chlorine): ct
        for celsius, chlorine, *values in numbers(GIARDIA)
        for one, ct in zip(ph, values, strict=True)
    }
    return table(cells, 3, ("degrees Celsius", SafeSide.LOWER), ("pH", SafeSide.HIGHER), ("mg/L", SafeSide.HIGHER))


@pytest.fixture(scope="module")
def viruses() -> CtTable:
    """Returns the table of viruses: degrees Celsius and the highest pH."""
    ph = tuple(Fraction(one) for one in VIRUS_PH)
    cells: dict[tuple[Fraction, ...], Fraction] = {
        (celsius, one): ct for celsius, *values in numbers(VIRUSES) for one, ct in zip(ph, values, strict=True)
    }
    return table(cells, 4, ("degrees Celsius", SafeSide.LOWER), ("pH", SafeSide.HIGHER))


def table(cells: dict[tuple[Fraction, ...], Fraction], powers: int, *headings: tuple[str, SafeSide]) -> CtTable:
    printed = [tuple(sorted(set(values))) for values in zip(*cells, strict=True)]
    named = [Heading(name, values, safe) for (name, safe), values in zip(headings, printed, strict=True)]
    return CtTable(tuple(named), cells, powers)


# Kills fitted to what was counted.


def test_v05_01_chlorine_on_poliovirus(agrees: Agrees) -> None:
    row = Published(
        id="V05-01",
        statement="Chick-Watson through five counts: k 0.2078, intercept -0.0092, r squared 0.9953",
        unit="L/(mg s)",
        condition="1.8 mg/L at 20 degrees Celsius and pH 6; least squares of ln(N/N0) on CT; the book rounds first",
        source="Davis, Water and Wastewater Engineering, Example 13-4 (data of 1979)",
        address="https://digilib.universitaspertamina.ac.id/ebook/.../page520.html",
        evidence="seen",
        basis="published",
    )
    counts = {0: 6152, 2: 3000, 4: 1200, 6: 710, 8: 300}
    kills = {seconds: counted(6152, left, detection_limit=1) for seconds, left in counts.items()}
    line = line_through([(1.8 * seconds, -kill.log10 * log(10)) for seconds, kill in kills.items()])
    agrees(row, theirs=0.2078, ours=line.k, within=0.0002)
    agrees(row, theirs=-0.0092, ours=line.intercept, within=0.0015)
    agrees(row, theirs=0.9953, ours=line.r_squared, within=0.0005)


def test_v05_03_a_kill_carried_over_to_another_strength(agrees: Agrees, differs: Differs) -> None:
    row = Published(
        id="V05-03",
        statement="99 % in 8 min at 0.1 mg/L: k, and the minutes for 99.9 % at 0.05 mg/L",
        unit="L/(mg min), min",
        condition="Chick-Watson with n = 1; a homework key of another course forgets the strength and gives 12 min",
        source="Textbook and examination question; the minutes are our own working",
        address="https://forum.tuteehub.com/forum/.../an-experiment-shows-that-a-concentration-of-01-2003608-qb",
        evidence="seen",
        basis="published",
    )
    model = from_one_kill(2, mg_per_l=0.1, minutes=8)
    minutes = model.minutes_for(3, 0.05)
    agrees(row, theirs=5.7565, ours=model.k, within=5.7565e-3)
    agrees(row, theirs=24, ours=minutes, within=0.024)
    differs(row, theirs=12, ours=minutes, within=1)


def test_v05_05_a_first_order_kill(agrees: Agrees) -> None:
    row = Published(
        id="V05-05",
        statement="98.0 % are removed in 26.087 min at 0.15 per minute",
        unit="percent",
        condition="26.087 min are 50 m3 at 2760 m3 a day; no bath of ours is flowed through",
        source="Examination key",
        address="https://www.selfstudys.com/mcq/gate/civil-engineering/practice-test/chapter-4-environmental-engineering/test-2/mcq-test-solution",
        evidence="seen",
        basis="published",
    )
    minutes = 50 / 2760 * 24 * 60
    killed = 100 * (1 - exp(Kinetics(k=0.15).ln_survival(1.0, minutes)))
    agrees(row, theirs=98.0, ours=killed, within=0.098)


# Contact tables, read on the safe side.


@pytest.mark.parametrize(
    ("celsius", "ph", "mg_per_l", "expected"),
    [
        ("0.5", "6.0", "0.4", 137),
        ("10", "7.0", "1.0", 112),
        ("10", "7.5", "1.2", 137),
        ("15", "7.5", "1.2", 92),
        ("20", "7.0", "1.0", 56),
        ("25", "9.0", "3.0", 97),
    ],
)
def test_v05_06_giardia_where_the_table_prints_it(
    agrees: Agrees, giardia: CtTable, celsius: str, ph: str, mg_per_l: str, expected: int
) -> None:
    row = epa("V05-06", f"CT for 3 powers of ten of Giardia at {celsius} degrees Celsius, pH {ph}, {mg_per_l} mg/L")
    ours = giardia.on_the_safe_side(Decimal(celsius), Decimal(ph), Decimal(mg_per_l))
    agrees(row, theirs=expected, ours=ours)


def test_v05_08_between_two_rows_the_safe_one_is_read(agrees: Agrees, giardia: CtTable) -> None:
    row = epa("V05-08", "CT at 6.0 degrees Celsius, pH 6.7, 0.9 mg/L", "temperature down, pH and chlorine up")
    agrees(row, theirs=149, ours=giardia.on_the_safe_side(6, Decimal("6.7"), Decimal("0.9")))


def test_v05_10_the_regression_is_never_more_careful_than_the_table(agrees: Agrees, giardia: CtTable) -> None:
    row = epa("V05-10", "the regression gives 134.0 at the same point, below our reading", "regression of 1995")
    ours = giardia.on_the_safe_side(6, Decimal("6.7"), Decimal("0.9"))
    agrees(row, theirs=True, ours=ours >= 134)


@pytest.mark.parametrize(("ct", "wanted", "expected"), [(304, "1.5", 152), (90, "2", 60)])
def test_v05_11_contact_scales_with_the_powers_of_ten(agrees: Agrees, ct: int, wanted: str, expected: int) -> None:
    row = Published(
        id="V05-11",
        statement=f"a CT of {ct} for 3 powers of ten is {expected} for {wanted}",
        unit="mg min/L",
        condition="CT is linear in the powers of ten",
        source="EPA tables C-1 and C-4 as read by a utility tool",
        address=(
            "https://id.scribd.com/document/414324892/CT-Tables-Using-USEPA-Tables ; "
            "http://opssys.com/InstantKB/article.aspx?id=14496"
        ),
        evidence="seen",
        basis="published",
    )
    agrees(row, theirs=expected, ours=scaled(ct, printed_for=3, wanted=Decimal(wanted)))


def test_v05_12_a_worked_basin(agrees: Agrees, giardia: CtTable) -> None:
    row = epa(
        "V05-12",
        "81.3 min at 0.8 mg/L, 0.5 degrees Celsius and pH 6: CT, CT required, their ratio, powers of ten",
        "81.3 min are 282000 gallons at 347 a minute with a baffling factor of 0.1",
        "mg min/L and ratio",
    )
    minutes = Fraction(282_000, 347) * Fraction("0.1")
    ct = concentration_time(ppm(Decimal("0.8")), minutes)
    required = giardia.on_the_safe_side(Decimal("0.5"), Decimal("6.0"), Decimal("0.8"))
    agrees(row, theirs=65, ours=ct, within=0.325)
    agrees(row, theirs=145, ours=required)
    agrees(row, theirs=0.448, ours=ct / required, within=0.00224)
    agrees(row, theirs=1.34, ours=added_up([ct / required], printed_for=giardia.printed_for), within=0.0067)


def test_v05_14_parts_of_an_exposure_add_up(agrees: Agrees) -> None:
    row = Published(
        id="V05-14",
        statement="ratios of 0.2 and 0.248 to the CT for 3 powers of ten are 1.344 powers",
        unit="log10",
        condition="several segments add",
        source="40 CFR 141.534",
        address="https://www.govregs.com/regulations/title40_chapterI-i24_part141_subpartT_subjgrp19_section141.534",
        evidence="seen",
        basis="derived",
    )
    ours = added_up([Decimal("0.2"), Decimal("0.248")], printed_for=3)
    agrees(row, theirs=Decimal("1.344"), ours=ours)


@pytest.mark.parametrize(
    ("ph", "expected"), [("6", (12, 8, 6, 4, 3, 2)), ("9", (12, 8, 6, 4, 3, 2)), ("10", (90, 60, 45, 30, 22, 15))]
)
def test_v05_15_viruses(agrees: Agrees, viruses: CtTable, ph: str, expected: tuple[int, ...]) -> None:
    row = epa(
        "V05-15", f"CT for 4 powers of ten of viruses at pH {ph}, from 0.5 to 25 degrees Celsius", "pH 6 to 9, 10"
    )
    at: tuple[Exact, ...] = (Decimal("0.5"), 5, 10, 15, 20, 25)
    agrees(row, theirs=expected, ours=[viruses.on_the_safe_side(celsius, Decimal(ph)) for celsius in at])


@pytest.mark.parametrize(("colder", "warmer"), [("0.5", "10"), ("5", "15"), ("10", "20"), ("15", "25")])
def test_v05_17_the_virus_table_doubles_with_every_ten_kelvin(
    agrees: Agrees, viruses: CtTable, colder: str, warmer: str
) -> None:
    row = epa(
        "V05-17",
        f"ratio of the CT for viruses at {colder} and {warmer} degrees Celsius",
        "the first pair is 9.5 K apart, so its factor for 10 K is a little more",
        "ratio",
        "derived",
    )
    rates = [float(1 / viruses.on_the_safe_side(Decimal(celsius), 9)) for celsius in (colder, warmer)]
    factor = factor_for_10_k(rates[0], float(colder), rates[1], float(warmer))
    agrees(row, theirs=2, ours=factor ** ((float(warmer) - float(colder)) / 10), within=2e-9)
    assert factor == pytest.approx(2.0743 if colder == "0.5" else 2, rel=1e-4)


@pytest.mark.parametrize(("water", "expected"), [("laboratory", 2.0), ("natural", 4.5)])
def test_v05_19_there_is_no_factor_for_every_water(agrees: Agrees, water: str, expected: float) -> None:
    row = Published(
        id="V05-19",
        statement=f"ozone on Cryptosporidium in {water} water: factor for 10 K",
        unit="ratio",
        condition="the factor is not the same everywhere, so the caller always names it",
        source="Ozone Sci Eng 2001, doi 10.1080/01919510108962010",
        address="http://120.26.44.124:3004/details/1/891346190/2/3",
        evidence="seen",
        basis="published",
    )
    cold, warm = Decay(0.1, 5.0), Decay(0.1, 5.0).at(15.0, q10=expected)
    ours = factor_for_10_k(cold.rate_per_day, cold.celsius, warm.rate_per_day, warm.celsius)
    agrees(row, theirs=expected, ours=ours, within=1e-9)
    assert signature(Decay.at).parameters["q10"].default is Parameter.empty


# Logarithms.


def test_v05_21_powers_of_ten_and_percent(agrees: Agrees) -> None:
    row = Published(
        id="V05-21",
        statement="from 10000000 to 10000: 3 powers of ten, 99.9 %",
        unit="log10, percent",
        condition="none stated",
        source="CT value article",
        address="https://en.wikipedia.org/wiki/CT_Value",
        evidence="seen",
        basis="published",
    )
    kill = counted(10_000_000, 10_000, detection_limit=1)
    agrees(row, theirs=3, ours=kill.log10)
    agrees(row, theirs=Decimal("99.9"), ours=kill.percent)


def test_v05_23_no_survivors_are_a_bound(from_memory: FromMemory) -> None:
    row = Published(
        id="V05-23",
        statement="none of 1000000 left, with a detection limit of 10",
        unit="log10",
        condition="never infinity",
        source="convention",
        address="from memory",
        evidence="memory",
        basis="derived",
    )
    from_memory(row, remembered=">=5.0", ours=counted(1_000_000, 0, detection_limit=10).text)


# Kill while the disinfectant itself fades.


def least(quality: Callable[[float], float], low: float, high: float) -> float:
    """Returns where a function with one valley is least, by sixty golden sections."""
    part = (sqrt(5) - 1) / 2
    for _ in range(60):
        left, right = high - part * (high - low), low + part * (high - low)
        low, high = (low, right) if quality(left) < quality(right) else (left, high)
    return (low + high) / 2


def best_k(n: float, m: float) -> tuple[float, float]:
    """Returns (k, root mean square error) of the best fit with these exponents; k is a factor of the model."""
    model = Kinetics(1.0, n, m)
    unit = {
        minutes: model.ln_survival(CHLORINE_MG_PER_L, minutes, loss_per_min=CHLORINE_LOSS_PER_MIN)
        for minutes in {minutes for minutes, _ in survival()}
    }
    k = fsum(unit[at] * seen for at, seen in survival()) / fsum(unit[at] ** 2 for at, _ in survival())
    errors = [(k * unit[at] - seen) ** 2 for at, seen in survival()]
    return k, sqrt(fsum(errors) / len(errors))


def best_n(m: float) -> float:
    return exp(least(lambda ln_n: best_k(exp(ln_n), m)[1], 0.0, 2.9))


def test_v05_25_chick_watson_under_loss_fitted_to_83_rows(agrees: Agrees) -> None:
    row = holcomb(
        "V05-25",
        "ln k, ln n, root mean square error, rows, and CT for 2, 3 and 4 powers of ten",
        "k in mg, L, min; mg min/L",
        "loss of chlorine 0.8884642 per minute; the printed headings of the error and the deviance are swapped",
    )
    n = best_n(1.0)
    k, error = best_k(n, 1.0)
    agrees(row, theirs=10.36, ours=log(k), within=0.005)
    agrees(row, theirs=1.41, ours=log(n), within=0.005)
    agrees(row, theirs=3.13, ours=error, within=0.005)
    agrees(row, theirs=83, ours=len(survival()))
    model = Kinetics(k, n)
    ours = [model.ct_for(powers, CHLORINE_MG_PER_L) for powers in (2, 3, 4)]
    agrees(row, theirs=(0.02, 0.03, 0.04), ours=ours, within=0.005)


def test_v05_27_hom_under_loss_and_the_regularised_gamma_of_the_print(agrees: Agrees, differs: Differs) -> None:
    row = holcomb(
        "V05-27",
        "ln k, ln n, ln m, root mean square error, and CT for 2, 3 and 4 powers of ten",
        "k in mg, L, min; mg min/L",
        "as published with the regularised incomplete gamma function, which makes k greater by gamma(m)",
    )
    ln_m = least(lambda one: best_k(best_n(exp(one)), exp(one))[1], 0.1, 1.5)
    m = exp(ln_m)
    n = best_n(m)
    k, error = best_k(n, m)
    differs(row, theirs=25.06, ours=log(k), within=0.005)
    agrees(row, theirs=25.06, ours=log(k) + lgamma(m), within=0.005)
    agrees(row, theirs=2.41, ours=log(n), within=0.005)
    agrees(row, theirs=0.88, ours=ln_m, within=0.005)
    agrees(row, theirs=3.10, ours=error, within=0.005)
    as_printed = Kinetics(exp(log(k) + lgamma(m)), n, m)
    agrees(
        row,
        theirs=(0.02, 0.02, 0.03),
        ours=[as_printed.ct_for(powers, CHLORINE_MG_PER_L) for powers in (2, 3, 4)],
        within=0.005,
    )


def test_v05_29_chick_watson_under_loss_in_closed_form(agrees: Agrees) -> None:
    row = holcomb("V05-29", "k 2, n 1, 5 mg/L, 10 min, loss 0.1 per minute", "ln(N/N0)", "equation 5", "derived")
    ours = Kinetics(k=2).ln_survival(5.0, 10.0, loss_per_min=0.1)
    agrees(row, theirs=-63.2120559, ours=ours, within=63.2e-8)


def test_v05_31_hom_solved_for_time(agrees: Agrees) -> None:
    row = holcomb("V05-31", "k 0.5, 3 mg/L, m 1.5, n 1, 3 powers of ten", "min", "equation 11", "derived")
    model = Kinetics(k=0.5, n=1, m=1.5)
    agrees(row, theirs=2.76798537, ours=model.minutes_for(3, 3.0), within=2.77e-7)
    assert model.log10_reduction(3.0, model.minutes_for(3, 3.0)) == pytest.approx(3)


@pytest.mark.parametrize(
    ("virus", "ct", "where"), [("coxsackievirus B5", "11.5", "above"), ("poliovirus 1", "5.3", "below")]
)
def test_v05_32_a_general_table_does_not_cover_every_virus(
    agrees: Agrees, viruses: CtTable, virus: str, ct: str, where: str
) -> None:
    row = Published(
        id="V05-32",
        statement=f"{virus} takes a CT of {ct}; where that lies beside the table of viruses",
        unit="mg min/L",
        condition="free chlorine, pH 7.5, 5 degrees Celsius; Efficiency Hom model",
        source="J Environ Sci Health A 2009;44:336-9",
        address="http://www.ncbi.nlm.nih.gov/pubmed/19184699",
        evidence="seen",
        basis="published",
    )
    printed = viruses.on_the_safe_side(5, Decimal("7.5"))
    agrees(row, theirs=where, ours="above" if Decimal(ct) > printed else "below")
