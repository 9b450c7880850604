"""Published strengths and recipes come out of `reprocess.quantities.dilution`."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from reprocess.quantities.dilution import (
    CannotMix,
    added_to,
    made_up_to,
    mixed,
    one_in,
    one_plus,
    parts_for,
    percent,
    powder_g_per_l,
    powder_made_up,
    ppm,
)
from reprocess.quantities.exact import rounded_up
from tests.published.memory import FromMemory
from tests.published.report import Agrees
from tests.published.source import Published

CLEANING_GUIDE = (
    "CDC, Best Practices for Environmental Cleaning in Global Healthcare Facilities with Limited Resources, Appendix E"
)
CLEANING_GUIDE_ADDRESS = "https://www.cdc.gov/healthcare-associated-infections/hcp/cleaning-global/appendix-e.html"


def test_v01_06_strength_of_the_respirator_bath(agrees: Agrees) -> None:
    row = Published(
        id="V01-06",
        statement="strength of 1 mL of 5.25 % bleach added to 1000 mL of water",
        unit="mg/L",
        condition="percent read as g in 100 mL",
        source="C1 V1 = C2 V2 on the recipe of 29 CFR 1910.134 Appendix B-2 (OSHA)",
        address="",
        evidence="computed",
        basis="derived",
    )
    strength = mixed(percent(Decimal("5.25")), added_to(1, 1000))
    agrees(row, theirs=Decimal("52.4476"), ours=strength.mg_per_l, within=Decimal("0.01"))


@pytest.mark.parametrize(("stock_percent", "expected_ppm"), [("5.25", 105), ("6.15", 123)])
def test_v03_04_low_level_hypochlorite(agrees: Agrees, stock_percent: str, expected_ppm: int) -> None:
    row = Published(
        id="V03-04",
        statement="hypochlorite 1:500 is 105 and 123 ppm, over the 100 ppm that are asked for",
        unit="mg/L",
        condition="1:500 read as 1 part in 500 parts altogether",
        source=(
            "CDC/HICPAC, Guideline for Disinfection and Sterilization in Healthcare Facilities, "
            "2008 (web text updated to May 2019), Table 1"
        ),
        address="https://www.cdc.gov/infectioncontrol/guidelines/disinfection/tables/table1.html",
        evidence="seen",
        basis="published",
    )
    strength = mixed(percent(Decimal(stock_percent)), one_in(500))
    agrees(row, theirs=expected_ppm, ours=strength.mg_per_l, within=Decimal("0.5"))
    assert strength > ppm(100)


def test_v06_01_parts_of_water_to_a_part_of_bleach(agrees: Agrees) -> None:
    row = Published(
        id="V06-01",
        statement="3.5 % bleach takes 6 parts of water to 1 part for 0.5 %",
        unit="parts",
        condition="none stated",
        source=f"{CLEANING_GUIDE}, Example 1",
        address=CLEANING_GUIDE_ADDRESS,
        evidence="seen",
        basis="published",
    )
    parts = parts_for(percent(Decimal("3.5")), percent(Decimal("0.5")))
    assert not isinstance(parts, CannotMix)
    agrees(row, theirs=6, ours=parts.water / parts.stock)


def test_v06_02_powder_to_a_litre(agrees: Agrees) -> None:
    row = Published(
        id="V06-02",
        statement="powder of 35 % takes 14.3 g to a litre for 0.5 %",
        unit="g/L",
        condition="exact value 14.2857",
        source=f"{CLEANING_GUIDE}, Example 2",
        address=CLEANING_GUIDE_ADDRESS,
        evidence="seen",
        basis="published",
    )
    grams = powder_g_per_l(35, percent(Decimal("0.5")))
    assert grams == Fraction(100, 7)
    agrees(row, theirs=Decimal("14.3"), ours=rounded_up(grams, 1))


@pytest.mark.parametrize(("percent_text", "expected_ppm"), [("0.05", 500), ("0.5", 5000), ("1", 10_000)])
def test_v06_05_percent_is_so_many_ppm(agrees: Agrees, percent_text: str, expected_ppm: int) -> None:
    row = Published(
        id="V06-05",
        statement="0.05, 0.5 and 1 % are 500, 5000 and 10000 ppm",
        unit="mg/L",
        condition="mass by volume",
        source="PLoS ONE 2016;11(5):e0156136; WHO cholera guidance, appendix 14",
        address="https://pmc.ncbi.nlm.nih.gov/articles/PMC4887112",
        evidence="seen",
        basis="published",
    )
    agrees(row, theirs=expected_ppm, ours=percent(Decimal(percent_text)).mg_per_l)


def test_v06_07_one_to_ten_has_two_readings(agrees: Agrees) -> None:
    row = Published(
        id="V06-07",
        statement="5.25 % at 1:10 is 5250 ppm as 1 in 10 and 4772.73 ppm as 1 plus 10",
        unit="mg/L",
        condition="parts of stock and parts of water are kept, never a bare ratio",
        source="Bleach fact sheet",
        address=("https://pdf4pro.com/view/sodium-hypochlorite-bleach-safety-fact-sheet-7a0bd7.html"),
        evidence="seen",
        basis="published",
    )
    stock = percent(Decimal("5.25"))
    agrees(row, theirs=5250, ours=mixed(stock, one_in(10)).mg_per_l)
    agrees(row, theirs=Decimal("4772.73"), ours=mixed(stock, one_plus(10)).mg_per_l, within=Decimal("0.04"))


def test_v06_08_made_up_to_a_litre_is_not_added_to_a_litre(agrees: Agrees) -> None:
    row = Published(
        id="V06-08",
        statement=(
            "1 % stock solution from 15 g of 70 % calcium hypochlorite, 33 g of 30 % chlorinated "
            "lime, 250 mL of 5 % bleach or 70 mL of 15 % bleach"
        ),
        unit="g or mL for 1 L",
        condition=(
            "printed both as made up to and as in a litre of water; 250 mL of 5 % added to 1 L "
            "give 1.000 %, 70 mL of 15 % give 0.981 %"
        ),
        source="choleraoutbreak.org, appendix 14 (after WHO)",
        address=(
            "https://choleraoutbreak.org/book-page/appendix-14-preparation-and-use-1-chlorine-solution-disinfect-water"
        ),
        evidence="seen",
        basis="published",
    )
    percents = replace(row, unit="percent")
    agrees(percents, theirs=1, ours=mixed(percent(5), added_to(250, 1000)).percent)
    weaker = mixed(percent(15), added_to(70, 1000)).percent
    agrees(percents, theirs=Decimal("0.981"), ours=weaker, within=Decimal("0.0005"))
    # The other reading of the same words: a quarter too strong, and near enough.
    assert mixed(percent(5), made_up_to(250, 1000)).percent == Fraction("1.25")
    assert mixed(percent(15), made_up_to(70, 1000)).percent == Fraction("1.05")
    assert powder_made_up(70, 15, total_l=1).percent == Fraction("1.05")
    assert powder_made_up(30, 33, total_l=1).percent == Fraction("0.99")


def test_v06_14_is_known_from_memory_only(from_memory: FromMemory) -> None:
    row = Published(
        id="V06-14",
        statement="1000 ppm that fade to half still hold 500 ppm",
        unit="ppm",
        condition="half of the strength left after 30 days",
        source="CDC/HICPAC, Guideline for Disinfection and Sterilization, 2008, chlorine section",
        address="from memory",
        evidence="memory",
        basis="derived",
    )
    from_memory(row, remembered=500, ours=mixed(ppm(1000), one_in(2)).mg_per_l)
