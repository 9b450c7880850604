"""A file that is not proved is never put in force, whatever calls it: command line, Python or a later interface."""

from __future__ import annotations

from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.definitions.read import digest_of
from reprocess.department import Department, found_department
from reprocess.engine.enrolling import Approve, Enrol, Publish
from reprocess.errors import DefinitionError, UnknownSubjectError
from reprocess.record.words import BadgeGiven
from reprocess.shipped import folder

FILE = """network: Larkmoor Health Network
sites: [{site: LMG, title: Larkmoor General, zone: Europe/London}]
stations: [{station: LMG-C1, title: Clean bench 1, site: LMG, side: any}]
people:
  - {person: P-HQ, name: Hedda Quist, roles: [supervisor], badges: [B-HQ]}
  - {person: P-BO, name: Bram Oakes, roles: [programme-administrator], badges: [B-BO, B-BO-2]}
files: {published_by: P-BO, approved_by: P-HQ}
"""
START_US = 1_772_700_000_000_000


@pytest.fixture
def department(tmp_path: Path) -> Department:
    return found_department(tmp_path / "d.db", FILE, clock=StoryClock(START_US))


@pytest.fixture
def blower_text() -> str:
    return (folder() / "blower.yaml").read_text(encoding="utf-8")


def test_a_longer_contact_is_in_force_after_two_people(department: Department, blower_text: str) -> None:
    text = blower_text.replace("greatest_s: 1800", "greatest_s: 1700\n      least_s: 240")
    publish = Publish("workflow", "blower", digest_of(text), text)
    approve = Approve("workflow", "blower", digest_of(text))
    assert department.station("LMG-C1", badge="B-BO").enrol(publish).accepted
    own = department.station("LMG-C1", badge="B-BO-2").enrol(approve)
    assert own.rules() == ("S07",), "one person with two badges is one person"
    assert department.station("LMG-C1", badge="B-HQ").enrol(approve).accepted


def test_a_bypass_is_not_even_proposed(department: Department, blower_text: str) -> None:
    text = blower_text.replace("after: [inspect, functional-test]", "after: [inspect]")
    with pytest.raises(DefinitionError, match="functional-test"):
        department.station("LMG-C1", badge="B-BO").enrol(Publish("workflow", "blower", digest_of(text), text))


def test_a_text_under_another_name_or_digest_is_not_proposed(department: Department, blower_text: str) -> None:
    bench = department.station("LMG-C1", badge="B-BO")
    with pytest.raises(DefinitionError):
        bench.enrol(Publish("workflow", "head-cover", digest_of(blower_text), blower_text))
    with pytest.raises(DefinitionError):
        bench.enrol(Publish("workflow", "blower", "0" * 64, blower_text))


def test_nobody_works_at_the_founding_station(department: Department) -> None:
    with pytest.raises(UnknownSubjectError):
        department.station("founding").enrol(Enrol("person:P-HQ", BadgeGiven(badge="B-X")))


def test_a_badge_never_means_two_people(department: Department) -> None:
    answer = department.station("LMG-C1", badge="B-HQ").enrol(Enrol("person:P-HQ", BadgeGiven(badge="B-BO")))
    assert answer.rules() == ("A01",)
