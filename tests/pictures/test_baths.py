"""Solutions on a time line: hand-worked."""

from __future__ import annotations

import pytest

from reprocess.pictures.baths import baths as plot
from reprocess.pictures.drawing import drawn
from reprocess.pictures.layers import WIDTH
from reprocess.pictures.picture import tell
from reprocess.pictures.rows.baths import BathRow, baths
from reprocess.record import words
from tests.pictures.telling import Stream, at, frame, marks, titles, width_of


def made(expires: int, lot_expires: int = 90_000, lot: str = "L-1") -> words.SolutionMade:
    return words.SolutionMade(
        agent="hypochlorite-50ppm", digest="d", form="bath", site="LMG", lot=lot, lot_expiry_us=at(lot_expires),
        expires_us=at(expires),
    )  # fmt: skip


def strip(*, passed: bool, valid: bool = True, reading: str | None = "52") -> words.SolutionTested:
    return words.SolutionTested(
        valid=valid, passed=passed, reading=reading, limit="50.." if reading else None, unit="ppm" if reading else None,
        strip_lot="T-1", strip_expiry_us=at(90_000), control_run=False,
    )  # fmt: skip


def touched(item: str) -> words.SolutionTouched:
    return words.SolutionTouched(item=item, cycle=2, step="disinfect")


def a_bath() -> Stream:
    """Returns a bath: passed, used, a strip that does not count, used again, failed, used no more, ended."""
    return (
        Stream("solution:B-1")
        .tell(0, made(3600))
        .tell(60, strip(passed=True))
        .tell(600, touched("BLW-1"))
        .tell(900, strip(passed=False, valid=False, reading=None))
        .tell(1200, touched("BLW-2"))
        .tell(1500, strip(passed=False))
        .tell(1800, words.SolutionEnded(cause="failed"))
    )


def seconds(*instants_us: int) -> list[int]:
    return [(one - at(0)) // 10**6 for one in instants_us]


def stretches(row: BathRow) -> list[tuple[str, int, int]]:
    return [(one.state, *seconds(one.from_us, one.until_us)) for one in row.stretches]  # type: ignore[misc]


def test_a_bath_that_failed_by_hand() -> None:
    """L07: from the last valid pass, at 60 s, to the failing test, at 1500 s; the void test between changes nothing."""
    (row,) = baths(a_bath().entries, at(7200))
    assert stretches(row) == [("in-use", 0, 1500), ("failed", 1500, 1800)]
    assert [seconds(one.from_us, one.until_us) for one in row.suspects] == [[60, 1500]]
    assert [(one.shown, *seconds(one.at_us)) for one in row.tests] == [("passed", 60), ("void", 900), ("failed", 1500)]
    assert [(one.item, *seconds(one.at_us)) for one in row.contacts] == [("BLW-1", 600), ("BLW-2", 1200)]
    assert (row.cause, seconds(row.until_us)) == ("failed", [1800])


@pytest.mark.parametrize(
    ("expires", "lot_expires", "ended", "now", "expected"),
    [
        (3600, 9000, None, 1200, [("in-use", 0, 1200)]),
        (3600, 9000, None, 5000, [("in-use", 0, 3600), ("expired", 3600, 5000)]),
        (3600, 2000, None, 5000, [("in-use", 0, 2000), ("expired", 2000, 5000)]),
        (3600, 9000, 3000, 5000, [("in-use", 0, 3000)]),
        (3600, 9000, 4000, 5000, [("in-use", 0, 3600), ("expired", 3600, 4000)]),
        (-10, 9000, None, 50, [("expired", 0, 50)]),
    ],
)
def test_a_bath_is_in_use_until_its_first_end(
    expires: int, lot_expires: int, ended: int | None, now: int, expected: list[tuple[str, int, int]]
) -> None:
    stream = Stream("solution:B-1").tell(0, made(expires, lot_expires))
    if ended is not None:
        stream.tell(ended, words.SolutionEnded(cause="dumped"))
    (row,) = baths(stream.entries, at(now))
    assert stretches(row) == expected
    assert sum(until - since for _, since, until in expected) == seconds(row.until_us)[0]


def test_topping_up_may_bring_the_expiry_nearer_and_never_moves_it_away() -> None:
    """L04."""
    stream = Stream("solution:B-1").tell(0, made(3600))
    stream.tell(10, words.SolutionToppedUp(lot="L-2", lot_expiry_us=at(1000), volume_l="1"))
    (row,) = baths(stream.entries, at(2000))
    assert (seconds(row.expires_us), row.lots) == ([1000], ("L-1", "L-2"))


def test_a_bath_made_anew_without_a_pass_is_doubted_back_over_its_earlier_making() -> None:
    """`Solution.doubt_feed`: since the last valid pass, or the first making; each making shows its own part."""
    stream = Stream("solution:B-1").tell(0, made(900)).tell(1000, made(3600, lot="L-2")).tell(1300, strip(passed=False))
    first, second = baths(stream.entries, at(1500))
    assert (first.making, first.cause, seconds(first.until_us)) == (1, "made-anew", [1000])
    assert [seconds(one.from_us, one.until_us) for one in first.suspects] == [[0, 1000]]
    assert [seconds(one.from_us, one.until_us) for one in second.suspects] == [[1000, 1300]]
    assert stretches(second) == [("in-use", 1000, 1300), ("failed", 1300, 1500)]
    assert baths(Stream("solution:B-1").tell(0, touched("X")).entries, at(9)) == []


def test_each_mark_has_its_row_and_its_place() -> None:
    rows = baths(a_bath().entries, at(7200)) + baths(Stream("solution:B-2").tell(300, made(3000)).entries, at(7200))
    picture = drawn(plot(rows, at(0), at(7200), frame("baths")))
    assert sorted(titles(picture)) == sorted(tell(row) for row in picture.rows)
    assert [row[1] for row in picture.rows] == [
        "in use", "failed its test", "in doubt", "test passed", "test does not count", "test failed",
        "contact began", "contact began", "expiry", "in use", "expired", "expiry",
    ]  # fmt: skip
    lasted = {"in use": (1500, 2700), "failed its test": (300,), "in doubt": (1440,), "expired": (4200,)}
    found: dict[str, list[float]] = {}
    for mark in marks(picture):
        what = (mark[0].text or "").split(" · ")[1]
        if what in lasted:
            found.setdefault(what, []).append(width_of(mark))
    for what, widths in lasted.items():
        assert found[what] == pytest.approx([one / 7200 * WIDTH for one in widths], abs=0.01)
    assert picture.rows[0] == (
        "B-1", "in use", "2026-03-05 07:00", "2026-03-05 07:25", "0:25:00", "hypochlorite-50ppm; lots: L-1.",
    )  # fmt: skip
    assert picture.rows[5] == ("B-1", "test failed", "2026-03-05 07:25", "", "", "52 ppm (50..)")
    assert picture.alt == (
        "Time line of solutions, from 2026-03-05 07:00 to 2026-03-05 09:00. Solutions: 2; not ended: 1."
        " Tests: 3; failed: 1. Failed: B-1."
    )


def test_what_lies_outside_the_picture_is_in_neither_picture_nor_table() -> None:
    rows = baths(a_bath().entries, at(7200))
    told = plot(rows, at(1000), at(1400), frame("baths"))
    assert [row[1] for row in told.rows] == ["in use", "in doubt", "contact began"]
    assert told.rows[0][2:4] == ("2026-03-05 07:00", "2026-03-05 07:25")
    empty = drawn(plot(rows, at(5000), at(6000), frame("baths")))
    assert (empty.rows, empty.missing) == ((), None)
