"""Counted parts that move between batches make the one they join no better than they are (P02, P16, S01, T11, T12)."""

import pytest

from reprocess.engine.request import MoveCounted
from reprocess.errors import WrongUseError
from tests.engine.benches import play
from tests.engine.floor import Floor


def holds(floor: Floor, item: str) -> list[tuple[str, str]]:
    return [(hold.sort, hold.cause) for hold in floor.item(item).holds.values()]


def test_new_parts_join_a_new_batch(floor: Floor) -> None:
    play(floor, "+0 | anna | CLP-1 move 4 to CLP-2 | accepted")
    assert (floor.item("CLP-1").quantity, floor.item("CLP-2").quantity) == (36, 14)
    assert floor.item("CLP-2").cycle == 1


def test_ready_parts_join_a_ready_batch(floor: Floor) -> None:
    for item in ("GSK-1", "CLP-1", "CLP-2"):
        floor.bring(item, "ready")
    play(floor, "+0 | anna | CLP-1 move 4 to CLP-2 | accepted, stage ready")
    assert floor.item("CLP-2").stage == "ready"


def test_parts_on_their_way_make_a_batch_on_its_way_start_again(floor: Floor) -> None:
    """S01: who cleaned the one batch did perhaps not clean the other; nobody has to work that out."""
    play(
        floor,
        """
        +0 | anna | CLP-1 clean           | accepted
        +1 | ben  | CLP-2 clean           | accepted
        +2 | dan  | CLP-1 move 1 to CLP-2 | accepted P02
        +3 | anna | CLP-2 inspect         | refused P01, stage used
        """,
    )


@pytest.mark.parametrize("way", ["used", "repair", "lost", "dropped"])
def test_a_ready_batch_that_anything_else_joins_starts_again(floor: Floor, way: str) -> None:
    floor.bring("CLP-2", "ready")
    play(
        floor,
        f"""
        +0 | anna | CLP-1 {way}           | accepted
        +1 | anna | CLP-1 move 1 to CLP-2 | accepted P02
        """,
    )
    assert floor.item("CLP-2").stage == "used"


def test_parts_out_of_a_wipe_make_a_ready_batch_start_again(floor: Floor) -> None:
    """L07: a wipe that is found useless later must not miss them."""
    floor.bring("PLG-1", "ready")
    floor.bring("PLG-2", "ready")
    play(floor, "+0 | anna | PLG-1 move 1 to PLG-2 | accepted P02")
    assert floor.item("PLG-2").stage == "used"


def test_what_parts_carry_the_batch_carries(floor: Floor) -> None:
    """P16, T11: blood, and the time since the use."""
    play(
        floor,
        """
        +0    | anna | CLP-1 used class blood ended -60 | accepted
        +3540 | anna | CLP-1 move 1 to CLP-2            | accepted P02
        +3541 | anna | CLP-2 clean                      | refused P01, next blood-clean
        """,
    )
    assert floor.item("CLP-2").contamination_class == "blood"
    assert floor.item("CLP-2").use_ended_us == floor.item("CLP-1").use_ended_us
    assert floor.kinds("CLP-2").count("delay-found") == 1


def test_old_parts_make_a_new_batch_old(floor: Floor) -> None:
    """T12: in service since 10 March of last year, a life of a year."""
    play(floor, "+0 | anna | CLP-1 move 1 to CLP-2 | accepted")
    assert floor.item("CLP-2").in_service_us == floor.item("CLP-1").in_service_us
    floor.bring("CLP-2", "release")
    play(floor, "+5d | dan | CLP-2 release | refused T12")


def test_worn_parts_make_a_new_batch_worn(floor: Floor) -> None:
    """T12: cycles."""
    for _ in range(2):
        floor.bring("CLP-1", "ready")
        play(floor, "+0 | anna | CLP-1 used | accepted")
    play(floor, "+0 | anna | CLP-1 move 1 to CLP-2 | accepted P02")
    floor.bring("CLP-2", "release")
    play(floor, "+60 | dan | CLP-2 release | refused T12")


def test_a_hold_comes_along_and_condemned_parts_never_come_back_unseen(floor: Floor) -> None:
    """H02, S03"""
    floor.bring("CLP-2", "ready")
    play(
        floor,
        """
        +0 | cora       | CLP-1 hold recall lot 7F | held H04
        +1 | cora + ben | condemn                  | accepted
        +2 | anna       | CLP-1 move 1 to CLP-2    | held P02
        """,
    )
    assert sorted(holds(floor, "CLP-2")) == [
        ("defect", "parts of CLP-1: condemned"),
        ("recall", "parts of CLP-1: lot 7F"),
    ]
    assert floor.item("CLP-2").stage == "used"


def test_condemned_parts_hold_a_used_batch_too(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | cora + ben | CLP-1 condemn         | accepted
        +1 | anna       | CLP-1 move 1 to CLP-2 | held P02
        """,
    )
    assert holds(floor, "CLP-2") == [("defect", "parts of CLP-1: condemned")]


@pytest.mark.parametrize(
    ("item", "other", "quantity"),
    [
        ("CLP-1", "CLP-3", 1),
        ("CLP-1", "CLP-4", 1),
        ("CLP-1", "GSK-1", 1),
        ("CLP-1", "CLP-1", 1),
        ("CLP-1", "CLP-99", 1),
        ("CLP-1", "CLP-2", 0),
        ("CLP-1", "CLP-2", 41),
        ("BLW-1", "BLW-2", 1),
    ],
)
def test_only_parts_of_one_kind_model_and_site_move(floor: Floor, item: str, other: str, quantity: int) -> None:
    with pytest.raises(WrongUseError):
        floor.ask(MoveCounted(item, other, quantity))


def test_nothing_joins_a_condemned_batch(floor: Floor) -> None:
    play(floor, "+0 | cora + ben | CLP-2 condemn | accepted")
    with pytest.raises(WrongUseError):
        floor.ask(MoveCounted("CLP-1", "CLP-2", 1))
