"""One item's life as bars: hand-worked, and the drawing measured against it."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.pictures.drawing import drawn
from reprocess.pictures.layers import WIDTH
from reprocess.pictures.life import life as plot
from reprocess.pictures.picture import tell
from reprocess.pictures.rows.life import Bar, Lane, LifeRows, life
from reprocess.pictures.rows.spans import in_rows
from reprocess.record import words
from reprocess.record.folding import fold
from tests.pictures.telling import (
    Stream,
    a_day,
    all_texts,
    at,
    began,
    broken,
    commissioned,
    done,
    ended,
    frame,
    held,
    marks,
    titles,
    used,
    width_of,
)


def told(rows: LifeRows, lane: Lane) -> list[tuple[str, int, int, bool, str]]:
    """Returns the bars of a lane in seconds after seven."""
    zero = at(0)
    return [
        (one.name, (one.from_us - zero) // 10**6, (one.until_us - zero) // 10**6, one.open, one.outcome)
        for one in rows.of(lane)
    ]


def test_a_long_life_is_told_without_looking_through_it_again_for_each_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten thousand entries are one item's years; each bar is compared with itself at most, not with every stage."""
    compared = 0
    same = Bar.__eq__

    def counted(one: Bar, other: object) -> bool:
        nonlocal compared
        compared += 1
        return same(one, other)

    stream = Stream("item:BLW-1").tell(0, commissioned())
    for cycle in range(2, 102):
        stream.tell(600 * cycle, used(cycle)).tell(600 * cycle + 60, done("clean", "cleaned"))
    monkeypatch.setattr(Bar, "__eq__", counted)
    assert len(life("BLW-1", stream.entries, at(90_000)).of(Lane.STAGE)) == 201
    assert compared <= 201


def test_a_day_by_hand() -> None:
    """Worked by hand from the entries of `a_day`; the stages sum to the whole two hours."""
    rows = life("BLW-1", a_day().entries, at(7200))
    assert told(rows, Lane.STAGE) == [
        ("used", 0, 600, False, ""),
        ("used", 600, 900, False, ""),
        ("cleaned", 900, 1560, False, ""),
        ("disinfected", 1560, 2200, False, ""),
        ("dried", 2200, 2300, False, ""),
        ("inspected", 2300, 2900, False, ""),
        ("ready", 2900, 7200, True, ""),
    ]
    assert sum(until - since for _, since, until, _, _ in told(rows, Lane.STAGE)) == 7200
    assert told(rows, Lane.WET) == [
        ("wet-contact", 1000, 1200, False, "broken"),
        ("wet-contact", 1260, 1560, False, "met"),
    ]
    assert told(rows, Lane.DRY) == [("drying", 1600, 2200, False, "met")]
    assert told(rows, Lane.HOLD) == [
        ("administrative", 2400, 2700, False, "lifted"),
        ("recall", 2450, 2800, False, "lifted"),
    ]
    assert told(rows, Lane.OUT) == [("issued", 3600, 7200, True, "")]
    assert (rows.stage, rows.cycles, rows.from_us, rows.until_us) == ("ready", 2, at(0), at(7200))


def test_one_cycle_is_told_alone_with_what_ran_beside_it() -> None:
    rows = life("BLW-1", a_day().tell(4000, used(3)).entries, at(7200), cycle=2)
    assert (rows.from_us, rows.until_us) == (at(600), at(4000))
    assert told(rows, Lane.STAGE)[0][:3] == ("used", 600, 900)
    assert told(rows, Lane.OUT) == [("issued", 3600, 7200, True, "")]
    first = life("BLW-1", a_day().entries, at(7200), cycle=1)
    assert [one.lane for one in first.bars] == [Lane.STAGE]
    with pytest.raises(ValueError, match="cycle 9"):
        life("BLW-1", a_day().entries, at(7200), cycle=9)
    with pytest.raises(ValueError, match="Nothing is on record"):
        life("BLW-1", [], at(7200))


def test_a_mis_scan_that_was_undone_is_left_out() -> None:
    stream = Stream("item:BLW-1").tell(0, commissioned()).tell(50, done("clean", "cleaned"))
    stream.tell(70, words.EntryUndone(number=2, undone_kind="step-done", numbers=(2,)))
    rows = life("BLW-1", stream.entries, at(100))
    assert told(rows, Lane.STAGE) == [("used", 0, 100, True, "")]
    assert fold("BLW-1", stream.entries).stage == rows.stage


def test_a_contact_from_a_form_is_told_at_the_times_of_the_form() -> None:
    """D06: written down later; both entries are recorded in one request, and say when it happened."""
    stream = Stream("item:BLW-1").tell(0, commissioned()).tell(600, began("disinfect", "wet-contact"), occurred=100)
    stream.tell(600, ended("disinfect", "disinfected", paper="FEN-1"), occurred=460)
    rows = life("BLW-1", stream.entries, at(700))
    assert told(rows, Lane.WET) == [("wet-contact", 100, 460, False, "met")]
    assert told(rows, Lane.STAGE) == [("used", 0, 600, False, ""), ("disinfected", 600, 700, True, "")]


def test_loads_other_clocks_and_what_falls_are_told() -> None:
    stream = Stream("item:BLW-1").tell(0, commissioned()).tell(10, began("charge", "charging"))
    stream.tell(20, used(2)).tell(30, words.ItemLoaded(load="LD-1", cycle=2, step="wash-and-heat"))
    stream.tell(90, ended("wash-and-heat", "disinfected", load="LD-1"))
    stream.tell(95, words.ItemUnloaded(load="LD-1", cause="unloaded"))
    stream.tell(99, words.ItemLost(note="gone"))
    rows = life("BLW-1", stream.entries, at(120))
    assert told(rows, Lane.OTHER) == [("charging", 10, 20, False, "broken")]
    assert [one[:3] for one in told(rows, Lane.LOAD)] == [("LD-1", 30, 95)]
    assert told(rows, Lane.STAGE)[-1] == ("lost", 99, 120, True, "")
    cells = {row[0]: row for row in plot(rows, frame()).rows}
    assert cells["In a load"][1] == "LD-1"
    assert cells["Rest or charge"][5] == "Broken; it does not count."


STEPS = st.lists(st.tuples(st.integers(-20, 90), st.integers(0, 7)), max_size=25)


@given(STEPS)
def test_stages_follow_each_other_and_sum_to_the_whole_whatever_the_clock_does(steps: list[tuple[int, int]]) -> None:
    """Any entries at any times, also where the clock is set back: the stages part the whole, no lane's row overlaps."""
    stream, now = Stream("item:BLW-1").tell(0, commissioned()), 0
    for number, (later, what) in enumerate(steps, 2):
        now += later
        bodies = (
            used(number), done("clean", "cleaned"), began("disinfect", "wet-contact"), broken(),
            ended("disinfect", "disinfected"), held(f"H-{number}", "recall"),
            words.HoldLifted(hold=f"H-{number - 1}", disposition="x"),
            words.ItemIssued(cycle=1, wearer=None, place="WARD-5", purpose="isolation"),
        )  # fmt: skip
        stream.tell(now, bodies[what])
    rows = life("BLW-1", stream.entries, at(max(now, 0) + 5))
    stages = rows.of(Lane.STAGE)
    assert (stages[0].from_us, stages[-1].until_us) == (rows.from_us, rows.until_us)
    assert all(one.until_us == two.from_us for one, two in pairwise(stages))
    assert sum(one.until_us - one.from_us for one in stages) == rows.until_us - rows.from_us
    assert all(one.from_us < one.until_us for one in rows.bars)
    assert sum(len(row) for lane in Lane for row in in_rows(rows.of(lane))) == len(rows.bars)
    assert [one for one in rows.bars if one.open] == [
        one for one in rows.bars if one.until_us == rows.until_us and one.open
    ]


def test_each_mark_has_its_row_and_is_as_wide_as_it_lasts() -> None:
    rows = life("BLW-1", a_day().entries, at(7200))
    picture = drawn(plot(rows, frame("life")))
    assert picture.svg is not None
    assert sorted(titles(picture)) == sorted(tell(row) for row in picture.rows)
    widths = {tell(row): bar.until_us - bar.from_us for row, bar in zip(picture.rows, ordered(rows), strict=True)}
    for mark in marks(picture):
        words_of = mark[0].text or ""
        assert width_of(mark) == pytest.approx(widths[words_of] / 7200e6 * WIDTH, abs=0.01), words_of


def ordered(rows: LifeRows) -> list[Bar]:
    """Returns the bars in the order of the table: lane by lane, row by row."""
    return [one for lane in Lane for row in in_rows(rows.of(lane)) for one in row]


def test_the_picture_says_the_same_in_words() -> None:
    picture = drawn(plot(life("BLW-1", a_day().entries, at(7200)), frame("life")))
    assert picture.alt == (
        "Time line of BLW-1, from 2026-03-05 07:00 to 2026-03-05 09:00. It is ready now."
        " Clocks that ran: 3; broken: 1. Holds: 2; still open: 0. Times out: 1."
    )
    assert picture.rows[0] == ("Stage", "used", "2026-03-05 07:00", "2026-03-05 07:10", "0:10:00", "Cycle 1.")
    assert ("Out", "issued", "2026-03-05 08:00", "still goes on", "1:00:00", "WARD-5") in picture.rows
    assert "W-8F3A" not in (picture.svg or "") + picture.alt + str(picture.rows)
    shown = all_texts(picture)
    assert shown.count("Hold") == 2
    assert {"07:00", "2026-03-05", "ready", "broken, does not count"} <= set(shown)
