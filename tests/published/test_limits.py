"""Published limits are judged on unrounded numbers in one unit."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from reprocess.quantities.exact import at_least
from reprocess.quantities.reading import read_number
from reprocess.quantities.temperature import celsius_from_fahrenheit, fahrenheit_from_celsius
from tests.published.report import Agrees
from tests.published.source import Published


def test_v01_09_the_two_printed_wash_limits_are_not_the_same_temperature(agrees: Agrees) -> None:
    row = Published(
        id="V01-09",
        statement="43 degrees Celsius are 109.4 Fahrenheit; 110 Fahrenheit are 43.3333 Celsius",
        unit="degrees Celsius and Fahrenheit",
        condition="one unit is kept and converted once",
        source="29 CFR 1910.134 Appendix B-2 (mandatory), OSHA, step B, read in a copy",
        address="https://compliancetrainingonline.com/course-snippets/respirator-cleaning.cfm",
        evidence="seen",
        basis="derived",
    )
    agrees(row, theirs=Fraction("109.4"), ours=fahrenheit_from_celsius(43))
    agrees(row, theirs=Decimal("43.3333"), ours=celsius_from_fahrenheit(110), within=Decimal("0.001"))


@pytest.mark.parametrize(("typed", "met"), [("5.8", False), ("5.99", False), ("6.0", True)])
def test_v03_22_a_log_reduction_is_not_rounded_up(
    agrees: Agrees,
    typed: str,
    met: bool,  # noqa: FBT001
) -> None:
    row = Published(
        id="V03-22",
        statement="5.8 and 5.99 are no 6-log reduction; 6.0 is",
        unit="log10",
        condition="unrounded values are compared",
        source="Test-laboratory guidance on AAMI TIR12:2020 (an opinion)",
        address="https://www.nelsonlabs.com/is-it-a-6-0-log-or-a-6-log-reduction/",
        evidence="seen",
        basis="published",
    )
    reduction = read_number(typed, "log10")
    assert isinstance(reduction, Decimal)
    agrees(replace(row, statement=f"{typed} is a 6-log reduction"), theirs=met, ours=at_least(reduction, 6))
