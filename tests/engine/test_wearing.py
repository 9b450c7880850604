"""Putting on, wearing and taking off: refused before it is worn, told afterwards (M01, U03, U06, U08, U12, B07)."""

import pytest

from reprocess.engine import request as asking
from reprocess.errors import WrongUseError
from reprocess.ledger.append import looking
from reprocess.record import words
from tests.engine.benches import play
from tests.engine.floor import OPENING_US, Floor

PUT_ON = """
+10 | gus       | KIT-7 put-on look-over  | accepted
+20 | gus       | put-on filters          | accepted
+30 | gus       | put-on battery          | accepted
+40 | gus       | put-on flow             | accepted
+50 | gus       | put-on buckle-on        | accepted
+60 | gus + ben | put-on head-cover       | accepted
"""


def test_a_respirator_is_put_on_worn_and_taken_off_in_order(floor: Floor) -> None:
    """U03, U08: afterwards it and every part of it is used."""
    parts = list(floor.item("KIT-7").members.values())
    play(floor, PUT_ON)
    worn = floor.item("KIT-7")
    assert (worn.stage, worn.wear and worn.wear.wearer, worn.wear and worn.wear.on_us) == (
        "ready", "GUS", OPENING_US + 60_000_000,
    )  # fmt: skip
    play(
        floor,
        """
        +3600 | gus + ben | KIT-7 take-off gloves-and-gown      | accepted
        +3610 | gus + ben | take-off head-cover                 | accepted
        +3620 | gus       | take-off unbuckle seen soil         | accepted
        +3630 | gus       | take-off hands seen blood isolation | accepted, stage used
        """,
    )
    for name in ("KIT-7", *parts):
        assert (floor.item(name).stage, floor.item(name).assembly) == ("used", None)
    blower = floor.item(next(name for name in parts if name.startswith("BLW")))
    assert (blower.contamination_class, blower.use_ended_us) == ("blood", OPENING_US + 3660_000_000)
    assert floor.item("KIT-7").wear is None
    floor.assert_kept_whole("KIT-7")


def test_putting_on_keeps_its_order_and_skips_nothing(floor: Floor) -> None:
    """P01, S08, M02, M07"""
    play(
        floor,
        """
        +0  | gus       | KIT-7 put-on flow                    | refused P01, key wear-order
        +1  | gus       | put-on look-over without tube-sound  | refused P01, key check-missing
        +2  | gus       | put-on look-over                     | accepted
        +3  | gus       | put-on filters                       | accepted
        +4  | gus       | put-on filters                       | refused P01, key wear-done-already
        +5  | gus       | put-on battery soc_percent=NaN       | refused M08
        +6  | gus       | put-on battery                       | accepted
        +7  | gus       | put-on flow with FI-2                | refused M02
        +8  | gus       | put-on flow                          | accepted
        +9  | gus       | put-on buckle-on                     | accepted
        +10 | gus       | put-on head-cover                    | refused S08
        +11 | stranger  | put-on head-cover                    | refused A01 S08
        +12 | gus + gus | put-on head-cover                    | refused S08
        +13 | gus + ben | put-on head-cover                    | accepted
        +14 | gus + ben | put-on head-cover                    | refused U06, key worn-already
        +15 | ben       | put-on look-over                     | refused U06
        """,
    )


@pytest.mark.parametrize(
    ("found", "rule"),
    [
        ("look-over no tube-sound", "U03"),
        ("filters no gaskets-good", "M07"),
        ("filters gaskets=1", "M07"),
        ("filters plugs=0", "M07"),
        ("battery soc_percent=89", "U02"),
        ("flow no flow-enough", "M01"),
    ],
)
def test_what_the_look_over_finds_takes_it_out_of_service(floor: Floor, found: str, rule: str) -> None:
    """U03: held at once, whatever the order; another one is offered, and it is not put on again."""
    play(floor, f"+0 | gus | KIT-7 put-on {found} | held {rule}")
    assert floor.item("KIT-7").held
    assert floor.item("KIT-7").stage == "used"
    play(floor, "+9 | gus | KIT-7 put-on look-over | refused M01, key not-ready-to-wear")


def test_nothing_is_put_on_that_is_not_ready_or_whose_part_is_not(floor: Floor) -> None:
    """G02, M01, T12, T13"""
    play(floor, "+0 | gus | KIT-1 put-on look-over | refused M01")
    part = next(name for name in floor.item("KIT-7").members.values() if name.startswith("TUB"))
    floor.ask(asking.PlaceHold(part, "recall", "lot 9", "cora"), "cora")
    play(floor, "+1 | gus | KIT-7 put-on look-over | held G02")
    floor.clock.push(31 * 86_400)
    play(floor, f"+{31 * 86_400 + 5} | gus | KIT-7 put-on look-over | held G02 T12 T13")


def test_only_a_respirator_is_put_on(floor: Floor) -> None:
    for request in (asking.PutOn("BLW-3", "look-over"), asking.TakeOff("BLW-3", "hands"), asking.PutOn("KIT-7", "fly")):
        with pytest.raises(WrongUseError):
            floor.ask(request, "gus")
    with pytest.raises(WrongUseError, match="blood, isolation, soil"):
        floor.ask(asking.TakeOff("KIT-7", "hands", {}, ("ink",)), "gus")
    with pytest.raises(WrongUseError, match="low-battery"):
        floor.ask(asking.TellSignal("KIT-7", "hungry"), "gus")


def test_taking_off_in_disorder_is_told_and_never_refused(floor: Floor) -> None:
    """U08: nobody watched, the head before the hands; it is used all the same."""
    play(floor, PUT_ON)
    play(
        floor,
        """
        +100 | gus | KIT-7 take-off head-cover no face-untouched | accepted, warns U08
        +110 | gus | take-off hands                              | accepted, warns U08
        +120 | -   | take-off unbuckle                           | accepted, warns U08
        +130 | gus | take-off gloves-and-gown                    | accepted, warns U08, stage used
        """,
    )


def test_taking_off_what_nobody_put_on_is_a_fact_too(floor: Floor) -> None:
    """U12: the record was wrong, not the wearer."""
    play(floor, "+0 | gus | KIT-7 take-off hands seen blood | accepted, warns U08 U12, stage used")
    assert floor.item("BLW-7").contamination_class == "blood"
    play(floor, "+1 | gus | KIT-7 take-off hands | accepted, warns U08 U12, stage used")
    assert floor.item("KIT-7").wear is None
    play(floor, "+9 | gus | KIT-7 put-on look-over | refused M01")


def test_the_low_battery_alarm_asks_the_wearer_to_leave_and_rings_when_its_time_is_over(floor: Floor) -> None:
    """B07: about 30 minutes; after a minute of wear the battery is to be tested as well (B06)."""
    play(floor, PUT_ON)
    answer = floor.ask(asking.TellSignal("KIT-7", "low-battery"), "gus")
    assert answer.rules() == ("B07", "B06")
    assert "Leave the contaminated area now" in str(answer.reasons[0].facts["asks"])
    with looking(floor.department.ledger) as read:
        rings = [row.due for row in read.dues.coming(2**62) if row.due.rule == "B07"]
    assert [(due.subject, due.due_us) for due in rings] == [("item:KIT-7", OPENING_US + (60 + 1800) * 1_000_000)]
    play(floor, "+200 | gus + ben | KIT-7 take-off gloves-and-gown | accepted")
    with looking(floor.department.ledger) as read:
        assert [row for row in read.dues.coming(2**62) if row.due.rule == "B07"] == []


def test_a_battery_is_changed_in_use_for_a_ready_one_only(floor: Floor) -> None:
    """U12: both are on record; the old one is used, the new one is a member and is used with it at the end."""
    old = floor.item("KIT-7").members["battery"]
    play(floor, "+0 | gus | KIT-7 swap battery BAT-3 | refused U12, key not-worn")
    play(floor, PUT_ON)
    play(
        floor,
        """
        +70 | gus | KIT-7 swap blower BLW-3             | refused U12, key not-swapped-in-use
        +71 | gus | KIT-7 swap battery BAT-99           | refused P05
        +72 | gus | KIT-7 swap battery TUB-3            | refused C03
        +74 | gus | KIT-7 swap battery BAT-3            | accepted
        """,
    )
    assert (floor.item(old).stage, floor.item(old).assembly) == ("used", None)
    assert floor.item("KIT-7").members["battery"] == "BAT-3"
    assert (floor.item("BAT-3").assembly, floor.item("BAT-3").stage) == ("KIT-7", "ready")
    for step in ("gloves-and-gown", "head-cover", "unbuckle", "hands"):
        floor.ask(asking.TakeOff("KIT-7", step), "gus")
    assert floor.item("BAT-3").stage == "used"
    floor.assert_kept_whole("KIT-7")
    floor.assert_kept_whole("BAT-3")


NEW = "BLW-3 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-3"


def test_what_was_worn_goes_nowhere_before_it_is_cleaned(floor: Floor) -> None:
    """U06: its battery dropped, it is ready no longer; no other parts free the worn ones, and no release follows."""
    play(floor, PUT_ON)
    floor.ask(asking.Contaminate("BAT-7", "dropped"), "gus")
    assert floor.item("KIT-7").stage == "used"
    for part in NEW.split():
        floor.bring(part, "ready")
    assert "U06" in floor.build("KIT-7", "three-port-hepa", NEW).rules()
    assert floor.item("TUB-7").assembly == "KIT-7"
    assert "C09" in floor.build("KIT-1", "three-port-hepa", NEW.replace("TUB-3", "TUB-7")).rules()
    floor.ask(asking.Contaminate("KIT-7", "used"), "gus")
    assert floor.item("TUB-7").stage == "used"


def test_a_part_found_bad_takes_its_hold_along(floor: Floor) -> None:
    """U03, H02: whatever becomes of the kit, what was in it stays held."""
    play(floor, "+0 | gus | KIT-7 put-on look-over no tube-sound | held U03")
    play(floor, "+9 | cora + dan | KIT-7 condemn | accepted")
    assert [hold.rule for hold in floor.item("TUB-7").holds.values()] == ["U03"]


def test_what_is_condemned_stays_condemned(floor: Floor) -> None:
    """P01: whatever is told of taking it off or changing its battery."""
    play(floor, PUT_ON)
    play(floor, "+70 | cora + dan | BAT-7 condemn | accepted")
    play(floor, "+80 | gus | KIT-7 swap battery BAT-3 | accepted")
    assert floor.item("BAT-7").stage == "condemned"
    play(floor, "+90 | cora + dan | KIT-7 condemn | accepted")
    for step in ("gloves-and-gown", "head-cover", "unbuckle", "hands"):
        floor.ask(asking.TakeOff("KIT-7", step), "gus")
    assert floor.item("KIT-7").stage == "condemned"


def test_a_putting_on_that_was_left_begins_anew(floor: Floor) -> None:
    """U03: after half an hour, by somebody else, or when it fell meanwhile."""
    play(
        floor,
        """
        +0    | gus | KIT-7 put-on look-over | accepted
        +10   | gus | put-on filters         | accepted
        +20   | ben | put-on battery         | refused U06, key other-wearer
        +30   | ben | put-on look-over       | accepted
        +40   | gus | put-on filters         | refused U06
        +1830 | ben | put-on filters         | accepted
        +1831 | ben | put-on battery         | refused P01, key wear-order
        +1832 | ben | put-on look-over       | accepted
        """,
    )
    floor.ask(asking.Contaminate("BAT-7", "dropped"), "gus")
    assert floor.item("KIT-7").wear is None


def test_a_signal_that_tells_of_a_fault_holds_the_respirator(floor: Floor) -> None:
    """B07, H01: whoever tells it, worn or not; a low battery alone holds nothing, and makes nobody its wearer."""
    play(floor, "+0 | - | KIT-7 signal low-battery | accepted B07")
    assert floor.item("KIT-7").wear is None
    play(floor, "+1 | gus | KIT-7 signal damage-in-use | held B07")
    play(floor, "+2 | gus | KIT-7 put-on look-over | held G02")


def test_a_bad_answer_after_a_swap_is_a_fact(floor: Floor) -> None:
    """U12: the battery was changed, and the respirator is held; the alarm's time is over."""
    play(floor, PUT_ON)
    floor.ask(asking.TellSignal("KIT-7", "low-battery"), "gus")
    play(floor, "+70 | gus | KIT-7 swap battery BAT-3 no air-felt | held U12, key check-failed")
    assert floor.item("KIT-7").members["battery"] == "BAT-3"
    assert floor.item("KIT-7").held
    wear = floor.item("KIT-7").wear
    assert wear is not None
    assert wear.signals == ()


def test_a_battery_that_is_elsewhere_already_stays_there(floor: Floor) -> None:
    """U12, I12: it was dropped in use, cleaned and built into another kit before the swap was told."""
    play(floor, PUT_ON)
    floor.ask(asking.Contaminate("BAT-7", "dropped"), "gus")
    others = NEW.replace("BAT-3", "BAT-7")
    for part in others.split():
        floor.bring(part, "ready")
    assert floor.build("KIT-1", "three-port-hepa", others).accepted
    play(floor, "+1 | gus | KIT-7 swap battery BAT-3 | accepted")
    assert (floor.item("BAT-7").assembly, floor.item("BAT-7").stage) == ("KIT-1", "ready")
    floor.assert_kept_whole("BAT-7")
    floor.assert_kept_whole("KIT-7")


def test_no_assembly_is_a_part(floor: Floor) -> None:
    """C01"""
    answer = floor.build("KIT-1", "three-port-hepa", f"{NEW} KIT-7")
    assert "assembly-in-assembly" in [one.key for one in answer.reasons]


def test_a_swap_is_judged_like_an_assembly(floor: Floor) -> None:
    """A01, C02, C03, C09: who, whether it is ready, of the approved model, and not in it already."""
    floor.bring("BAT-8", "ready")
    play(floor, PUT_ON)
    play(
        floor,
        """
        +70 | stranger | KIT-7 swap battery BAT-3 | refused A01
        +71 | gus      | swap battery BAT-7       | refused C09, key scanned-twice
        +72 | gus      | swap battery BAT-8       | refused C03, key does-not-fit
        +73 | anna     | BAT-3 used               | accepted
        +74 | gus      | KIT-7 swap battery BAT-3 | refused C02
        +75 | gus + gus | KIT-7 take-off gloves-and-gown | accepted, warns U08
        +76 | gus      | KIT-7 swap battery BAT-3 | refused U12 C02, key not-worn
        """,
    )


def test_what_strayed_and_what_it_was_looked_at_with_is_on_record(floor: Floor) -> None:
    """U08, H08: a flow indicator found faulty later names the respirator that was put on with it."""
    play(floor, PUT_ON)
    wear = floor.item("KIT-7").wear
    assert wear is not None
    assert wear.instruments == ("FI-1",)
    floor.ask(asking.TakeOff("KIT-7", "hands"), "gus")
    with looking(floor.department.ledger) as read:
        last = read.latest_of("item:KIT-7", 1)[0].body
    assert isinstance(last, words.WearStepDone)
    assert last.strayed
