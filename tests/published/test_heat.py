"""Published values of A0, F0 and continuous holds come out of `reprocess.quantities.lethality`."""

from math import inf

import pytest

from reprocess.quantities.lethality import (
    Sampling,
    Scale,
    a0,
    a0_as_evidence,
    lethal_seconds,
    longest_hold,
    seconds_needed,
)
from reprocess.quantities.trace import BadTrace, Trace, read_trace
from tests.published.report import Agrees
from tests.published.source import Basis, Evidence, Published

A0_METHOD = "EN ISO 15883-1, Annex B (A0 method); an excerpt of B.1 was read, not the standard"
A0_ADDRESS = (
    "https://www.efhss.com/html/educ/qtg/qtg0014_en.htm (concept); "
    "https://th4.ilovetranslation.com/bKLcig7ZMSu=d (excerpt of B.1)"
)
FORUM = "European Forum for Hospital Sterile Supply, answer Q00473, 25 May 2004"
FORUM_ADDRESS = "https://efhss.com/html/faq/faq.php3?thread=473_reply"
F0_SOURCE = "Lecture text on F0"
F0_ADDRESS = "https://www.scribd.com/doc/377248/Fo-value"

WITHOUT_FLOOR = Scale(reference_c=80.0, z_k=10.0, floor_c=None)
SAMPLED_TEMPS_C = (60, 65, 70, 75, 80, 85, 90, 90, 90, 85, 80, 70, 60)


def sampled(*temps_c: float, every_s: float) -> Trace:
    trace = read_trace([(number * every_s, celsius) for number, celsius in enumerate(temps_c)], gap_s_max=inf)
    assert not isinstance(trace, BadTrace)
    return trace


def held(celsius: float, seconds: float) -> Trace:
    return sampled(celsius, celsius, every_s=seconds)


def by_the_method(
    id: str,
    statement: str,
    condition: str = "constant temperature",
    evidence: Evidence = "seen",
    basis: Basis = "derived",
) -> Published:
    return Published(id, statement, "s", condition, A0_METHOD, A0_ADDRESS, evidence, basis)


def by_the_forum(id: str, statement: str) -> Published:
    condition = "constant temperature"
    return Published(id, statement, "s", condition, FORUM, FORUM_ADDRESS, "seen", "published")


def test_v04_01_the_scale_of_a0(agrees: Agrees) -> None:
    row = by_the_method(
        "V04-01",
        "reference temperature 80 degrees Celsius and z value 10 K",
        "time counts in seconds and only from 65 degrees Celsius, in the disinfection phase",
        basis="published",
    )
    dose = a0(held(90, 1), floor_c=65.0, sampling=Sampling.LEFT_RECTANGLES)
    agrees(row, theirs=(80, 10), ours=(dose.scale.reference_c, dose.scale.z_k))
    assert dose.equivalent_s == 10 ** ((90 - 80) / 10)
    assert a0(held(64.9, 600), floor_c=65.0, sampling=dose.sampling).equivalent_s == 0


@pytest.mark.parametrize(
    ("row", "celsius", "seconds", "expected_s"),
    [
        (by_the_forum("V04-02", "A0 of 600 s at 80 degrees Celsius"), 80, 600, 600),
        (by_the_forum("V04-03", "A0 of 60 s at 90 degrees Celsius"), 90, 60, 600),
        (by_the_forum("V04-04", "A0 of 6000 s at 70 degrees Celsius"), 70, 6000, 600),
        (by_the_method("V04-05", "A0 of 600 s at 93 degrees Celsius"), 93, 600, 11971.5739),
        (by_the_method("V04-06", "A0 of 300 s at 90 degrees Celsius"), 90, 300, 3000),
        (by_the_method("V04-07", "A0 of 1200 s at 75 degrees Celsius"), 75, 1200, 379.473319),
        (by_the_method("V04-08", "A0 of 180 s at 71 degrees Celsius"), 71, 180, 22.660657),
        (by_the_method("V04-09", "A0 of 600 s at 65 degrees Celsius"), 65, 600, 18.973666),
        (by_the_method("V04-10", "A0 of 60 s at 80 degrees Celsius"), 80, 60, 60),
        (by_the_method("V04-11", "A0 of 1 s at 90 degrees Celsius"), 90, 1, 10),
    ],
    ids=str,
)
@pytest.mark.parametrize("sampling", Sampling)
def test_a0_of_a_constant_temperature_whatever_the_sampling_rule(
    agrees: Agrees, row: Published, celsius: float, seconds: float, expected_s: float, sampling: Sampling
) -> None:
    dose = a0(held(celsius, seconds), floor_c=65.0, sampling=sampling)
    agrees(row, theirs=expected_s, ours=dose.equivalent_s, within=expected_s * 1e-4)


@pytest.mark.parametrize(
    ("celsius", "expected_s"),
    [
        (65, (1897.37, 18973.67, 94868.33)),
        (70, (600, 6000, 30000)),
        (75, (189.74, 1897.37, 9486.83)),
        (80, (60, 600, 3000)),
        (85, (18.97, 189.74, 948.68)),
        (90, (6, 60, 300)),
        (93, (3.01, 30.07, 150.36)),
    ],
)
def test_v04_12_seconds_needed(agrees: Agrees, celsius: float, expected_s: tuple[float, float, float]) -> None:
    row = by_the_method("V04-12", f"seconds needed at {celsius} degrees Celsius for A0 = 60, 600 and 3000")
    needed_s = [seconds_needed(target_s, celsius=celsius, scale=WITHOUT_FLOOR) for target_s in (60, 600, 3000)]
    agrees(row, theirs=expected_s, ours=needed_s, within=0.01)


@pytest.mark.parametrize(
    ("row", "floor_c", "sampling", "expected_s"),
    [
        (
            by_the_method(
                "V04-14",
                "A0 of a trace by left rectangles with a floor of 65 degrees Celsius",
                "own trace; each sample holds for the next 10 s",
                "computed",
            ),
            65.0,
            Sampling.LEFT_RECTANGLES,
            388.72406,
        ),
        (
            by_the_method(
                "V04-16",
                "A0 of the same trace by the exact integral of straight lines",
                "own trace; no floor",
                "computed",
            ),
            None,
            Sampling.STRAIGHT_LINES,
            369.24456,
        ),
    ],
    ids=str,
)
def test_a0_of_a_sampled_trace_depends_on_the_method(
    agrees: Agrees, row: Published, floor_c: float | None, sampling: Sampling, expected_s: float
) -> None:
    trace = sampled(*SAMPLED_TEMPS_C, every_s=10)
    dose = a0(trace, floor_c=floor_c, sampling=sampling)
    agrees(row, theirs=expected_s, ours=dose.equivalent_s, within=expected_s * 1e-5)
    assert a0_as_evidence(trace, floor_c=floor_c).equivalent_s < expected_s


@pytest.mark.parametrize(("celsius", "seconds", "expected_s"), [(65, 600, 18.97), (71, 180, 22.66)])
def test_v04_18_linen_bands_do_not_reach_the_least_a0(
    agrees: Agrees, celsius: float, seconds: float, expected_s: float
) -> None:
    row = Published(
        id="V04-18",
        statement="linen at 65 degrees Celsius for 10 min or at 71 degrees Celsius for 3 min",
        unit="s",
        condition="accepted for linen although neither reaches A0 = 60: another family of rules",
        source="Health Technical Memorandum 01-04, as quoted by a service company",
        address=("https://jtmservice.co.uk/blog/infection-control-in-commercial-laundries-and-kitchens/"),
        evidence="seen",
        basis="published",
    )
    dose = a0_as_evidence(held(celsius, seconds), floor_c=65.0)
    agrees(row, theirs=expected_s, ours=dose.equivalent_s, within=0.01)
    assert not dose.reaches(60)
    hold = longest_hold(
        held(celsius, seconds),
        lowest_c=celsius,
        highest_c=95.0,
        sampling=Sampling.SMALLER_NEIGHBOUR,
    )
    assert hold.seconds >= seconds


def test_v04_20_a_dip_starts_the_hold_anew(agrees: Agrees) -> None:
    row = Published(
        id="V04-20",
        statement="120 s in a band from 80 degrees Celsius fail when the trace dips to 79",
        unit="s",
        condition="a sample every 30 s that holds for 30 s; the longest unbroken run is 60 s",
        source="EN ISO 15883-1, 4.3.1; an excerpt was read, not the standard",
        address="https://th4.ilovetranslation.com/Pp2N_a7SXYZ=d",
        evidence="seen",
        basis="derived",
    )
    trace = sampled(80, 80, 79, 80, 80, every_s=30)
    run_s = {
        sampling: longest_hold(trace, lowest_c=80.0, highest_c=90.0, sampling=sampling).seconds for sampling in Sampling
    }
    agrees(row, theirs=60, ours=run_s[Sampling.LEFT_RECTANGLES])
    assert max(run_s.values()) < 120, row


def test_v04_21_f0_of_a_constant_temperature(agrees: Agrees) -> None:
    row = Published(
        id="V04-21",
        statement="F0 of 15 min at 111 degrees Celsius",
        unit="min",
        condition="reference 121 degrees Celsius, z = 10 K",
        source=F0_SOURCE,
        address=F0_ADDRESS,
        evidence="seen",
        basis="published",
    )
    scale = Scale(reference_c=121.0, z_k=10.0, floor_c=None)
    dose = lethal_seconds(held(111, 15 * 60), scale, Sampling.SMALLER_NEIGHBOUR)
    agrees(row, theirs=1.5, ours=dose.equivalent_s / 60, within=1.5e-6)


@pytest.mark.parametrize(("reference_c", "expected_min"), [(121.0, 15), (121.1, 14.6586), (121.11, 14.6248)])
def test_v04_23_the_reference_temperature_matters(agrees: Agrees, reference_c: float, expected_min: float) -> None:
    row = Published(
        id="V04-23",
        statement=f"F0 of 15 min at 121 degrees Celsius on the reference of {reference_c}",
        unit="min",
        condition="z = 10 K; sources print 121, 121.1 and 121.11 degrees Celsius",
        source=F0_SOURCE,
        address=F0_ADDRESS,
        evidence="seen",
        basis="derived",
    )
    scale = Scale(reference_c=reference_c, z_k=10.0, floor_c=None)
    dose = lethal_seconds(held(121, 15 * 60), scale, Sampling.SMALLER_NEIGHBOUR)
    agrees(row, theirs=expected_min, ours=dose.equivalent_s / 60, within=0.001)


def test_v04_24_ten_kelvin_more_need_a_tenth_of_the_time(agrees: Agrees) -> None:
    row = Published(
        id="V04-24",
        statement="a D value of 4.5 min at 150 degrees Celsius is 0.45 min at 160",
        unit="min",
        condition="z = 10 K",
        source="z-value teaching text",
        address="https://uac-m.org/nb/z-verdi-temperatur",
        evidence="seen",
        basis="published",
    )
    scale = Scale(reference_c=150.0, z_k=10.0, floor_c=None)
    needed_s = seconds_needed(4.5 * 60, celsius=160.0, scale=scale)
    agrees(row, theirs=0.45, ours=needed_s / 60, within=0.45e-9)
