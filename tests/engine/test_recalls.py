"""Recalls: shown first, committed on purpose, closed once everything is located (H03, H09, H12, E24, E25)."""

from __future__ import annotations

import pytest

from reprocess.engine import request as asking
from reprocess.engine.recalls import digest_of
from reprocess.errors import WrongUseError
from reprocess.record.recalls import Recall
from reprocess.record.words import HoldPlaced, RecallPreviewed
from tests.engine.benches import play
from tests.engine.floor import Floor
from tests.engine.worn import issue, take_back

FILTERS = ["FLT-1", "FLT-2", "FLT-3", "FLT-4", "FLT-6", "FLT-7", "FLT-8"]
"""Every item of model LF-H in larkmoor.yaml, two of them in KIT-7."""


def holds(floor: Floor, item: str) -> list[str]:
    return [one.sort for one in floor.item(item).holds.values()]


def test_a_preview_shows_everything_and_holds_nothing(floor: Floor) -> None:
    """H03: the dry run is stored, with the exact list and the counts by stage and place."""
    play(floor, "+0 | hana | R-1 recalled model LF-H notice=FN-12 | accepted H03, key recall-previewed")
    (entry,) = floor.entries("recall:R-1")
    body = entry.body
    assert isinstance(body, RecallPreviewed)
    assert list(body.items) == FILTERS
    assert body.digest == digest_of(reversed(FILTERS))
    assert body.stages == {"ready": 4, "used": 3}
    assert (body.custody, body.places, body.notice) == ({"department": 7}, {"LMG": 7}, "FN-12")
    assert not any(holds(floor, name) for name in FILTERS)


def test_a_commit_holds_everything_and_the_assembly_around_it(floor: Floor) -> None:
    """H03, G02, H12: one transaction; the field notice stands in each hold."""
    play(
        floor,
        """
        +0 | hana | R-1 recalled model LF-H notice=FN-12 | accepted H03
        +1 | hana | commit                               | held H03
        +2 | dan  | KIT-7 release                        | held P01 G02
        """,
    )
    assert floor.answers[-2].reasons[0].facts == {"recall": "R-1", "held": 7, "out": 0}
    assert all(holds(floor, name) == ["recall"] for name in FILTERS)
    assert [one.rule for one in floor.item("KIT-7").holds.values()] == ["G02"]
    (one,) = floor.item("FLT-1").holds.values()
    assert (one.recall, one.notice, one.owner, one.cause_id) == ("R-1", "FN-12", "hana", "recall:R-1")
    assert floor.item("FLT-3").stage == "ready"


def test_a_recall_needs_a_preview_and_somebody_who_may(floor: Floor) -> None:
    """H03"""
    play(
        floor,
        """
        +0 | hana     | R-1 commit                | refused H03, key recall-not-previewed
        +1 | anna     | R-1 recalled model LF-H   | refused H03, key role-needed
        +2 | stranger | R-1 recalled model LF-H   | refused A01
        +3 | hana     | R-1 recalled model LF-H   | accepted H03
        +4 | anna     | R-1 commit                | refused H03, key role-needed
        +5 | hana     | R-1 close                 | refused H09, key recall-not-committed
        +6 | hana     | R-1 commit                | held H03
        +7 | hana     | R-1 commit                | refused H03, key recall-not-previewed
        """,
    )


def test_a_list_that_changed_since_it_was_shown_is_shown_again(floor: Floor) -> None:
    """H03: what changed is named, and nothing is held meanwhile."""
    play(
        floor,
        """
        +0 | hana       | R-1 recalled model LF-H | accepted H03
        +1 | cora + ben | FLT-1 condemn           | accepted
        +2 | hana       | R-1 commit              | refused H03, key recall-changed
        """,
    )
    assert floor.answers[-1].reasons[0].facts == {"gained": ["none"], "gone": ["FLT-1"]}
    assert holds(floor, "FLT-2") == []
    play(
        floor,
        """
        +0 | hana | R-1 recalled model LF-H | accepted H03
        +1 | hana | R-1 commit              | held H03
        """,
    )
    assert (holds(floor, "FLT-1"), holds(floor, "FLT-2")) == ([], ["recall"])


def test_what_matches_nothing_is_told_and_holds_nothing(floor: Floor) -> None:
    """H03: only the preview is on record."""
    play(
        floor,
        """
        +0 | hana | R-1 recalled lot 7F | accepted H03, key recall-empty
        +1 | hana | commit              | refused H03, key recall-empty
        """,
    )
    assert [entry.kind for entry in floor.entries("recall:R-1")] == ["recall-previewed"]


def test_a_recall_of_everything_asks_for_the_number(floor: Floor) -> None:
    """H03: no accident holds a whole department."""
    names = [one.item for one in floor.department.items()]
    play(
        floor,
        f"""
        +0 | hana | R-1 recalled items of {" ".join(names)} | accepted H03
        +1 | hana | commit                                  | refused H03, key recall-everything
        +2 | hana | commit {len(names) - 1}                 | refused H03, key recall-everything
        +3 | hana | commit {len(names)}                     | held H03
        """,
    )
    assert all(holds(floor, name)[0] == "recall" for name in names)


def test_a_contact_that_runs_may_finish_under_a_recall_but_nothing_is_released(floor: Floor) -> None:
    """E24"""
    play(
        floor,
        """
        +0   | anna | HYP-1 made of hypochlorite-50ppm     | accepted
        +1   | anna | HYP-1 tested 50                      | accepted
        +1   | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +10  | hana | R-1 recalled model LT-1              | accepted H03
        +11  | hana | R-1 commit                           | held H03
        +121 | anna | TUB-2 done at 38                     | accepted, stage disinfected
        +122 | ben  | rinse start                          | held P01 H04
        +123 | dan  | release                              | held G01 G02
        """,
    )


def test_lifting_settles_the_cause_and_nothing_holds_the_item_for_it_again(floor: Floor) -> None:
    """E25: the same recall, previewed and committed once more, reaches what is new and leaves what is settled."""
    play(
        floor,
        """
        +0 | hana       | R-1 recalled model LF-H         | accepted H03
        +1 | hana       | R-1 commit                      | held H03
        +2 | hana + ben | FLT-3 lift 1                    | refused H09, key not-located
        +3 | ben        | FLT-3 quarantine Q-1            | accepted
        +4 | hana + ben | FLT-3 lift 1                    | accepted, stage ready
        +5 | hana       | R-1 recalled model LF-H         | accepted H03
        +6 | hana       | R-1 commit                      | accepted H03
        """,
    )
    assert floor.answers[-1].reasons[0].facts["held"] == 0
    assert holds(floor, "FLT-3") == []
    assert floor.item("FLT-3").settled == ("recall:R-1",)
    lifted = floor.entries("item:FLT-3")[-1].body
    assert (lifted.kind, getattr(lifted, "settles", None)) == ("hold-lifted", "recall:R-1")
    play(
        floor,
        """
        +0 | hana | R-2 recalled model LF-H | accepted H03
        +1 | hana | R-2 commit              | held H03
        """,
    )
    assert floor.answers[-1].reasons[0].facts["held"] == 7
    assert holds(floor, "FLT-3") == ["recall"]


def test_a_recall_closes_only_when_everything_is_located(floor: Floor) -> None:
    """H09: a scan anywhere locates; the rest is condemned as lost by two people."""
    play(
        floor,
        """
        +0  | hana       | R-1 recalled items of FLT-3 FLT-4 BLW-3 FLT-7 | accepted H03
        +1  | hana       | R-1 commit                                    | held H03
        +2  | hana       | R-1 close                                     | refused H09, key recall-not-located
        +3  | anna       | BLW-3 clean                                   | held P01 H04
        +4  | ben        | FLT-3 quarantine Q-1                          | accepted
        +5  | ben        | KIT-7 quarantine Q-1                          | accepted
        +6  | hana       | R-1 close                                     | refused H09
        +7  | ben        | FLT-4 lost                                    | accepted
        +8  | hana       | R-1 close                                     | refused H09
        +9  | hana       | FLT-4 condemn                                 | refused S03
        +10 | cora + ben | FLT-4 condemn                                 | accepted
        +11 | hana       | R-1 close                                     | accepted
        +12 | hana       | R-1 close                                     | refused H09, key recall-closed
        +13 | hana       | R-1 recalled model LF-H                       | refused H03, key recall-closed
        """,
    )
    refused = [one for one in floor.answers if one.asked == "close-recall"][1]
    assert refused.reasons[0].facts == {"missing": 1, "total": 4, "items": ["FLT-4"]}
    (one,) = floor.item("FLT-3").holds.values()
    assert (one.place, one.sighted_at) == ("Q-1", "BENCH")


def test_a_worn_part_for_one_wearer_is_condemned_by_two_people_where_it_is_recalled(floor: Floor) -> None:
    """H09, S03"""
    play(
        floor,
        """
        +0 | ben        | ONE-1 used                  | accepted
        +1 | hana       | R-1 recalled items of ONE-1 | accepted H03
        +2 | hana       | R-1 commit                  | held H03
        +3 | cora       | ONE-1 condemn               | refused S03
        +4 | cora + ben | ONE-1 condemn               | accepted
        +5 | hana       | R-1 close                   | accepted
        """,
    )


def test_a_scan_of_a_held_item_is_kept_once_a_station(floor: Floor) -> None:
    """H04: and undoing a mis-scan still works beside it."""
    play(
        floor,
        """
        +0 | ben          | BLW-2 hold identity two tags | held H04
        +1 | anna @ SINK  | clean                        | held P01 H04
        +2 | anna @ SINK  | clean                        | held P01 H04
        +9m | ben @ SHELF | clean                        | held P01 H04 P09
        +9m | ben @ SHELF | used                         | accepted
        +9m | ben @ SHELF | undo                         | accepted
        """,
    )
    assert [kind for kind in floor.kinds("BLW-2") if kind == "held-sighted"] == ["held-sighted"] * 2


def test_what_is_not_held_or_not_known_is_noted_when_put_in_quarantine(floor: Floor) -> None:
    """H01, P05: never refused."""
    play(
        floor,
        """
        +0 | ben | BLW-2 quarantine Q-1   | accepted H04, key not-held
        +1 | ben | BLW-999 quarantine Q-1 | accepted P05
        """,
    )


def test_uses_of_a_recalled_model_become_an_exposure_case(floor: Floor) -> None:
    """H03, H06: a filter in a kit, worn by two people one after the other, and a wearer who has it now."""
    issue(floor, "KIT-7", "W-1")
    floor.clock.push(3600)
    take_back(floor, "KIT-7")
    floor.clock.push(600)
    issue(floor, "KIT-7", "W-2", "WARD-6")
    play(
        floor,
        """
        +0 | hana | R-1 recalled model LF-H | accepted H03
        +1 | hana | R-1 commit              | held H03 H06
        """,
    )
    preview = floor.entries("recall:R-1")[0].body
    assert isinstance(preview, RecallPreviewed)
    assert (preview.custody, preview.wearers) == ({"department": 5, "issued": 2}, 2)
    assert preview.places == {"LMG": 5, "WARD-6": 2}
    facts = floor.answers[-1].reasons[1].facts
    assert facts == {"case": "R-1", "uses": 4, "wearers": 2, "out": 1}


@pytest.mark.parametrize(
    ("what", "expected"),
    [
        ("person DAN", "KIT-7"),
        ("instrument FI-1", "BLW-3"),
        ("solution HYP-0", "TUB-3"),
        ("serial S-9", None),
        ("assembly KIT-7", "BLW-7"),
        ("place WARD-5", "BLW-7"),
        ("wearer W-1", "KIT-7"),
    ],
)
def test_a_recall_is_by_anything_that_items_touch(floor: Floor, what: str, expected: str | None) -> None:
    """H03"""
    issue(floor, "KIT-7", "W-1")
    play(floor, f"+0 | hana | R-1 recalled {what} | accepted H03")
    body = floor.entries("recall:R-1")[0].body
    assert isinstance(body, RecallPreviewed)
    assert expected in body.items if expected is not None else not body.items


def test_a_recall_by_workflow_names_a_version(floor: Floor) -> None:
    """H03: by the first characters of its digest."""
    digest = floor.item("BLW-1").digest
    play(floor, f"+0 | hana | R-1 recalled workflow {digest[:12]} | accepted H03, key recall-previewed")
    with pytest.raises(WrongUseError, match="digest"):
        floor.ask(asking.PreviewRecall("R-2", "workflow", "ab", "why"), "hana")
    with pytest.raises(WrongUseError, match="A recall is by one of"):
        floor.ask(asking.PreviewRecall("R-2", "colour", "blue", "why"), "hana")


def test_a_window_leaves_out_what_touched_it_before_and_after(floor: Floor) -> None:
    """H03: both ends included."""
    play(
        floor,
        """
        +10  | anna | BLW-1 take-apart                        | accepted
        +20  | anna | KIT-1 fail assemble SOIL                | held H01
        +30  | hana | R-1 recalled person ANNA from 10 to 15  | accepted H03
        +31  | hana | R-2 recalled person ANNA from 11 to 20  | accepted H03
        """,
    )
    lists = [entry.body.items for name in ("R-1", "R-2") for entry in floor.entries(f"recall:{name}")]  # type: ignore[attr-defined]
    assert lists == [("BLW-1",), ("KIT-1",)]


def test_a_hold_by_hand_keeps_its_evidence_and_notice(floor: Floor) -> None:
    """H02, H12"""
    floor.ask(asking.PlaceHold("BLW-2", "defect", "cracks seen", "cora", "photo 7c1d", "FN-3"), "ben")
    body = floor.entries("item:BLW-2")[-1].body
    assert isinstance(body, HoldPlaced)
    assert (body.evidence, body.notice, body.recall, body.cause_id) == ("photo 7c1d", "FN-3", None, None)


def test_the_standing_of_a_recall_is_folded_from_its_entries(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | hana | R-1 recalled model LF-H notice=FN-1 | accepted H03
        +1 | hana | R-1 commit                          | held H03
        """,
    )
    with_items = floor.department.recall("R-1")
    assert isinstance(with_items, Recall)
    assert (with_items.listed, with_items.items, with_items.is_open) == (7, (), True)
    assert with_items.notice == "FN-1"
