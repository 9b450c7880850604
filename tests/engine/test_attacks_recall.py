"""Attacks on recalls, look-backs and exposure cases: nothing in doubt is missed, and nobody who wore it (H03-H08)."""

from __future__ import annotations

from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission, Enrol
from reprocess.gathering.recalls import Asked, reached
from reprocess.ledger.append import looking
from reprocess.ledger.verify import verify
from reprocess.record import words
from reprocess.record.cases import Case
from reprocess.record.entry import Draft
from reprocess.record.touching import UNKNOWN_WEARER, Touched, TouchRow, rows_of
from reprocess.record.words import InstrumentFaulty, RecallPreviewed
from reprocess.terms import SECOND_US, StreamKind
from tests.engine.benches import play
from tests.engine.floor import Floor
from tests.engine.wearing_people import asked, at, registered, with_health
from tests.engine.worn import issue, take_back, write


def a_tested_bath(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | anna | HYP-1 made of hypochlorite-50ppm | accepted
        +1 | anna | HYP-1 tested 50                  | accepted
        """,
    )


def cases(floor: Floor) -> list[Case]:
    with looking(floor.department.ledger) as read:
        return [one for one in read.states_of(StreamKind.CASE) if isinstance(one, Case)]


def items_by(floor: Floor, sort: str, name: str) -> tuple[str, ...]:
    with looking(floor.department.ledger) as read:
        return reached(read, Asked(sort, name)).items


def rows(floor: Floor, item: str, sort: Touched) -> list[TouchRow]:
    with looking(floor.department.ledger) as read:
        return [row for row in read.touches.by(item) if row.sort == sort]


def assert_sound(floor: Floor) -> None:
    """Asserts that everything kept is what the entries come to (I12)."""
    report = verify(floor.department.ledger, full=True)
    assert report.sound, [one.sentence for one in report.findings][:3]


def test_a_wearer_named_after_the_case_was_opened_is_on_its_list(floor: Floor) -> None:
    """H07, U01: issued to nobody on record, in doubt, then named: the case asks for the one who wore it."""
    with_health(floor)
    ilse = registered(floor)
    a_tested_bath(floor)
    floor.bring("TUB-1", "ready", in_="HYP-1")
    issue(floor, "TUB-1", None)
    play(floor, "+0 | anna | HYP-1 tested 10 | held L07 H06")
    (opened,) = cases(floor)
    assert opened.wearers == (UNKNOWN_WEARER,)
    assert asked(floor, "fay", asking.GradeUse(opened.case, 1, "gross", "a failed bath")).accepted
    assert asked(floor, "fay", asking.DecideCase(opened.case, notify=False, because="nobody known")).accepted
    assert asked(floor, "anna", asking.IdentifyWearer("TUB-1", ilse)).accepted
    (now,) = cases(floor)
    assert now.wearers == (ilse,)
    assert (now.notify, now.ungraded) == (None, ())
    kept = asked(floor, "hana", asking.EraseName(ilse))
    assert {"case-not-decided", "kept-by-law"} <= {one.key for one in kept.reasons}
    assert_sound(floor)


def test_a_wearer_named_before_the_doubt_changes_no_case(floor: Floor) -> None:
    ilse = registered(floor)
    issue(floor, "KIT-7", None)
    before = len(floor.entries("item:KIT-7"))
    assert asked(floor, "anna", asking.IdentifyWearer("KIT-7", ilse)).accepted
    assert floor.kinds("KIT-7", before) == ["wearer-identified"]
    assert cases(floor) == []


def test_what_is_dropped_while_it_is_out_is_still_with_its_wearer(floor: Floor) -> None:
    """D12: its wearer cannot be forgotten meanwhile."""
    with_health(floor)
    ilse = registered(floor)
    issue(floor, "KIT-7", ilse)
    assert asked(floor, "anna", asking.Contaminate("KIT-7", "dropped")).reasons == ()
    assert floor.item("KIT-7").custody is not None
    assert rows(floor, "KIT-7", Touched.WEARER)[0].open_now
    assert [one.key for one in asked(floor, "hana", asking.EraseName(ilse)).reasons] == ["still-out"]
    assert asked(floor, "anna", asking.ReturnItem("KIT-7")).subject == "item:KIT-7"
    assert not rows(floor, "KIT-7", Touched.WEARER)[0].open_now
    assert asked(floor, "hana", asking.EraseName(ilse)).accepted
    assert_sound(floor)


def test_what_was_worn_though_nobody_issued_it_is_over_when_it_is_used(floor: Floor) -> None:
    """H07: and an item that is released or issued anew is no longer with whoever wore it before."""
    a_tested_bath(floor)
    worn = words.WearStepDone(phase="put-on", step="put-on", done=True, unissued=True)
    write(floor, Draft("item:TUB-3", worn))
    assert [(row.name, row.open_now) for row in rows(floor, "TUB-3", Touched.WEARER)] == [("BEN", True)]
    floor.ask(asking.Contaminate("TUB-3", "dropped"))
    floor.bring("TUB-3", "ready", in_="HYP-1")
    assert [(row.name, row.open_now) for row in rows(floor, "TUB-3", Touched.WEARER)] == [("BEN", False)]
    write(floor, Draft("item:TUB-3", worn))
    floor.ask(asking.Contaminate("TUB-3", "used"))
    assert [(row.name, row.open_now) for row in rows(floor, "TUB-3", Touched.WEARER)] == [("BEN", False)] * 2


def test_what_was_used_though_nobody_issued_it_was_worn_by_somebody(floor: Floor) -> None:
    """H06, H07: ready, used without an issue, in doubt: a case says that a wearer is not known."""
    a_tested_bath(floor)
    floor.bring("TUB-1", "ready", in_="HYP-1")
    floor.bring("TUB-2", "dry", in_="HYP-1")
    for name in ("TUB-1", "TUB-2"):
        floor.clock.push(60)
        floor.ask(asking.Contaminate(name, "used"))
    play(floor, "+0 | anna | HYP-1 tested 10 | held L07 H06")
    (opened,) = cases(floor)
    assert [(use.item, use.wearer, use.cycle) for use in opened.uses] == [("TUB-1", UNKNOWN_WEARER, 1)]
    assert_sound(floor)


def test_a_mistyped_id_on_the_list_of_a_recall_is_told(floor: Floor) -> None:
    """H03: nothing is left out in silence."""
    play(floor, "+0 | hana | R-1 recalled items of FLT-3 FLT-44 | accepted H03 P05")
    (entry,) = floor.entries("recall:R-1")
    assert isinstance(entry.body, RecallPreviewed)
    assert entry.body.items == ("FLT-3",)
    assert floor.answers[-1].reasons[-1].facts["item"] == "FLT-44"


def test_a_recall_by_a_tag_reaches_the_item_that_bears_it(floor: Floor) -> None:
    """E22, H03"""
    play(
        floor,
        """
        +0 | cora + ben | BLW-2 tag T-9              | accepted
        +1 | hana       | R-1 recalled items of T-9  | accepted H03
        """,
    )
    (entry,) = floor.entries("recall:R-1")
    assert isinstance(entry.body, RecallPreviewed)
    assert entry.body.items == ("BLW-2",)


def test_parts_that_moved_into_another_batch_are_recalled_there_too(floor: Floor) -> None:
    """H03, P02: a lot is recalled with every batch that parts of it went into since, and not the other way round."""
    assert at(floor, "cora").enrol(Commission("CLP-9", "clip", "LC-1", quantity=10, lot="7F")).accepted
    floor.clock.push(60)
    moves = ((0, "CLP-9 move 4 to CLP-2"), (60, "CLP-2 move 2 to CLP-1"), (120, "CLP-1 move 1 to CLP-9"))
    for after_s, move in moves:
        play(floor, f"+{after_s} | ben | {move} | accepted")
    assert items_by(floor, "lot", "7F") == ("CLP-1", "CLP-2", "CLP-9")
    with looking(floor.department.ledger) as read:
        late_us = floor.clock.now().wall_us - 30 * SECOND_US
        assert reached(read, Asked("items", "a list", late_us, None, ("CLP-1",))).items == ("CLP-1", "CLP-9")
        assert reached(read, Asked("items", "a list", late_us, None, ("CLP-2",))).items == ("CLP-2",)
    assert_sound(floor)


def test_a_flow_check_at_issue_rests_on_its_instrument(floor: Floor) -> None:
    """H08: an instrument that was faulty when the wearer's own check was made leaves that wearer in doubt."""
    with_health(floor)
    ilse = registered(floor)
    body = words.ItemIssued(cycle=floor.item("KIT-7").cycle, wearer=ilse, place="ED", purpose="care", instrument="FI-3")
    write(floor, Draft("item:KIT-7", body))
    floor.clock.push(60)
    answer = at(floor, "cora").enrol(Enrol("instrument:FI-3", InstrumentFaulty(finding="reads high")))
    assert "H06" in answer.rules()
    (opened,) = cases(floor)
    assert opened.wearers == (ilse,)
    assert_sound(floor)


def test_an_entry_that_was_undone_later_counts_at_the_instant_between(floor: Floor) -> None:
    """9.4: as the record stood then, in both directions."""
    a_tested_bath(floor)
    play(
        floor,
        """
        +10 | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +40 | anna | TUB-2 undo                           | accepted
        """,
    )
    between_us = floor.clock.now().wall_us - 10_000_000
    now = floor.department.lookback("solution", "HYP-1")
    then = floor.department.lookback("solution", "HYP-1", as_of_us=between_us)
    assert [one.item for one in now.touched] == []
    assert [(one.item, one.until_us) for one in then.touched] == [("TUB-2", None)]


def test_a_wearer_named_later_is_not_known_at_an_instant_before(floor: Floor) -> None:
    """9.4, U01"""
    ilse = registered(floor)
    issue(floor, "KIT-7", None)
    floor.clock.push(60)
    before_us = floor.clock.now().wall_us
    floor.clock.push(60)
    assert asked(floor, "anna", asking.IdentifyWearer("KIT-7", ilse)).accepted
    look = floor.department.lookback
    assert look("item", "BLW-7").wearers == (ilse,)
    assert look("item", "BLW-7", as_of_us=before_us).wearers == (UNKNOWN_WEARER,)
    assert look("instrument", "FI-1", as_of_us=before_us).wearers == (UNKNOWN_WEARER,)
    assert look("wearer", ilse, as_of_us=before_us).uses == ()
    assert "KIT-7" in look("wearer", UNKNOWN_WEARER, as_of_us=before_us).items
    assert "KIT-7" in look("wearer", ilse).items


def test_as_of_each_instant_the_intervals_are_those_of_the_entries_until_then(floor: Floor) -> None:
    """9.4: what is kept now, taken back to any entry, equals what would have been kept then."""
    a_tested_bath(floor)
    floor.bring("TUB-1", "ready", in_="HYP-1")
    issue(floor, "TUB-1", None)
    floor.ask(asking.IdentifyWearer("TUB-1", registered(floor)))
    take_back(floor, "TUB-1")
    play(
        floor,
        """
        +10 | ben  | TUB-1 used                           | accepted
        +20 | ben  | BLW-3 clean                          | refused P01
        +30 | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +40 | anna | TUB-2 undo                           | accepted
        """,
    )
    with looking(floor.department.ledger) as read:
        last = read.touches.last_feed_at(2**62)
        for item in ("TUB-1", "TUB-2", "KIT-7", "BLW-7"):
            entries = read.entries_of(f"item:{item}")
            assert set(read.touches.by(item)) == set(rows_of(item, entries))
            for feed in range(1, last + 1):
                until = [one for one in entries if one.feed <= feed]
                assert set(read.touches.by(item, as_of=feed)) == set(rows_of(item, until)), (item, feed)


def contact(floor: Floor) -> str:
    """Returns the numbers of TUB-2's entries about its contact in the bath, as words."""
    entries = floor.entries("item:TUB-2")
    return " ".join(str(one.number) for one in entries if getattr(one.body, "step", None) == "disinfect")


def a_split(floor: Floor) -> None:
    """TUB-2's contact in a bath was TUB-1's, which bore the same code."""
    a_tested_bath(floor)
    play(
        floor,
        """
        +10  | anna       | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +130 | anna       | done at 38                           | accepted
        +140 | ben        | TUB-2 doubt TUB-1                    | held E21
        """,
    )
    play(floor, f"+0 | cora + ben | TUB-2 split TUB-1 : {contact(floor)} | accepted")


def test_a_recall_by_a_bath_reaches_both_items_of_a_split_history(floor: Floor) -> None:
    """E21, H03: in doubt both."""
    a_split(floor)
    assert items_by(floor, "solution", "HYP-1") == ("TUB-1", "TUB-2")
    assert "TUB-1" in items_by(floor, "person", "ANNA")
    assert_sound(floor)


def test_a_bath_that_fails_after_a_split_holds_both_items(floor: Floor) -> None:
    """E21, L07"""
    a_split(floor)
    play(floor, "+0 | anna | HYP-1 tested 10 | held L07")
    for name in ("TUB-1", "TUB-2"):
        assert "solution" in {one.sort for one in floor.item(name).holds.values()}


def test_wearers_of_both_items_of_a_split_history_are_in_the_case(floor: Floor) -> None:
    """E21, H07: whoever wore the other one after that contact is listed as well."""
    a_tested_bath(floor)
    floor.bring("TUB-2", "ready", in_="HYP-1")
    issue(floor, "TUB-3", "W-3")
    take_back(floor, "TUB-3")
    play(
        floor,
        f"""
        +0 | ben        | TUB-2 doubt TUB-3                   | held E21
        +1 | cora + ben | TUB-2 split TUB-3 : {contact(floor)} | accepted
        +2 | anna       | HYP-1 tested 10                     | held L07 H06
        """,
    )
    (opened,) = cases(floor)
    assert [(use.item, use.wearer) for use in opened.uses] == [("TUB-3", "W-3")]
    assert_sound(floor)
