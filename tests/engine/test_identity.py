"""Which thing a record is about: unreadable codes, duplicate labels, swapped tags, lost identities (E20-E22, S03)."""

from __future__ import annotations

from reprocess.engine import request as asking
from reprocess.record import words
from tests.engine.benches import play
from tests.engine.floor import Floor, good_checks, good_counts, good_readings


def good(floor: Floor) -> tuple[dict[str, bool], dict[str, str], dict[str, int]]:
    step = floor.workflow("BLW-1").step_named("take-apart")
    assert step is not None
    return good_checks(step), good_readings(step), good_counts(step)


def test_a_code_that_cannot_be_read_is_typed_twice_or_by_two_people(floor: Floor) -> None:
    """E20: and the item waits for a new label until it has one."""
    play(
        floor,
        """
        +0 | anna       | BLW-1 typed       | refused E20, key type-twice
        +1 | anna       | BLW-1 typed BLW-2 | refused E20, key typed-unlike
        +2 | stranger   | BLW-1 typed BLW-1 | refused A01
        +3 | anna + ben | BLW-1 typed BLW-2 | refused E20, key typed-unlike
        +4 | anna       | BLW-1 typed BLW-1 | accepted, warns E20
        +5 | anna + ben | BLW-2 typed       | accepted, warns E20
        """,
    )
    shown = [floor.entries(f"item:{item}")[-1].body for item in ("BLW-1", "BLW-2")]
    assert [body.shown_by for body in shown if isinstance(body, words.CodeTyped)] == ["typed-twice", "two-people"]
    since = floor.item("BLW-1").relabel_us
    assert since is not None
    play(
        floor,
        """
        +10 | anna | BLW-1 typed BLW-1 | accepted, warns E20
        """,
    )
    assert floor.item("BLW-1").relabel_us == since
    play(floor, "+20 | anna | BLW-1 tag BLW-1 | accepted")
    assert floor.item("BLW-1").relabel_us is None


def test_nothing_is_released_while_its_label_cannot_be_read(floor: Floor) -> None:
    """G03, E20"""
    floor.bring("BLW-2", "release")
    play(
        floor,
        """
        +0  | anna | BLW-2 typed BLW-2 | accepted, warns E20
        +60 | dan  | BLW-2 release     | refused G03
        +61 | anna | BLW-2 tag BLW-2   | accepted
        +90 | dan  | BLW-2 release     | accepted, stage ready
        """,
    )


def test_a_new_tag_means_the_item_and_no_two_items_share_one(floor: Floor) -> None:
    """E22: the id stays for ever; the tag is another name for it, until it is withdrawn."""
    play(
        floor,
        """
        +0  | anna        | BLW-1 tag N-77  | refused S03
        +0  | anna + ben  | BLW-1 tag N-77  | refused S03, key role-needed
        +0  | anna + cora | BLW-1 tag BLW-2 | refused E22, key tag-taken
        +0  | anna + cora | BLW-1 tag N-77  | accepted
        +1  | anna + cora | BLW-2 tag N-77  | refused E22, key tag-taken
        +2  | anna        | BLW-2 untag N-77 | refused E22, key no-such-tag
        """,
    )
    taken = floor.ask(asking.DoStep("N-77", "take-apart", *good(floor)))
    assert (taken.accepted, taken.subject) == (True, "item:BLW-1")
    assert "take-apart" in floor.item("BLW-1").satisfied
    play(
        floor,
        """
        +10 | anna        | BLW-1 untag N-77 | accepted
        +11 | anna + cora | BLW-2 tag N-77   | accepted
        +12 | anna + cora | BLW-2 tag N-78   | accepted
        +13 | anna + cora | BLW-1 tag N-77   | accepted
        """,
    )
    assert (floor.item("BLW-1").tag, floor.item("BLW-2").tag) == ("N-77", "N-78")
    assert floor.department.verify(full=True).sound


def test_two_items_with_one_code_are_both_held_until_two_people_settle_it(floor: Floor) -> None:
    """E21, S03: the assembly of one of them is held with it."""
    play(
        floor,
        """
        +0 | anna       | BLW-7 doubt BLW-3 | held E21
        +1 | ben        | BLW-3 lift 1      | refused H10
        +2 | cora + dan | BLW-3 lift 1      | accepted
        """,
    )
    for item in ("BLW-7", "KIT-7"):
        assert [hold.sort for hold in floor.item(item).holds.values()] == ["identity"]
    assert not floor.item("BLW-3").holds


def test_entries_that_were_about_another_item_stay_but_count_no_more(floor: Floor) -> None:
    """E21: the steps fall, the other item starts again; in doubt neither is ready."""
    before = floor.item("BLW-2").number
    cleaned = floor.item("BLW-2").satisfied["clean"].number
    play(
        floor,
        f"""
        +0  | anna + cora | BLW-2 split BLW-3 : {cleaned} | refused E21, key doubt-first
        +1  | anna        | BLW-2 doubt BLW-3             | held E21
        +2  | anna + ben  | BLW-2 split BLW-3 : {cleaned} | refused S03
        +3  | anna + cora | BLW-2 split BLW-3 : 1         | refused E21, key not-to-split
        +3  | anna + cora | BLW-2 split BLW-3 : 9999      | refused E21, key not-to-split
        +3  | anna + cora | BLW-2 split NOT-1 : {cleaned} | refused P05
        +4  | anna + cora | BLW-2 split BLW-3 : {cleaned} | accepted, stage used
        """,
    )
    item, other = floor.item("BLW-2"), floor.item("BLW-3")
    assert set(item.satisfied) == {"take-apart"}
    assert (other.stage, other.satisfied) == ("used", {})
    assert floor.kinds("BLW-2", before) == ["hold-placed", "history-split"]
    split = floor.entries("item:BLW-2")[-1].body
    assert isinstance(split, words.HistorySplit)
    assert (split.other, split.numbers, split.fell) == ("BLW-3", (cleaned,), ("clean", "clean-check"))
    joined = [entry.body for entry in floor.entries("item:BLW-3") if isinstance(entry.body, words.HistoryJoined)]
    assert [(one.other, one.numbers) for one in joined] == [("BLW-2", (cleaned,))]


def test_an_item_whose_identity_is_lost_begins_anew_under_a_new_id(floor: Floor) -> None:
    """E22: linked to the old one, as used; its cycles count on (T12)."""
    cycles = floor.item("BLW-3").cycles_done
    play(
        floor,
        """
        +0 | anna + cora | BLW-3 renamed BLW-900 | refused E21, key doubt-first
        +1 | anna        | BLW-3 doubt           | held E21
        +2 | anna + cora | BLW-3 renamed BLW-1   | refused E22, key tag-taken
        +3 | anna        | BLW-3 renamed BLW-900 | refused S03
        +4 | anna + cora | BLW-3 renamed BLW-900 | accepted
        +5 | anna        | BLW-900 take-apart    | accepted
        +6 | anna        | BLW-3 take-apart      | held P01 H04
        """,
    )
    new = floor.item("BLW-900")
    assert (new.was, new.stage, new.cycles_done, new.model) == ("BLW-3", "used", cycles, "LB-3")
    assert cycles > 0
    assert floor.item("BLW-3").stage == "lost"


def test_nothing_about_an_unknown_item_is_settled(floor: Floor) -> None:
    """P05"""
    play(
        floor,
        """
        +0 | anna + cora | NOT-1 typed NOT-1     | refused P05
        +0 | anna + cora | NOT-1 tag N-1         | refused P05
        +0 | anna + cora | NOT-1 untag N-1       | refused P05
        +0 | anna + cora | NOT-1 doubt           | refused P05
        +0 | anna + cora | NOT-1 split BLW-1 : 1 | refused P05
        +0 | anna + cora | NOT-1 renamed BLW-900 | refused P05
        """,
    )


def test_a_scan_of_the_wrong_item_is_corrected_later_by_two_people(floor: Floor) -> None:
    """E14: after the minute of the undo; the steps on it fall, both entries stay."""
    number = floor.item("BLW-2").satisfied["clean"].number
    play(
        floor,
        f"""
        +100 | ben        | BLW-2 correct {number} not-this-item because it was BLW-1 | refused S06
        +100 | ben + anna | BLW-2 correct {number} not-this-item because it was BLW-1 | accepted, stage used
        """,
    )
    corrected = floor.entries("item:BLW-2")[-1].body
    assert isinstance(corrected, words.EntryCorrected)
    assert (corrected.mistaken, corrected.fell) == (True, ("clean", "clean-check"))


def test_an_item_takes_its_wear_along_to_its_new_id(floor: Floor) -> None:
    """T12: charge cycles and minutes of use are not forgotten with the identity."""
    play(
        floor,
        """
        +0 | anna        | BAT-3 note charge 3   | accepted
        +0 | anna        | BAT-3 note minutes 60 | accepted
        +1 | anna        | BAT-3 doubt           | held E21
        +2 | anna + cora | BAT-3 renamed BAT-900 | accepted
        """,
    )
    old, new = floor.item("BAT-3"), floor.item("BAT-900")
    assert (new.charge_cycles, new.used_minutes) == (old.charge_cycles, old.used_minutes)
    assert new.charge_cycles >= 3


def test_entries_on_which_nothing_rests_any_more_are_split_too(floor: Floor) -> None:
    """E21: of an earlier cycle; nothing of the present one falls."""
    cleaned = floor.item("BLW-3").satisfied["clean"].number
    play(
        floor,
        f"""
        +0 | anna        | BLW-3 used                    | accepted
        +1 | anna        | BLW-3 take-apart              | accepted
        +2 | anna        | BLW-3 doubt                   | held E21
        +3 | anna + cora | BLW-3 split BLW-1 : {cleaned} | accepted, stage used
        """,
    )
    assert set(floor.item("BLW-3").satisfied) == {"take-apart"}
