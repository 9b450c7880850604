"""Facts of the trade come out of the workflows and configurations we ship.

They are common practice, no source: each assertion says so beside its value.
"""

import pytest
from pydantic import ValidationError

from reprocess.definitions.configuration import Configuration
from reprocess.terms import Stage
from tests.published.shipped import Shipped, reading_of, step_of, text_of

COMMON_PRACTICE = "common practice, no source"


def test_filters_and_plugs_fill_the_ports(shipped: Shipped) -> None:
    setups = {one.configuration: (one.ports, one.filters, one.plugs) for one in shipped.configurations}
    assert setups == {
        "half-mask-two-filters": (2, 2, 0),
        "three-port-canister": (3, 3, 0),
        "three-port-hepa": (3, 2, 1),
        "two-port-hepa": (2, 2, 0),
    }, COMMON_PRACTICE
    assert all(ports == filters + plugs for ports, filters, plugs in setups.values())
    counts = {one.count: one for one in step_of(shipped.workflow("respirator"), "assemble").counts}
    assert counts["plugs"].from_configuration == "plugs"


def test_a_configuration_with_an_open_port_is_refused(shipped: Shipped) -> None:
    broken = shipped.configuration("three-port-hepa").model_dump() | {"plugs": 0}
    with pytest.raises(ValidationError, match="3 ports need 3 filters and plugs"):
        Configuration.model_validate(broken)


def test_each_filter_has_its_gasket_present_and_whole(shipped: Shipped) -> None:
    for one in shipped.configurations:
        assert one.gaskets == one.filters, COMMON_PRACTICE
    whole = shipped.workflow("respirator")
    counts = {one.count: one for one in step_of(whole, "assemble").counts}
    assert counts["gaskets"].from_configuration == "gaskets"
    assert "whole" in text_of(whole, "assemble", "gaskets-good")


@pytest.mark.parametrize(("name", "ports"), [("blower", 3), ("blower-two-port", 2)])
def test_wet_work_closes_every_port_of_a_blower(shipped: Shipped, name: str, ports: int) -> None:
    blower = shipped.workflow(name)
    plugs = next(one for one in step_of(blower, "take-apart").counts if one.count == "plugs")
    assert plugs.exactly == ports, COMMON_PRACTICE
    assert {"clean", "disinfect", "rinse"} <= blower.resting_on("take-apart")
    assert "capped" in text_of(blower, "take-apart", "outlet-capped")


def test_the_airflow_is_confirmed_before_every_use(shipped: Shipped) -> None:
    whole = shipped.workflow("respirator")
    flow = reading_of(whole, "functional-test", "flow_l_per_min")
    assert flow.required, COMMON_PRACTICE
    assert flow.failing is not None
    assert flow.failing.hold
    assert step_of(whole, "functional-test").instrument == "flow-indicator"
    assert whole.release_step.step in whole.resting_on("functional-test")


def test_the_alarm_is_heard_and_leaves_about_30_minutes(shipped: Shipped) -> None:
    text = text_of(shipped.workflow("respirator"), "functional-test", "alarm-heard")
    assert "low-battery alarm leaves about 30 minutes" in text, COMMON_PRACTICE


@pytest.mark.parametrize("name", ["breathing-tube-wipe", "breathing-tube-immersion"])
def test_a_tube_has_no_nicks_or_cuts(shipped: Shipped, name: str) -> None:
    tube = shipped.workflow(name)
    lines = {one.check: one for one in step_of(tube, "inspect").checks}
    line = lines["no-nicks-or-cuts"]
    assert "no nicks, cuts" in line.text, COMMON_PRACTICE
    assert (line.failing.hold, line.failing.route) == (True, "discard")
    assert tube.release_step.step in tube.resting_on("inspect")


@pytest.mark.parametrize("name", ["hepa-cartridge", "filter-gasket", "belt-fabric", "respirator"])
def test_what_is_not_disinfected_is_never_shown_as_disinfected(shipped: Shipped, name: str) -> None:
    one = shipped.workflow(name)
    assert Stage.DISINFECTED not in one.stages
    assert all(step.dwell is None or not step.dwell.agents for step in one.steps)


def test_a_head_cover_for_one_wearer_has_no_way_back_after_use(shipped: Shipped) -> None:
    cover = shipped.workflow("head-cover-one-wearer")
    assert cover.single_wearer
    assert all(step.new_only for step in cover.steps), COMMON_PRACTICE


def test_no_contact_begins_before_the_look_for_soil(shipped: Shipped) -> None:
    for one in shipped.workflows:
        for step in one.steps:
            if step.dwell is not None and step.dwell.agents:
                assert {"clean", "clean-check"} <= set(step.after), (one.workflow, step.step)


def test_nobody_inspects_or_releases_their_own_work_alone(shipped: Shipped) -> None:
    for one in shipped.workflows:
        inspect = one.step_named("inspect")
        wet = {"launder", "long-clean", "clean", "disinfect"} & {step.step for step in one.steps}
        if inspect is not None:
            assert wet <= set(inspect.not_by), one.workflow
        assert one.release_step.not_alone, one.workflow


def test_agents_that_must_not_meet_say_so_on_both_sides(shipped: Shipped) -> None:
    for one in shipped.agents:
        for other in one.never_after:
            assert one.agent in shipped.agent(other).never_after, (one.agent, other)
