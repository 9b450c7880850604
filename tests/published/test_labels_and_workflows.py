"""Published values come out of the workflows and labels we ship."""

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import pytest

from reprocess.definitions.label import Agent
from reprocess.rules import contact
from tests.published.report import Agrees
from tests.published.shipped import Shipped, dwell_of, failings_in, reading_of, step_of, text_of
from tests.published.source import Basis, Published

CLASSES = ("routine", "late")
TOUCHING_SKIN = {"blower", "breathing-tube", "head-cover", "belt", "battery", "face-shield", "half-mask", "stethoscope"}
OUT_OF_SERVICE = {"repair", "discard", "quarantine"}


def appendix_b2(name: str, statement: str, unit: str, basis: Basis = "published") -> Published:
    return Published(
        id=name,
        statement=statement,
        unit=unit,
        condition="unless the manufacturer has an equally effective procedure",
        source="29 CFR 1910.134 Appendix B-2 (mandatory), OSHA, read in a copy",
        address="https://compliancetrainingonline.com/course-snippets/respirator-cleaning.cfm",
        evidence="seen",
        basis=basis,
    )


def osha(name: str, statement: str, paragraph: str, address: str) -> Published:
    return Published(
        id=name,
        statement=statement,
        unit="rule",
        condition="respirators for routine and for emergency use",
        source=f"29 CFR 1910.134{paragraph}",
        address=address,
        evidence="seen",
        basis="published",
    )


def cdc(name: str, statement: str, unit: str, table: int, basis: Basis = "published") -> Published:
    folder = "https://www.cdc.gov/infectioncontrol/guidelines/disinfection/tables"
    return Published(
        id=name,
        statement=statement,
        unit=unit,
        condition="the product's label governs where it differs",
        source=(
            "CDC/HICPAC, Guideline for Disinfection and Sterilization in Healthcare Facilities, "
            f"2008 (web text updated to May 2019), Table {table}"
        ),
        address=f"{folder}/table{table}.html",
        evidence="seen",
        basis=basis,
    )


def immersion_s(agent: Agent, claim: str) -> int | None:
    return contact_s(agent, "immersion", "40", claim)


def contact_s(agent: Agent, method: str, temp_c: str, claim: str = "high-level") -> int | None:
    row = agent.row_for(claim, method, Decimal(temp_c))
    return None if row is None else row.contact_s


# Respirators: cleaning, inspection, airflow.


def test_v01_01_order_of_the_respirator_cleaning_procedure(agrees: Agrees, shipped: Shipped) -> None:
    row = appendix_b2(
        "V01-01",
        "take apart, wash, rinse, disinfect, rinse again, dry, reassemble, test",
        "order of steps",
    )
    tube = shipped.workflow("breathing-tube-immersion")
    order = ["take-apart", "clean", "rinse", "disinfect", "rinse-again", "dry"]
    agrees(row, theirs=order, ours=[step.step for step in tube.steps if step.step in order])
    for earlier, later in pairwise(order):
        assert later in tube.resting_on(earlier), (row, earlier, later)
    whole = shipped.workflow("respirator")
    assert step_of(whole, "assemble").assembles
    assert "functional-test" in whole.resting_on("assemble"), row
    for name in CLASSES:
        assert set(order) <= tube.mandated_for(name)
        assert {"assemble", "functional-test"} <= whole.mandated_for(name)


def test_v01_02_wash_water_is_at_most_43_degrees(agrees: Agrees, shipped: Shipped) -> None:
    row = appendix_b2("V01-02", "wash water is at most 43 degrees (110 F)", "degrees Celsius")
    tube = shipped.workflow("breathing-tube-immersion")
    agrees(row, theirs=43, ours=reading_of(tube, "clean", "wash_temp_c").most)
    assert dwell_of(tube, "disinfect").temp_most_c == 43


def test_v01_04_immersion_takes_two_minutes(agrees: Agrees, shipped: Shipped) -> None:
    row = appendix_b2("V01-04", "immersion in a listed disinfectant takes 120 s", "s")
    dwell = dwell_of(shipped.workflow("breathing-tube-immersion"), "disinfect")
    assert dwell.claim is not None
    agrees(row, theirs=120, ours=dwell.least_s)
    for name in dwell.agents:
        agent = shipped.agent(name)
        agrees(replace(row, statement=f"{row.statement}: {name}"), theirs=120, ours=immersion_s(agent, dwell.claim))


def test_v01_05_strength_of_the_hypochlorite_bath(agrees: Agrees, shipped: Shipped) -> None:
    row = appendix_b2("V01-05", "1 mL of laundry bleach in 1 L of water is a bath of about 50 ppm", "ppm")
    strength = shipped.agent("hypochlorite-50ppm").strength
    assert strength is not None
    agrees(row, theirs=(50, "ppm"), ours=(strength.least, strength.unit))


@pytest.mark.parametrize(
    ("seconds", "temp_c", "expected"),
    [
        (119, "40", "too short"),
        (120, "40", "met"),
        (120, "43", "met"),
        (600, "43.4", "too warm"),
    ],
)
def test_v01_24_boundaries_of_the_immersion(
    agrees: Agrees, shipped: Shipped, seconds: int, temp_c: str, expected: str
) -> None:
    row = appendix_b2("V01-24", f"{seconds} s at {temp_c} degrees Celsius", "answer", "derived")
    dwell = dwell_of(shipped.workflow("breathing-tube-immersion"), "disinfect")
    temp, too_warm = contact.temperature(temp_c, dwell)
    assert bool(too_warm) == (expected == "too warm"), row
    for name in dwell.agents:
        times = contact.required(dwell, shipped.agent(name), None, temp)
        if isinstance(times, contact.Required):
            answer = "met" if seconds >= times.least_s else "too short"
        else:
            answer = "too warm"
        agrees(row, theirs=expected, ours=answer)


def test_v01_10_a_shared_head_cover_is_disinfected_after_every_use(agrees: Agrees, shipped: Shipped) -> None:
    row = osha(
        "V01-10",
        "shared: cleaned and disinfected before another wearer; emergency, fit test: each use",
        "(h)(1)(i)-(iv)",
        "https://lawfilesext.leg.wa.gov/Law/WACArchive/2019/htm/WAC%20296%20%20TITLE/"
        "WAC%20296%20-307%20%20CHAPTER/WAC%20296%20-307%20-61005.htm",
    )
    cover = shipped.workflow("head-cover")
    assert not cover.single_wearer
    for name in CLASSES:
        mandated = [step.step for step in cover.steps if step.step in cover.mandated_for(name)]
        agrees(row, theirs=("clean", "disinfect"), ours=[step for step in mandated if step in {"clean", "disinfect"}])


def test_v01_14_emergency_respirators_are_inspected_monthly(agrees: Agrees, shipped: Shipped) -> None:
    row = osha(
        "V01-14",
        "emergency use: at least monthly, and before and after each use",
        "(h)(3)(i)",
        "https://apps.leg.wa.gov/WAc/default.aspx?cite=296-307-61015",
    )
    whole = shipped.workflow("respirator")
    assert whole.reinspection is not None
    agrees(replace(row, unit="months"), theirs=1, ours=whole.reinspection.every_months)
    for name in CLASSES:
        assert "functional-test" in whole.mandated_for(name), row


@pytest.mark.parametrize(
    ("topic", "workflow", "step", "line"),
    [
        ("function", "respirator", "functional-test", "air-arrives"),
        ("tightness of connections", "respirator", "assemble", "connections-tight"),
        ("condition of the head cover", "head-cover", "inspect", "seams-whole"),
        ("condition of its straps", "head-cover", "inspect", "suspension-holds"),
        ("condition of the connecting tube", "breathing-tube-wipe", "inspect", "no-nicks-or-cuts"),
        ("condition of the filters", "hepa-cartridge", "inspect", "case-whole"),
        ("pliability of the gaskets", "filter-gasket", "inspect", "pliable"),
        ("pliability of the tube", "breathing-tube-immersion", "inspect", "supple"),
    ],
)
def test_v01_15_what_an_inspection_covers(shipped: Shipped, topic: str, workflow: str, step: str, line: str) -> None:
    row = osha(
        "V01-15",
        "function, tightness, condition of each part, pliability of elastomers",
        "(h)(3)(ii)",
        "https://jjkellercompliancenetwork.com/regsense/"
        "what-constitutes-a-minimally-acceptable-inspection-of-a-respirator",
    )
    one = shipped.workflow(workflow)
    assert text_of(one, step, line), (row, topic)
    assert all(step in one.mandated_for(name) for name in CLASSES), (row, topic)


def test_v01_18_what_fails_an_inspection_leaves_service(agrees: Agrees, shipped: Shipped) -> None:
    row = osha(
        "V01-18",
        "a respirator that fails is removed from service, then discarded, repaired or adjusted",
        "(h)(4)",
        "https://oshacademy.com/courses/training/756-respiratory-protection/756-5-2.php",
    )
    found = [(one, fail) for one in shipped.workflows for fail in failings_in(one)]
    for workflow, failing in found:
        if failing.route in OUT_OF_SERVICE:
            assert failing.hold, (row, workflow.workflow, failing.defect)
    routes = {str(failing.route) for _, failing in found}
    agrees(row, theirs=sorted(OUT_OF_SERVICE), ours=sorted(routes & OUT_OF_SERVICE))


@pytest.mark.parametrize("name", ["blower", "blower-two-port", "respirator"])
def test_v02_02_airflow_of_a_loose_fitting_powered_respirator(agrees: Agrees, shipped: Shipped, name: str) -> None:
    row = Published(
        id="V02-02",
        statement="at least 170 L/min",
        unit="L/min",
        condition="type test, loose-fitting; the manufacturer's acceptance value governs",
        source="42 CFR 84.179(a) and 84.175(b) (text of 5 April 2026), read in a copy",
        address="https://lexbuild.dev/ecfr/title-42/chapter-I/part-84/section-84.179",
        evidence="seen",
        basis="published",
    )
    flow = reading_of(shipped.workflow(name), "functional-test", "flow_l_per_min")
    agrees(row, theirs=(170, "L/min"), ours=(flow.least, flow.unit))
    assert flow.most is None


# Disinfectants and their labels.


@pytest.mark.parametrize(
    ("item_class", "process", "claims"),
    [
        ("critical", "sterilization", ()),
        ("semi-critical", "high-level disinfection", ("high-level",)),
    ],
)
def test_v03_01_the_class_of_a_part_decides_the_process(
    agrees: Agrees, shipped: Shipped, item_class: str, process: str, claims: tuple[str, ...]
) -> None:
    row = cdc("V03-01", f"{item_class}: {process}", "claims that our workflows ask for", 1)
    dwells = [(one, step.dwell) for one in shipped.workflows for step in one.steps if step.dwell is not None]
    ours = {dwell.claim for one, dwell in dwells if one.item_class == item_class and dwell.agents}
    agrees(row, theirs=claims, ours=tuple(ours))


def test_v03_01_parts_that_touch_intact_skin_or_nothing_are_disinfected(agrees: Agrees, shipped: Shipped) -> None:
    row = cdc("V03-01", "noncritical: low-level disinfection", "class", 1)
    parts = {one.item_class for one in shipped.workflows if one.item_kind in TOUCHING_SKIN}
    agrees(row, theirs=("non-critical",), ours=tuple(parts))
    for name in ("blower", "head-cover", "breathing-tube-wipe", "breathing-tube-immersion", "battery-pack"):
        assert "disinfect" in shipped.workflow(name).mandated_for("routine"), (row, name)


def test_v03_02_no_wipe_is_shorter_than_a_minute(agrees: Agrees, shipped: Shipped) -> None:
    row = cdc("V03-02", "low and intermediate level take at least 1 min", "min", 1)
    rows = [(one, claim) for one in shipped.agents for claim in one.claims]
    wiped = [(one, claim) for one, claim in rows if claim.method == "wipe"]
    agrees(replace(row, unit="s"), theirs=60, ours=min(claim.contact_s for _, claim in wiped))


def test_v03_03_no_high_level_soak_is_shorter_or_colder_than_published(agrees: Agrees, shipped: Shipped) -> None:
    row = cdc("V03-03", "high level takes 12 to 30 min at 20 degrees or more", "min, degrees", 1)
    soaks = [
        claim
        for one in shipped.agents
        for claim in one.claims
        if (claim.claim, claim.method) == ("high-level", "immersion")
    ]
    agrees(replace(row, unit="s"), theirs=12 * 60, ours=min(claim.contact_s for claim in soaks))
    for claim in soaks:
        assert claim.temp_least_c is not None
        assert claim.temp_least_c >= 20, row


@pytest.mark.parametrize(
    ("name", "agent", "method", "temp_c", "minutes"),
    [
        ("V03-05", "opa-055", "immersion", "20", 12),
        ("V03-06", "opa-055", "automated", "25", 5),
        ("V03-07", "hydrogen-peroxide-75", "immersion", "20", 30),
    ],
)
def test_v03_05_to_07_times_of_high_level_disinfection(
    agrees: Agrees, shipped: Shipped, name: str, agent: str, method: str, temp_c: str, minutes: int
) -> None:
    row = cdc(name, f"{agent}, {method}, at {temp_c} degrees Celsius", "s", 4)
    agrees(row, theirs=minutes * 60, ours=contact_s(shipped.agent(agent), method, temp_c))


@pytest.mark.parametrize("temp_c", ["20", "25"])
@pytest.mark.parametrize("agent", ["glutaraldehyde-2", "glutaraldehyde-25"])
def test_v03_09_glutaraldehyde_takes_the_longest_published_time(
    agrees: Agrees, shipped: Shipped, agent: str, temp_c: str
) -> None:
    row = cdc("V03-09", f"longest time of {agent} at {temp_c} degrees; 20 to 90 min by product", "s", 4)
    agrees(row, theirs=90 * 60, ours=contact_s(shipped.agent(agent), "immersion", temp_c))


def test_v03_10_the_hot_glutaraldehyde_claim_is_for_its_strength_and_a_machine_only(
    agrees: Agrees,
    shipped: Shipped,
) -> None:
    row = cdc("V03-10", "glutaraldehyde 2.5 % at 35 degrees in a machine", "s", 1)
    strong = shipped.agent("glutaraldehyde-25")
    agrees(row, theirs=5 * 60, ours=contact_s(strong, "automated", "35"))
    assert contact_s(strong, "automated", "34.9") is None
    assert contact_s(strong, "immersion", "35") is None
    assert contact_s(shipped.agent("glutaraldehyde-2"), "automated", "35") is None


@pytest.mark.parametrize(
    ("agent", "least_percent"),
    [
        ("hydrogen-peroxide-75", "6"),
        ("glutaraldehyde-2", "1.5"),
        ("glutaraldehyde-25", "1.5"),
        ("opa-055", "0.3"),
        ("peroxide-peracetic", None),
    ],
)
def test_v03_13_least_effective_concentration(
    agrees: Agrees, shipped: Shipped, agent: str, least_percent: str | None
) -> None:
    row = cdc("V03-13", f"least effective strength of {agent}", "percent", 4)
    strength = shipped.agent(agent).strength
    theirs = None if least_percent is None else (Decimal(least_percent), "percent")
    agrees(row, theirs=theirs, ours=None if strength is None else (strength.least, strength.unit))


@pytest.mark.parametrize(
    ("agent", "days"),
    [
        ("hydrogen-peroxide-75", 21),
        ("glutaraldehyde-2", 14),
        ("glutaraldehyde-25", 14),
        ("opa-055", 14),
        ("peroxide-peracetic", 14),
    ],
)
def test_v03_14_reuse_life_of_the_bath(agrees: Agrees, shipped: Shipped, agent: str, days: int) -> None:
    row = cdc("V03-14", f"shortest printed reuse life of {agent}", "d", 4)
    keeping = shipped.agent(agent).keeping
    assert keeping is not None
    agrees(row, theirs=days, ours=keeping.reuse_days)


@pytest.mark.parametrize(
    ("seconds", "temp_c", "expected"),
    [
        (719, "20", "too short"),
        (720, "20", "met"),
        (720, "19.9", "too cold"),
        (300, "25", "too short"),
        (720, "25", "met"),
    ],
)
def test_v03_17_boundaries_of_opa_by_hand(
    agrees: Agrees, shipped: Shipped, seconds: int, temp_c: str, expected: str
) -> None:
    row = cdc("V03-17", f"OPA by hand, {seconds} s at {temp_c} degrees", "answer", 4, "derived")
    least_s = contact_s(shipped.agent("opa-055"), "immersion", temp_c)
    answer = "too cold" if least_s is None else "met" if seconds >= least_s else "too short"
    agrees(row, theirs=expected, ours=answer)


@pytest.mark.parametrize("agent", ["opa-055", "glutaraldehyde-2", "glutaraldehyde-25", "hydrogen-peroxide-75"])
def test_v03_18_a_high_level_bath_is_tested_before_each_use(agrees: Agrees, shipped: Shipped, agent: str) -> None:
    row = Published(
        id="V03-18",
        statement="the bath is tested before each use",
        unit="before each",
        condition="the guideline's own text is known from memory only: each day of use",
        source="HICPAC, Sample Audit Tool: Reprocessing Flexible Endoscopes",
        address="https://info.5y1.org/how-to-document-cms-checks_1_f2c3c0.html",
        evidence="seen",
        basis="published",
    )
    strength = shipped.agent(agent).strength
    assert strength is not None
    agrees(row, theirs="use", ours=strength.test_every)


@pytest.mark.parametrize("name", ["hypochlorite-50ppm", "iodine-50ppm"])
def test_v03_24_what_a_label_states_is_kept_and_used(agrees: Agrees, shipped: Shipped, name: str) -> None:
    row = Published(
        id="V03-24",
        statement=f"dilution, time, cleaning before, method, removal and reuse: {name}",
        unit="fields",
        condition="a label of a bath",
        source="US EPA, DIS/TSS-15",
        address="http://epa.gov/oppad001/dis_tss_docs/dis-15.htm",
        evidence="seen",
        basis="published",
    )
    tube, agent = shipped.workflow("breathing-tube-immersion"), shipped.agent(name)
    dwell = dwell_of(tube, "disinfect")
    assert name in dwell.agents
    claim = agent.row_for(str(dwell.claim), dwell.kind, Decimal(40))
    keeping = agent.keeping
    assert claim is not None
    assert keeping is not None
    found = {
        "use dilution": "50 ppm" in agent.title,
        "contact time": claim.contact_s > 0,
        "pre-cleaning": {"clean", "clean-check"} <= set(step_of(tube, "disinfect").after),
        "method of application": claim.method == "immersion",
        "removal after exposure": "disinfect" in step_of(tube, "rinse-again").after,
        "number or days of reuse": keeping.single_use or keeping.reuse_days is not None,
    }
    agrees(row, theirs=tuple(found), ours=tuple(field for field, holds in found.items() if holds))
    assert "rinse-again" in tube.resting_on("disinfect"), row


def test_v03_27_chlorine_below_the_reliable_strength_claims_no_organism(agrees: Agrees, shipped: Shipped) -> None:
    row = Published(
        id="V03-27",
        statement="lowest chlorine strength that reliably killed three test bacteria; our respirator bath is weaker",
        unit="ppm",
        condition="the respirator bath follows 29 CFR 1910.134 Appendix B-2 and says so",
        source="Rutala et al., Infect Control Hosp Epidemiol 1998",
        address="https://biomaterialdatabase.com/search/publications/9613692",
        evidence="seen",
        basis="published",
    )
    chlorine = [one for one in shipped.agents if "hypochlorite" in one.active_ingredients]
    weak = [one for one in chlorine if one.strength is not None and one.strength.least < 100]
    assert [one.agent for one in weak] == ["hypochlorite-50ppm"], row
    claims = {claim.claim for one in weak for claim in one.claims}
    agrees(replace(row, unit="claims of weaker baths"), theirs=("respirator-disinfection",), ours=tuple(claims))
    assert "100 ppm" in " ".join(weak[0].follows.split())
