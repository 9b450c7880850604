"""Places: stores and their readings, cabinets, water and vapour (Q01-Q08, H01, L11, L14, E28)."""

import pytest

from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission
from reprocess.errors import WrongUseError
from reprocess.record import words
from tests.engine.benches import play
from tests.engine.floor import Floor, good_checks
from tests.engine.test_lots import dues

STORE = """
    +0 | cora | ST-1 set-up store par=2     | accepted
       | cora | CAB-1 set-up cabinet seal=S-1 par=1 ask=flow_l_per_min | accepted
       | cora | Q-1 set-up quarantine zone=dirty | accepted
       | cora | BIN-1 set-up drop-point zone=dirty | accepted
"""


def test_only_what_is_released_goes_into_a_clean_store(floor: Floor) -> None:
    """Q01: not what is used, held, elsewhere or unknown; what is ready goes nowhere dirty."""
    play(
        floor,
        STORE
        + """
        +1 | ben  | BLW-3 put-in ST-1            | accepted
        +2 | ben  | BLW-2 put-in ST-1            | refused Q01, key not-released
        +3 | ben  | BLW-8 put-in ST-1            | refused Q01
        +4 | ben  | BLW-77 put-in ST-1           | refused P05
        +5 | ben  | BLW-7 put-in ST-9            | refused Q01, key place-unknown
        +6 | ben  | TUB-7 put-in BIN-1           | refused Q01, key place-not-clean
        +7 | ben  | BLW-2 put-in BIN-1           | accepted
        +8 | ben  | TUB-7 hold administrative paper lost | held H04
        +9 | ben  | TUB-7 put-in ST-1            | held G02
        +10 | ben | TUB-7 put-in Q-1             | accepted
        +11 | erin | ST-2 set-up store          | refused A08
        +12 | ben | BLW-3 take-out               | accepted
        +13 | ben | BLW-3 take-out               | refused P05, key lies-nowhere
        """,
    )
    assert (floor.item("BLW-3").place, floor.item("TUB-7").place, floor.item("BLW-2").place) == (None, "Q-1", "BIN-1")


def test_what_failed_is_scanned_in_its_quarantine_place(floor: Floor) -> None:
    """H01: within 15 minutes; the scan there ends the reminder."""
    play(
        floor,
        STORE
        + """
        +1 | anna | BLW-2 fail clean CASE-CRACK | held H01
        """,
    )
    (hold,) = floor.item("BLW-2").holds.values()
    assert hold.place is None
    reminders = [due for due in dues(floor, "item:BLW-2") if due.startswith("H01")]
    assert len(reminders) == 1
    play(floor, "+2 | anna | BLW-2 put-in Q-1 | accepted")
    (hold,) = floor.item("BLW-2").holds.values()
    assert hold.place == "Q-1"
    assert [due for due in dues(floor, "item:BLW-2") if due.startswith("H01")] == []


def test_a_store_out_of_its_limits_for_an_hour_is_looked_through(floor: Floor) -> None:
    """Q02: more than 60 minutes, by the next reading, good or bad; once for one such time."""
    play(
        floor,
        STORE
        + """
        +1    | ben | BLW-3 put-in ST-1          | accepted
              | ben | ST-1 reads temp_c=30       | accepted
        +10   | ben | ST-1 reads temp_c=30.1     | accepted Q02, key store-out
        +3610 | ben | ST-1 reads temp_c=31       | accepted Q02, key store-out
        +3611 | ben | ST-1 reads temp_c=20       | held Q02, key store-out-for-long
        +3612 | ben | ST-1 reads temp_c=31       | accepted Q02, key store-out
        +7213 | ben | ST-1 reads temp_c=31       | held Q02
        +7999 | ben | ST-1 reads temp_c=31       | accepted Q02, key store-out
        +9000 | ben | ST-1 reads humidity_percent=65.5 | accepted Q02
              | ben | ST-1 reads temp_c=warm     | refused M08
              | ben | ST-9 reads temp_c=20       | accepted Q01, key place-unknown
        """,
    )
    assert [one.rule for one in floor.item("BLW-3").holds.values()] == ["Q02", "Q02"]
    with pytest.raises(WrongUseError):
        floor.ask(asking.ReadPlace("ST-1", "noise_db", "3"))


def test_the_monthly_inspection_of_a_cabinet_keeps_its_day(floor: Floor) -> None:
    """Q03, Q04, Q06, R04: reminders seven and three days ahead, on the day, and after it; whole records only."""
    play(
        floor,
        STORE
        + """
        +1 | ben | KIT-7 put-in CAB-1                               | accepted
        +2 | ben | KIT-7 looked-at unsaid                           | refused Q04 Q06
        +3 | ben | KIT-7 looked-at good flow_l_per_min=180          | refused Q04
        +4 | -   | KIT-7 looked-at good none flow_l_per_min=180     | refused A01
        +5 | ben | KIT-7 looked-at good none flow_l_per_min=180     | accepted
        """,
    )
    found = [due for due in dues(floor, "item:KIT-7") if due.startswith("Q03")]
    assert found == [f"Q03/item:KIT-7/2026-04-05/{when}" for when in ("-3", "-7", "0", "over")]
    body = floor.entries("item:KIT-7")[-1].body
    assert isinstance(body, words.ItemInspectedInStore)
    assert (body.place, body.readings, body.action) == ("CAB-1", {"flow_l_per_min": "180"}, "none")


def test_no_longer_interval_than_three_months_is_set(floor: Floor) -> None:
    """Q06: monthly, up to three months where use is occasional (rule catalogue, Q06)."""
    play(
        floor,
        """
        +0 | cora | CAB-2 set-up cabinet months=4 | refused Q06
        +1 | cora | CAB-2 set-up cabinet months=3 | accepted
        +2 | ben  | KIT-7 put-in CAB-2            | accepted
        """,
    )
    first = next(due for due in dues(floor, "item:KIT-7") if due.startswith("Q03"))
    assert first in {"Q03/item:KIT-7/2026-04-04/-3", "Q03/item:KIT-7/2026-06-04/-3"}
    play(floor, "+3 | cora | CAB-2 set-up cabinet months=1 | accepted")
    assert "2026-04-04" in next(due for due in dues(floor, "item:KIT-7") if due.startswith("Q03"))


def test_a_missing_unit_or_a_broken_seal_asks_for_another_one(floor: Floor) -> None:
    """Q05"""
    play(
        floor,
        STORE
        + """
        +1 | ben | KIT-7 put-in CAB-1                | accepted
        +2 | ben | KIT-7 looked-at seal-broken opened | held Q05, key seal-broken
        +3 | ben | KIT-7 looked-at unsaid gone    | held Q05, key unit-missing
        +4 | ben | KIT-77 looked-at unsaid gone   | accepted P05
        +5 | ben | BLW-3 put-in ST-1                 | accepted
        +6 | ben | BLW-3 looked-at crack failed      | held Q03, key found-in-store
        """,
    )
    assert floor.item("KIT-7").stage == "lost"
    assert floor.department.place("CAB-1").restock == "a unit is missing"
    assert [due for due in dues(floor, "place:CAB-1") if due.startswith("Q05")]


def test_a_place_below_its_par_is_told(floor: Floor) -> None:
    """Q07: what is ready and free of holds counts; taken out, issued or held is no longer there."""
    play(floor, STORE)
    assert par(floor) == 1
    play(floor, "+1 | ben | BLW-3 put-in ST-1 | accepted\n| ben | FLT-3 put-in ST-1 | accepted")
    assert par(floor) == 0
    play(floor, "+2 | ben | FLT-3 take-out | accepted")
    assert par(floor) == 1
    play(floor, "+3 | ben | FLT-3 put-in ST-1 | accepted\n| ben | BLW-3 dropped | accepted")
    assert par(floor) == 1
    report = floor.department.verify(full=True)
    assert report.sound, report


def par(floor: Floor) -> int:
    """Returns how many reminders of the store's par level there are."""
    return sum(1 for due in dues(floor, "place:ST-1") if due.startswith("Q07"))


def test_what_runs_out_first_is_taken_first(floor: Floor) -> None:
    """Q08: of the same model in the same place."""
    play(
        floor,
        STORE
        + """
        +1 | ben | BLW-3 put-in ST-1 | accepted
           | ben | FLT-3 put-in ST-1 | accepted
           | ben | FLT-4 put-in ST-1 | accepted
        """,
    )
    ends = {item: floor.item(item).ready_until_us for item in ("FLT-3", "FLT-4")}
    if ends["FLT-3"] == ends["FLT-4"]:
        play(floor, "+2 | ben | FLT-4 take-out | accepted")
    else:
        later = max(ends, key=lambda item: ends[item] or 0)
        play(floor, f"+2 | ben | {later} take-out | accepted, warns Q08")


def test_a_cabinet_opened_in_an_emergency_empties_into_unknown_hands(floor: Floor) -> None:
    """E28, U01: by the seal, without scans; what was counted as present stays, the rest is with nobody knows whom."""
    play(
        floor,
        STORE
        + """
        +1 | ben  | KIT-7 put-in CAB-1                      | accepted
        +2 | ben  | BLW-3 put-in CAB-1                      | accepted
        +3 | ben  | FLT-3 put-in CAB-1                      | accepted
        +4 | ben  | FLT-3 hold administrative paper lost    | held H04
        +5 | -    | CAB-1 broken-open S-7 of BLW-3 BLW-99   | accepted E28 H05
        +6 | ben  | CAB-9 broken-open S-7                   | accepted Q01
        """,
    )
    facts = {one.key: one.facts for one in floor.answers[-2].reasons}
    assert facts["cabinet-opened"]["taken"] == ["FLT-3", "KIT-7"]
    assert facts["taken-in-doubt"]["items"] == ["FLT-3"]
    assert facts["not-of-this-cabinet"]["items"] == ["BLW-99"]
    assert facts["other-seal"]["known"] == "S-1"
    kit = floor.item("KIT-7")
    assert kit.custody is not None
    assert (kit.custody.wearer, kit.custody.purpose, kit.custody.place, kit.place) == (None, "emergency", "CAB-1", None)
    assert kit.stage == "ready"
    assert floor.item("BLW-3").custody is None
    assert floor.department.place("CAB-1").seal is None


def test_a_cabinet_is_sealed_with_what_is_known_and_ready(floor: Floor) -> None:
    """Q01, Q05, Q07"""
    play(
        floor,
        STORE
        + """
        +1 | ben  | KIT-7 put-in CAB-1              | accepted
        +2 | ben  | CAB-1 broken-open S-1 of KIT-7  | accepted E28
        +3 | ben  | CAB-1 sealed S-2 of BLW-2 BLW-99 | refused Q01 P05 Q05
        +4 | ben  | CAB-1 sealed S-2                | refused Q05
        +5 | ben  | CAB-1 sealed S-2 of KIT-7 BLW-3 | accepted
        +6 | ben  | ST-1 sealed S-2 of KIT-7        | refused Q01
        +7 | cora | CAB-3 set-up cabinet par=3      | accepted
        +8 | ben  | CAB-3 sealed S-9 of FLT-3       | accepted, warns Q07
        """,
    )
    cabinet = floor.department.place("CAB-1")
    assert (cabinet.seal, cabinet.restock) == ("S-2", None)
    assert {one.item for one in floor.department.items_at("CAB-1")} == {"KIT-7", "BLW-3"}


def test_vapour_stops_every_new_soak_until_it_is_gone(floor: Floor) -> None:
    """L14: 0.05 ppm of an aldehyde (ACGIH ceiling), 1 ppm of hydrogen peroxide (CDC 2008); equality is in limits."""
    play(
        floor,
        """
        +0  | cora | WP-1 set-up ward                            | accepted
        +0  | anna | OPA-1 made of opa-055                       | accepted
        +0  | anna | OPA-1 tested 0.3                            | accepted
        +1  | anna | WP-1 reads vapour_aldehyde_ppm=0.05         | accepted
        +2  | anna | WP-1 reads vapour_aldehyde_ppm=0.051        | accepted L14, key vapour-alarm
        +3  | anna | PRB-2 disinfect start in OPA-1 at 21        | refused L14
        +4  | anna | BLW-2 disinfect start in HPW-1              | accepted
        +5  | anna | WP-1 reads vapour_peroxide_ppm=1            | accepted
        +6  | anna | PRB-2 disinfect start in OPA-1 at 21        | refused L14
        +7  | anna | WP-1 reads vapour_aldehyde_ppm=0.04         | accepted
        +8  | -    | WP-1 alarms vapour_peroxide_ppm             | accepted L14
        +9  | anna | PRB-2 disinfect start in OPA-1 at 21        | refused L14
        +10 | anna | WP-1 reads vapour_peroxide_ppm=0.2          | accepted
        +11 | anna | PRB-2 disinfect start in OPA-1 at 21        | accepted
        """,
    )


def test_a_rinse_needs_water_that_was_good_today(floor: Floor) -> None:
    """L11: the right grade, every reading in limits within a day; one bad reading holds what was rinsed before it."""
    rinse(floor)
    play(
        floor,
        """
        +0     | cora | WP-1 set-up water-point grade=drinking cfu_per_ml=..10 | accepted
        """,
    )
    assert rules(floor) == {("L11", "water-too-poor"), ("L11", "water-not-read")}
    play(
        floor,
        """
        +1     | cora | WP-1 set-up water-point grade=critical cfu_per_ml=..10 | accepted
        +2     | anna | WP-1 reads cfu_per_ml=11                               | accepted L11, key water-failed
        """,
    )
    assert rules(floor) == {("L11", "water-out")}
    play(floor, "+3 | anna | WP-1 reads cfu_per_ml=10 | accepted")
    assert rules(floor) == set()
    item = floor.item("BSN-1")
    assert "rinse" in item.satisfied
    play(floor, "+60 | anna | WP-1 reads cfu_per_ml=12 | held L11")
    item = floor.item("BSN-1")
    assert "rinse" not in item.satisfied
    assert [(one.sort, one.rule) for one in item.holds.values()] == [("solution", "L11")]
    play(
        floor,
        """
        +70    | anna | WP-1 reads cfu_per_ml=0                                | accepted
        +2d    | anna | BSN-2 used                                             | accepted
        """,
    )
    assert rules(floor, "BSN-2") == {("L11", "water-not-read")}
    play(floor, "+2d | cora | WP-2 set-up water-point grade=critical cfu_per_ml=..10 | accepted")
    assert rules(floor, "BSN-2") == {("L11", "water-unknown")}
    assert rules(floor, "BSN-2", "WP-1") == {("L11", "water-not-read")}


def test_a_site_without_water_points_is_told_that_nobody_measures(floor: Floor) -> None:
    """L11"""
    rinse(floor)
    answer = floor.ask(asking.DoStep("BSN-1", "rinse", {"clear": True}))
    assert answer.accepted
    assert [(one.rule, one.key) for one in answer.warnings] == [("L11", "water-unmeasured")]


def rinse(floor: Floor) -> None:
    """Commissions two basins whose rinse needs filtered water."""
    office = floor.department.station("BENCH", badge="B-CORA")
    for name in ("BSN-1", "BSN-2"):
        assert office.enrol(Commission(name, "basin", "LB-9")).accepted


def rules(floor: Floor, item: str = "BSN-1", water: str | None = None) -> set[tuple[str, str]]:
    """Returns why the rinse of an item is refused now."""
    step = floor.workflow(item).step_named("rinse")
    assert step is not None
    answer = floor.ask(asking.DoStep(item, "rinse", good_checks(step), water=water))
    return {(one.rule, one.key) for one in answer.reasons}
