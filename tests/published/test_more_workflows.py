"""Published values come out of the workflows for further kinds: half masks, a channelled device, a washer's load."""

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import pytest

from reprocess.definitions.model import Step
from reprocess.department import found_department
from reprocess.engine import request as asking
from reprocess.rules import contact
from reprocess.terms import DAY_S, SECOND_US, Stage, as_text, instant
from tests.engine.floor import INSTRUMENTS, BenchClock, Floor, files, good_checks
from tests.published.report import Agrees
from tests.published.shipped import Shipped, dwell_of, reading_of, step_of, text_of
from tests.published.source import Basis, Published

MASKS = ("half-mask-immersion", "half-mask-one-step")
CLASSES = ("routine", "late")
STORED = "2024-01-31T10:00:00Z"
FOUNDED_US = instant(datetime.fromisoformat("2024-01-31T07:00:00+00:00"))
COMPETENCIES = ("point-of-use", "clean", "disinfect", "dry", "inspect", "release")
STORAGE = (
    "https://open-exam-prep.com/study-guides/hspa-cer/endoscope-handling-transport-and-storage/"
    "endoscope-handling-transport-and-storage-overview"
)


def appendix_b2(name: str, statement: str, unit: str, basis: Basis = "published") -> Published:
    return Published(
        id=name,
        statement=statement,
        unit=unit,
        condition="a half mask, unless the manufacturer has an equally effective procedure",
        source="29 CFR 1910.134 Appendix B-2 (mandatory), OSHA, read in a copy",
        address="https://compliancetrainingonline.com/course-snippets/respirator-cleaning.cfm",
        evidence="seen",
        basis=basis,
    )


def cdc(name: str, statement: str, unit: str, table: int, basis: Basis = "published") -> Published:
    return Published(
        id=name,
        statement=statement,
        unit=unit,
        condition="as the workflow of the device asks for it; the product's label governs where it differs",
        source=(
            "CDC/HICPAC, Guideline for Disinfection and Sterilization in Healthcare Facilities, "
            f"2008 (web text updated to May 2019), Table {table}"
        ),
        address=f"https://www.cdc.gov/infectioncontrol/guidelines/disinfection/tables/table{table}.html",
        evidence="seen",
        basis=basis,
    )


def storage(name: str, statement: str, unit: str) -> Published:
    return Published(
        id=name,
        statement=statement,
        unit=unit,
        condition="a device with channels",
        source="ANSI/AAMI ST91:2021, summarised",
        address=STORAGE,
        evidence="seen",
        basis="published",
    )


def in_order(shipped: Shipped, name: str, steps: list[str]) -> list[str]:
    """Returns the steps as long as each rests on the one before and is mandated for every class."""
    workflow = shipped.workflow(name)
    kept = steps[:1]
    for earlier, later in pairwise(steps):
        if later not in workflow.resting_on(earlier):
            break
        kept.append(later)
    return [step for step in kept if all(step in workflow.mandated_for(one) for one in CLASSES)]


# Half masks.


@pytest.mark.parametrize(
    ("name", "theirs"),
    [
        (
            "half-mask-immersion",
            ["take-apart", "clean", "rinse", "disinfect", "rinse-again", "dry", "put-together", "functional-test"],
        ),
        ("half-mask-one-step", ["take-apart", "clean", "disinfect", "rinse", "dry", "put-together", "functional-test"]),
    ],
)
def test_v01_01_order_of_cleaning_a_half_mask(agrees: Agrees, shipped: Shipped, name: str, theirs: list[str]) -> None:
    row = appendix_b2(
        "V01-01",
        "take apart, wash, rinse, disinfect (if the cleaner does not), rinse again, dry, put together, test",
        "order of steps",
    )
    agrees(row, theirs=theirs, ours=in_order(shipped, name, theirs))


def test_v01_01_filters_are_put_back_last(agrees: Agrees, shipped: Shipped) -> None:
    row = appendix_b2("V01-01", "filters are replaced at reassembly, and then comes the test", "order of steps")
    theirs = ["assemble", "functional-test", "release"]
    agrees(row, theirs=theirs, ours=in_order(shipped, "half-mask-respirator", theirs))
    assert step_of(shipped.workflow("half-mask-respirator"), "assemble").assembles


@pytest.mark.parametrize("name", MASKS)
def test_v01_02_wash_water_of_a_half_mask(agrees: Agrees, shipped: Shipped, name: str) -> None:
    row = appendix_b2("V01-02", f"{name}: wash water is at most 43 degrees (110 F)", "degrees Celsius")
    mask = shipped.workflow(name)
    agrees(row, theirs=43, ours=reading_of(mask, "clean", "wash_temp_c").most)
    agrees(row, theirs=43, ours=dwell_of(mask, "disinfect").temp_most_c)


@pytest.mark.parametrize(("seconds", "temp_c", "theirs"), [
    (119, "40", "too short"), (120, "40", "met"), (120, "43", "met"), (600, "43.4", "too warm"),
])  # fmt: skip
@pytest.mark.parametrize("agent", ["hypochlorite-50ppm", "iodine-50ppm"])
def test_v01_24_boundaries_of_the_soak_of_a_half_mask(
    agrees: Agrees, shipped: Shipped, agent: str, seconds: int, temp_c: str, theirs: str
) -> None:
    row = appendix_b2("V01-24", f"{seconds} s at {temp_c} degrees in {agent}", "verdict", "derived")
    agrees(row, theirs=theirs, ours=verdict(shipped, "half-mask-immersion", agent, seconds, temp_c))


def test_v01_04_a_cleaner_that_holds_no_disinfectant_asks_for_two_minutes(agrees: Agrees, shipped: Shipped) -> None:
    row = appendix_b2("V01-04", "immersion in a listed disinfectant takes 120 s", "s")
    dwell = dwell_of(shipped.workflow("half-mask-immersion"), "disinfect")
    for name in dwell.agents:
        times = contact.required(dwell, shipped.agent(name), None, Decimal(40))
        assert isinstance(times, contact.Required)
        agrees(row, theirs=120, ours=times.least_s)


def verdict(shipped: Shipped, workflow: str, agent: str, seconds: int, temp_c: str) -> str:
    """Returns what the rules say of a soak of that long at that temperature."""
    dwell = dwell_of(shipped.workflow(workflow), "disinfect")
    temp, wrong = contact.temperature(temp_c, dwell)
    times = contact.required(dwell, shipped.agent(agent), None, temp)
    if wrong:
        return "too warm"
    if not isinstance(times, contact.Required):
        return "too cold"
    return "met" if seconds >= times.least_s else "too short"


@pytest.mark.parametrize("danger", [
    "damage", "contamination", "dust", "sunlight", "extreme temperatures", "excessive moisture", "damaging chemicals",
    "facepiece and exhalation valve not bent",
])  # fmt: skip
@pytest.mark.parametrize("name", MASKS)
def test_v01_12_what_a_stored_half_mask_is_protected_from(
    agrees: Agrees, shipped: Shipped, name: str, danger: str
) -> None:
    row = Published(
        id="V01-12",
        statement=f"a respirator in store: {danger}",
        unit="line of a checklist",
        condition="stored so that facepiece and exhalation valve are not deformed",
        source="29 CFR 1910.134(h)(2)(i)",
        address=(
            "https://lawfilesext.leg.wa.gov/Law/WACArchive/2019/htm/WAC%20296%20%20TITLE/"
            "WAC%20296%20-307%20%20CHAPTER/WAC%20296%20-307%20-61005.htm"
        ),
        evidence="seen",
        basis="published",
    )
    agrees(row, theirs=True, ours=danger in text_of(shipped.workflow(name), "release", "stored-in-shape"))


@pytest.mark.parametrize(
    ("topic", "workflow", "step", "line"),
    [
        ("function", "half-mask-respirator", "functional-test", "valves-work"),
        ("tightness of connections", "half-mask-respirator", "assemble", "connections-tight"),
        ("condition of the facepiece", "half-mask-immersion", "inspect", "facepiece-whole"),
        ("condition of the head straps", "half-mask-immersion", "inspect", "straps-stretch"),
        ("condition of the valves", "half-mask-immersion", "inspect", "valves-flat"),
        ("condition of the filters", "half-mask-respirator", "assemble", "filters-alike"),
        ("pliability of elastomeric parts", "half-mask-immersion", "inspect", "facepiece-pliable"),
    ],
)
def test_v01_15_what_the_inspection_of_a_half_mask_covers(
    agrees: Agrees, shipped: Shipped, topic: str, workflow: str, step: str, line: str
) -> None:
    row = Published(
        id="V01-15",
        statement=f"an inspection covers: {topic}",
        unit="mandated line of a checklist",
        condition="every class of item",
        source="29 CFR 1910.134(h)(3)(ii)",
        address=(
            "https://jjkellercompliancenetwork.com/regsense/"
            "what-constitutes-a-minimally-acceptable-inspection-of-a-respirator"
        ),
        evidence="seen",
        basis="published",
    )
    one = shipped.workflow(workflow)
    assert text_of(one, step, line)
    agrees(row, theirs=True, ours=all(step in one.mandated_for(name) for name in CLASSES))


def test_v01_14_a_half_mask_for_emergencies_is_inspected_monthly(agrees: Agrees, shipped: Shipped) -> None:
    row = Published(
        id="V01-14",
        statement="emergency use: inspected at least monthly",
        unit="months",
        condition="in store",
        source="29 CFR 1910.134(h)(3)(i)",
        address="https://apps.leg.wa.gov/WAc/default.aspx?cite=296-307-61015",
        evidence="seen",
        basis="published",
    )
    reinspection = shipped.workflow("half-mask-respirator").reinspection
    agrees(row, theirs=1, ours=reinspection.every_months if reinspection is not None else None)


# The class of a part decides its process.


@pytest.mark.parametrize("name", ["stethoscope", "cable", "flow-indicator", "face-shield", "channelled-device"])
def test_v03_01_the_class_of_a_part_decides_the_process(agrees: Agrees, shipped: Shipped, name: str) -> None:
    row = cdc("V03-01", f"{name}: semi-critical parts, and only they, need the high level", "class", 1)
    workflow = shipped.workflow(name)
    agrees(row, theirs=name == "channelled-device", ours=workflow.item_class == "semi-critical")
    agrees(row, theirs=name == "channelled-device", ours=dwell_of(workflow, "disinfect").claim == "high-level")


@pytest.mark.parametrize(
    ("name", "agent", "minutes"),
    [("V03-05", "opa-055", 12), ("V03-07", "hydrogen-peroxide-75", 30)],
)
def test_v03_05_and_07_the_device_lies_as_long_as_the_label_says(
    agrees: Agrees, shipped: Shipped, name: str, agent: str, minutes: int
) -> None:
    row = cdc(name, f"a device in {agent} by hand, at 20 degrees", "min", 4)
    dwell = dwell_of(shipped.workflow("channelled-device"), "disinfect")
    times = contact.required(dwell, shipped.agent(agent), None, Decimal(20))
    assert isinstance(times, contact.Required)
    agrees(row, theirs=minutes * 60, ours=times.least_s)


def test_v03_03_every_bath_of_the_device_keeps_to_the_high_level(agrees: Agrees, shipped: Shipped) -> None:
    row = cdc("V03-03", "high level takes 12 to 30 min at 20 degrees or more", "s and degrees", 1)
    dwell = dwell_of(shipped.workflow("channelled-device"), "disinfect")
    rows = [claim for name in dwell.agents for claim in shipped.agent(name).claims]
    used = [one for one in rows if (one.claim, one.method) == (dwell.claim, dwell.method)]
    spans = [one.contact_s for one in used]
    agrees(row, theirs=(12 * 60, 30 * 60), ours=(min(spans), max(spans)))
    agrees(row, theirs=[20] * len(used), ours=[one.temp_least_c for one in used])


@pytest.mark.parametrize(("seconds", "temp_c", "theirs"), [
    (719, "20", "too short"), (720, "20", "met"), (720, "19.9", "too cold"), (300, "25", "too short"),
    (720, "25", "met"),
])  # fmt: skip
def test_v03_17_boundaries_of_a_device_in_opa(
    agrees: Agrees, shipped: Shipped, seconds: int, temp_c: str, theirs: str
) -> None:
    row = cdc("V03-17", f"a device {seconds} s in OPA at {temp_c} degrees, by hand", "verdict", 4, "derived")
    agrees(row, theirs=theirs, ours=verdict(shipped, "channelled-device", "opa-055", seconds, temp_c))


def test_v04_13_a_load_reaches_the_general_dose(agrees: Agrees, shipped: Shipped) -> None:
    row = Published(
        id="V04-13",
        statement="A0 for instruments; for human waste containers 60 would do",
        unit="s",
        condition="the general value, taken for every load of non-critical items",
        source="EN ISO 15883-1 Annex B and national guidance, read in copies",
        address="https://www.efhss.com/html/educ/qtg/qtg0014_en.htm",
        evidence="seen",
        basis="published",
    )
    thermal = dwell_of(shipped.workflow("washer-load"), "wash-and-heat").thermal
    agrees(row, theirs=600, ours=thermal.a0_least_s if thermal is not None else None)


# Limits of time of a device with channels.


def test_v09_01_treatment_begins_at_the_place_of_use(agrees: Agrees, shipped: Shipped) -> None:
    row = Published(
        id="V09-01",
        statement="the first step removes soil at the place of use, before it dries",
        unit="step",
        condition="the sentence gives no minutes, and the step has none",
        source="FDA, Reprocessing Medical Devices in Health Care Settings, read in a copy",
        address="https://autoclaveindicatortape.wordpress.com/2015/12/11/autoclave-indicator-tape-11/",
        evidence="seen",
        basis="published",
    )
    device = shipped.workflow("channelled-device")
    first = device.steps[0]
    assert (first.dwell, first.after) == (None, ())
    everything = {step.step for step in device.steps}
    agrees(row, theirs=("point-of-use", True), ours=(first.step, device.resting_on(first.step) == everything))


def test_v09_06_how_long_a_channel_is_dried(agrees: Agrees, shipped: Shipped) -> None:
    row = storage("V09-06", "filtered or instrument air for at least 10 min, longer while moisture is seen", "min")
    device = shipped.workflow("channelled-device")
    dwell = dwell_of(device, "dry")
    assert dwell.least_s is not None
    agrees(row, theirs=10, ours=Decimal(dwell.least_s) / 60)
    assert dwell.greatest_s is None
    assert "longer" in text_of(device, "dry", "dry")


def test_v09_08_the_hang_time_is_the_sites_own(agrees: Agrees, shipped: Shipped) -> None:
    row = storage("V09-08", "no number is mandated: ours is an example until the site assessed its risk", "rule")
    readiness = shipped.workflow("channelled-device").readiness
    assert readiness is not None
    agrees(row, theirs=True, ours=readiness.example)
    assert "risk assessment" in (readiness.source or "")


def test_v09_09_the_hang_time_is_one_of_those_in_print(agrees: Agrees, shipped: Shipped) -> None:
    row = Published(
        id="V09-09",
        statement="the lower end of 7 to 10 days, one of six limits in print",
        unit="d",
        condition="flexible endoscopes; the copy of the table lost its rows",
        source="AORN Guidelines for Perioperative Practice 2022, Table 4",
        address="https://content.yudu.com/web/1zk04/0A29evv/GuidePerPrac22/html/292.html",
        evidence="seen",
        basis="published",
    )
    readiness = shipped.workflow("channelled-device").readiness
    agrees(row, theirs=7, ours=readiness.days_most if readiness is not None else None)


def founding_text() -> str:
    """Returns a department of three people with one used device and the instrument for its leak test."""
    people = "\n".join(
        f"  - {{person: {name}, name: {name.title()} Example, badges: [B-{name}], competencies: [{competencies()}]}}"
        for name in ("ANNA", "BEN", "DAN")
    )
    return f"""network: Larkmoor Health Network
demo: true
sites: [{{site: LMG, title: Larkmoor General, zone: Europe/London}}]
stations: [{{station: BENCH, title: Bench, site: LMG, side: any}}]
people:
{people}
instruments: [{{instrument: LEAK-1, sort: leak-tester, site: LMG, verified_until: "2024-12-31"}}]
files: {{published_by: ANNA, approved_by: BEN}}
items: [{{item: CHD-1, workflow: channelled-device, model: LC-1, site: LMG}}]
"""


def competencies() -> str:
    line = '{{competency: {}, since: "2024-01-01", until: "2025-01-01", assessor: Hana Ito}}'
    return ", ".join(line.format(one) for one in COMPETENCIES)


@pytest.fixture
def released(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Floor]:
    """Yields a department whose device was taken through every step and released at ten."""
    monkeypatch.setitem(INSTRUMENTS, "leak-tester", "LEAK-1")
    clock = BenchClock(FOUNDED_US)
    with found_department(tmp_path / "d.db", founding_text(), clock=clock, shipped=files()) as department:
        floor = Floor(department, clock)
        until_us = FOUNDED_US + 100 * DAY_S * SECOND_US
        floor.ask(asking.MakeSolution("OPA-1", "opa-055", "LOT-1", until_us))
        floor.ask(asking.TestSolution("OPA-1", "STRIPS-1", until_us, reading="0.3", read_after_s=80))
        floor.bring("CHD-1", "release", in_="OPA-1", temp="20")
        clock.push((instant(datetime.fromisoformat(STORED)) - clock.now().wall_us) / SECOND_US)
        assert floor.ask(asking.Release("CHD-1", good_checks(release_step(floor))), "dan").accepted
        yield floor


def release_step(floor: Floor) -> Step:
    return floor.workflow("CHD-1").release_step


def test_v09_10_when_a_hanging_device_is_due(agrees: Agrees, released: Floor) -> None:
    row = Published(
        id="V09-10",
        statement=f"released at {STORED}, seven days: due",
        unit="instant",
        condition="a limit of 168 h, reckoned by the engine at the release",
        source="our own working",
        address="",
        evidence="computed",
        basis="derived",
    )
    device = released.item("CHD-1")
    assert device.stage == Stage.READY
    assert device.ready_until_us is not None
    agrees(row, theirs="2024-02-07T10:00:00Z", ours=as_text(device.ready_until_us))
