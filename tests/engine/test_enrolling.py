"""People, places, items and files are set up by who may, once, and a file by two (P06, S07, A08)."""

import pytest

from reprocess.definitions.read import digest_of
from reprocess.department import Bench
from reprocess.engine.enrolling import FOUNDING, Approve, Commission, Enrol, Publish
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.words import Body
from reprocess.shipped import folder
from tests.engine.floor import BADGES, LATER_US, Floor

BELT = (folder() / "belt-fabric.yaml").read_text(encoding="utf-8").replace("title: Belt", "title: Another belt")


def office(floor: Floor, who: str, second: str | None = None) -> Bench:
    other = BADGES[second] if second is not None else None
    return floor.department.station("BENCH", badge=BADGES[who], second=other)


def test_only_some_roles_enrol(floor: Floor) -> None:
    """A08"""
    given = Enrol("person:ERIN", words.BadgeGiven(badge="B-ERIN-2"))
    assert office(floor, "anna").enrol(given).rules() == ("A08",)
    assert office(floor, "stranger").enrol(given).rules() == ("A01",)
    for who in ("cora", "hana", "fay"):
        assert office(floor, who).enrol(given).accepted
    refused = [entry.body for entry in floor.entries("station:BENCH")]
    assert [(getattr(one, "subject", ""), getattr(one, "rules", ())) for one in refused[-2:]] == [
        ("person:ERIN", ("A08",)),
        ("person:ERIN", ("A01",)),
    ]


def test_what_is_known_is_not_opened_again_and_what_is_not_cannot_change(floor: Floor) -> None:
    """P06"""
    cora = office(floor, "cora")
    again: list[tuple[str, Body]] = [
        ("site:LMG", words.SiteOpened(title="Other", zone="UTC", self_inspection=True)),
        ("station:BENCH", words.StationOpened(title="Other", site="LMG", side="clean")),
        ("person:ANNA", words.PersonRegistered(name="Other", sites=(), roles=("supervisor",))),
        ("instrument:FI-1", words.InstrumentRegistered(sort="thermometer", site="LMG")),
        ("person:NOBODY", words.BadgeGiven(badge="B-9")),
        ("instrument:FI-77", words.InstrumentVerified(until_us=LATER_US, reference="C-1")),
    ]
    for subject, body in again:
        assert cora.enrol(Enrol(subject, body)).rules() == ("P06",), subject
    assert cora.enrol(Enrol("person:NEW", words.PersonRegistered(name="New", sites=(), roles=()))).accepted
    assert cora.enrol(Enrol("person:NEW", words.BadgeGiven(badge="B-NEW"))).accepted


@pytest.mark.parametrize(
    ("subject", "body"),
    [
        ("item:BLW-1", words.ItemOpened()),
        ("solution:QAW-1", words.SolutionEnded(cause="dumped")),
        ("workflow:workflow.blower", words.WorkflowApproved(sort="workflow", name="blower", digest="")),
        ("person:ANNA", words.HoldLifted(hold="x", disposition="y")),
        ("station:NEW", words.PersonRegistered(name="New", sites=(), roles=())),
        (f"station:{FOUNDING}", words.StationOpened(title="Back door", site="LMG", side="any")),
        ("moon:FULL", words.BadgeGiven(badge="B-9")),
    ],
)
def test_nothing_else_is_written_through_the_office(floor: Floor, subject: str, body: Body) -> None:
    """I1: not even by a supervisor; nor is a station opened at which nobody shows a badge."""
    if subject.startswith("moon"):
        with pytest.raises(KeyError):
            office(floor, "cora").enrol(Enrol(subject, body))
        return
    before = len(floor.entries(subject))
    with pytest.raises(WrongUseError):
        office(floor, "cora").enrol(Enrol(subject, body))
    assert len(floor.entries(subject)) == before


def test_an_item_is_commissioned_once_under_a_workflow_in_force(floor: Floor) -> None:
    """P06: it starts as used."""
    cora = office(floor, "cora")
    assert cora.enrol(Commission("BLW-50", "no-such", "LB-3")).rules() == ("P06",)
    assert cora.enrol(Commission("BLW-50", "blower", "LB-3", serial="S-1")).accepted
    assert cora.enrol(Commission("BLW-50", "blower", "LB-3")).rules() == ("P06",)
    standing = floor.item("BLW-50")
    assert (standing.stage, standing.cycle, standing.serial, standing.item_kind) == ("used", 1, "S-1", "blower")
    assert standing.in_service_us == floor.clock.now().wall_us


def test_an_item_is_commissioned_with_dates_that_have_come_and_at_least_once(floor: Floor) -> None:
    """P06"""
    cora = office(floor, "cora")
    for request in (
        Commission("CLP-9", "clip", "LC-1", quantity=0),
        Commission("CLP-9", "clip", "LC-1", in_service_us=LATER_US),
        Commission("CLP-9", "clip", "LC-1", opened_us=LATER_US),
    ):
        with pytest.raises(WrongUseError):
            cora.enrol(request)


def test_a_file_is_in_force_once_a_second_person_approved_it(floor: Floor) -> None:
    """S07: author and approver are two people, whatever badges they show; old cycles keep their version (D11)."""
    digest = digest_of(BELT)
    old = floor.item("BLT-1").digest
    assert office(floor, "hana").enrol(Publish("workflow", "belt-fabric", digest, BELT)).accepted
    assert office(floor, "hana").enrol(Approve("workflow", "belt-fabric", digest)).rules() == ("S07",)
    assert office(floor, "cora").enrol(Approve("workflow", "belt-fabric", "0" * 64)).rules() == ("S07",)
    assert office(floor, "cora").enrol(Approve("workflow", "belt-fabric", digest)).accepted
    assert office(floor, "cora").enrol(Approve("workflow", "belt-fabric", digest)).rules() == ("S07",)
    assert office(floor, "cora").enrol(Publish("workflow", "belt-fabric", digest, BELT)).rules() == ("S07",)
    assert office(floor, "cora").enrol(Commission("BLT-50", "belt-fabric", "LW-F")).accepted
    assert floor.item("BLT-50").digest == digest
    assert floor.item("BLT-1").digest == old


def test_an_author_proposes_and_an_approver_approves_and_neither_does_more(floor: Floor) -> None:
    """S07, A08"""
    digest = digest_of(BELT)
    cora = office(floor, "cora")
    for name, role in (("WREN", "author"), ("IVO", "approver")):
        assert cora.enrol(Enrol(f"person:{name}", words.PersonRegistered(name=name, sites=(), roles=(role,)))).accepted
        assert cora.enrol(Enrol(f"person:{name}", words.BadgeGiven(badge=f"B-{name}"))).accepted
    wren, ivo = (floor.department.station("BENCH", badge=f"B-{name}") for name in ("WREN", "IVO"))
    assert ivo.enrol(Publish("workflow", "belt-fabric", digest, BELT)).rules() == ("A08",)
    assert wren.enrol(Publish("workflow", "belt-fabric", digest, BELT)).accepted
    assert wren.enrol(Approve("workflow", "belt-fabric", digest)).rules()[0] == "A08"
    assert ivo.enrol(Approve("workflow", "belt-fabric", digest)).accepted
    assert ivo.enrol(Enrol("person:ERIN", words.BadgeGiven(badge="B-ERIN-2"))).rules() == ("A08",)


def test_a_badge_means_one_person(floor: Floor) -> None:
    """A01: it is withdrawn before it is given to somebody else; giving it again to the same person is no harm."""
    cora = office(floor, "cora")
    assert cora.enrol(Enrol("person:ERIN", words.BadgeGiven(badge="B-ANNA"))).rules() == ("A01",)
    assert cora.enrol(Enrol("person:ANNA", words.BadgeGiven(badge="B-ANNA"))).accepted
    assert cora.enrol(Enrol("person:ANNA", words.BadgeWithdrawn(badge="B-ANNA-SPARE", reason="found"))).accepted
    assert cora.enrol(Enrol("person:ERIN", words.BadgeGiven(badge="B-ANNA-SPARE"))).accepted
