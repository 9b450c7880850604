"""A department that chose a profile has its workflows in force and no others, and keeps what the profile asks for."""

from __future__ import annotations

from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.commandline.checking import sound_or_raise
from reprocess.definitions.configuration import Configuration
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.profile import Profile
from reprocess.definitions.read import digest_of
from reprocess.department import Department, found_department
from reprocess.engine.enrolling import Approve, Commission, Publish, Sort
from reprocess.errors import DefinitionError, WrongUseError
from reprocess.shipped import files_in, folder, read_file
from tests.enrolment.test_files_and_badges import FILE, START_US

SHIPPED = list(files_in(folder()))
UK = FILE.replace("approved_by: P-HQ}", "approved_by: P-HQ, profile: uk-respirator}")
OWN = (folder() / "profiles" / "uk-respirator.yaml").read_text(encoding="utf-8")


def founded(place: Path, text: str) -> Department:
    return found_department(place / "d.db", text, clock=StoryClock(START_US))


@pytest.fixture
def department(tmp_path: Path) -> Department:
    return founded(tmp_path, UK)


def put_in_force(department: Department, sort: Sort, name: str, text: str) -> None:
    publish, approve = Publish(sort, name, digest_of(text), text), Approve(sort, name, digest_of(text))
    assert department.station("LMG-C1", badge="B-BO").enrol(publish).accepted
    assert department.station("LMG-C1", badge="B-HQ").enrol(approve).accepted


def text_of(name: str) -> str:
    return (folder() / f"{name}.yaml").read_text(encoding="utf-8")


def test_the_workflows_of_the_profile_are_in_force_and_no_others(department: Department) -> None:
    (profile,) = department.in_force(Profile)
    assert profile.profile == "uk-respirator"
    assert {one.workflow for one in department.in_force(Workflow)} == set(profile.workflows)
    assert len(department.in_force(Agent)) == sum(isinstance(file.holds, Agent) for file in SHIPPED)
    configurations = sum(isinstance(file.holds, Configuration) for file in SHIPPED)
    assert len(department.in_force(Configuration)) == configurations


def test_an_item_of_another_workflow_is_refused(department: Department) -> None:
    """P06: not in force here, so nothing says what must happen to it."""
    bench = department.station("LMG-C1", badge="B-HQ")
    other = bench.enrol(Commission("TUB-1", "breathing-tube-immersion", "LT-1"))
    assert (other.rules(), other.reasons[0].key) == (("P06",), "no-such-workflow")
    assert bench.enrol(Commission("TUB-1", "breathing-tube-wipe", "LT-1")).accepted


def test_a_department_is_not_founded_with_an_item_outside_its_profile(tmp_path: Path) -> None:
    with pytest.raises(WrongUseError, match="P06"):
        founded(tmp_path, UK + "items: [{item: TUB-1, workflow: breathing-tube-immersion, model: LT-1, site: LMG}]\n")
    assert not (tmp_path / "d.db").exists()


def test_without_a_profile_every_workflow_is_in_force_and_no_profile(tmp_path: Path) -> None:
    department = founded(tmp_path, FILE)
    assert len(department.in_force(Workflow)) == sum(isinstance(file.holds, Workflow) for file in SHIPPED)
    assert department.in_force(Profile) == []


def test_a_profile_that_does_not_ship_is_named_with_those_that_do(tmp_path: Path) -> None:
    with pytest.raises(WrongUseError, match=r"no profile called uk; there are: one-wearer, .*, wipe-only"):
        founded(tmp_path, UK.replace("uk-respirator", "uk"))
    assert not (tmp_path / "d.db").exists()


def test_a_profile_that_does_not_hold_founds_nothing(tmp_path: Path) -> None:
    lax = text_of("respirator").replace("every_months: 1\n", "every_months: 6\n")
    changed = tmp_path / "respirator.yaml"
    changed.write_text(lax, encoding="utf-8")
    shipped = [read_file(changed) if file.name == "respirator" else file for file in SHIPPED]
    with pytest.raises(DefinitionError, match="every 6 months; every 3 months is the longest here"):
        found_department(tmp_path / "d.db", UK, clock=StoryClock(START_US), shipped=shipped)
    assert not (tmp_path / "d.db").exists()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("  - head-cover\n", "  - head-cover-one-wearer\n", "no workflow called head-cover-one-wearer"),
        ("most_months: 3\n    source: >-", "source: >-", ""),
        ("workflow: half-mask-respirator\n    every", "workflow: blower\n    every", "blower is never inspected again"),
    ],
)
def test_a_profile_is_judged_against_the_workflows_in_force(
    department: Department, tmp_path: Path, old: str, new: str, said: str
) -> None:
    """Also against its own author's terminal: what ships and is not in force does not count."""
    text = OWN.replace(old, new)
    assert text != OWN
    file = tmp_path / "own.yaml"
    file.write_text(text, encoding="utf-8")
    if not said:
        assert sound_or_raise(read_file(file), department) == "profile"
        put_in_force(department, "profile", "uk-respirator", text)
        return
    with pytest.raises(DefinitionError, match=said):
        sound_or_raise(read_file(file), department)
    with pytest.raises(DefinitionError, match=said):
        put_in_force(department, "profile", "uk-respirator", text)


def test_a_workflow_that_breaks_the_profile_in_force_is_not_even_proposed(department: Department) -> None:
    """First the profile, then the workflow: the other way round nothing would hold what the site chose."""
    quarterly = text_of("respirator").replace("every_months: 1\n", "every_months: 3\n")
    yearly = text_of("respirator").replace("every_months: 1\n", "every_months: 12\n")
    put_in_force(department, "workflow", "respirator", quarterly)
    with pytest.raises(DefinitionError, match="every 12 months; every 3 months is the longest here"):
        put_in_force(department, "workflow", "respirator", yearly)
    own = OWN.replace("most_months: 3\n    source: >-", "most_months: 12\n    source: >-")
    put_in_force(department, "profile", "uk-respirator", own)
    put_in_force(department, "workflow", "respirator", yearly)


def test_a_proposal_is_judged_again_when_it_is_approved(department: Department) -> None:
    """Between the two people the profile may have become stricter."""
    quarterly = text_of("respirator").replace("every_months: 1\n", "every_months: 3\n")
    publish = Publish("workflow", "respirator", digest_of(quarterly), quarterly)
    assert department.station("LMG-C1", badge="B-BO").enrol(publish).accepted
    put_in_force(department, "profile", "uk-respirator", OWN.replace("    most_months: 3\n", ""))
    with pytest.raises(DefinitionError, match="every month is the longest here"):
        department.station("LMG-C1", badge="B-HQ").enrol(Approve("workflow", "respirator", digest_of(quarterly)))


def test_the_last_configuration_of_a_profile_cannot_be_taken_away(tmp_path: Path) -> None:
    """The powered respirator of this profile is assembled by three configurations; each needs a part that is here."""
    department = founded(tmp_path, FILE.replace("approved_by: P-HQ}", "approved_by: P-HQ, profile: wipe-only}"))
    names = ("three-port-canister", "three-port-hepa", "two-port-hepa")
    for name in names:
        text = text_of(f"configurations/{name}").replace("item_kind: belt", "item_kind: harness")
        if name != names[-1]:
            put_in_force(department, "configuration", name, text)
        else:
            with pytest.raises(DefinitionError, match="nothing can be assembled"):
                put_in_force(department, "configuration", name, text)
