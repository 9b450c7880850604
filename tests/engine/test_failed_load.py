"""What a load that fails after it passed reaches: all of it, wherever it is now (W06, H05, H06; E19)."""

from __future__ import annotations

import pytest

from reprocess.engine import request as asking
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.cases import Case
from reprocess.record.entry import Entry
from reprocess.rules.answer import Answer
from tests.engine.benches import play
from tests.engine.floor import Floor
from tests.engine.loading import a_washer, bowls, passes


@pytest.fixture
def washer(floor: Floor) -> Floor:
    a_washer(floor)
    return floor


def issue(floor: Floor, item: str) -> None:
    answer = floor.ask(asking.IssueItem(item, None, "ward-7", "emergency"), "gus")
    assert answer.accepted, answer.reasons


def facts(answer: Answer, key: str) -> dict[str, object]:
    return dict(next(one.facts for one in answer.reasons if one.key == key))


def sorts(floor: Floor, item: str) -> list[str]:
    return [hold.sort for hold in floor.item(item).holds.values()]


def cases(floor: Floor) -> list[Case]:
    with looking(floor.department.ledger) as read:
        return [one for one in read.states_of("case") if isinstance(one, Case)]


def bodies(entries: list[Entry], kind: type[words.Body]) -> list[words.Body]:
    return [entry.body for entry in entries if isinstance(entry.body, kind)]


def test_a_logger_found_off_reaches_the_same(washer: Floor) -> None:
    names = bowls(washer, 2)
    passes(washer, "LD-1", names)
    washer.bring("BWL-1", "ready")
    play(washer, "+0 | anna | LD-1 load-fail calibration two degrees off | held W06")
    assert [sorts(washer, name) for name in names] == [["load"], ["load"]]
    assert cases(washer) == []


def test_an_item_that_was_used_and_processed_since_is_held_as_it_is_and_its_wearers_are_a_case(washer: Floor) -> None:
    """H06, H07: its present cycle is sound; the uses up to its next valid release rest on the load."""
    names = bowls(washer, 1)
    passes(washer, "LD-1", names)
    washer.bring("BWL-1", "ready")
    issue(washer, "BWL-1")
    play(
        washer,
        """
        +1h | gus  | BWL-1 return    | accepted
        +2h | anna | BWL-1 rinse     | accepted
        """,
    )
    passes_again(washer, "LD-2", names)
    washer.bring("BWL-1", "ready")
    issue(washer, "BWL-1")
    answers = play(washer, "+1h | anna | LD-1 load-fail record its file was of another day | held W06 H05 H06")
    assert (washer.item("BWL-1").stage, sorts(washer, "BWL-1")) == ("ready", ["load"])
    assert facts(answers[0], "case-opened")["uses"] == 1
    (case,) = cases(washer)
    assert [(use.item, use.cycle) for use in case.uses] == [("BWL-1", 1)]


def passes_again(floor: Floor, load: str, names: list[str]) -> None:
    """Runs another load of the same items through, with a record of its own."""
    first = asking.OpenLoad(load, "WD-1", "P90")
    for request in (first, asking.AddToLoad(load, tuple(names)), asking.StartLoad(load)):
        assert floor.ask(request).accepted
    play(floor, f"+40m | anna | {load} load-end held 90 70 | accepted")
    assert floor.ask(asking.UnloadLoad(load, tuple(names))).accepted


def test_a_condemned_item_is_out_of_reach_for_good(washer: Floor) -> None:
    names = bowls(washer, 2)
    passes(washer, "LD-1", names)
    play(
        washer,
        """
        +0 | cora + ben | BWL-1 condemn                  | accepted
        +1 | anna       | LD-1 load-fail other a mix-up  | held W06
        """,
    )
    assert (washer.item("BWL-1").stage, sorts(washer, "BWL-1")) == ("condemned", [])
    assert facts(washer.answers[-1], "load-failed-later")["held"] == 1


def test_what_never_was_in_the_load_is_out_of_reach(washer: Floor) -> None:
    names = bowls(washer, 3)
    play(
        washer,
        """
        +0   | anna       | LD-1 load-open WD-1 P90              | accepted
        +1   | anna       | LD-1 load-add BWL-1 BWL-2 BWL-3      | accepted
        +2   | anna       | LD-1 load-remove BWL-3               | accepted
        +3   | anna       | LD-1 load-start                      | accepted
        +4   | anna + ben | LD-1 load-absent BWL-2 counted=1     | accepted
        +40m | anna       | LD-1 load-end held 90 60             | accepted
        +41m | anna       | LD-1 load-out BWL-1                  | accepted
        +42m | anna       | LD-1 load-fail other a mix-up        | held W06
        """,
    )
    assert [sorts(washer, name) for name in names] == [["load"], [], []]


def test_a_load_that_fails_before_it_passed_holds_nothing(washer: Floor) -> None:
    names = bowls(washer, 2)
    play(
        washer,
        """
        +0 | anna | LD-1 load-open WD-1 P90       | accepted
        +1 | anna | LD-1 load-add BWL-1 BWL-2     | accepted
        +2 | anna | LD-1 load-start               | accepted
        +3 | anna | LD-1 load-fail cycle the door | accepted W06
        +4 | anna | LD-1 load-out BWL-1 BWL-2     | accepted
        +5 | anna | BWL-1 rinse                   | accepted
        """,
    )
    assert not any(sorts(washer, name) for name in names)


def test_each_item_falls_once_and_says_by_which_load(washer: Floor) -> None:
    passes(washer, "LD-1", bowls(washer, 1))
    before = washer.item("BWL-1").number
    play(washer, "+0 | anna | LD-1 load-fail other a mix-up | held W06")
    entries = washer.entries("item:BWL-1")[before:]
    assert [entry.kind for entry in entries] == ["steps-fell", "hold-placed"]
    fell = entries[0].body
    assert isinstance(fell, words.StepsFell)
    assert (fell.rule, fell.load, fell.fell) == ("W06", "LD-1", ("heat", "rinse"))


def test_a_release_rests_on_a_load_that_still_counts(washer: Floor) -> None:
    """G11 is judged again at release, whatever the item's own steps say."""
    passes(washer, "LD-1", bowls(washer, 1))
    washer.bring("BWL-1", "release")
    answers = play(
        washer,
        """
        +0 | anna | LD-1 load-out BWL-2 | held W04
        +1 | dan  | BWL-1 release       | held G02 G11
        """,
    )
    assert "load-miscounted" in {one.key for one in answers[-1].reasons}
