"""A kind of item that nobody foresaw is one file: proved, put in force by two people, taken from used to ready.

So are the kinds that the project ships beside the parts of a powered respirator.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

import reprocess
from reprocess.definitions.draw import table
from reprocess.definitions.model import Workflow
from reprocess.definitions.proof import PROPERTIES
from reprocess.definitions.prove import prove
from reprocess.definitions.read import digest_of
from reprocess.department import found_department
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Approve, Commission, EnrolRequest, Publish
from reprocess.errors import UnknownSubjectError
from reprocess.rules.answer import Answer
from reprocess.terms import DAY_S, SECOND_US, Stage
from tests.definitions.texts import workflow
from tests.engine import fixtures
from tests.engine.benches import play
from tests.engine.floor import BADGES, INSTRUMENTS, OPENING_US, BenchClock, Floor, files

prepared, floor = fixtures.prepared, fixtures.floor

NAME = "lift-sling"
TEXT = (Path(__file__).parent / "files" / f"{NAME}.yaml").read_text(encoding="utf-8")
PUBLISH = Publish("workflow", NAME, digest_of(TEXT), TEXT)
APPROVE = Approve("workflow", NAME, digest_of(TEXT))
SHIPPED = {one.workflow: one for file in files() if isinstance(one := file.holds, Workflow)}
NEW = (
    "cable", "channelled-device", "face-shield", "flow-indicator", "half-mask-immersion", "half-mask-one-step",
    "stethoscope",
)  # fmt: skip
BATHS = {
    "channelled-device": "opa-055",
    "half-mask-immersion": "hypochlorite-50ppm",
    "half-mask-one-step": "quat-one-step",
}
STRIPS = {"opa-055": "0.3", "hypochlorite-50ppm": "50", "quat-one-step": "400"}
TOOLS = {"leak-tester": "LEAK-1", "temperature-logger": "LOG-1", "safety-tester": "SAFE-1"}
FOUNDING = """network: Larkmoor Health Network
demo: true
sites: [{site: LMG, title: Larkmoor General, zone: Europe/London}]
stations: [{station: BENCH, title: Bench, site: LMG, side: any}]
people:
  - {person: ANNA, name: Anna Rowe, badges: [B-ANNA], competencies: $ALL}
  - {person: BEN, name: Ben Okoro, badges: [B-BEN], competencies: $ALL}
  - {person: DAN, name: Dan Moss, badges: [B-DAN], competencies: $ALL}
instruments:
  - {instrument: LEAK-1, sort: leak-tester, site: LMG, verified_until: "2026-12-31"}
  - {instrument: LOG-1, sort: temperature-logger, site: LMG, verified_until: "2026-12-31"}
  - {instrument: SAFE-1, sort: safety-tester, site: LMG, verified_until: "2026-12-31"}
files: {published_by: ANNA, approved_by: BEN}
items:
  - {item: LOAD-1, workflow: washer-load, model: LN-2, site: LMG, quantity: 24}
  - {item: CHG-1, workflow: charger, model: LN-3, site: LMG, in_service: "2025-01-01"}
"""


def enrol(floor: Floor, who: str, request: EnrolRequest) -> Answer:
    return floor.department.station("BENCH", badge=BADGES[who]).enrol(request)


@pytest.fixture
def slings(floor: Floor) -> Floor:
    """Returns the department with the file in force, a new sling and one that is 200 days old."""
    assert enrol(floor, "hana", PUBLISH).accepted
    assert enrol(floor, "cora", APPROVE).accepted
    old_us = OPENING_US - 200 * DAY_S * SECOND_US
    for commission in (Commission("SLG-1", NAME, "LS-1"), Commission("SLG-2", NAME, "LS-1", in_service_us=old_us)):
        assert enrol(floor, "cora", commission).accepted
    return floor


def test_the_program_has_never_heard_of_it() -> None:
    package = Path(reprocess.__file__).parent
    sources = [path.read_text(encoding="utf-8") for path in package.rglob("*.py")]
    assert len(sources) > 100
    assert not any("sling" in source for source in sources)


def test_it_is_proved_and_drawn() -> None:
    sling = workflow(TEXT)
    assert prove(sling, {}, digest=digest_of(TEXT)).proved == tuple(PROPERTIES)
    assert "Passed again every 183 d" in table(sling, {})


def test_it_is_put_in_force_by_two_people(floor: Floor) -> None:
    """S07: until the second one approves it, nothing can be an item of that kind."""
    assert enrol(floor, "hana", PUBLISH).accepted
    assert enrol(floor, "hana", APPROVE).rules() == ("S07",)
    with pytest.raises(UnknownSubjectError):
        floor.workflow("SLG-1")
    assert not enrol(floor, "cora", Commission("SLG-1", NAME, "LS-1")).accepted
    assert enrol(floor, "cora", APPROVE).accepted
    assert enrol(floor, "cora", Commission("SLG-1", NAME, "LS-1")).accepted


def test_it_goes_from_used_to_ready_by_evidence_only(slings: Floor) -> None:
    play(
        slings,
        """
        +0   | anna | SLG-1 used             | accepted, stage used
             | anna | launder wash_temp_c=65 | refused P01, next strip
             | anna | strip without stays    | refused M07
             | anna | strip                  | accepted
             | anna | launder wash_temp_c=59 | refused H01, found WASH-WRONG
             | anna | launder wash_temp_c=60 | accepted, stage cleaned
             | ben  | release                | refused G01, next dry
             | ben  | dry start              | accepted
        +3599 | ben | done                   | refused T09, left 1
        +3600 | ben | done                   | accepted, stage dried
             | anna | inspect                | refused S01
             | ben  | inspect                | accepted, stage inspected
             | dan  | release                | accepted, stage ready
        +1d  | ben  | used                   | accepted, stage used
             | dan  | release                | refused G01 S02, next strip
        """,
    )
    assert slings.item("SLG-1").cycles_done == 1


def test_what_must_not_be_used_holds_it(slings: Floor) -> None:
    play(slings, "+0 | anna | SLG-1 wipe-only | refused P12\n | anna | method wipe-only | held P12")


def test_its_examination_recurs(slings: Floor) -> None:
    slings.bring("SLG-2", "release")
    play(
        slings,
        """
        +60 | dan | SLG-2 release                         | refused Q06
            | ben | thorough-examination no bears-load    | held H01, found LOAD-FAILED
            | ben | thorough-examination                  | accepted, warns H04
        """,
    )
    assert slings.item("SLG-2").stage == Stage.INSPECTED
    assert [one.sort for one in slings.item("SLG-2").holds.values()] == ["defect"]


def founding_text() -> str:
    """Returns a department of three people who may do everything, with an item of each of the kinds."""
    held = sorted({step.competency_needed for name in (*NEW, "washer-load", "charger") for step in SHIPPED[name].steps})
    line = '{{competency: {}, since: "2026-01-01", until: "2027-01-01", assessor: Hana Ito}}'
    items = (f"  - {{item: NEW-{at}, workflow: {name}, model: LN-1, site: LMG}}\n" for at, name in enumerate(NEW))
    return FOUNDING.replace("$ALL", f"[{', '.join(line.format(one) for one in held)}]") + "".join(items)


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Floor]:
    """Yields that department, with an opened wipe and a tested bath of each agent that its items need."""
    for sort, name in TOOLS.items():
        monkeypatch.setitem(INSTRUMENTS, sort, name)
    clock = BenchClock(OPENING_US)
    until_us = OPENING_US + DAY_S * SECOND_US
    with found_department(tmp_path / "d.db", founding_text(), clock=clock, shipped=files()) as department:
        floor = Floor(department, clock)
        for agent in ("hydrogen-peroxide-wipe", *STRIPS):
            assert floor.ask(asking.MakeSolution(solution_of(agent), agent, "LOT-1", until_us)).accepted
        for agent, least in STRIPS.items():
            strip = asking.TestSolution(solution_of(agent), "STRIPS-1", until_us, least, read_after_s=80)
            assert floor.ask(strip).accepted
        yield floor


def solution_of(agent: str) -> str:
    """Returns the bath or the canister of an agent."""
    return f"{agent.upper()}-1"


@pytest.mark.parametrize("name", NEW)
def test_a_shipped_kind_goes_from_used_to_ready(small: Floor, name: str) -> None:
    item, agent = f"NEW-{NEW.index(name)}", BATHS.get(name, "hydrogen-peroxide-wipe")
    play(small, f"+0 | anna | {item} used | accepted, stage used")
    small.bring(item, "ready", in_=solution_of(agent), temp="20")
    assert small.item(item).stage == Stage.READY
    assert set(small.item(item).satisfied) == SHIPPED[name].mandated_for("routine")


def test_a_load_is_released_on_the_record_of_the_logger(small: Floor) -> None:
    play(small, "+0 | anna | LOAD-1 used | accepted, stage used")
    small.bring("LOAD-1", "wash-and-heat")
    play(
        small,
        """
        +0   | anna | LOAD-1 wash-and-heat start without instrument           | refused M02
             | anna | wash-and-heat start                                     | accepted
        +120 | anna | done wash_min=8 detergent_ml=60                         | refused M08
             | anna | done wash_min=8 detergent_ml=60 with trace 60:90 119:90 | refused T01
             | anna | done wash_min=8 detergent_ml=60 with trace 60:90 120:90 | accepted, stage disinfected
        """,
    )
    small.bring("LOAD-1", "ready")
    assert small.item("LOAD-1").stage == Stage.READY


def test_a_charger_is_ready_for_a_week_and_tested_once_a_year(small: Floor) -> None:
    play(
        small,
        """
        +0    | anna | CHG-1 unplug                              | accepted
        +60   | anna | clean                                     | accepted
        +90   | anna | clean-check                               | accepted, stage cleaned
              | anna | dry start                                 | accepted
        +990  | anna | done                                      | accepted, stage dried
        +1040 | ben  | inspect                                   | accepted, stage inspected
              | dan  | release                                   | refused M09
              | dan  | electrical-safety-test without instrument | refused M02
              | dan  | electrical-safety-test                    | accepted
        +1100 | dan  | release                                   | accepted, stage ready
        """,
    )
    until_us = small.item("CHG-1").ready_until_us
    assert until_us == small.clock.now().wall_us + 7 * DAY_S * SECOND_US
