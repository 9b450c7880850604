"""Calls that share a transaction: each is judged on its own, and none takes another one down."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, field

import pytest

from reprocess.batching import BATCH_MAX, WAITING_MAX, Batcher, Outcome
from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine.request import Undo
from reprocess.errors import (
    InvariantError,
    LedgerBusyError,
    LedgerError,
    LedgerFullError,
    ReprocessError,
    UnknownSubjectError,
)
from reprocess.ledger.append import looking
from reprocess.rules.answer import Answer, Verdict
from reprocess.station import Call
from tests.ledger import small
from tests.service.conftest import Bench

WAIT_S = 10
"""What no test here should ever need."""


@dataclass
class Desk:
    """Stands where a desk stands: keeps its batches, waits at a gate, and fails as it is told."""

    faults: dict[str, Exception] = field(default_factory=dict)
    whole: Exception | None = None
    gate: threading.Event = field(default_factory=threading.Event)
    batches: list[list[str]] = field(default_factory=list)
    clock: StoryClock = field(default_factory=lambda: StoryClock(small.START_US))

    def take_all(self, calls: Sequence[Call]) -> list[Outcome]:
        self.gate.wait(WAIT_S)
        self.batches.append([call.key for call in calls])
        if self.whole is not None:
            raise self.whole
        found: list[Outcome] = []
        for call in calls:
            fault = self.faults.get(call.key)
            if fault is not None and not isinstance(fault, UnknownSubjectError):
                raise fault
            found.append(fault if isinstance(fault, ReprocessError) else Answer(Verdict.ACCEPTED, call.key, "undo"))
        return found


def call(key: str) -> Call:
    return Call(Undo("S-4"), "LMG-1", "B-A", None, key)


def test_calls_that_wait_together_share_one_batch_in_their_order() -> None:
    desk = Desk()
    batcher = Batcher(desk)
    coming = [batcher.submit(call(f"k-{number}")) for number in range(10)]
    desk.gate.set()
    assert [one.result(WAIT_S).subject for one in coming] == [f"k-{number}" for number in range(10)]
    batcher.close()
    assert sorted(key for batch in desk.batches for key in batch) == sorted(f"k-{number}" for number in range(10))
    assert len(desk.batches) <= 2, "the first may have begun alone; the rest share one"


def test_an_error_of_one_call_is_its_own() -> None:
    desk = Desk(faults={"k-1": UnknownSubjectError("There is no such station.")})
    batcher = Batcher(desk)
    coming = [batcher.submit(call(f"k-{number}")) for number in range(3)]
    desk.gate.set()
    with pytest.raises(UnknownSubjectError):
        coming[1].result(WAIT_S)
    assert coming[0].result(WAIT_S).accepted
    assert coming[2].result(WAIT_S).accepted
    batcher.close()


@pytest.mark.parametrize("fault", [LedgerError("Its standing cannot be read."), ZeroDivisionError("a bug")])
def test_a_call_that_breaks_its_batch_is_taken_apart_from_the_others(fault: Exception) -> None:
    desk = Desk(faults={"k-2": fault})
    batcher = Batcher(desk)
    coming = [batcher.submit(call(f"k-{number}")) for number in range(5)]
    desk.gate.set()
    wanted = LedgerError if isinstance(fault, LedgerError) else InvariantError
    with pytest.raises(wanted):
        coming[2].result(WAIT_S)
    assert [coming[number].result(WAIT_S).subject for number in (0, 1, 3, 4)] == ["k-0", "k-1", "k-3", "k-4"]
    batcher.close()


@pytest.mark.parametrize("fault", [LedgerBusyError("Busy."), LedgerFullError("Full.")])
def test_a_record_that_cannot_be_written_is_tried_once_for_all(fault: Exception) -> None:
    desk = Desk(whole=fault)
    batcher = Batcher(desk)
    coming = [batcher.submit(call(f"k-{number}")) for number in range(8)]
    desk.gate.set()
    for one in coming:
        with pytest.raises(type(fault)):
            one.result(WAIT_S)
    batcher.close()
    assert len(desk.batches) <= 2


def test_what_waits_is_bounded_and_told_to_come_again() -> None:
    desk = Desk()
    batcher = Batcher(desk)
    coming = []
    told = ""
    for number in range(WAITING_MAX * 2):
        try:
            coming.append(batcher.submit(call(f"k-{number}")))
        except LedgerBusyError as fault:
            told = fault.sentence
            break
    assert "Try again" in told
    assert len(coming) <= WAITING_MAX + BATCH_MAX
    desk.gate.set()
    assert all(one.result(WAIT_S).accepted for one in coming)
    batcher.close()
    with pytest.raises(LedgerBusyError, match="stops"):
        batcher.submit(call("late"))


def test_a_caller_that_went_away_takes_nobody_along() -> None:
    desk = Desk()
    batcher = Batcher(desk)
    first, second, third = (batcher.submit(call(f"k-{number}")) for number in range(3))
    second.cancel()
    desk.gate.set()
    assert first.result(WAIT_S).subject == "k-0"
    assert third.result(WAIT_S).subject == "k-2"
    batcher.close()


def test_a_contact_is_not_lengthened_by_waiting_for_others(served: Bench) -> None:
    """The clocks are read when a call arrives, not when its batch begins (I2)."""
    department, clock = served.department, served.clock
    batcher = Batcher(department.desk)
    arrived = clock.now()
    clock.push(50)
    answer = batcher.submit(Call(Undo("S-99"), "LMG-1", "B-A", None, "waited", arrived=arrived)).result(WAIT_S)
    batcher.close()
    assert answer.key == "waited"
    written = department.entry(_last(department))
    assert written.envelope.moment == arrived


def _last(department: Department) -> int:
    with looking(department.ledger) as read:
        return read._last_feed()
