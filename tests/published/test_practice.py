"""Published numbers from practice, where a figure of ours rests on them or can be held against them."""

from fractions import Fraction

from tests.published.report import Agrees
from tests.published.shipped import Shipped, dwell_of, reading_of, step_of
from tests.published.source import Published

DAY_S = 24 * 60 * 60


def test_v10_04_no_part_is_immersed_as_often_as_parts_were_tested(agrees: Agrees, shipped: Shipped) -> None:
    row = Published(
        id="V10-04",
        statement="immersions of two minutes in 28 days",
        unit="immersions",
        condition="contact time only; 28 days is how long parts lay in an ageing test",
        source="arithmetic",
        address="",
        evidence="computed",
        basis="derived",
    )
    tube = shipped.workflow("breathing-tube-immersion")
    least_s = dwell_of(tube, "disinfect").least_s
    assert least_s is not None
    immersions = Fraction(28 * DAY_S, least_s)
    agrees(row, theirs=20160, ours=immersions)
    cycles = [limit.most for limit in tube.limits if limit.limit == "cycles" and limit.most is not None]
    assert cycles, row
    assert max(cycles) < immersions, row


def test_v10_16_the_airflow_is_checked_before_use(agrees: Agrees, shipped: Shipped) -> None:
    row = Published(
        id="V10-16",
        statement="before use the airflow is checked with a tube or cone",
        unit="instrument",
        condition="how many a ward keeps, and when they are counted, is left to the department",
        source="plan of one hospital for powered air-purifying respirators, 2020",
        address="http://wp.ketteringhealth.org/knews/powered-air-purifying-respirators-paprs-plan/",
        evidence="seen",
        basis="published",
    )
    whole = shipped.workflow("respirator")
    assert reading_of(whole, "functional-test", "flow_l_per_min").required, row
    assert whole.release_step.step in whole.resting_on("functional-test"), row
    agrees(row, theirs="flow-indicator", ours=step_of(whole, "functional-test").instrument)


def test_v10_18_when_a_filter_is_changed(agrees: Agrees, shipped: Shipped) -> None:
    row = Published(
        id="V10-18",
        statement="a filter is used again until the flow falls, or it is dirty or damaged; its outside is cleaned",
        unit="rules",
        condition="read in a copy that was translated and translated back",
        source="CDC, Considerations for Optimizing the Supply of PAPRs, 3 November 2020",
        address="http://m.baoerfu.net/news/precautions-for-optimizing-the-supply-of-power-37817540.html",
        evidence="seen",
        basis="published",
    )
    cartridge = shipped.workflow("hepa-cartridge")
    lines = {line.check: line.failing for step in cartridge.steps for line in step.checks}
    flow = reading_of(shipped.workflow("respirator"), "functional-test", "flow_l_per_min")
    found = {
        "flow falls": flow.least is not None and flow.failing is not None and flow.failing.hold,
        "visibly dirty": lines["medium-clean"].route == lines["no-soil"].route == "discard",
        "damaged": lines["case-whole"].route == lines["gasket-seat-whole"].route == "discard",
        "outside cleaned at each service": all("clean" in cartridge.mandated_for(name) for name in ("routine", "late")),
    }
    agrees(row, theirs=tuple(found), ours=tuple(word for word, holds in found.items() if holds))
