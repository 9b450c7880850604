"""Lots: received, opened, used up in the order of their days, recalled (L01, L08, L09, L10, L12, L13)."""

from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission
from reprocess.record import words
from reprocess.record.touching import Touched
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import Floor, good_checks

WIPES = "of quat-alcohol-wipe sort=agent unit=canister"


def touched(floor: Floor, lot: str) -> set[tuple[str, str | None]]:
    """Returns the items that ever touched a lot, each with what it was used for."""
    with floor.department.desk.ledger.reading() as cursor:
        rows = cursor.execute("SELECT item, step FROM touch WHERE sort = ? AND name = ?", (Touched.LOT, lot))
        return {(str(item), step) for item, step in rows}


def test_a_container_is_opened_from_a_lot_and_the_lot_is_used_up(floor: Floor) -> None:
    """L13: every container opened takes one; what is not there is told, not refused."""
    play(
        floor,
        f"""
        +0 | anna | LOT-7 received 2 {WIPES} days=90 | accepted
        +1 | anna | QAW-5 made of quat-alcohol-wipe lot=LOT-7 lot_s=7775999 | accepted
        +2 | anna | QAW-6 made of quat-alcohol-wipe lot=LOT-7 lot_s=7775990 | accepted, warns L01
        +3 | anna | QAW-7 made of quat-alcohol-wipe lot=LOT-7 lot_s=7775997 | accepted, warns L13
        +4 | anna | LOT-7 counted 5                  | accepted
        +5 | anna | LOT-7 taken 3                    | accepted
        +6 | anna | LOT-7 taken 9                    | accepted, warns L13
        """,
    )


def test_the_lot_that_expires_first_is_taken_first(floor: Floor) -> None:
    """L01: first expired, first out; a later one is told, an expired one refused with the next lot named."""
    play(
        floor,
        f"""
        +0  | anna | LOT-7 received 5 {WIPES} days=90 | accepted
        +1  | anna | LOT-8 received 5 {WIPES} days=30 | accepted
        +2  | anna | QAW-5 made of quat-alcohol-wipe lot=LOT-7 lot_s=7775990 | accepted, warns L01
        +2  | anna | LOT-7 taken 1                    | accepted, warns L01
        +3  | anna | QAW-6 made of quat-alcohol-wipe lot=LOT-8 lot_s=2591998 | accepted
        +31d | anna | QAW-7 made of quat-alcohol-wipe lot=LOT-8 | refused L01, key lot-over
        +31d | anna | LOT-8 taken 1                   | accepted L01, key lot-over
        """,
    )
    told = [one for answer in floor.answers for one in answer.warnings if one.key == "lot-later"]
    assert [one.facts["next"] for one in told] == ["LOT-8", "LOT-8"]
    assert floor.answers[-2].reasons[0].facts["next"] == "LOT-7"


def test_a_lot_of_another_product_makes_no_bath(floor: Floor) -> None:
    """L01"""
    play(
        floor,
        """
        +0 | anna | LOT-7 received 5 of opa-055 sort=agent days=90      | accepted
        +1 | anna | QAW-5 made of quat-alcohol-wipe lot=LOT-7           | refused L01, key lot-other
        +2 | anna | LOT-7 received 5 of quat-alcohol-wipe sort=agent    | refused L01, key lot-taken
        +3 | anna | OPA-5 made of opa-055 lot=LOT-6                     | accepted, warns L01
        +4 | anna | QAW-5 made of quat-alcohol-wipe lot=LOT-6           | accepted
        """,
    )


def test_the_earlier_of_two_last_days_counts(floor: Floor) -> None:
    """L01: what is typed and what is on record differ, or two deliveries do."""
    play(
        floor,
        f"""
        +0 | anna | LOT-7 received 5 {WIPES} days=10          | accepted
        +0 | anna | LOT-7 received 5 {WIPES} days=20          | accepted, warns L01
        +0 | anna | QAW-5 made of quat-alcohol-wipe lot=LOT-7 | accepted, warns L01
        """,
    )
    lot, wipes = floor.department.lot("LOT-7"), floor.department.solution("QAW-5")
    assert (lot.left, lot.deliveries) == (9, 2)
    assert wipes.lot_expiry_us == lot.expiry_us == floor.clock.now().wall_us + 10 * DAY_S * SECOND_US


def test_what_is_not_on_record_is_told_and_kept(floor: Floor) -> None:
    """L01: using an unknown lot is a fact; receiving nothing, or without a known person, is none."""
    play(
        floor,
        f"""
        +0 | anna     | LOT-7 taken 2                        | accepted L01, key lot-unknown
        +1 | anna     | LOT-7 counted 2                      | accepted L01
        +2 | stranger | LOT-7 received 5 {WIPES} days=10     | refused A01
        +3 | anna     | LOT-7 received 5 {WIPES} days=-1     | accepted, warns L01
        +4 | anna     | QAW-5 made of quat-alcohol-wipe lot=LOT-7 | refused L01, key lot-expired
        """,
    )
    kept = [entry.body for entry in floor.entries("site:LMG") if isinstance(entry.body, words.FactNoted)]
    assert [one.subject for one in kept] == ["lot:LOT-7", "lot:LOT-7"]


def test_a_label_is_known_again(floor: Floor) -> None:
    """L01: what the first lot of a device is, the next one is too."""
    play(
        floor,
        f"""
        +0 | anna | LOT-7 received 5 {WIPES} days=90 reorder=2 device=09506000134352 | accepted
        +1 | anna | LOT-8 received 5 days=90 device=09506000134352                   | accepted
        """,
    )
    lot = floor.department.lot("LOT-8")
    assert (lot.product, lot.sort, lot.unit, lot.reorder_at) == ("quat-alcohol-wipe", "agent", "canister", 2)


def test_a_recalled_lot_is_used_no_more_wherever_it_is(floor: Floor) -> None:
    """L01, L12: neither for a new bath nor in one that holds it, also by topping up; two people clear it."""
    play(
        floor,
        f"""
        +0  | anna       | LOT-7 received 5 {WIPES} days=90          | accepted
        +1  | anna       | QAW-5 made of quat-alcohol-wipe lot=LOT-7 | accepted, warns L01
        +2  | anna       | BLW-2 disinfect start in QAW-5            | accepted
        +3  | anna       | LOT-7 barred                              | accepted L12, key lot-is-recalled
        +4  | anna       | BLT-1 disinfect start in QAW-5            | refused L12, key solution-recalled
        +5  | anna       | QAW-6 made of quat-alcohol-wipe lot=LOT-7 | refused L12, key lot-recalled
        +6  | anna       | LOT-7 received 5 {WIPES} days=90          | accepted, warns L12 L01
        +7  | anna       | LOT-7 cleared                             | refused H10
        +8  | hana + ben | LOT-7 cleared                             | accepted
        +9  | hana + ben | LOT-7 cleared                             | refused H02
        +10 | anna       | QAW-6 made of quat-alcohol-wipe lot=LOT-7 | accepted, warns L01
        +11 | anna       | LOT-9 barred                              | accepted L12
        +12 | anna       | QAW-8 made of quat-alcohol-wipe lot=LOT-9 | refused L12
        +13 | anna       | QAW-1 topped-up                           | accepted, warns L04
        +14 | anna       | LOT-8 barred                              | accepted L12
        """,
    )
    assert floor.answers[3].reasons[0].facts["baths"] == ["QAW-5"]
    assert floor.answers[-1].reasons[0].facts["baths"] == ["QAW-1"]
    assert ("BLW-2", "disinfect") in touched(floor, "LOT-7")
    play(floor, "+20 | anna | HPW-1 topped-up | accepted L12\n | anna | BLT-1 disinfect start in HPW-1 | refused L12")


def test_recalled_or_expired_strips_prove_nothing(floor: Floor) -> None:
    """L08"""
    play(
        floor,
        """
        +0 | anna | OPA-1 made of opa-055                            | accepted
        +1 | anna | STRIPS-9 received 50 of opa-strips sort=strips   | accepted
        +2 | anna | OPA-1 tested 0.3                                 | accepted
        +3 | anna | STRIPS-9 barred                                  | accepted L12
        +4 | anna | OPA-1 tested 0.3                                 | accepted L08
        """,
    )


def test_items_wiped_from_a_dry_canister_are_named(floor: Floor) -> None:
    """L09: the contacts stand, whoever wiped is asked; an open canister is over after its life."""
    floor.bring("BLT-1", "rinse")
    play(
        floor,
        """
        +1000 | anna | QAW-5 made of quat-alcohol-wipe      | accepted
        +1001 | anna | BLW-2 disinfect start in QAW-5       | accepted
        +1002 | anna | QAW-5 ended dry                      | accepted L06
        +1003 | anna | QAW-1 ended dry                      | accepted, warns L09
        +1004 | anna | HPW-1 ended empty                    | accepted
        +1005 | anna | QAW-6 made of quat-alcohol-wipe      | accepted
        +32d  | anna | BLW-2 disinfect start in QAW-6       | refused L09
        """,
    )
    assert "BLT-1" in floor.answers[-4].warnings[0].facts["items"]  # type: ignore[operator]


def test_a_detergent_out_of_date_cleans_nothing(floor: Floor) -> None:
    """L10: expired or recalled is refused, unknown is told; the item touches the lot it was cleaned with."""
    play(
        floor,
        """
        +0  | anna | DET-1 received 9 of enzyme-wash sort=detergent days=1 | accepted
        +0  | anna | DET-2 received 9 of enzyme-wash sort=detergent days=9 | accepted
        +1  | anna | BLW-1 take-apart                                     | accepted
        """,
    )
    clean = floor.workflow("BLW-1").step_named("clean")
    assert clean is not None
    asked = asking.DoStep("BLW-1", "clean", good_checks(clean), reason="small", lot="DET-1")
    floor.clock.push(DAY_S)
    refused = floor.ask(asked)
    assert ("L10", "lot-over") in [(one.rule, one.key) for one in refused.reasons]
    assert [one.facts["next"] for one in refused.reasons if one.rule == "L10"] == ["DET-2"]
    done = floor.ask(asking.DoStep("BLW-1", "clean", good_checks(clean), reason="small", lot="DET-2"))
    assert done.accepted
    assert touched(floor, "DET-2") == {("BLW-1", "clean")}
    play(floor, "| anna | DET-2 barred | accepted L12")
    again = floor.ask(asking.DoStep("BLW-1", "clean", good_checks(clean), reason="small", lot="DET-2"))
    assert ("L10", "lot-recalled") in [(one.rule, one.key) for one in again.reasons]
    unknown = floor.ask(asking.DoStep("BLW-2", "clean", good_checks(clean), reason="small", lot="DET-7"))
    assert "L10" not in unknown.rules()


def test_an_item_and_an_assembly_are_found_by_the_lots_in_them(floor: Floor) -> None:
    """L12: commissioned from a lot, gaskets fitted from a lot; recalled and expired lots go into neither."""
    play(
        floor,
        """
        +0 | anna | LOT-7 received 3 of LF-H sort=part days=90  | accepted
        +0 | anna | LOT-8 received 9 of LG-1 sort=part          | accepted
        """,
    )
    office = floor.department.station("BENCH", badge="B-CORA")
    assert office.enrol(Commission("FLT-20", "hepa-cartridge", "LF-H", lot="LOT-7")).warnings == ()
    assert [one.key for one in office.enrol(Commission("FLT-21", "hepa-cartridge", "LF-H", lot="L-0")).warnings] == [
        "lot-unknown"
    ]
    assert floor.department.lot("LOT-7").left == 2
    assert floor.item("FLT-20").lot == "LOT-7"
    step = next(one for one in floor.workflow("KIT-1").steps if one.assembles)
    parts = ("BLW-3", "TUB-3", "HED-3", "FLT-3", "FLT-4", "BAT-3", "BLT-3")
    counts = {"gaskets": 2, "plugs": 1}
    build = asking.Assemble("KIT-1", "three-port-hepa", parts, counts, good_checks(step), {"gaskets": "LOT-8"})
    assert floor.ask(build, "ben").accepted
    assert floor.department.lot("LOT-8").left == 7
    assert touched(floor, "LOT-8") == {("KIT-1", "gaskets")}
    assert touched(floor, "LOT-7") == {("FLT-20", None)}
    play(floor, "| anna | LOT-8 barred | accepted L12\n| anna | LOT-7 barred | accepted L12")
    assert "L12" in floor.ask(build, "ben").rules()
    assert office.enrol(Commission("FLT-22", "hepa-cartridge", "LF-H", lot="LOT-7")).rules() == ("L12",)


def test_more_is_ordered_once_a_delivery(floor: Floor) -> None:
    """L13: all lots of a product count together; the supply coordinator is told by the lot that came last."""
    play(
        floor,
        f"""
        +0 | anna | LOT-7 received 3 {WIPES} days=90 reorder=4 | accepted
        +1 | anna | LOT-8 received 3 {WIPES} days=90 reorder=4 | accepted
        +2 | anna | LOT-7 taken 1                              | accepted
        """,
    )
    assert low(floor) == []
    play(floor, "+3 | anna | LOT-7 taken 1 | accepted")
    assert low(floor) == ["L13/lot:LOT-8/delivery-2/low"]
    play(floor, f"+4 | anna | LOT-9 received 3 {WIPES} days=90 reorder=4 | accepted")
    assert low(floor) == []
    play(floor, "+5 | anna | LOT-8 barred | accepted L12")
    assert low(floor) == ["L13/lot:LOT-9/delivery-3/low"]


def low(floor: Floor) -> list[str]:
    """Returns the keys of the reminders to order more."""
    return [due for due in dues(floor, "lot:") if due.startswith("L13")]


def dues(floor: Floor, prefix: str) -> list[str]:
    """Returns the keys of the reminders of every subject whose name begins so."""
    with floor.department.desk.ledger.reading() as cursor:
        rows = cursor.execute("SELECT key FROM due WHERE subject LIKE ? ORDER BY key", (f"{prefix}%",))
        return [str(row[0]) for row in rows]
