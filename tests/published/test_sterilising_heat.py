"""Published doses for loads, F0 and D values come out of `quantities.lethality` and `quantities.equivalence`."""

from math import inf

import pytest

from reprocess.quantities.equivalence import Resistance, rate_per_s
from reprocess.quantities.lethality import Sampling, Scale, a0_as_evidence, f0, f0_as_evidence
from reprocess.quantities.trace import BadTrace, Trace, read_trace
from tests.published.memory import FromMemory
from tests.published.report import Agrees
from tests.published.source import Evidence, Published

LOADS_A0_S = {"human waste containers": 60, "surgical instruments": 600, "risk of heat-resistant viruses": 3000}


def held(celsius: float, seconds: float) -> Trace:
    trace = read_trace([(0.0, celsius), (seconds, celsius)], gap_s_max=inf)
    assert not isinstance(trace, BadTrace)
    return trace


def for_load(load: str, evidence: Evidence) -> Published:
    return Published(
        id="V04-13",
        statement=f"A0 for {load}",
        unit="s",
        condition="held at 80 degrees Celsius for just so long: enough for this load, not for the next",
        source="EN ISO 15883-1, Annex B, and national guidance; an excerpt was read, not the standard",
        address=(
            "https://www.efhss.com/html/educ/qtg/qtg0014_en.htm (concept); "
            "https://th4.ilovetranslation.com/bKLcig7ZMSu=d (excerpt of B.1)"
        ),
        evidence=evidence,
        basis="published",
    )


def loads_served_by(a0_s: float) -> list[str]:
    """Returns the loads for which a hold at 80 degrees Celsius is long enough."""
    dose = a0_as_evidence(held(80.0, a0_s), floor_c=65.0)
    return [load for load, target_s in LOADS_A0_S.items() if dose.reaches(target_s)]


@pytest.mark.parametrize(
    ("load", "served"),
    [
        ("human waste containers", ["human waste containers"]),
        ("surgical instruments", ["human waste containers", "surgical instruments"]),
    ],
)
def test_v04_13_the_dose_for_a_load_serves_it_and_no_harder_one(agrees: Agrees, load: str, served: list[str]) -> None:
    agrees(for_load(load, "seen"), theirs=served, ours=loads_served_by(LOADS_A0_S[load]))


def test_v04_13_the_dose_for_viruses_is_known_from_memory_only(from_memory: FromMemory) -> None:
    load = "risk of heat-resistant viruses"
    from_memory(for_load(load, "memory"), remembered=list(LOADS_A0_S), ours=loads_served_by(LOADS_A0_S[load]))


@pytest.mark.parametrize("sampling", Sampling)
def test_v04_23_our_f0_stands_on_the_reference_of_121_1_degrees(agrees: Agrees, sampling: Sampling) -> None:
    row = Published(
        id="V04-23",
        statement="F0 of 15 min at 121 degrees Celsius on the reference of 121.1",
        unit="min",
        condition="z = 10 K; sources print 121, 121.1 and 121.11 degrees Celsius",
        source="Lecture text on F0",
        address="https://www.scribd.com/doc/377248/Fo-value",
        evidence="seen",
        basis="derived",
    )
    dose = f0(held(121.0, 15 * 60), floor_c=None, sampling=sampling)
    agrees(row, theirs=14.6586, ours=dose.equivalent_min, within=0.001)
    assert f0_as_evidence(held(121.0, 15 * 60), floor_c=None).equivalent_s <= dose.equivalent_s


def test_v04_24_a_d_value_at_another_temperature(agrees: Agrees) -> None:
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
    spores = Resistance(4.5 * 60, Scale(reference_c=150.0, z_k=10.0, floor_c=None))
    agrees(row, theirs=0.45, ours=spores.d_s_at(160.0) / 60, within=0.45e-9)


def test_v04_26_a_d_value_as_a_first_order_rate(agrees: Agrees) -> None:
    row = Published(
        id="V04-26",
        statement="a D value of 1.5 min is a first-order rate of 1.535057",
        unit="1/min",
        condition="k = ln(10) / D",
        source="FDA, Kinetics of Microbial Inactivation for Alternative Food Processing Technologies, 2 June 2000",
        address="https://corpora.tika.apache.org/base/docs/govdocs1/573/573923.html",
        evidence="seen",
        basis="derived",
    )
    agrees(row, theirs=1.535057, ours=rate_per_s(1.5 * 60) * 60, within=1.535057e-5)
