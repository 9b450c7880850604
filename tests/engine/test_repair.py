"""Repair and the end of an item: statements, what comes back, waste (H01, H10, L12, P02, S03)."""

import pytest

from reprocess.engine import request as asking
from reprocess.errors import WrongUseError
from reprocess.record import words
from tests.engine.benches import play
from tests.engine.floor import Floor
from tests.engine.test_lots import touched


def test_what_goes_to_repair_uncleaned_says_which_portions_are_contaminated(floor: Floor) -> None:
    """29 CFR 1910.1030(d)(2)(xiv): without a statement it is held all the same, and clinical engineering is told.

    https://www.osha.gov/laws-regs/regulations/standardnumber/1910/1910.1030
    """
    play(
        floor,
        """
        +0 | ben | BLW-1 repair unstated | held H01, key repair-unstated, stage in repair, helps Gus Hale
        +1 | ben | BLW-2 repair unstated | accepted, stage in repair
        +2 | ben | BLW-8 repair          | accepted, stage in repair
        +3 | ben | BLW-3 repair unstated | accepted, stage in repair
        """,
    )
    sent = floor.entries("item:BLW-8")[-1].body
    assert isinstance(sent, words.ItemSentToRepair)
    assert sent.statement == "the outside"
    assert [one.sort for one in floor.item("BLW-1").holds.values()] == ["administrative"]
    assert floor.item("BLW-2").holds == {}


def test_what_comes_back_from_repair_takes_its_whole_cycle(floor: Floor) -> None:
    """P02, L12: whatever stage it left in; the lots of its new parts are linked."""
    play(
        floor,
        """
        +0 | ben | BLW-3 repair                | accepted, stage in repair
        +1 | gus | repaired valve=LOT-7        | accepted, stage used
        +2 | dan | release                     | refused G01 S02
        +3 | gus | BLW-2 repaired              | accepted, warns P02, stage used
        """,
    )
    assert floor.item("BLW-3").cycle == 2
    assert touched(floor, "LOT-7") == {("BLW-3", "valve")}


def test_a_repair_that_did_not_pass_its_test_stays_in_repair(floor: Floor) -> None:
    """H10: held; a stranger's word brings nothing back; a condemned item stays what it is."""
    play(
        floor,
        """
        +0 | ben        | BLW-3 repair     | accepted
        +1 | gus        | repaired failed  | held H10, key repair-failed, stage in repair
        +2 | stranger   | repaired         | held H10, stage in repair
        +3 | gus        | BLW-2 repaired failed | held H10, stage in repair
        +4 | cora + gus | BLW-2 condemn    | accepted, stage condemned
        +5 | gus        | BLW-2 repaired   | accepted P01, stage condemned
        +6 | gus        | BLW-99 repaired  | accepted P05
        """,
    )


def test_a_condemned_item_leaves_with_its_serial_into_a_waste_stream(floor: Floor) -> None:
    """S03: two people; the waste is one of the streams."""
    asked = asking.Condemn("BAT-8", "swollen", waste="battery")
    assert floor.ask(asked, "cora").rules() == ("S03",)
    assert floor.ask(asked, "cora", second="gus").accepted
    body = floor.entries("item:BAT-8")[-1].body
    assert isinstance(body, words.ItemCondemned)
    assert (body.waste, body.serial) == ("battery", floor.item("BAT-8").serial)
    with pytest.raises(WrongUseError):
        floor.ask(asking.Condemn("BLW-1", "worn", waste="river"), "cora", second="gus")
