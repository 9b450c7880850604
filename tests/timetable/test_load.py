"""The reminders of a load: its end, its record, its unloading, its recount, what is still out."""

from __future__ import annotations

from dataclasses import replace

from reprocess.record.loads import Load, LoadState
from reprocess.terms import SECOND_US
from reprocess.timetable.load import AWAITED_S, OVERDUE_S, UNLOAD_S, for_load
from tests.timetable.moments import at, reading

NOON_US = at("2026-03-05T12:00+00:00")
OPEN = Load("LD-1", "LMG", "WD-1", "P90", "93", 2400, LoadState.OPEN, {"BWL-1": 1}, number=2)
RUNNING = replace(OPEN, state=LoadState.RUNNING, started=reading(NOON_US, 0))
ENDED = replace(RUNNING, state=LoadState.ENDED, ended=reading(NOON_US + 2500 * SECOND_US, 2500))
PASSED = replace(ENDED, state=LoadState.PASSED, record="d", passed_us=NOON_US + 2500 * SECOND_US)


def told(load: Load) -> dict[str, tuple[str, int]]:
    """Returns (rule, seconds after noon) of each reminder."""
    return {str(due.words["say"]): (due.rule, (due.due_us - NOON_US) // SECOND_US) for due in for_load(load)}


def test_a_load_that_is_made_up_calls_for_nothing() -> None:
    assert for_load(OPEN) == ()
    assert for_load(Load("LD-9")) == ()


def test_the_end_of_a_cycle_is_expected_and_missed() -> None:
    assert told(RUNNING) == {"load-ends": ("W08", 2400), "load-overdue": ("W08", 2400 + OVERDUE_S)}


def test_a_load_awaits_its_record_and_its_unloading() -> None:
    assert told(ENDED) == {"load-awaits": ("W07", 2500 + AWAITED_S), "load-unload": ("T14", 2500 + UNLOAD_S)}


def test_a_load_that_passed_is_only_unloaded() -> None:
    assert told(PASSED) == {"load-unload": ("T14", 2500 + UNLOAD_S)}
    assert told(replace(PASSED, emptied=True)) == {}


def test_a_load_that_failed_while_it_ran_is_unloaded_all_the_same() -> None:
    failed = replace(RUNNING, state=LoadState.FAILED, failed_us=NOON_US + 60 * SECOND_US)
    assert told(failed) == {"load-unload": ("T14", 60 + UNLOAD_S)}


def test_what_was_miscounted_is_counted_again_and_what_is_out_is_found_at_once() -> None:
    assert told(replace(PASSED, emptied=True, missing=("BWL-1",))) == {"load-recount": ("W04", 2500)}
    failed = replace(PASSED, emptied=True, state=LoadState.FAILED, failed_us=NOON_US + 9000 * SECOND_US)
    out = replace(failed, astray=("BWL-1", "BWL-2"))
    assert told(out) == {"load-astray": ("H05", 9000)}
    (due,) = for_load(out)
    assert (due.severity, due.words["items"]) == (0, "BWL-1, BWL-2")


def test_each_reminder_has_a_key_of_its_own() -> None:
    dues = [*for_load(RUNNING), *for_load(ENDED), *for_load(replace(PASSED, missing=("BWL-1",)))]
    assert len({due.key for due in dues}) == 5
