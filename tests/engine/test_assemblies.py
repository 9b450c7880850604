"""Putting parts together and what becomes of them (C01-C05, C09, C12, M07, U11)."""

import pytest

from reprocess.definitions.read import digest_of
from reprocess.engine.enrolling import Approve, Publish
from reprocess.shipped import folder
from tests.engine.benches import play
from tests.engine.floor import Floor

PARTS = "BLW-3 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-3"
CANISTERS = "BLW-3 TUB-3 HED-3 CAN-1 CAN-2 CAN-3 BAT-3 BLT-3"
TWO_PORTS = "BLX-3 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-3"
REST = "TUB-3 HED-3 BAT-3 BLT-3"


def scan(configuration: str, parts: str, gaskets: int, plugs: int, expected: str, rest: str = "") -> str:
    counts = f"gaskets={gaskets} plugs={plugs}"
    return f"+0 | ben | KIT-1 assemble {configuration} of {parts} {counts} {rest} | {expected}"


@pytest.mark.parametrize(
    ("configuration", "parts", "gaskets", "plugs"),
    [
        ("three-port-hepa", PARTS, 2, 1),
        ("three-port-canister", CANISTERS, 3, 0),
        ("two-port-hepa", TWO_PORTS, 2, 0),
    ],
)
def test_each_set_up_goes_together_in_its_own_way(
    floor: Floor, configuration: str, parts: str, gaskets: int, plugs: int
) -> None:
    """C02-C05, M07: filters and plugs fill the ports, each filter has its gasket."""
    play(floor, scan(configuration, parts, gaskets, plugs, "accepted, next functional-test"))
    members = floor.item("KIT-1").members
    assert sorted(members.values()) == sorted(parts.split())
    assert {floor.item(name).assembly for name in members.values()} == {"KIT-1"}
    assert floor.item(members["blower"]).slot == "blower"


@pytest.mark.parametrize(
    ("configuration", "parts", "gaskets", "plugs", "expected"),
    [
        # A third port stays open: no plug.
        ("three-port-hepa", PARTS, 2, 0, "refused C05"),
        ("three-port-hepa", PARTS, 2, 2, "refused C05"),
        ("three-port-hepa", PARTS, 1, 1, "refused M07"),
        ("three-port-hepa", PARTS, 3, 1, "refused M07"),
        ("three-port-hepa", PARTS, 0, 0, "refused C05 M07"),
        # One filter is missing, its port plugged.
        ("three-port-hepa", PARTS.replace("FLT-4 ", ""), 2, 2, "refused C03"),
        ("three-port-hepa", PARTS.replace("FLT-4 ", ""), 2, 1, "refused C03 C05"),
        # A part of each kind, and one only.
        ("three-port-hepa", PARTS.replace("BLT-3", ""), 2, 1, "refused C02"),
        ("three-port-hepa", PARTS.replace("TUB-3 HED-3", ""), 2, 1, "refused C02"),
        ("three-port-hepa", PARTS + " TUB-7", 2, 1, "refused C02 C09"),
        ("three-port-hepa", PARTS + " BLW-3", 2, 1, "refused C09"),
        ("three-port-hepa", PARTS.replace("BAT-3", "BAT-9"), 2, 1, "refused P05 C02"),
        # Never a canister where a cartridge belongs, nor another blower.
        ("three-port-hepa", PARTS.replace("FLT-4", "CAN-1"), 2, 1, "refused C01 C03 C05"),
        ("three-port-hepa", CANISTERS, 3, 0, "refused C01 C03 C05 M07"),
        ("three-port-hepa", TWO_PORTS, 2, 1, "refused C01 C02"),
        ("two-port-hepa", PARTS, 2, 0, "refused C01 C02"),
        ("four-port-hepa", PARTS, 2, 1, "refused C01"),
        # A part that is not ready, of another site, or in another respirator.
        ("three-port-hepa", PARTS.replace("BLW-3", "BLW-2"), 2, 1, "refused C02"),
        ("three-port-hepa", PARTS.replace("BLW-3", "BLW-8"), 2, 1, "refused C02 C12"),
        ("three-port-hepa", PARTS.replace("HED-3", "HED-7"), 2, 1, "refused C09"),
    ],
)
def test_what_does_not_go_together_is_refused_with_every_reason(
    floor: Floor, configuration: str, parts: str, gaskets: int, plugs: int, expected: str
) -> None:
    before = {name: floor.item(name).number for name in ("KIT-1", *PARTS.split())}
    play(floor, scan(configuration, parts, gaskets, plugs, expected))
    assert {name: floor.item(name).number for name in before} == before


def test_a_line_answered_no_is_no_assembly(floor: Floor) -> None:
    """M07, C05: the counts are right and one gasket is torn."""
    play(floor, scan("three-port-hepa", PARTS, 2, 1, "refused M07, key check-failed", "no gaskets-good"))
    play(floor, scan("three-port-hepa", PARTS, 2, 1, "refused C05, key check-failed", "no ports-filled"))
    play(floor, scan("three-port-hepa", PARTS, 2, 1, "refused P01", "without belt-holds"))
    play(floor, scan("three-port-hepa", PARTS, 1, 1, "refused P01 M07", "without belt-holds"))


def test_a_count_that_is_not_given_is_not_right(floor: Floor) -> None:
    play(
        floor,
        f"""
        +0 | ben | KIT-1 assemble three-port-hepa of {PARTS} gaskets=2                 | refused M07, key count-missing
        +0 | ben | KIT-1 assemble three-port-hepa of {PARTS} plugs=1                   | refused M07
        +0 | ben | KIT-1 assemble three-port-hepa of {PARTS} gaskets=2 plugs=1 clips=4 | refused M08
        """,
    )


def test_an_assembly_has_its_people_order_side_and_holds_too(floor: Floor) -> None:
    play(
        floor,
        f"""
        +0 | erin       | KIT-1 assemble three-port-hepa of {PARTS} gaskets=2 plugs=1 | refused A02
        +0 | ben @ SINK | KIT-1 assemble three-port-hepa of {PARTS} gaskets=2 plugs=1 | refused P09
        +0 | ben        | KIT-7 assemble three-port-hepa of {PARTS} gaskets=2 plugs=1 | refused P01
        +0 | ben        | KIT-1 hold administrative paper lost                        | held H04
        +0 | ben        | KIT-1 assemble three-port-hepa of {PARTS} gaskets=2 plugs=1 | held H04
        +0 | cora       | KIT-1 lift 1                                                | accepted
        +0 | ben        | HED-3 hold defect scratched                                 | held H04
        +0 | ben        | KIT-1 assemble three-port-hepa of {PARTS} gaskets=2 plugs=1 | held G02
        """,
    )


def test_a_respirator_without_parts_is_never_ready(floor: Floor) -> None:
    """C02"""
    play(floor, "+0 | dan | KIT-1 release | refused G01 C02 S02")


def test_use_of_a_respirator_is_use_of_its_parts(floor: Floor) -> None:
    """P02, U11: it is dissolved, and every part starts again."""
    parts = list(floor.item("KIT-7").members.values())
    play(floor, "+0 | ben | KIT-7 used class isolation | accepted, stage used")
    assert floor.item("KIT-7").members == {}
    assert {floor.item(name).stage for name in parts} == {"used"}
    assert {floor.item(name).contamination_class for name in parts} == {"isolation"}
    assert {floor.item(name).assembly for name in parts} == {None}
    play(floor, "+1 | ben | KIT-7 undo | refused E14")
    play(floor, "+1 | ben | BLW-7 undo | refused E14")


@pytest.mark.parametrize(
    ("scan_", "stage"),
    [
        ("ben | TUB-7 dropped", "used"),
        ("ben | TUB-7 repair", "in repair"),
        ("ben | TUB-7 lost", "lost"),
        ("cora + ben | TUB-7 condemn", "condemned"),
    ],
)
def test_a_part_that_leaves_takes_its_respirator_out_of_ready(floor: Floor, scan_: str, stage: str) -> None:
    """C02, P02"""
    play(floor, f"+0 | {scan_} | accepted, stage {stage}")
    assert floor.item("KIT-7").stage == "used"
    assert floor.item("TUB-7").assembly is None
    play(floor, "+1 | dan | KIT-7 release | refused G01 C02 C09")


def test_a_part_with_a_failed_step_takes_its_respirator_out_of_ready(floor: Floor) -> None:
    before = floor.item("KIT-7").number
    play(floor, "+0 | ben | TUB-7 fail inspect TUBE-CUT | held H01, stage dried")
    assert floor.item("KIT-7").stage == "used"
    play(floor, "+1 | ben | BLW-7 fail inspect BLW-CRACK | held H01, stage used")
    play(floor, "+2 | ben | HED-7 hold recall lot 7F | held H04")
    assert floor.kinds("KIT-7", before) == ["steps-fell"]


def test_a_part_that_left_and_came_back_elsewhere_belongs_to_the_other_respirator(floor: Floor) -> None:
    """C09, P02: what happens to its former respirator is not its business any more, and the other way round."""
    play(floor, "+0 | ben | TUB-7 dropped | accepted")
    floor.bring("TUB-7", "ready")
    play(floor, scan("three-port-hepa", PARTS.replace("TUB-3", "TUB-7"), 2, 1, "accepted"))
    floor.bring("KIT-1", "ready")
    play(floor, "+0 | ben | KIT-7 used | accepted")
    assert (floor.item("TUB-7").stage, floor.item("TUB-7").assembly) == ("ready", "KIT-1")
    assert floor.item("KIT-1").stage == "ready"
    play(floor, "+1 | ben | TUB-7 dropped | accepted, stage used")
    assert floor.item("KIT-1").stage == "used"


def test_building_a_respirator_anew_does_not_pull_a_part_out_of_another(floor: Floor) -> None:
    """C09: the former respirator is built again with another tube; the first tube stays where it is."""
    play(floor, "+0 | ben | TUB-7 dropped | accepted")
    floor.bring("TUB-7", "ready")
    play(floor, scan("three-port-hepa", PARTS.replace("TUB-3", "TUB-7"), 2, 1, "accepted"))
    floor.bring("KIT-1", "ready")
    again = "BLW-7 TUB-3 HED-7 FLT-7 FLT-8 BAT-7 BLT-7"
    play(
        floor,
        f"""
        +0 | ben | KIT-7 assemble three-port-hepa of {again} gaskets=2 plugs=1 | accepted, warns C06
        """,
    )
    assert (floor.item("TUB-7").assembly, floor.item("TUB-3").assembly) == ("KIT-1", "KIT-7")
    play(floor, "+1 | ben | TUB-7 soaked | accepted, stage used")
    assert floor.item("KIT-1").stage == "used"


def test_a_replaced_part_leaves(floor: Floor) -> None:
    """C09"""
    play(
        floor,
        f"""
        +0  | ben | KIT-1 assemble three-port-hepa of {PARTS} gaskets=2 plugs=1 | accepted
        +50 | ben | KIT-1 functional-test flow_l_per_min=150                    | held M03, stage used
        +60 | ben | KIT-1 assemble three-port-hepa of {PARTS} gaskets=2 plugs=1 | accepted, warns H04
        +70 | ben | KIT-1 fail assemble GSK-MISSING                             | accepted H01
        """,
    )
    other = PARTS.replace("FLT-4", "FLT-2")
    floor.bring("FLT-2", "ready")
    play(
        floor,
        f"""
        +0 | ben | KIT-1 assemble three-port-hepa of {other} gaskets=2 plugs=1 | accepted, warns C06 H04
        """,
    )
    assert (floor.item("FLT-4").assembly, floor.item("FLT-2").assembly) == (None, "KIT-1")


def held(floor: Floor, item: str) -> list[tuple[str, str]]:
    return [(hold.sort, hold.cause) for hold in floor.item(item).holds.values()]


def test_a_part_takes_the_holds_of_its_respirator_along(floor: Floor) -> None:
    """H02: the flow was too low, and nobody knows yet which part it was."""
    play(
        floor,
        f"""
        +0  | ben | KIT-1 assemble three-port-hepa of {PARTS} gaskets=2 plugs=1 | accepted
        +50 | ben | KIT-1 functional-test flow_l_per_min=150                    | held M03
        +60 | ben | BLW-3 dropped                                               | accepted
        """,
    )
    assert held(floor, "BLW-3") == [("defect", "as part of KIT-1: BLW-FLOW")]
    other = PARTS.replace("BLW-3", "BLW-7").replace("FLT-4", "FLT-2")
    floor.bring("FLT-2", "ready")
    play(floor, "+0 | ben | KIT-7 used | accepted")
    floor.bring("BLW-7", "ready")
    play(floor, scan("three-port-hepa", other, 2, 1, "accepted, warns C06 H04"))
    assert held(floor, "FLT-4") == [("defect", "as part of KIT-1: BLW-FLOW")]
    assert held(floor, "FLT-3") == []
    play(floor, "+1 | ben | KIT-1 used | accepted")
    assert held(floor, "FLT-3") == [("defect", "as part of KIT-1: BLW-FLOW")]


def test_a_respirator_held_for_one_part_leaves_the_others_alone(floor: Floor) -> None:
    """G02: the hold stays with the part that it is about."""
    play(
        floor,
        """
        +0 | ben | TUB-7 hold recall lot 7F | held H04
        +1 | ben | KIT-7 used               | accepted
        """,
    )
    assert held(floor, "TUB-7") == [("recall", "lot 7F")]
    assert held(floor, "BLW-7") == []


def test_a_respirator_is_not_free_before_its_part_is(floor: Floor) -> None:
    """G02: lifted in that order."""
    play(
        floor,
        """
        +0 | ben        | TUB-7 hold recall lot 7F | held H04
        +1 | cora + dan | KIT-7 lift 1             | held G02
        +2 | cora + dan | TUB-7 lift 1             | accepted
        +3 | cora + dan | KIT-7 lift 1             | accepted
        """,
    )


def test_a_part_sent_to_repair_takes_them_along_too(floor: Floor) -> None:
    play(
        floor,
        f"""
        +0  | ben | KIT-1 assemble three-port-hepa of {PARTS} gaskets=2 plugs=1 | accepted
        +50 | ben | KIT-1 functional-test flow_l_per_min=150                    | held M03
        +60 | ben | BLW-3 repair                                                | accepted
        +70 | ben | BLW-3 returned-from-repair                                  | accepted
        """,
    )
    assert held(floor, "BLW-3") == [("defect", "as part of KIT-1: BLW-FLOW")]


def test_a_part_that_is_put_aside_after_its_assembly_shuts_the_release(floor: Floor) -> None:
    """C02, G02, T12, T13: judged anew at the release."""
    play(floor, scan("three-port-hepa", PARTS, 2, 1, "accepted"))
    floor.bring("KIT-1", "release")
    play(
        floor,
        """
        +60 | ben | HED-3 hold recall lot 7F | held H04
        +61 | dan | KIT-1 release            | held G02
        """,
    )


def test_a_configuration_that_changed_since_is_not_the_one_that_was_built(floor: Floor) -> None:
    """C05, M07: the release counts again, under what is in force."""
    play(floor, scan("three-port-hepa", PARTS, 2, 1, "accepted"))
    floor.bring("KIT-1", "release")
    text = (folder() / "configurations" / "three-port-canister.yaml").read_text(encoding="utf-8")
    text = text.replace("configuration: three-port-canister", "configuration: three-port-hepa")
    publish = Publish("configuration", "three-port-hepa", digest_of(text), text)
    assert floor.department.station("BENCH", badge="B-HANA").enrol(publish).accepted
    approve = Approve("configuration", "three-port-hepa", digest_of(text))
    assert floor.department.station("BENCH", badge="B-CORA").enrol(approve).accepted
    play(floor, "+60 | dan | KIT-1 release | refused C01 C03 M07")
