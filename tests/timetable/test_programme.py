"""The programme as a whole: evaluated once a year, its files reviewed once a year (R12)."""

from __future__ import annotations

from dataclasses import replace

from reprocess.record.places import Published, Site
from reprocess.timetable import for_file, for_site
from tests.timetable.moments import at

ZONE = "Europe/London"
SITE = Site("LMG", "Larkmoor General", ZONE, number=1, opened_us=at("2026-03-05T09:00+00:00"))
FILE = Published("blower", "workflow", "d1", number=2, approved_us=at("2026-03-05T09:00+00:00"))


# 29 CFR 1910.134(l) asks for evaluations of the programme "as necessary"; once a year is common practice, no source.
def test_r12_the_programme_is_evaluated_a_year_after_the_site_was_opened() -> None:
    near, over = for_site(SITE)
    assert (near.rule, near.key) == ("R12", "R12/site:LMG/evaluation-2027-03-05/-30")
    assert near.due_us == at("2027-02-03T07:00+00:00")
    assert over.due_us == at("2027-03-06T00:00+00:00")


def test_r12_an_evaluation_begins_another_year() -> None:
    near, over = for_site(replace(SITE, evaluated_us=at("2026-08-31T23:30+01:00")))
    assert over.key == "R12/site:LMG/evaluation-2027-08-31/over"
    assert over.due_us == at("2027-09-01T00:00+01:00")
    assert near.due_us == at("2027-08-01T07:00+01:00")


def test_r12_a_leap_day_is_followed_by_the_last_day_of_february() -> None:
    _, over = for_site(replace(SITE, evaluated_us=at("2028-02-29T12:00+00:00")))
    assert over.words["day"] == "2029-02-28"


def test_r12_a_workflow_in_force_is_reviewed_a_year_after_its_approval() -> None:
    near, over = for_file(FILE, "workflow:workflow.blower", "LMG", ZONE)
    assert near.key == "R12/workflow:workflow.blower/review-2027-03-05/-30"
    assert over.due_us == at("2027-03-06T00:00+00:00")
    assert over.words["file"] == "blower"


def test_r12_labels_and_files_that_wait_for_approval_call_for_no_review() -> None:
    assert for_file(replace(FILE, sort="agent"), "workflow:agent.x", "LMG", ZONE) == ()
    assert for_file(replace(FILE, in_force=None), "workflow:workflow.x", "LMG", ZONE) == ()
    assert for_file(replace(FILE, approved_us=None), "workflow:workflow.x", "LMG", ZONE) == ()
    assert for_site(Site("LMG")) == ()
