"""The hatch as somebody would use it who wants out what is not ready, or to learn who wears what (I1, I6, I9, D13)."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from reprocess.gathering import local_text
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.rules.answer import Answer, Reason, Verdict
from reprocess.scan.code import BadgeTag, ItemTag, StationTag, printed
from reprocess.service.pages import acting
from reprocess.terms import DAY_S, SECOND_US, instant
from tests.engine.benches import play
from tests.engine.test_places import STORE
from tests.engine.wearing_people import ILSE, registered
from tests.engine.worn import write
from tests.service.hall import floor, hall, prepared  # noqa: F401 - fixtures
from tests.service.test_pages_hatch import Counter, counter, entries, looked_over  # noqa: F401 - a fixture

KIT = "/hatch/item/KIT-7"
OUT = "+0 | gus | KIT-7 issue W-1 ward-7 | accepted"
BADGE = printed(BadgeTag(ILSE.badge or "", checked=True))
FRAGMENT = {"X-Fragment": "1"}


def returned(counter: Counter) -> words.ItemReturned:  # noqa: F811
    """Returns what is on record of the latest return of the kit."""
    bodies = [one.body for one in counter.hall.floor.entries("item:KIT-7")]
    return next(one for one in reversed(bodies) if isinstance(one, words.ItemReturned))


def test_a_return_pressed_twice_is_one_return_with_the_same_answer(counter: Counter) -> None:  # noqa: F811
    """I9: nothing is out any more when the form comes again, and the missing gasket is told again."""
    play(counter.hall.floor, OUT)
    here = {f"part__{one}": "here" for one in counter.hall.floor.item("KIT-7").members.values()}
    counter.open(f"{KIT}/return")
    counter.send(f"{KIT}/return", **here, count__gaskets="1", count__plugs="1", place="P:BIN-1")
    before = entries(counter)
    counter.again(f"{KIT}/return")
    assert (counter.status, entries(counter)) == (200, before)
    assert counter.says("gaskets: 1")
    assert returned(counter).missing == ("gaskets=1",)


@pytest.mark.parametrize("typed", ["\u0661", "\u06f1", "\uff11"])
def test_a_missing_gasket_is_told_in_the_digits_of_any_script(counter: Counter, typed: str) -> None:  # noqa: F811
    """One as Arabic-Indic, extended Arabic-Indic and fullwidth digit (Unicode, general category Nd)."""
    play(counter.hall.floor, OUT)
    counter.open(f"{KIT}/return").send(f"{KIT}/return", count__gaskets=typed)
    assert (counter.says("gaskets: 1"), returned(counter).missing) == (True, ("gaskets=1",))


def test_an_issue_that_does_not_say_what_it_was_shown_is_not_recorded(counter: Counter) -> None:  # noqa: F811
    counter.open(f"{KIT}/issue")
    before = entries(counter)
    counter.text = counter.text.replace('name="version"', 'name="another"')
    counter.send(f"{KIT}/issue", **looked_over(counter))
    assert (counter.status, entries(counter)) == (422, before)
    assert counter.hall.floor.item("KIT-7").custody is None


@pytest.mark.parametrize("instead", [{"caution__wearer": ""}, {"check__tube-sound": ""}, {"count__gaskets": ""}])
def test_no_line_and_no_caution_can_be_left_out_of_a_form(
    counter: Counter,  # noqa: F811
    instead: dict[str, str],
) -> None:
    counter.open(f"{KIT}/issue").send(f"{KIT}/issue", **looked_over(counter, **instead))
    assert (counter.status, counter.hall.floor.item("KIT-7").custody) == (409, None)


@pytest.mark.parametrize("scanned", [BADGE, ILSE.badge, BADGE[:-1] + "0", printed(ItemTag("TUB-5", checked=True))])
def test_no_badge_and_no_tag_becomes_a_place(counter: Counter, scanned: str) -> None:  # noqa: F811
    """D13: places stand on the board, in look-backs and in late lists; a hatch that is scanned at takes badges too."""
    registered(counter.hall.floor, ILSE)
    counter.open(f"{KIT}/issue").send(f"{KIT}/issue", **looked_over(counter, place=scanned))
    assert (counter.status, counter.hall.floor.item("KIT-7").custody) == (409, None)
    assert counter.says("to which unit")
    play(counter.hall.floor, OUT)
    others = scanned if "W-7041" in scanned else ""
    counter.open(f"{KIT}/return").send(f"{KIT}/return", place=scanned, others=others)
    assert counter.status == 200
    assert (returned(counter).place, returned(counter).parts) == ("BENCH", None)


def test_a_label_of_a_place_and_a_typed_room_are_places(counter: Counter) -> None:  # noqa: F811
    play(counter.hall.floor, OUT)
    label = printed(StationTag("BIN-1", checked=True))
    counter.open(f"{KIT}/return").send(f"{KIT}/return", place=label)
    assert returned(counter).place == "BIN-1"
    counter.open(f"{KIT}/return").send(f"{KIT}/return", place="ward 7, room 12")
    assert returned(counter).place == "ward 7, room 12"


def test_a_badge_scanned_as_a_seal_is_not_kept(counter: Counter) -> None:  # noqa: F811
    registered(counter.hall.floor, ILSE)
    play(counter.hall.floor, STORE + "+1 | ben | KIT-7 put-in CAB-1 | accepted")
    counter.open("/hatch/place/CAB-1").send("/hatch/place/CAB-1/opened", seal=BADGE)
    assert counter.status == 200
    told = [str(one.body) for one in counter.hall.floor.entries("place:CAB-1")]
    assert [one for one in told if "W-7041" in one] == []


def test_a_badge_scanned_as_a_quarantine_place_is_asked_again(counter: Counter) -> None:  # noqa: F811
    play(counter.hall.floor, STORE + "+1 | anna | KIT-7 hold administrative paper lost | held H04")
    counter.open(f"{KIT}/quarantine").send(f"{KIT}/quarantine", place=BADGE)
    assert (counter.status, counter.says("Scan the label")) == (409, True)


def test_what_ran_out_is_not_shown_as_ready_anywhere(counter: Counter) -> None:  # noqa: F811
    """T13, H5: it is still called ready on record; a shelf life is judged at every look."""
    play(counter.hall.floor, STORE + "+1 | ben | KIT-7 put-in ST-1 | accepted")
    until_us = counter.hall.floor.item("KIT-7").ready_until_us
    assert until_us is not None
    clock = counter.hall.floor.clock
    clock.push((until_us - clock.now().wall_us) // SECOND_US - 1)
    counter.open(KIT)
    assert f'href="{KIT}/issue"' in counter.text
    assert not counter.says("DO NOT USE NOW")
    clock.push(2)
    counter.open(KIT)
    assert (counter.says("DO NOT USE NOW"), counter.says("T13"), f'href="{KIT}/issue"' in counter.text) == (
        True,
        True,
        False,
    )
    assert 'id="do-return"' in counter.text
    assert counter.open(f"{KIT}/issue").says("DO NOT USE NOW")
    assert counter.open("/hatch/place/ST-1").says("DO NOT USE NOW")
    assert "KIT-7" not in counter.open("/hatch").text


def test_a_part_that_ran_out_keeps_the_whole_from_being_shown_as_ready(counter: Counter) -> None:  # noqa: F811
    """T12: a counter has no date that the whole could have been given when it was released; 40 hours of a filter."""
    floor_ = counter.hall.floor
    before = counter.hall.get("/board").json()["ready"][""]
    assert "KIT-7" in counter.open("/hatch").text
    write(floor_, Draft("item:FLT-7", words.ItemWorked(minutes=40 * 60)))
    assert counter.hall.get("/board").json()["ready"][""] == before - 1
    counter.open(KIT)
    assert (counter.says("DO NOT USE NOW"), f'href="{KIT}/issue"' in counter.text) == (True, False)
    assert "KIT-7" not in counter.open("/hatch").text


def test_an_open_page_is_told_of_a_hold_without_its_form_or_its_answer(counter: Counter) -> None:  # noqa: F811
    """What an open page asks for again is what is, and no form: STOP stands there before anybody presses anything."""
    assert 'data-source="/hatch/item/KIT-7"' in counter.open(KIT).text
    assert 'data-source="/hatch"' in counter.open("/hatch").text
    assert "KIT-7" in counter.open("/hatch", headers=FRAGMENT).text
    play(counter.hall.floor, STORE + "+1 | anna | KIT-7 hold administrative paper lost | held H04")
    part = counter.open(KIT, headers=FRAGMENT)
    assert (part.says("STOP. On hold"), "<html" in part.text, "<form" in part.text) == (True, False, False)
    assert "KIT-7" not in counter.open("/hatch", headers=FRAGMENT).text


def test_lists_that_are_shared_are_never_those_of_another_site(counter: Counter) -> None:  # noqa: F811
    assert "KIT-7" in counter.open("/hatch").text
    counter.hall.caller = replace(counter.hall.caller, sites=frozenset({"SAL"}))
    assert "KIT-7" not in counter.open("/hatch").text
    counter.hall.caller = replace(counter.hall.caller, sites=frozenset())
    assert "KIT-7" in counter.open("/hatch").text


def test_who_put_it_on_is_told_to_nobody_by_a_reason(counter: Counter) -> None:  # noqa: F811
    """D13: P08 tells where it is and never who has it; U06 tells no more, on a label's refusal neither."""
    play(counter.hall.floor, OUT)
    write(
        counter.hall.floor,
        Draft("item:KIT-7", words.WearStepDone(phase="put-on", step="head-cover", done=True, begins=True)),
    )
    wear = counter.hall.floor.item("KIT-7").wear
    assert wear is not None
    assert wear.wearer == "BEN"
    refused = counter.hall.get("/items/KIT-7/label")
    assert (refused.status_code, "worn-already" in refused.text, "BEN" in refused.text) == (409, True, False)


def test_no_label_is_printed_for_a_part_of_what_is_out(counter: Counter) -> None:  # noqa: F811
    """U07: the part's own record does not say that it is out; whoever has the whole has the part."""
    assert counter.hall.get("/items/TUB-7/label").status_code == 200
    play(counter.hall.floor, OUT)
    refused = counter.hall.get("/items/TUB-7/label")
    assert (refused.status_code, [one["rule"] for one in refused.json()["answer"]["reasons"]]) == (409, ["U07"])


def test_a_refused_return_does_not_say_that_it_is_recorded(
    counter: Counter,  # noqa: F811
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """No rule refuses a return; should a station do so one day, the page must not tell that it stands on record."""
    play(counter.hall.floor, OUT)

    async def refused(*_: Any, **__: Any) -> Answer:
        reason = Reason("U07", "out-there", {"item": "KIT-7", "place": "ward-7"})
        return Answer(Verdict.REFUSED, "item:KIT-7", "return-item", reasons=(reason,))

    monkeypatch.setattr(acting, "act", refused)
    counter.open(f"{KIT}/return").send(f"{KIT}/return")
    assert (counter.status, counter.says("It is recorded")) == (409, False)


def test_two_hatches_on_one_kit_issue_it_once(counter: Counter) -> None:  # noqa: F811
    """I8"""
    counter.open(f"{KIT}/issue")
    other = Counter(counter.hall).open(f"{KIT}/issue")
    counter.send(f"{KIT}/issue", **looked_over(counter))
    other.send(f"{KIT}/issue", **looked_over(counter))
    assert (counter.status, other.status) == (200, 412)
    issues = [one for one in counter.hall.floor.entries("item:KIT-7") if isinstance(one.body, words.ItemIssued)]
    assert len(issues) == 1
    assert "W-1" not in re.sub(r"ward-1", "", other.text)


@pytest.mark.parametrize(
    ("utc", "told"),
    [
        ("2026-10-25T00:30Z", "2026-10-25 01:30 +01:00"),
        ("2026-10-25T01:30Z", "2026-10-25 01:30 +00:00"),
        ("2026-10-25T02:30Z", "2026-10-25 02:30"),
        ("2026-03-29T00:50Z", "2026-03-29 00:50"),
        ("2026-03-29T01:10Z", "2026-03-29 02:10"),
    ],
)
def test_an_hour_that_the_clock_shows_twice_is_told_apart(utc: str, told: str) -> None:
    """The clocks of the United Kingdom go back at 01:00 UTC on 25 October 2026 and ahead on 29 March (tz database)."""
    assert local_text("Europe/London", instant(datetime.fromisoformat(utc))) == told


def test_late_ones_stay_for_a_day(counter: Counter) -> None:  # noqa: F811
    play(counter.hall.floor, OUT)
    counter.hall.floor.clock.push(DAY_S)
    assert f'href="{KIT}/return"' in counter.open("/hatch").text
