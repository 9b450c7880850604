"""Published limits are judged on unrounded numbers in one unit."""

from decimal import Decimal
from fractions import Fraction

import pytest

from reprocess.quantities.exact import at_least
from reprocess.quantities.reading import read_number
from reprocess.quantities.temperature import celsius_from_fahrenheit, fahrenheit_from_celsius
from tests.published.source import Published


def test_v01_09_the_two_printed_wash_limits_are_not_the_same_temperature() -> None:
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
    assert fahrenheit_from_celsius(43) == Fraction("109.4"), row
    assert float(celsius_from_fahrenheit(110)) == pytest.approx(43.3333, abs=0.001), row


@pytest.mark.parametrize(("typed", "met"), [("5.8", False), ("5.99", False), ("6.0", True)])
def test_v03_22_a_log_reduction_is_not_rounded_up(typed: str, met: bool) -> None:  # noqa: FBT001
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
    assert at_least(reduction, 6) is met, row
