"""Published strengths of chlorine, and how they fade, come out of `quantities.dilution` and `quantities.decay`.

They are advice: the label's use life and the test strip govern.
"""

from decimal import Decimal
from fractions import Fraction
from math import inf

import pytest

from reprocess.quantities.decay import Q10_RANGE, from_readings, from_share_left
from reprocess.quantities.dilution import degrees_chlorum, made_up_to, mixed, percent, powder_made_up, ppm
from tests.published.kinetics_data import CHLORINE_LEFT, chlorine_left
from tests.published.memory import FromMemory
from tests.published.report import Agrees, Differs
from tests.published.shipped import Shipped
from tests.published.source import Published

MINUTES_A_DAY = 24 * 60
SHELF_LIFE = "PLoS ONE 2016;11(5):e0156136, on the shelf life of chlorine solutions"
SHELF_LIFE_ADDRESS = "https://pmc.ncbi.nlm.nih.gov/articles/PMC4887112"


def shelf_life(id: str, statement: str, unit: str, condition: str) -> Published:
    return Published(id, statement, unit, condition, SHELF_LIFE, SHELF_LIFE_ADDRESS, "seen", "published")


def bleach_after_30_days(statement: str, condition: str) -> Published:
    return Published(
        id="V06-13",
        statement=statement,
        unit="percent of the strength",
        condition=condition,
        source="Rutala et al., Infection Control and Hospital Epidemiology 1998;19(5):323-327",
        address="https://biomaterialdatabase.com/search/publications/9613692",
        evidence="seen",
        basis="published",
    )


@pytest.mark.parametrize(("species", "expected", "within"), [("EkA", 0.9, 0.005), ("EkM", 0.88, 0.005)])
def test_v05_24_chlorine_decay_from_data(agrees: Agrees, species: str, expected: float, within: float) -> None:
    agrees(fitted_row(species), theirs=expected, ours=rate_per_min(species), within=within)


def test_v05_24_chlorine_decay_from_all_the_data(agrees: Agrees) -> None:
    agrees(fitted_row("both species"), theirs=0.8885, ours=rate_per_min(*CHLORINE_LEFT), within=0.00005)


def fitted_row(which: str) -> Published:
    return Published(
        id="V05-24",
        statement=f"first-order loss of chlorine over {which}",
        unit="1/min",
        condition="ln(C/C0) = -k t through the start, 23 rows; the value of both is our own working",
        source="Holcomb et al., Emerg Infect Dis 2024;30(10), doi 10.3201/eid3010.240917, data and tutorial v1.9",
        address="https://cdcgov.github.io/WDPB_EMEL/manuscripts/elizabethkingia/kinetics_tutorial.html",
        evidence="seen",
        basis="published",
    )


def rate_per_min(*species: str) -> float:
    rows = [row for one in species for row in chlorine_left(one)]
    decay = from_readings([(minutes / MINUTES_A_DAY, share) for minutes, share in rows], celsius=20.0)
    return decay.rate_per_day / MINUTES_A_DAY


@pytest.mark.parametrize(("degrees", "expected"), [(1, "0.3"), (12, "3.6")])
def test_v06_04_degrees_chlorum(agrees: Agrees, degrees: int, expected: str) -> None:
    row = Published(
        id="V06-04",
        statement=f"{degrees} degrees chlorum are {expected} %",
        unit="percent active chlorine",
        condition="one degree is about 0.3 %",
        source=(
            "CDC, Best Practices for Environmental Cleaning in Global Healthcare Facilities with Limited Resources, "
            "Appendix E, footnote"
        ),
        address="https://www.cdc.gov/healthcare-associated-infections/hcp/cleaning-global/appendix-e.html",
        evidence="seen",
        basis="published",
    )
    agrees(row, theirs=Decimal(expected), ours=degrees_chlorum(degrees).percent)


def test_v06_08_recipes_that_do_not_give_what_they_promise(differs: Differs) -> None:
    row = Published(
        id="V06-08",
        statement="made up to a litre for 1 %: 250 mL of 5 % or 70 mL of 15 % bleach, or 15 g of 70 % powder",
        unit="percent",
        condition="the first is a quarter too strong; it is right when added to a litre",
        source="choleraoutbreak.org, appendix 14 (after WHO)",
        address=(
            "https://choleraoutbreak.org/book-page/appendix-14-preparation-and-use-1-chlorine-solution-disinfect-water"
        ),
        evidence="seen",
        basis="published",
    )
    differs(row, theirs=1, ours=mixed(percent(5), made_up_to(250, 1000)).percent, within=Decimal("0.2"))
    differs(row, theirs=1, ours=mixed(percent(15), made_up_to(70, 1000)).percent, within=Decimal("0.04"))
    differs(row, theirs=1, ours=powder_made_up(70, 15, total_l=1).percent, within=Decimal("0.04"))


@pytest.mark.parametrize(("solution", "days"), [("NaDCC", 2), ("generated NaOCl", 6)])
def test_v06_10_the_use_life_we_ship_ends_before_nine_tenths_are_left(
    agrees: Agrees, shipped: Shipped, solution: str, days: int
) -> None:
    row = shelf_life(
        "V06-10",
        f"{solution} holds nine tenths of its strength for {days} days",
        "d",
        "25 to 35 degrees Celsius; neutralised NaOCl lasts a few hours, HTH and stabilised NaOCl more than 30 days",
    )
    decay = from_share_left(Decimal("0.9"), float(days), celsius=35.0)
    agrees(row, theirs=days, ours=decay.days_until(ppm(1000), ppm(900)), within=1e-9)
    keeping = shipped.agent("hypochlorite-50ppm").keeping
    assert keeping is not None
    assert keeping.reuse_days is not None
    assert decay.share_left(float(keeping.reuse_days)) >= 0.9


def test_v06_10_a_stable_solution_keeps_for_more_than_a_month(agrees: Agrees) -> None:
    row = shelf_life(
        "V06-10",
        "HTH and stabilised NaOCl hold nine tenths for more than 30 days",
        "yes or no",
        "reckoned from the 97 % that another study found left after 30 days in a closed brown bottle (V06-13)",
    )
    decay = from_share_left(Decimal("0.97"), 30.0, celsius=20.0)
    agrees(row, theirs=True, ours=30 < decay.days_until(percent(5), percent(Decimal("4.5"))) < inf)


def test_v06_11_rate_and_half_life(agrees: Agrees) -> None:
    row = Published(
        id="V06-11",
        statement="nine tenths left after 6 d: rate and half-life",
        unit="1/d, d",
        condition="first order is an assumption",
        source=f"Derived from {SHELF_LIFE}",
        address=SHELF_LIFE_ADDRESS,
        evidence="seen",
        basis="derived",
    )
    decay = from_share_left(Decimal("0.9"), 6.0, celsius=25.0)
    agrees(row, theirs=0.0175601, ours=decay.rate_per_day, within=1.7e-7)
    agrees(row, theirs=39.4729, ours=decay.half_life_days, within=3.9e-4)


@pytest.mark.parametrize(
    ("bottle", "left"),
    [
        ("1:50 or 1:100, not in a closed brown bottle", (40, 50)),
        ("1:5, closed, not opaque", (83, 85)),
        ("1:50 or 1:5, closed brown bottle", (97, 100)),
    ],
)
def test_v06_13_bleach_left_after_30_days(agrees: Agrees, bottle: str, left: tuple[int, int]) -> None:
    row = bleach_after_30_days(f"{bottle}: {left[0]} to {left[1]} % left", "20 degrees Celsius, 30 days")
    ours = []
    for share in left:
        decay = from_share_left(Fraction(share, 100), 30.0, celsius=20.0)
        # In two steps, so that the share after one of them has to be the right one too.
        ours.append(float(decay.strength_after(decay.strength_after(percent(1), 13.0), 17.0).percent * 100))
    agrees(row, theirs=left, ours=ours, within=1e-9)


def test_v06_13_the_use_life_we_ship_holds_in_the_worst_bottle(agrees: Agrees, shipped: Shipped) -> None:
    row = bleach_after_30_days("a day of use leaves nine tenths even at 40 % left", "20 degrees Celsius, any bottle")
    keeping = shipped.agent("hypochlorite-50ppm").keeping
    assert keeping is not None
    assert keeping.reuse_days is not None
    worst = from_share_left(Decimal("0.4"), 30.0, celsius=20.0)
    agrees(row, theirs=True, ours=worst.share_left(float(keeping.reuse_days)) >= 0.9)


def test_v06_14_double_strength_against_fading_is_known_from_memory_only(from_memory: FromMemory) -> None:
    row = Published(
        id="V06-14",
        statement="1000 ppm that fade to half in 30 days still hold 500 ppm for so many days",
        unit="d",
        condition="half of the strength left after 30 days",
        source="CDC/HICPAC, Guideline for Disinfection and Sterilization, 2008, chlorine section",
        address="from memory",
        evidence="memory",
        basis="derived",
    )
    decay = from_share_left(Decimal("0.5"), 30.0, celsius=20.0)
    from_memory(row, remembered=30, ours=decay.days_until(ppm(1000), ppm(500)))


@pytest.mark.parametrize(("strength", "hours"), [("0.05", 0.38), ("0.5", 0.82)])
def test_v06_16_no_factor_carries_two_days_to_a_fraction_of_an_hour(
    agrees: Agrees, strength: str, hours: float
) -> None:
    row = shelf_life(
        "V06-16",
        f"NaDCC of {strength} % at 40 degrees Celsius: {hours} h predicted, far below what any factor for 10 K gives",
        "yes or no",
        "the paper extrapolates by a model of its own; two days were seen up to 35 degrees Celsius (V06-10)",
    )
    seen = from_share_left(Decimal("0.9"), 2.0, celsius=35.0)
    start = percent(Decimal(strength))
    least = percent(Decimal(strength) * Decimal("0.9"))
    ours = [seen.at(40.0, q10=factor).days_until(start, least) * 24 for factor in Q10_RANGE]
    agrees(row, theirs=True, ours=min(ours) > 10 * hours)
