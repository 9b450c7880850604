"""Reminders of lots (L01, L13), places (Q02, Q05, Q07) and charged batteries (B04, R05)."""

from dataclasses import replace

from reprocess.record.lots import Lot
from reprocess.record.stores import Place, Seen
from reprocess.terms import DAY_S, SECOND_US
from reprocess.timetable import for_lot, for_place
from reprocess.timetable.place import Stock
from tests.timetable.moments import at

NOON_US = at("2026-03-05T12:00+00:00")
DAY_US = DAY_S * SECOND_US
LOT = Lot(
    "LOT-7", "wipes", "agent", "LMG", "can", NOON_US + 60 * DAY_US, 3, reorder_at=2, received_us=NOON_US,
    deliveries=1, changed_us=NOON_US, number=1,
)  # fmt: skip
STORE = Place("ST-1", "Store", "store", "clean", "LMG", number=1)


def test_a_lot_is_brought_to_mind_thirty_days_ahead_and_when_it_is_over() -> None:
    """L01"""
    near, over = for_lot(LOT, [LOT])
    assert (near.due_us, over.due_us) == (NOON_US + 30 * DAY_US, NOON_US + 60 * DAY_US)
    assert [one.words["say"] for one in (near, over)] == ["lot-near", "lot-over"]
    short = replace(LOT, expiry_us=NOON_US + 30 * DAY_US)
    assert [one.words["say"] for one in for_lot(short, [short])] == ["lot-over"]
    assert for_lot(replace(LOT, left=0, reorder_at=None), []) == ()
    assert for_lot(replace(LOT, recalled="N-1", reorder_at=None), []) == ()
    assert for_lot(replace(LOT, expiry_us=None), [LOT]) == ()


def test_more_is_ordered_at_the_reorder_point_and_not_above_it() -> None:
    """L13: over all good lots together, said by the one that came in last."""
    two = replace(LOT, left=2)
    assert [one.rule for one in for_lot(two, [two])] == ["L01", "L01", "L13"]
    other = replace(LOT, lot="LOT-6", left=1, received_us=NOON_US - 1)
    assert [one.rule for one in for_lot(two, [two, other])] == ["L01", "L01"]
    expired = replace(other, expiry_us=NOON_US)
    assert [one.rule for one in for_lot(two, [two, expired])] == ["L01", "L01", "L13"]
    assert [one.rule for one in for_lot(expired, [two, expired])] == ["L01"]


def test_a_place_asks_for_what_it_lacks() -> None:
    """Q05, Q07, R10, Q02: sixty minutes out of limits; equality with par is enough."""
    par = replace(STORE, par=2)
    assert for_place(par, Stock(2, NOON_US), "Europe/London") == ()
    (low,) = for_place(par, Stock(1, NOON_US), "Europe/London")
    assert (low.rule, low.key) == ("Q07", "Q07/place:ST-1/2026-03-05/par")
    assert for_place(STORE, None, "Europe/London") == ()
    (bring,) = for_place(replace(STORE, restock="opened", restock_us=NOON_US), None, "Europe/London")
    assert bring.rule == "Q05"
    seen = {"temp_c": Seen("31", NOON_US, good=False, limit="5..30", out_us=NOON_US)}
    (out,) = for_place(replace(STORE, seen=seen), None, "Europe/London")
    assert (out.rule, out.due_us) == ("Q02", NOON_US + 3600 * SECOND_US)
    assert for_place(replace(STORE, sort="water-point", seen=seen), None, "Europe/London") == ()
    vapour = {"vapour_peroxide_ppm": seen["temp_c"]}
    assert for_place(replace(STORE, seen=vapour), None, "Europe/London") == ()
