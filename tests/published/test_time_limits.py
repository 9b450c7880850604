"""Published rules of a programme and its limits of time come out of the engine; none is added here.

Most sources on time speak of endoscopes. What they say of any part that is cleaned after use is checked here.
"""

import sqlite3
from collections.abc import Callable
from datetime import datetime

import pytest
from pydantic import ValidationError

from reprocess.definitions.model import Workflow
from reprocess.definitions.times import Delay, Readiness
from reprocess.engine import request as asking
from reprocess.record.standing import Standing
from reprocess.rules.waiting import delay_s
from reprocess.terms import SECOND_US, Stage, as_text, instant
from tests.engine import fixtures
from tests.engine.floor import BADGES, FOUNDED_US, Floor
from tests.published.memory import FromMemory
from tests.published.report import Agrees
from tests.published.shipped import Shipped
from tests.published.source import Published

prepared, floor = fixtures.prepared, fixtures.floor

STORAGE = (
    "https://open-exam-prep.com/study-guides/hspa-cer/endoscope-handling-transport-and-storage/"
    "endoscope-handling-transport-and-storage-overview"
)


def used(ended: str) -> Standing:
    """Returns a part whose use ended then and that nobody cleaned yet."""
    ended_us = instant(datetime.fromisoformat(ended))
    return Standing("TUB-1", used=True, stage=Stage.USED, contaminated_us=ended_us, use_ended_us=ended_us)


def late_after(workflow: Workflow, seconds: int) -> Workflow:
    """Returns the workflow with another limit for the start of cleaning; its other limits stay."""
    assert workflow.delay is not None
    delay = workflow.delay.model_copy(update={"extended_s": seconds, "held_s": 100 * seconds})
    return workflow.model_copy(update={"delay": delay})


def refuses(make: Callable[[], object]) -> bool:
    """Returns whether a block without a source is refused."""
    with pytest.raises(ValidationError, match="a number needs a `source`"):
        make()
    return True


@pytest.mark.parametrize("name", ["breathing-tube-immersion", "breathing-tube-wipe", "head-cover", "blower"])
def test_v09_01_soil_that_dried_asks_for_more_and_the_source_for_no_minutes(
    agrees: Agrees, shipped: Shipped, name: str
) -> None:
    row = Published(
        id="V09-01",
        statement=f"{name}: soil is taken off promptly, before it dries",
        unit="rule",
        condition="the sentence gives no minutes, so ours are marked as an example and come from the workflow file",
        source="FDA, Reprocessing Medical Devices in Health Care Settings, read in a copy",
        address="https://autoclaveindicatortape.wordpress.com/2015/12/11/autoclave-indicator-tape-11/",
        evidence="seen",
        basis="published",
    )
    workflow = shipped.workflow(name)
    assert workflow.delay is not None
    assert workflow.delay.example
    assert workflow.delay.source is None
    more = workflow.mandated_for("late") - workflow.mandated_for("routine")
    agrees(row, theirs=True, ours=bool(more))
    assert refuses(lambda: Delay(until=("clean",), extended_s=3600, held_s=7200))


@pytest.mark.parametrize(("ended", "begun"), [(0, 7200), (600, 7200), (0, 9000)])
def test_v09_02_both_ends_of_the_soil_clock_are_kept(agrees: Agrees, floor: Floor, ended: int, begun: int) -> None:
    row = Published(
        id="V09-02",
        statement="the end of use and the start of manual cleaning are recorded",
        unit="s since seven",
        condition="the allowed delay is the device maker's, so it stands in the workflow file",
        source="Multisociety guideline 2016, summarised",
        address="https://www.bedsidebronchoscopy.com/guideline/manual-cleaning/",
        evidence="seen",
        basis="published",
    )
    seven_us = floor.clock.now().wall_us
    floor.clock.push(1200)
    floor.ask(asking.Contaminate("TUB-3", "used", use_ended_us=seven_us + ended * SECOND_US))
    floor.bring("TUB-3", "clean")
    floor.clock.push(begun - (floor.clock.now().wall_us - seven_us) // SECOND_US)
    step = floor.workflow("TUB-3").step_named("clean")
    assert step is not None
    readings = {"wash_temp_c": "40"}
    assert floor.ask(asking.DoStep("TUB-3", "clean", readings=readings)).accepted
    ended_us = floor.item("TUB-3").use_ended_us
    assert ended_us is not None
    begun_us = next(each.at_us for each in floor.entries("item:TUB-3")[::-1] if each.kind == "step-done")
    agrees(row, theirs=(ended, begun), ours=[(at - seven_us) // SECOND_US for at in (ended_us, begun_us)])


def test_v09_04_an_hour_across_a_change_of_the_clocks(agrees: Agrees, shipped: Shipped) -> None:
    row = Published(
        id="V09-04",
        statement="from 01:30 -05:00 to 03:15 -04:00 on 10 March 2024: 45 min, not late after an hour",
        unit="min",
        condition="the clocks of the place jump by an hour in between; by the wall it looks like 105 min",
        source="our own working",
        address="",
        evidence="computed",
        basis="derived",
    )
    standing = used("2024-03-10T01:30:00-05:00")
    begun_us = instant(datetime.fromisoformat("2024-03-10T03:15:00-04:00"))
    tube = shipped.workflow("breathing-tube-immersion")
    waited = {minutes: delay_s(late_after(tube, minutes * 60), standing, begun_us) for minutes in (44, 60)}
    agrees(row, theirs=45 * 60, ours=waited[44])
    agrees(row, theirs=False, ours=waited[60] is not None)


def test_v09_08_no_time_in_store_is_built_in(agrees: Agrees, floor: Floor) -> None:
    row = Published(
        id="V09-08",
        statement="the time in store has no single number: the facility assesses its risk",
        unit="limit that is built in",
        condition="17 named areas of assessment",
        source="ANSI/AAMI ST91:2021, summarised",
        address=STORAGE,
        evidence="seen",
        basis="published",
    )
    assert floor.workflow("TUB-3").readiness is None
    agrees(row, theirs=None, ours=floor.item("TUB-3").ready_until_us)
    assert refuses(lambda: Readiness(days_most=7))


@pytest.mark.parametrize("days", [7, 10, 14, 30])
def test_v09_09_every_limit_of_storage_in_days_can_be_written(agrees: Agrees, shipped: Shipped, days: int) -> None:
    row = Published(
        id="V09-09",
        statement=f"guidelines limit the time in store to {days} days, or to others, or not at all",
        unit="d",
        condition="from 7 days to a month; three hours, also in print, is less than a file of ours can say",
        source="AORN Guidelines for Perioperative Practice 2022, Table 4, in a copy that lost its rows",
        address="https://content.yudu.com/web/1zk04/0A29evv/GuidePerPrac22/html/292.html",
        evidence="seen",
        basis="published",
    )
    text = {"days_most": days, "source": "the facility's own assessment"}
    agrees(row, theirs=days, ours=Readiness.model_validate(text).days_most)
    with pytest.raises(ValidationError):
        Readiness.model_validate(text | {"days_most": 3 / 24})
    assert shipped.workflow("breathing-tube-wipe").readiness is None


def test_v09_12_what_a_storage_label_holds_is_on_record(agrees: Agrees, floor: Floor) -> None:
    row = Published(
        id="V09-12",
        statement="date of processing, name of the person, date of disinfection",
        unit="dates and a name",
        condition="any part that is ready",
        source="Guideline summaries",
        address="https://www.giendoscopy.com/guideline/storage-how-to-store-endoscopes/",
        evidence="seen",
        basis="published",
    )
    released = next(each for each in floor.entries("item:TUB-3")[::-1] if each.kind == "item-released")
    person = floor.department.person(released.envelope.actor or "")
    disinfected = floor.item("TUB-3").satisfied["disinfect"]
    day = as_text(FOUNDED_US).partition("T")[0]
    ours = (as_text(released.at_us)[:10], BADGES["dan"] in person.badges, as_text(disinfected.occurred_us)[:10])
    agrees(row, theirs=(day, True, day), ours=ours)


def test_v01_11_another_procedure_of_the_manufacturer_is_allowed(
    agrees: Agrees, shipped: Shipped, floor: Floor
) -> None:
    row = Published(
        id="V01-11",
        statement="a tube that is wiped as its manufacturer says becomes ready, like one that is immersed",
        unit="stage",
        condition="the other procedure is of equivalent effectiveness: who writes the file says whom it follows",
        source="29 CFR 1910.134(h)(1)",
        address=(
            "https://lawfilesext.leg.wa.gov/Law/WACArchive/2019/htm/WAC%20296%20%20TITLE/"
            "WAC%20296%20-307%20%20CHAPTER/WAC%20296%20-307%20-61005.htm (Table 8 agrees)"
        ),
        evidence="seen",
        basis="published",
    )
    immersed, wiped = (shipped.workflow(f"breathing-tube-{how}") for how in ("immersion", "wipe"))
    assert immersed.follows.startswith("29 CFR 1910.134 Appendix B-2")
    assert wiped.follows.startswith("The manufacturer's instructions")
    assert (floor.workflow("TUB-3").workflow, floor.workflow("TUB-7").workflow) == (immersed.workflow, wiped.workflow)
    agrees(row, theirs=(Stage.READY, Stage.READY), ours=(floor.item("TUB-3").stage, floor.item("TUB-7").stage))


def test_v01_17_how_long_an_inspection_is_kept_is_known_from_memory_only(from_memory: FromMemory, floor: Floor) -> None:
    row = Published(
        id="V01-17",
        statement="the record of an inspection is kept until the next one",
        unit="time",
        condition="respirators for emergency use",
        source="29 CFR 1910.134(h)(3)(iv)(B)",
        address="from memory",
        evidence="memory",
        basis="published",
    )
    kept = len(floor.entries("item:TUB-3"))
    raw = sqlite3.connect(floor.department.ledger.path)
    with pytest.raises(sqlite3.IntegrityError, match="never deleted"):
        raw.execute("DELETE FROM entry WHERE stream = 'item:TUB-3'")
    raw.close()
    assert len(floor.entries("item:TUB-3")) == kept
    from_memory(row, remembered="until replaced by a subsequent certification", ours="for ever: entries never go")


def test_v01_23_no_seal_check_is_asked_for_is_known_from_memory_only(from_memory: FromMemory, shipped: Shipped) -> None:
    row = Published(
        id="V01-23",
        statement="the seal check of the user concerns tight-fitting facepieces only",
        unit="rule",
        condition="loose-fitting: the respirator with a head cover, and its parts",
        source="29 CFR 1910.134(g)(1)(iii), Appendix B-1",
        address="from memory",
        evidence="memory",
        basis="published",
    )
    asked = [
        check.check
        for name in ("respirator", "head-cover", "head-cover-one-wearer", "blower", "blower-two-port")
        for step in shipped.workflow(name).steps
        for check in step.checks
        if "seal-check" in check.check or "seal check" in check.text
    ]
    from_memory(row, remembered="not required", ours=", ".join(asked) or "not required")
