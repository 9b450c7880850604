"""A recalled lot reaches what was in a bath that was topped up with it, and bars the baths that hold it (L12, L01)."""

from reprocess.engine import request as asking
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import Floor


def test_a_lot_that_topped_a_bath_up_is_found_and_barred(floor: Floor) -> None:
    """L12, L04: the bath names its first lot at each contact; the second one is in it all the same."""
    play(
        floor,
        """
        +0 | anna | HYP-1 made of hypochlorite-50ppm | accepted
        +1 | anna | HYP-1 tested 50                  | accepted
        """,
    )
    until_us = floor.clock.now().wall_us + 90 * DAY_S * SECOND_US
    assert floor.ask(asking.TopUpSolution("HYP-1", "LOT-TOP", until_us, "1")).accepted
    play(
        floor,
        """
        +10  | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +130 | anna | TUB-2 done at 38                     | accepted
        """,
    )
    floor.ask(asking.PreviewRecall("R-1", "lot", "LOT-TOP", "maker's notice"), "gus")
    answer = floor.ask(asking.CommitRecall("R-1"), "gus")
    assert [one.facts["held"] for one in answer.reasons if one.key == "recall-committed"] == [1], answer.reasons
    assert [one.sort for one in floor.item("TUB-2").holds.values()] == ["recall"]
    assert floor.department.solution("HYP-1").recalled is not None
    play(floor, "+200 | anna | TUB-1 disinfect start in HYP-1 at 38 | refused L12 T02")
    assert "L12" in floor.answers[-1].rules()
