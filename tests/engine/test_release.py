"""Calling an item ready: all gates at once, and nothing changes when one is shut (G01-G10)."""

from reprocess.engine import request as asking
from tests.engine.benches import play
from tests.engine.floor import Floor

PARTS = "BLW-3 TUB-3 HED-3 FLT-3 FLT-2 BAT-3 BLT-3"


def test_an_item_is_ready_only_with_every_mandated_step(floor: Floor) -> None:
    """G01: and the release names the evidence of each."""
    floor.bring("BLW-2", "functional-test")
    play(floor, "+0 | dan | BLW-2 release | refused G01, next functional-test")
    floor.bring("BLW-2", "ready")
    body = floor.entries("item:BLW-2")[-1].body
    standing = floor.item("BLW-2")
    evidence = {name: one.number for name, one in standing.satisfied.items() if name != "release"}
    assert getattr(body, "evidence", {}) == evidence
    assert set(evidence) == {
        "take-apart", "clean", "clean-check", "disinfect", "rinse", "dry", "inspect", "functional-test",
    }  # fmt: skip


def test_wrong_person_open_hold_missing_gasket_and_expired_part_are_told_together(floor: Floor) -> None:
    """A02, G02, M07, T12 in one answer; the respirator's own stream only says that it was seen."""
    floor.bring("FLT-2", "ready")
    assert floor.build("KIT-1", "three-port-hepa", PARTS).accepted
    floor.bring("KIT-1", "release")
    play(floor, "+5d | ben | KIT-1 hold recall lot 7F | held H04")
    before = {name: floor.item(name).number for name in ("KIT-1", *PARTS.split())}
    play(
        floor,
        """
        +60 | erin | KIT-1 release no gaskets-in-place | held A02 G02 M07 T12
        """,
    )
    assert floor.kinds("KIT-1", before.pop("KIT-1")) == ["held-sighted"]
    assert {name: floor.item(name).number for name in before} == before
    refused = floor.entries("station:BENCH")[-1].body
    assert set(getattr(refused, "rules", ())) == {"A02", "G02", "M07", "T12"}
    assert getattr(refused, "verdict", "") == "held"


def test_the_only_actor_is_told_the_same_four_things(floor: Floor) -> None:
    """S02 in the place of A02: one person assembled, tested and would release."""
    floor.bring("FLT-2", "ready")
    assert floor.build("KIT-1", "three-port-hepa", PARTS).accepted
    floor.bring("KIT-1", "release")
    play(
        floor,
        """
        +5d | ben | KIT-1 hold recall lot 7F          | held H04
        +5d | ben | KIT-1 release no gaskets-in-place | held S02 G02 M07 T12
        """,
    )


def test_a_shut_gate_does_not_spoil_another_bench(floor: Floor) -> None:
    """A refused attempt is kept at the station; the next good scan of the item goes through."""
    floor.bring("BLW-2", "release")
    play(
        floor,
        """
        +60 | erin @ SINK | BLW-2 release | refused A02 P09
        +60 | dan         | BLW-2 release | accepted, stage ready
        """,
    )


def test_a_tag_that_is_not_the_item_s_is_a_fact(floor: Floor) -> None:
    """G03: said at the release, it stays on record as a hold, and a second try does not make it go away."""
    floor.bring("BLW-2", "release")
    play(
        floor,
        """
        +60 | dan | BLW-2 release no same-item | held G03
        +61 | dan | BLW-2 release              | held G02
        """,
    )
    (hold,) = floor.item("BLW-2").holds.values()
    assert (hold.sort, hold.cause) == ("defect", "ID-MISMATCH")


def test_a_release_answers_its_own_checklist(floor: Floor) -> None:
    floor.bring("BLW-2", "release")
    play(
        floor,
        """
        +60 | dan | BLW-2 release without same-item | refused P01
        +61 | dan | BLW-2 release strangers=3       | refused M08
        """,
    )


def test_an_open_clock_is_no_release(floor: Floor) -> None:
    """T17"""
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in HPW-1 | accepted
        +10 | dan  | release                        | refused T17 G01
        """,
    )


def test_paper_counts_only_where_the_workflow_says_so(floor: Floor) -> None:
    """G10, D06: the blower takes none; for the probe two people decide, and say why."""
    play(
        floor,
        """
        +0    | anna       | BLW-3 used                          | accepted
        +3600 | anna + ben | BLW-3 take-apart on form P-7 at 600 | accepted
        """,
    )
    floor.bring("BLW-3", "release")
    play(floor, "+60 | dan | BLW-3 release | refused G10, helps Cora Lind")
    play(
        floor,
        """
        +0 | anna       | OPA-1 made of opa-055            | accepted
        +1 | anna       | OPA-1 tested 0.3                 | accepted
        +2 | anna + ben | PRB-1 leak-test on form P-8 at 0 | accepted
        """,
    )
    floor.bring("PRB-1", "release", in_="OPA-1")
    play(
        floor,
        """
        +60 | dan        | PRB-1 release                            | refused D06, helps Cora Lind
        +61 | dan + cora | release passing over D06 form-came-late   | refused D06 A08
        +62 | fay        | agree override D06                        | accepted
        +63 | dan + cora | release passing over D06 form-came-late   | accepted, warns D06, stage ready
        """,
    )
    assert floor.item("PRB-1").satisfied["leak-test"].sort == "attested"


def test_what_two_people_confirmed_may_be_released(floor: Floor) -> None:
    """E07, G10: a clock that the system started is more than a form."""
    play(
        floor,
        """
        +0   | anna       | HYP-1 made of hypochlorite-50ppm     | accepted
        +1   | anna       | HYP-1 tested 50                      | accepted
        +10  | anna       | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +20  | clock      | off 300                              |
        +330 | anna + dan | done undisturbed at 38               | accepted
        """,
    )
    floor.bring("TUB-2", "release")
    play(floor, "+60 | cora | TUB-2 release | accepted, stage ready")


def test_a_cycle_is_judged_by_the_workflow_it_began_under(floor: Floor) -> None:
    """D11"""
    digest = floor.item("BLW-2").digest
    floor.bring("BLW-2", "ready")
    assert getattr(floor.entries("item:BLW-2")[-1].body, "digest", "") == digest


def test_ready_keeps_as_long_as_the_workflow_says(floor: Floor) -> None:
    """T13, G07: thirty days for a respirator, or as long as its part that ends first; no end for its parts."""
    ready_until = floor.item("KIT-7").ready_until_us
    released = next(entry for entry in floor.entries("item:KIT-7") if entry.kind == "item-released")
    opened_us, limit_us = floor.item("FLT-7").opened_us, 365 * 86_400_000_000
    assert opened_us is not None
    assert ready_until == opened_us + limit_us < released.at_us + 30 * 86_400_000_000
    assert floor.item("BLW-7").ready_until_us is None
    floor.bring("BLT-8", "ready")
    floor.clock.push(3600)
    assert floor.build("KIT-1", "three-port-hepa", "BLW-3 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-8").accepted
    floor.bring("KIT-1", "release")
    play(floor, "+60 | dan | KIT-1 release | accepted, warns G07, stage ready")
    assert floor.item("KIT-1").ready_until_us == floor.item("BLT-8").ready_until_us
    floor.ask(asking.Contaminate("KIT-7", "used"))
    assert floor.item("KIT-7").ready_until_us is None
