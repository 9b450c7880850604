"""How much time two readings of the clocks prove (design 3): the whole rule as a table."""

from __future__ import annotations

import pytest

from reprocess.record.moment import Elapsed, Moment, elapsed, tolerance_us
from reprocess.terms import SECOND_US


def reading(wall_s: float, mono_s: float, running_s: float | None, boot: str = "a", node: str = "n") -> Moment:
    running = None if running_s is None else round(running_s * SECOND_US)
    return Moment(round(wall_s * SECOND_US), round(mono_s * SECOND_US), running, boot, node)


START = reading(10_000, 500, 700)


def later(wall_s: float, mono_s: float, running_s: float | None, boot: str = "a", node: str = "n") -> Elapsed:
    running = None if running_s is None else 700 + running_s
    return elapsed(START, reading(10_000 + wall_s, 500 + mono_s, running, boot, node))


# wall, monotonic and boot-time clock since the start; then what counts at least, at most, unobserved; anomaly
@pytest.mark.parametrize(
    ("wall", "mono", "running", "least", "greatest", "unseen", "anomaly"),
    [
        (180, 180, 180, 180, 180, 0, False),
        # Running time counts towards a least time (E35: a leap second takes nothing), the larger towards a greatest.
        (178.5, 180, 180, 180, 180, 0, False),
        (181.5, 180, 180, 180, 181.5, 0, False),
        (177.83, 180, 180, 180, 180, 0, False),
        (177.82, 180, 180, 180, 180, 0, False),
        # Beyond it the wall clock was stepped: back takes nothing away, forward gives nothing.
        (177.81, 180, 180, 180, 180, 0, True),
        (-3420, 180, 180, 180, 180, 0, True),
        (3780, 180, 180, 180, 3780, 0, True),
        # Sleep: the monotonic clock stood still.
        (180, 80, 180, 80, 180, 100, False),
        (80, 80, 180, 80, 180, 100, True),
        (180, 177.82, 180, 177.82, 180, 2.18, False),
        # A computer without a boot-time clock.
        (180, 180, None, 180, 180, 0, False),
        (180, 80, None, 80, 180, 0, True),
        (0, 0, 0, 0, 0, 0, False),
        (-1, 0, 0, 0, 0, 0, False),
    ],
)
def test_within_one_boot(
    wall: float, mono: float, running: float | None, least: float, greatest: float, unseen: float, *, anomaly: bool
) -> None:
    span = later(wall, mono, running)
    assert span == Elapsed(
        least_us=round(least * SECOND_US),
        greatest_us=round(greatest * SECOND_US),
        unobserved_us=round(unseen * SECOND_US),
        wall_us=round(wall * SECOND_US),
        mono_us=round(mono * SECOND_US),
        same_boot=True,
        anomaly=anomaly,
    )
    assert span.observed == (unseen * SECOND_US <= tolerance_us(span.greatest_us))


@pytest.mark.parametrize(
    ("boot", "node", "mono"),
    [("b", "n", 180), ("a", "m", 180), ("a", "n", -1)],
    ids=["another boot", "another node", "a monotonic clock that went back"],
)
def test_across_boots_and_nodes_nothing_is_proven(boot: str, node: str, mono: float) -> None:
    span = later(180, mono, mono, boot, node)
    assert (span.least_us, span.greatest_us, span.same_boot, span.observed) == (0, 180 * SECOND_US, False, False)
    assert not span.anomaly
    assert not later(0, mono, mono, boot, node).anomaly
    assert later(-5, mono, mono, boot, node).anomaly
    assert later(-5, mono, mono, boot, node).greatest_us == 0


def test_a_running_clock_slower_than_the_monotonic_one_is_not_believed() -> None:
    assert later(180, 180, 100).unobserved_us == 0


def test_two_seconds_and_a_thousandth() -> None:
    assert tolerance_us(0) == 2_000_000
    assert tolerance_us(3_600_000_000) == tolerance_us(-3_600_000_000) == 5_600_000


def test_a_reading_as_a_list() -> None:
    assert START.as_list() == [10_000_000_000, 500_000_000, 700_000_000, "a", "n"]
