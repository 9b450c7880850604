"""The bell: it wakes a sweep every period, whatever the wall clock does and whatever a sweep raises."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from threading import Event

import pytest
from freezegun import freeze_time

from reprocess.clock import SystemClock
from reprocess.errors import LedgerBusyError
from reprocess.reminders import bell, rounds
from reprocess.reminders.rounds import Rang
from reprocess.terms import instant
from tests.reminders.ward import CONTACT, START, Heard, Ward

PERIOD_S = 0.02
WAIT_S = 20.0


class Beats:
    """Is a tick that lets a test wait for so many of it."""

    def __init__(self, wanted: int, then: Callable[[int], None] = lambda _: None) -> None:
        self.count = 0
        self.enough = Event()
        self._wanted = wanted
        self._then = then

    def __call__(self) -> None:
        self.count += 1
        if self.count == self._wanted:
            self.enough.set()
        self._then(self.count)


def test_the_bell_beats_at_once_and_then_every_period() -> None:
    beats = Beats(5)
    with bell.Bell(beats, PERIOD_S):
        assert beats.count >= 1
        assert beats.enough.wait(WAIT_S)


def test_after_the_bell_is_closed_nothing_beats() -> None:
    beats = Beats(2)
    with bell.Bell(beats, PERIOD_S):
        assert beats.enough.wait(WAIT_S)
    counted = beats.count
    assert not Event().wait(5 * PERIOD_S)
    assert beats.count == counted


@pytest.mark.parametrize("step", [timedelta(hours=-3), timedelta(days=-400), timedelta(hours=3), timedelta(days=9000)])
def test_a_wall_clock_that_is_set_does_not_silence_the_bell(step: timedelta) -> None:
    stop = Event()
    with freeze_time(START, tick=True) as frozen:

        def set_the_clock(count: int) -> None:
            if count == 3:
                frozen.move_to(datetime.fromisoformat(START) + step)
            if count == 8:
                stop.set()

        with bell.Bell(Beats(8, set_the_clock), PERIOD_S) as ringing:
            ringing.ring_until(stop, WAIT_S)
    assert stop.is_set()


def test_a_sweep_that_fails_is_logged_by_its_code_alone_and_the_next_one_comes(
    capsys: pytest.CaptureFixture[str],
) -> None:
    name = "Tilda Marsh"

    def fail(count: int) -> None:
        if count == 1:
            raise LedgerBusyError(name)
        if count == 2:
            raise KeyError(name)

    beats = Beats(4, fail)
    with bell.Bell(beats, PERIOD_S):
        assert beats.enough.wait(WAIT_S)
    out, err = capsys.readouterr()
    lines = [json.loads(line) for line in err.splitlines()]
    assert [(line["event"], line["code"]) for line in lines] == [
        ("sweep-failed", "ledger-busy"),
        ("sweep-failed", "KeyError"),
    ]
    assert out == ""
    assert name not in err


def test_a_channel_that_fails_is_logged_and_counts_as_not_given(ward: Ward, capsys: pytest.CaptureFixture[str]) -> None:
    def broken(rang: Rang) -> bool:
        if rang.due.rule == "T03":
            raise ValueError(rang.due.subject)
        return True

    ward.write("item:BLW-0001", CONTACT)
    ward.clock.push(181)
    rounds.sweep(ward.department.ledger, ward.clock, bell.guarded(broken), "bench-1")
    assert [key[:3] for key in ward.rang()] == ["T17"]
    (line,) = capsys.readouterr().err.splitlines()
    logged = json.loads(line)
    assert (logged["event"], logged["code"], logged["rule"]) == ("delivery-failed", "ValueError", "T03")
    assert "BLW" not in line


def test_the_bell_ends_after_its_time() -> None:
    with bell.Bell(Beats(1), PERIOD_S) as ringing:
        ringing.ring_until(Event(), 5 * PERIOD_S)


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_asks_the_bell_to_stop_and_the_old_handlers_come_back(number: int) -> None:
    before = signal.getsignal(number)
    with bell.stopping() as stop:
        assert not stop.is_set()
        os.kill(os.getpid(), number)
        assert stop.wait(WAIT_S)
    assert signal.getsignal(number) is before


def test_under_a_frozen_clock_a_sweep_rings_what_is_due_by_it(ward: Ward, heard: Heard) -> None:
    begun = datetime.fromisoformat(START) + timedelta(seconds=84)
    ward.write("item:BLW-0001", CONTACT)
    clock = SystemClock()
    # The ward's clock ran in another boot: for this node only the wall clock counts.
    with freeze_time(begun - timedelta(seconds=1)) as frozen:
        rounds.sweep(ward.department.ledger, clock, heard, "bench-1")
        assert heard.rings == []
        frozen.tick(1)
        rounds.sweep(ward.department.ledger, clock, heard, "bench-1")
        assert heard.says == ["rewet"]
        assert heard.rings[0].at_us == instant(datetime.now(UTC))  # noqa: TID251 - the frozen one
        frozen.move_to(begun + timedelta(hours=3))
        rounds.sweep(ward.department.ledger, clock, heard, "bench-1")
    assert [one.late for one in heard.rings] == [False, True, True]
