"""What an adversary tried with items that are out, worn or on their way; the first line of each test says what."""

from __future__ import annotations

import pytest

from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.touching import Touched
from tests.engine.benches import play
from tests.engine.floor import Floor
from tests.engine.outside import scanned, second_kit, wearers, worn_by
from tests.engine.scans import request_of
from tests.engine.worn import write


@pytest.fixture
def ward(floor: Floor) -> Floor:
    wearers(floor, "W-1", "W-2")
    return floor


def put_on(floor: Floor, kit: str = "KIT-7") -> None:
    wearing = floor.workflow(kit).wearing
    for step in wearing.put_on if wearing is not None else ():
        answer = floor.ask(
            request_of(floor, kit, f"put-on {step.step}"), "gus", second="ben" if step.observed else None
        )
        assert answer.accepted, answer.reasons


def issued_and_worn(floor: Floor) -> None:
    play(floor, "+1 | gus | KIT-7 issue W-1 ward-7 | accepted")
    put_on(floor)


def two_ready_batches(floor: Floor) -> None:
    for item in ("CLP-1", "CLP-2"):
        floor.bring(item, "ready")


def test_what_was_worn_though_nobody_issued_it_travels_as_clean_nowhere(floor: Floor) -> None:
    """E15, U06: worn at one site, sent in clean packaging, ready at the other."""
    put_on(floor)
    play(
        floor,
        """
        +1 | gus            | KIT-7 send SAL clean in BOX-1 | refused U06, key worn-since
        +2 | gus            | KIT-7 send SAL in BOX-1       | accepted
        +3 | lee @ SALTGATE | KIT-7 receive                 | accepted E15, stage used
        """,
    )
    assert {floor.item(part).stage for part in ("BLW-7", "TUB-7", "HED-7")} == {"used"}


def test_a_break_wipes_off_nothing_that_was_seen_at_taking_off(ward: Floor) -> None:
    """U06, U08: blood was seen, the same wearer took a break, and the kit came back as routine."""
    issued_and_worn(ward)
    play(
        ward,
        """
        +1 | gus + ben | KIT-7 take-off gloves-and-gown seen blood | accepted
        +2 | gus       | KIT-7 hand-on W-1                         | refused U06, key needs-cycle
        +3 | gus       | KIT-7 return                              | accepted, warns P04 U08
        """,
    )
    assert {ward.item(item).contamination_class for item in ("KIT-7", "BLW-7")} == {"blood"}


def test_a_break_without_anything_seen_is_still_a_break(ward: Floor) -> None:
    issued_and_worn(ward)
    play(
        ward,
        """
        +1 | gus + ben | KIT-7 take-off gloves-and-gown | accepted
        +2 | gus       | KIT-7 hand-on W-1              | accepted
        """,
    )


def test_nobody_puts_on_again_what_has_a_held_battery(ward: Floor) -> None:
    """U06, G02, B06: the alarm came early, the battery is held, the assembly itself is not."""
    issued_and_worn(ward)
    play(
        ward,
        """
        +1 | gus | KIT-7 signal low-battery | held B06 B07
        +2 | gus | KIT-7 hand-on W-1        | held B05 C02 G02
        """,
    )


def test_who_says_unused_of_what_was_put_on_is_not_believed(ward: Floor) -> None:
    """T11, U09: unused parts have no time since use, so a late start of cleaning was no matter."""
    issued_and_worn(ward)
    play(ward, "+1 | gus | KIT-7 return unused | accepted, warns P04")
    assert all(ward.item(item).used for item in ("KIT-7", "BLW-7", "HED-7"))
    returned = ward.entries("item:KIT-7")[-1].body
    assert isinstance(returned, words.ItemReturned)
    assert returned.used


def test_what_nobody_put_on_comes_back_unused(ward: Floor) -> None:
    play(
        ward,
        """
        +1 | gus | KIT-7 issue W-1 ward-7 | accepted
        +2 | gus | KIT-7 return unused    | accepted, warns P04
        """,
    )
    assert not ward.item("BLW-7").used


def test_counted_parts_of_a_batch_that_is_out_join_no_ready_one(ward: Floor) -> None:
    """U06, P02: four clips were with a wearer, and went into the store as ready."""
    two_ready_batches(ward)
    play(
        ward,
        """
        +1 | gus | CLP-1 issue W-1 ward-7 | accepted, warns T12
        +2 | gus | CLP-1 move 4 to CLP-2  | accepted P02
        """,
    )
    assert (ward.item("CLP-2").stage, ward.item("CLP-2").used) == ("used", True)


@pytest.mark.parametrize("way", ["swapped", "foreign"])
def test_what_is_condemned_comes_back_as_condemned(ward: Floor, way: str) -> None:
    """S03: it came back with a kit, and was used, cleaned and ready again."""
    issued_and_worn(ward)
    part = "BAT-7" if way == "swapped" else "BLW-3"
    if way == "swapped":
        play(ward, "+1 | gus | KIT-7 swap battery BAT-3 | accepted")
    expected = "accepted" if way == "swapped" else "accepted P01"
    play(
        ward,
        f"""
        +2 | cora + ben | {part} condemn                               | accepted
        +3 | gus        | KIT-7 return {scanned(ward, "KIT-7")} {part} | {expected}
        """,
    )
    assert (ward.item(part).stage, ward.item(part).custody) == ("condemned", None)
    assert {ward.item(one).stage for one in ("KIT-7", "BLW-7")} == {"used"}


def test_who_wore_a_part_of_another_kit_is_on_its_record(ward: Floor) -> None:
    """H07, S05: a bath that the tube was in fails later; the tube was on record in the other kit only."""
    second_kit(ward)
    play(ward, "+1 | gus | KIT-7 issue W-1 ward-7 | accepted")
    parts = scanned(ward, "KIT-7", tube="TUB-3")
    play(ward, f"+2h | gus | KIT-7 return {parts} | held S05, warns P04")
    assert worn_by(ward, "TUB-3") == [("W-1", False)]
    play(ward, "+3h | anna | HYP-0 tested failed | held L07 H06")
    with looking(ward.department.ledger) as read:
        uses = [use for case in read.states_of("case") for use in getattr(case, "uses", ())]
    assert ("TUB-3", "W-1") in {(use.item, use.wearer) for use in uses}


def test_two_unknown_wearers_are_not_one(ward: Floor) -> None:
    """U06, P08: a battery that somebody unknown had at another ward went into an assembly that was worn."""
    play(
        ward,
        """
        +1 | gus | KIT-7 issue nobody ward-7 for emergency | accepted, warns U01
        +2 | gus | BAT-3 issue nobody ward-9 for emergency | accepted, warns U01
        """,
    )
    put_on(ward)
    play(ward, "+3 | gus | KIT-7 swap battery BAT-3 | refused U07")


def test_a_name_that_is_scanned_twice_names_one_use(ward: Floor) -> None:
    """U01: the second scan named the wearer of an earlier issue, who was somebody else."""
    ward.bring("BLT-1", "ready")
    play(
        ward,
        """
        +1m | gus | BLT-1 issue nobody ward-7 for emergency | accepted, warns U01
        +2m | gus | BLT-1 return                            | accepted
        """,
    )
    first = next(one.number for one in ward.entries("item:BLT-1") if one.kind == "item-issued")
    ward.bring("BLT-1", "ready")
    play(
        ward,
        """
        +1m | gus | BLT-1 issue nobody ward-8 for emergency | accepted, warns U01
        +2m | gus | BLT-1 identify W-2                      | refused U01, key which-issue
        """,
    )
    second = ward.entries("item:BLT-1")[-1].number
    play(
        ward,
        f"""
        +1 | gus | BLT-1 identify W-2 entry={second} | accepted
        +2 | gus | BLT-1 identify W-2 entry={second} | refused U01, key nobody-to-name
        +3 | gus | BLT-1 identify W-1                | accepted
        """,
    )
    assert worn_by(ward, "BLT-1") == [("W-1", False), ("W-2", True)]
    assert first < second


def test_who_kept_a_part_is_named_too(ward: Floor) -> None:
    """U01, U11: the part stayed with nobody on record for ever."""
    play(
        ward,
        """
        +1  | gus | KIT-7 issue nobody ward-7 for emergency | accepted, warns U01
        +1h | gus | KIT-7 return missing TUB-7              | accepted, warns P04
        +2h | gus | KIT-7 identify W-1                      | accepted
        +2h | gus | TUB-7 identify W-1                      | accepted
        """,
    )
    custody = ward.item("TUB-7").custody
    assert custody is not None
    assert (custody.sort, custody.wearer) == ("missing", "W-1")
    assert worn_by(ward, "TUB-7") == [("W-1", True)]


def test_who_takes_off_what_nobody_put_on_wore_it(floor: Floor) -> None:
    """H07: the record knew of no wearer."""
    play(floor, "+1 | gus + ben | KIT-7 take-off gloves-and-gown | accepted, warns U12, stage used")
    assert worn_by(floor, "KIT-7") == [("GUS", False)]


def test_what_arrives_though_a_wearer_had_it_is_used_and_no_longer_with_them(ward: Floor) -> None:
    """E15, T11: an issued kit turned up at the other site, and counted as not used and as still out."""
    play(
        ward,
        """
        +1 | gus            | KIT-7 issue W-1 ward-7 | accepted
        +2 | lee @ SALTGATE | KIT-7 receive          | held E15 P07
        """,
    )
    assert (ward.item("KIT-7").used, ward.item("BLW-7").used) == (True, True)
    assert worn_by(ward, "KIT-7") == [("W-1", False)]


def test_what_is_lent_is_put_on_by_nobody_here(floor: Floor) -> None:
    """U14, H07: whoever did was on no list, for the borrower had it."""
    play(
        floor,
        """
        +1 | cora      | KIT-7 lend harbour-crew 3            | accepted
        +2 | gus       | KIT-7 put-on look-over               | refused U07
        +3 | gus + ben | KIT-7 take-off gloves-and-gown       | accepted, warns U12, stage used
        """,
    )
    assert worn_by(floor, "KIT-7") == [("not-identified", False), ("GUS", False)]


def test_rebuilt_from_its_entries_it_is_the_same(ward: Floor) -> None:
    """I12: what the attacks above write folds to what is kept."""
    issued_and_worn(ward)
    play(ward, f"+1 | gus | KIT-7 return {scanned(ward, 'KIT-7', tube='TUB-3')} | held S05, warns P04")
    write(ward, Draft("item:BAT-7", words.ItemOpened()))
    for item in ("KIT-7", "TUB-3", "TUB-7", "BAT-7"):
        ward.assert_kept_whole(item)
    assert not ward.department.verify(full=True).findings
    with looking(ward.department.ledger) as read:
        assert [row.name for row in read.touches.by("TUB-3") if row.sort == Touched.WEARER] == ["W-1"]
