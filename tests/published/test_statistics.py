"""Published worked examples of statistics come out of `reprocess.statistics`."""

from decimal import Decimal
from fractions import Fraction

import pytest

from reprocess.statistics.chart_constants import constants
from reprocess.statistics.control_charts import Chart, c_chart, individuals_chart, means_chart, moving_ranges
from reprocess.statistics.cumulative_sums import cumulative_sums
from reprocess.statistics.lifetimes import fit_weibull
from reprocess.statistics.percentiles import Definition, percentile
from reprocess.statistics.queueing import (
    Overload,
    Queue,
    erlang_c,
    fewest_servers,
    mean_time,
    offered_load,
    units_needed,
)
from reprocess.statistics.survival import Observation, kaplan_meier, log_rank
from tests.published.report import Agrees, Differs
from tests.published.source import Published

HANDBOOK = "NIST/SEMATECH e-Handbook of Statistical Methods"
ERLANG_SOURCE = "Erlang C reference pages (worksheet function help)"
ERLANG_ADDRESS = (
    "http://abstractmicro.com/erlang/helppages/ref-erlcwait4.htm ; "
    "http://abstractmicro.com/erlang/helppages/ref-erlcnwaiting4.htm"
)
REMISSION_SOURCE = "Freireich et al., Blood 1963;21:699-716"
REMISSION_ADDRESS = "https://mn.uio.no/math/english/people/aca/borgan/data/leukemia-description.html"

TREATED_WEEKS = (6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35)
TREATED_ENDED = (1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0)
PLACEBO_WEEKS = (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)

RING_DIAMETERS_MM = """
    74.030 74.002 74.019 73.992 74.008   73.995 73.992 74.001 74.011 74.004   73.988 74.024 74.021 74.005 74.002
    74.002 73.996 73.993 74.015 74.009   73.992 74.007 74.015 73.989 74.014   74.009 73.994 73.997 73.985 73.993
    73.995 74.006 73.994 74.000 74.005   73.985 74.003 73.993 74.015 73.988   74.008 73.995 74.009 74.005 74.004
    73.998 74.000 73.990 74.007 73.995   73.994 73.998 73.994 73.995 73.990   74.004 74.000 74.007 74.000 73.996
    73.983 74.002 73.998 73.997 74.012   74.006 73.967 73.994 74.000 73.984   74.012 74.014 73.998 73.999 74.007
    74.000 73.984 74.005 73.998 73.996   73.994 74.012 73.986 74.005 74.007   74.006 74.010 74.018 74.003 74.000
    73.984 74.002 74.003 74.005 73.997   74.000 74.010 74.013 74.020 74.003   73.988 74.001 74.009 74.005 73.996
    74.004 73.999 73.990 74.006 74.009   74.010 73.989 73.990 74.009 74.014   74.015 74.008 73.993 74.000 74.010
    73.982 73.984 73.995 74.017 74.013
"""


def numbers(text: str) -> list[Decimal]:
    return [Decimal(word) for word in text.split()]


def limits(chart: Chart) -> tuple[float, float]:
    """Returns the limits of a chart that has the same ones everywhere."""
    (both,) = {(point.lower, point.upper) for point in chart.points if point is not None}
    return both


def treated() -> list[Observation]:
    pairs = zip(TREATED_WEEKS, TREATED_ENDED, strict=True)
    return [Observation(weeks, ended=bool(ended)) for weeks, ended in pairs]


def queue(servers: int, arrivals: int, service: int) -> Queue:
    """Returns the queue of a period of half an hour, times in seconds."""
    settled = erlang_c(servers, arrivals=arrivals, period=1800, service=service)
    assert isinstance(settled, Queue)
    return settled


def test_v11_01_constants_of_control_charts(agrees: Agrees, differs: Differs) -> None:
    row = Published(
        id="V11-01",
        statement="control-chart constants for subgroups of 2 to 10",
        unit="none",
        condition="range of normal values; D4 for 3 is exactly 2.5746, printed 2.574, 2.575 and, wrongly, 2.571",
        source="standard tables of process control (ASTM E2587 and others), many copies",
        address="found by exact search",
        evidence="seen",
        basis="published",
    )
    ours = [constants(size) for size in range(2, 11)]
    within = 0.001
    d2 = (1.128, 1.693, 2.059, 2.326, 2.534, 2.704, 2.847, 2.970, 3.078)
    d3 = (0.853, 0.888, 0.880, 0.864, 0.848, 0.833, 0.820, 0.808, 0.797)
    a2 = (1.880, 1.023, 0.729, 0.577, 0.483, 0.419, 0.373, 0.337, 0.308)
    lower = (0, 0, 0, 0, 0, 0.076, 0.136, 0.184, 0.223)
    upper = (3.267, 2.574, 2.282, 2.114, 2.004, 1.924, 1.864, 1.816, 1.777)
    agrees(row, theirs=d2, ours=[each.d2 for each in ours], within=within)
    agrees(row, theirs=d3, ours=[each.d3 for each in ours], within=within)
    agrees(row, theirs=a2, ours=[each.mean_limit for each in ours], within=within)
    agrees(row, theirs=lower, ours=[each.range_lower for each in ours], within=within)
    agrees(row, theirs=upper, ours=[each.range_upper for each in ours], within=within)
    differs(row, theirs=2.571, ours=constants(3).range_upper, within=within)


def test_v11_02_limit_of_individuals(agrees: Agrees) -> None:
    row = Published(
        id="V11-02",
        statement="E2 for individuals with a moving range of 2",
        unit="mean moving ranges",
        condition="3 / d2; tables print 2.660 or 2.659",
        source="3 / 1.12838",
        address="",
        evidence="computed",
        basis="derived",
    )
    agrees(row, theirs=2.6587, ours=constants(2).individual_limit, within=0.002)


def test_v11_03_individuals_and_moving_ranges(agrees: Agrees) -> None:
    row = Published(
        id="V11-03",
        statement="individuals and moving range chart of ten values: mean, mean range, both limits, limit of ranges",
        unit="that of the values",
        condition="limits are the mean plus and minus 3 mean ranges / 1.128; with 2.660 they read 55.8049 and 45.8151",
        source=f"{HANDBOOK}, 6.3.2.2 (numbers read in copies)",
        address="https://www.itl.nist.gov/div898/handbook/pmc/section3/pmc322.htm",
        evidence="seen",
        basis="published",
    )
    chart = individuals_chart(numbers("49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1"))
    assert chart is not None
    within = 0.0005
    agrees(row, theirs=50.81, ours=chart.values.centre, within=within)
    agrees(row, theirs=1.8778, ours=chart.ranges.centre, within=within)
    agrees(row, theirs=(45.8159, 55.8041), ours=limits(chart.values), within=within)
    agrees(row, theirs=6.1347, ours=limits(chart.ranges)[1], within=within)


def test_v11_04_a_missing_point_breaks_the_moving_range(agrees: Agrees) -> None:
    row = Published(
        id="V11-04",
        statement="moving ranges of 49.6, nothing, 49.9",
        unit="ranges",
        condition="gaps are not bridged",
        source="own working",
        address="",
        evidence="computed",
        basis="derived",
    )
    values = [Decimal("49.6"), None, Decimal("49.9")]
    ranges = [each for each in moving_ranges(values) if each is not None]
    agrees(row, theirs=0, ours=len(ranges))
    assert individuals_chart(values) is None


def test_v11_06_chart_of_counts(agrees: Agrees) -> None:
    row = Published(
        id="V11-06",
        statement="c chart of 25 counts of defects: mean, limits, points beyond",
        unit="defects; number of the point",
        condition="point 3 equals the upper limit of 28 and is not beyond it",
        source=f"{HANDBOOK}, 6.3.3.1 (read in a copy)",
        address="https://www.itl.nist.gov/div898/handbook/pmc/section3/pmc331.htm",
        evidence="seen",
        basis="published",
    )
    words = "16 14 28 16 12 20 10 12 10 17 19 17 14 16 15 13 14 16 11 20 11 19 16 31 13"
    chart = c_chart([int(word) for word in words.split()])
    assert chart is not None
    agrees(row, theirs=16.0, ours=chart.centre)
    agrees(row, theirs=(4.0, 28.0), ours=limits(chart))
    agrees(row, theirs=(24,), ours=chart.beyond)
    assert chart.points[2] is not None
    agrees(row, theirs=False, ours=chart.points[2].beyond)


def test_v11_08_means_and_ranges(agrees: Agrees) -> None:
    row = Published(
        id="V11-08",
        statement="X-bar and R chart of 25 subgroups of 5: mean, mean range, limits of means, limit of ranges",
        unit="mm",
        condition="A2 = 0.577; D4 = 2.114 gives 0.04811, the exact 2.1145 gives 0.04812",
        source="Montgomery, Introduction to Statistical Quality Control; data set pistonrings of qcc (read in a copy)",
        address="https://cran.r-project.org/package=qcc",
        evidence="seen",
        basis="published",
    )
    diameters = numbers(RING_DIAMETERS_MM)
    chart = means_chart([diameters[first : first + 5] for first in range(0, len(diameters), 5)])
    assert chart is not None
    assert len(chart.values.points) == 25
    within = 2e-5
    agrees(row, theirs=74.00118, ours=chart.values.centre, within=within)
    agrees(row, theirs=0.02276, ours=chart.ranges.centre, within=within)
    agrees(row, theirs=(73.98805, 74.0143), ours=limits(chart.values), within=within)
    agrees(row, theirs=0.04812, ours=limits(chart.ranges)[1], within=within)


def test_v11_09_ninetieth_percentile(agrees: Agrees) -> None:
    row = Published(
        id="V11-09",
        statement="90th percentile of twelve values at the place p (N + 1)",
        unit="that of the values",
        condition="the page prints 95.1981; other definitions differ in the fourth digit after the point",
        source=f"{HANDBOOK}, 7.2.6.2 (numbers read in copies)",
        address="https://www.itl.nist.gov/div898/handbook/prc/section2/prc262.htm",
        evidence="seen",
        basis="published",
    )
    values = numbers("95.1772 95.1567 95.1937 95.1959 95.1442 95.0610 95.1591 95.1195 95.1065 95.0925 95.1990 95.1682")
    share = Decimal("0.9")
    agrees(row, theirs=Decimal("95.19807"), ours=percentile(values, share, Definition.NIST))
    assert percentile(values, share, Definition.INCLUSIVE) != Decimal("95.19807")


def test_v11_11_fortieth_percentile_by_two_definitions(agrees: Agrees) -> None:
    row = Published(
        id="V11-11",
        statement="40th percentile of 15, 20, 35, 40, 50: at the place p (N + 1), and at 1 + p (N - 1)",
        unit="that of the values",
        condition="both between two values on the straight line",
        source="article on percentiles, alternative methods",
        address="https://www.liquisearch.com/percentile/alternative_methods",
        evidence="seen",
        basis="published",
    )
    values, share = (15, 20, 35, 40, 50), Decimal("0.4")
    agrees(row, theirs=26, ours=percentile(values, share, Definition.NIST))
    agrees(row, theirs=29, ours=percentile(values, share, Definition.INCLUSIVE))


def test_v11_12_survival_of_the_treated(agrees: Agrees) -> None:
    row = Published(
        id="V11-12",
        statement="Kaplan-Meier, arm with 6-mercaptopurine: times, shares still in remission, median",
        unit="weeks; share",
        condition="an observation censored at a time is still at risk at that time",
        source=REMISSION_SOURCE,
        address=REMISSION_ADDRESS,
        evidence="seen",
        basis="published",
    )
    curve = kaplan_meier(treated())
    assert curve is not None
    shares = (0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448)
    agrees(row, theirs=(6, 7, 10, 13, 16, 22, 23), ours=[step.at for step in curve.steps])
    agrees(row, theirs=shares, ours=[step.lasting for step in curve.steps], within=0.0006)
    agrees(row, theirs=23, ours=curve.ended_by(Fraction(1, 2)))


def test_v11_14_treated_against_placebo(agrees: Agrees) -> None:
    row = Published(
        id="V11-14",
        statement="log-rank test, 6-mercaptopurine against placebo: chi-squared and p",
        unit="none",
        condition="every one on placebo had an event; worked out with another library, textbooks print 16.79",
        source=REMISSION_SOURCE,
        address=REMISSION_ADDRESS,
        evidence="seen",
        basis="derived",
    )
    compared = log_rank(treated(), [Observation(weeks, ended=True) for weeks in PLACEBO_WEEKS])
    assert compared is not None
    agrees(row, theirs=16.7929, ours=compared.chi_squared, within=5e-5)
    agrees(row, theirs=4.169e-5, ours=compared.p_value, within=5e-9)


def test_v11_15_weibull_with_unfinished_lives(agrees: Agrees) -> None:
    row = Published(
        id="V11-15",
        statement="Weibull distribution of ten failures and ten lives cut off at 500: shape, scale, log-likelihood",
        unit="none; h; natural logarithm",
        condition="maximum likelihood, right-censored",
        source=f"{HANDBOOK}, 8.4.1.3",
        address="https://www.itl.nist.gov/div898/handbook/apr/section4/apr413.htm",
        evidence="seen",
        basis="published",
    )
    failures = (54, 187, 216, 240, 244, 335, 361, 373, 375, 386)
    lives = [Observation(hours, ended=True) for hours in failures] + [Observation(500, ended=False)] * 10
    fitted = fit_weibull(lives)
    assert fitted is not None
    # Relative tolerance 2e-5.
    agrees(row, theirs=1.7208, ours=fitted.shape, within=1.7208 * 2e-5)
    agrees(row, theirs=606.528, ours=fitted.scale, within=606.528 * 2e-5)
    agrees(row, theirs=-75.135, ours=fitted.log_likelihood, within=75.135 * 2e-5)


def test_v11_17_mean_wait(agrees: Agrees) -> None:
    row = Published(
        id="V11-17",
        statement="Erlang C, 20 servers, 100 arrivals in 1800 s of 240 s each: mean wait, mean number that wait",
        unit="s; items",
        condition="offered 13.3333 erlang",
        source=ERLANG_SOURCE,
        address=ERLANG_ADDRESS,
        evidence="seen",
        basis="published",
    )
    settled = queue(20, arrivals=100, service=240)
    agrees(row, theirs=2.243505841, ours=settled.wait, within=2.243505841e-8)
    agrees(row, theirs=0.124639, ours=settled.waiting, within=5e-7)
    agrees(row, theirs=13.3333, ours=settled.offered, within=5e-5)


def test_v11_19_mean_queue(agrees: Agrees) -> None:
    row = Published(
        id="V11-19",
        statement="Erlang C, 20 servers, 60 arrivals in 1800 s of 540 s each: mean number that wait",
        unit="items",
        condition="offered 18 erlang",
        source=ERLANG_SOURCE,
        address=ERLANG_ADDRESS,
        evidence="seen",
        basis="published",
    )
    agrees(row, theirs=4.95692, ours=queue(20, arrivals=60, service=540).waiting, within=5e-6)


def test_v11_21_overload_is_refused(agrees: Agrees) -> None:
    row = Published(
        id="V11-21",
        statement="Erlang C, 20 servers, 60 arrivals in 1800 s of 700 s each: no mean wait",
        unit="none; erlang",
        condition="offered 23.3 erlang, more than 20",
        source=ERLANG_SOURCE,
        address=ERLANG_ADDRESS,
        evidence="seen",
        basis="published",
    )
    answer = erlang_c(20, arrivals=60, period=1800, service=700)
    agrees(row, theirs="unstable", ours="unstable" if isinstance(answer, Overload) else "settles")
    agrees(row, theirs=23.3, ours=answer.offered, within=0.05)


def test_v11_22_fewest_servers(agrees: Agrees) -> None:
    row = Published(
        id="V11-22",
        statement="one arrival a minute, 3 min each: fewest servers; with 5 servers, the share that does not wait",
        unit="servers; share",
        condition="the page prints the question only, the answer is worked out",
        source="a question on queueing for students",
        address="https://tutorsglobe.com/question/what-is-the-minimum-number-of-agents-needed-so-that-the-51714013.aspx",
        evidence="seen",
        basis="derived",
    )
    agrees(row, theirs=4, ours=fewest_servers(offered_load(arrivals=1, period=1, service=3)))
    settled = erlang_c(5, arrivals=1, period=1, service=3)
    assert isinstance(settled, Queue)
    agrees(row, theirs=0.76385, ours=1 - settled.waiting_share, within=0.76385 * 1e-4)


@pytest.mark.parametrize(
    ("servers", "load", "printed", "exact"),
    [(3, Fraction(2), 0.444444, Fraction(4, 9)), (2, Fraction(3, 2), 0.642857, Fraction(9, 14))],
)
def test_v11_24_closed_small_cases(
    agrees: Agrees, servers: int, load: Fraction, printed: float, exact: Fraction
) -> None:
    row = Published(
        id="V11-24",
        statement=f"Erlang C, {servers} servers, {float(load)} erlang: share that waits",
        unit="share",
        condition=f"{exact} exactly",
        source="Erlang's formula",
        address="",
        evidence="computed",
        basis="derived",
    )
    settled = erlang_c(servers, arrivals=load, period=1, service=1)
    assert isinstance(settled, Queue)
    agrees(row, theirs=printed, ours=settled.waiting_share, within=5e-7)
    agrees(row, theirs=exact, ours=settled.waiting_share)


def test_v11_25_littles_law(agrees: Agrees) -> None:
    row = Published(
        id="V11-25",
        statement="160 bottles in the rack, 96 a year: how long a bottle stays",
        unit="years",
        condition="mean over a stable period",
        source="Little and Graves 2008, chapter 5 of Building Intuition (read in a copy)",
        address="http://funcall.blogspot.com/2011/11/littles-law.html",
        evidence="seen",
        basis="published",
    )
    agrees(row, theirs=1.6667, ours=mean_time(160, 96), within=1.6667e-4)


def test_v11_27_first_signal_of_the_cumulative_sum(agrees: Agrees) -> None:
    row = Published(
        id="V11-27",
        statement="cumulative sums around 325 with k = 0.3175 and h = 4.1959: first signal",
        unit="number of the observation",
        condition="the first fifteen observations, as read",
        source=f"{HANDBOOK}, 6.3.2.3 (data read in part)",
        address="https://www.itl.nist.gov/div898/handbook/pmc/section3/pmc323.htm",
        evidence="seen",
        basis="published",
    )
    values = numbers(
        "324.925 324.675 324.725 324.350 325.350 325.225 324.125 324.525 325.225 324.600 324.625 325.150 "
        "328.325 327.250 327.825"
    )
    sums = cumulative_sums(values, target=325, slack=Decimal("0.3175"), threshold=Decimal("4.1959"))
    assert sums is not None
    agrees(row, theirs=14, ours=sums.first_signal)


def test_v10_20_units_that_cover_a_demand(agrees: Agrees) -> None:
    row = Published(
        id="V10-20",
        statement="6 uses an hour of 1.5 h, 3 h of turnaround, a tenth spare: units on the way, and units needed",
        unit="units",
        condition="own model; raised to the next whole unit",
        source="Little's law",
        address="",
        evidence="computed",
        basis="derived",
    )
    units = units_needed(6, use=Decimal("1.5"), turnaround=3, spare_share=Decimal("0.1"))
    agrees(row, theirs=Decimal("29.7"), ours=units.on_the_way)
    agrees(row, theirs=30, ours=units.needed)
