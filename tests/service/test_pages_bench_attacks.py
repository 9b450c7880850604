# ruff: noqa: F811 - a fixture of another room has the name of what takes it
"""Somebody in a hurry, or of ill will, at a bench: what is recorded is what was shown, by whoever stands there."""

from __future__ import annotations

from html import unescape
from urllib.parse import urlencode

import pytest

from reprocess.record.words import BadgeGiven, CompetencyGranted
from reprocess.scan.code import BadgeTag, printed
from tests.service.larkmoor import day_at_larkmoor  # noqa: F401 - a fixture
from tests.service.staff import PIN
from tests.service.test_pages_bench import (
    BLOWER,
    OTHER,
    OWN,
    WIPES,
    Browser,
    Hall,
    badge,
    code,
    defect,
    enrol,
    hall,  # noqa: F401 - a fixture
    inspected,
    letters,
)


def taken_apart(hall: Hall, bench: Browser, item: str = BLOWER) -> None:
    """Takes a blower apart, and cleans it; what comes next has a checklist."""
    for scans in ((item, code("YES"), "3"), (item, code("CLEAN-DONE"))):
        hall.clock.push(90)
        for one in scans:
            bench.scan(one)
        assert bench.sort == "accepted", bench.answer


def trainee_now(hall: Hall) -> CompetencyGranted:
    """Returns that somebody may take apart while another person stands by."""
    now_us = hall.clock.now().wall_us
    until_us = now_us + 365 * 86_400 * 1_000_000
    return CompetencyGranted(
        competency="take-apart", from_us=now_us, until_us=until_us, assessor="Hedda Quist", level="trainee"
    )


def second_tab(bench: Browser) -> Browser:
    """Returns another tab of the same browser."""
    return Browser(bench.client, bench.station)


# What was shown


def test_a_badge_that_takes_over_shows_the_checklist_again(hall: Hall) -> None:
    """Whoever says yes has the lines in sight, also where somebody else scanned the item."""
    hall.bench("mirela")
    bench = hall.screen("LMG-D1").scan(BLOWER)
    assert "All filters are off the blower." in bench.answer
    bench.scan(badge("mirela"))
    assert "All filters are off the blower." in bench.answer, bench.answer
    assert bench.line("why") == "The bench is yours now."


def test_a_badge_that_takes_over_with_a_pin_shows_the_checklist_again(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER).scan(badge("oskar")).again(pin=PIN)
    assert "Oskar" in unescape(bench.text)
    assert "All filters are off the blower." in bench.answer, bench.answer


def test_an_item_scanned_again_shows_the_step_of_now(hall: Hall) -> None:
    """Another bench went on meanwhile: the step that was shown before is out of date."""
    first, second = hall.bench("mirela"), hall.bench("oskar", "LMG-D2")
    second.scan(BLOWER)
    first.scan(BLOWER).scan(code("YES")).scan("3")
    second.scan(BLOWER)
    assert second.line("step") == "Step: clean"


def test_yes_after_no_shows_the_checklist_once_more(hall: Hall) -> None:
    """Somebody said that it is not so; a yes by mistake is not enough."""
    bench = hall.bench("mirela")
    taken_apart(hall, bench)
    bench.scan(BLOWER).scan(code("NO"))
    before = hall.last
    bench.scan(code("YES"))
    assert (hall.last, bench.sort) == (before, "read"), bench.answer
    assert bench.line("step") == "Step: clean check"


@pytest.mark.parametrize("command", ["CLEAN-CHECK-OK"])
def test_an_ok_command_does_not_wipe_out_a_no(hall: Hall, command: str) -> None:
    bench = hall.bench("mirela")
    taken_apart(hall, bench)
    bench.scan(BLOWER).scan(code("NO"))
    bench.scan(code(command))
    assert "clean-check" not in hall.department.item("BLW-043").satisfied, bench.answer


def test_yes_starts_no_contact_that_somebody_else_started(hall: Hall) -> None:
    """Shown was the start; the clock runs by another bench and is met: yes is about the start, and ends nothing."""
    first, second = hall.bench("mirela"), hall.bench("oskar", "LMG-D2")
    hall.cleaned(first, BLOWER)
    second.scan(BLOWER)
    assert second.line("step") == "Step: disinfect"
    second.scan(WIPES)
    hall.wet(first, BLOWER)
    opened = hall.department.item("BLW-043").dwell
    assert opened is not None
    hall.clock.push(min(opened.least_s + 1, 119))
    second.scan(code("YES"))
    assert hall.department.item("BLW-043").dwell is not None, second.answer


# Who stands there


def test_a_page_of_somebody_else_records_nothing_of_theirs(hall: Hall) -> None:
    """Two tabs: in one a colleague takes the bench over, in the other the sentence of before still waits."""
    bench = hall.bench("mirela")
    bench.scan(BLOWER).scan(code("YES"))
    tab = second_tab(bench).open()
    before = hall.last
    tab.scan(badge("oskar")).again(pin=PIN)
    assert "Oskar" in unescape(tab.text)
    before = hall.last
    bench.scan("3")
    assert hall.last == before, bench.answer


def test_two_badges_of_one_person_are_one_person(hall: Hall) -> None:
    """A03: whoever stands by is somebody else, whatever badge is shown."""
    enrol(hall, trainee_now(hall), "P-JA")
    enrol(hall, BadgeGiven(badge="B-JA2"), "P-JA")
    bench = hall.bench("joss", "LMG-D1").scan(BLOWER).scan(code("YES")).scan("3")
    assert bench.line("next") == "A second person scans a badge."
    bench.scan(printed(BadgeTag("B-JA2", checked=True)))
    if 'name="second_pin"' in bench.answer:
        bench.again(second_pin=PIN)
    assert bench.sort == "refused", bench.answer
    assert "take-apart" not in hall.department.item("BLW-043").satisfied


def test_nobody_undoes_what_somebody_else_did(hall: Hall) -> None:
    first, second = hall.bench("mirela"), hall.bench("oskar", "LMG-D2")
    first.scan(BLOWER).scan(code("YES")).scan("3")
    second.scan(BLOWER).scan(code("UNDO"))
    assert second.sort == "refused"
    assert "take-apart" in hall.department.item("BLW-043").satisfied


# PINs


@pytest.mark.parametrize("typed", ["73014926", "730149264815", "7301492"])
def test_a_pin_in_the_field_for_codes_is_not_shown(hall: Hall, typed: str) -> None:
    bench = hall.bench("mirela").scan(BLOWER).scan(typed)
    assert bench.sort == "refused"
    assert typed not in bench.text


def test_a_pin_in_the_field_for_a_number_is_not_shown(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER).scan(code("YES"))
    bench.post([*bench.hidden(), ("number", "73014926"), ("code", "")])
    assert "73014926" not in bench.text


# Time


def test_a_clock_set_back_lets_no_sentence_wait_longer(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(code("HOLD"))
    before = hall.last
    hall.clock.wall_us -= 45 * 1_000_000
    bench.scan(BLOWER)
    assert (hall.last, bench.sort) == (before, "read")


def test_a_page_of_an_hour_ago_does_nothing(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER)
    stale = [*bench.hidden(), ("code", code("YES"))]
    before = hall.last
    hall.clock.push(121)
    bench.post(stale)
    assert hall.last == before


def test_a_page_that_was_answered_takes_no_other_scan(hall: Hall) -> None:
    """The back button: what the page said already stands; something else under its key is refused in words."""
    bench = hall.bench("mirela").scan(BLOWER)
    page = bench.hidden()
    bench.post([*page, ("code", code("YES"))]).scan("3")
    bench.post([*page, ("code", code("HOLD"))])
    before = hall.last
    bench.post([*page, ("code", code("CLEAN-DONE"))])
    assert hall.last == before
    assert (bench.line("why"), bench.line("next")) == (
        "This page was out of date. Nothing was recorded.",
        "Scan an item, or a command first.",
    )


# Forged labels and other sites


@pytest.mark.parametrize(
    "label",
    [
        "]d2C:HOLD.X",
        "(21)C:HOLD",
        "(01)09501101530003(21)C:PASS.3",
        "I:BLW-043.W\x1dC:PASS.3",
        "I:C:HOLD.8",
        "C:HOLD.8 I:BLW-043",
    ],
)
def test_no_label_of_an_item_is_a_command(hall: Hall, label: str) -> None:
    bench, before = hall.bench("mirela").scan(BLOWER), hall.last
    bench.scan(label)
    assert (bench.sort, hall.last) == ("refused", before)


def test_a_defect_scanned_before_its_item_counts_for_that_item_alone(hall: Hall) -> None:
    """Command, defect, item: the defect is not asked for again, and not said of the next item."""
    bench = hall.bench("petra").scan(code("FAIL")).scan(defect("BLW-CRACK")).scan(BLOWER)
    assert bench.sort == "held", bench.answer
    bench.scan(OTHER)
    assert bench.line("next") == "Scan what is wrong, from the defect sheet."
    assert not hall.department.item("BLW-044").held


# What a screen kept


def test_a_fact_that_somebody_else_sends_says_under_whom_it_was_kept(hall: Hall) -> None:
    bench = hall.bench("oskar", "LMG-D1")
    fact = {"key": "kept-1", "kept_at": "2026-03-05T07:05:00.123Z", "person": "P-MT", "confirmed": "1"}
    body = urlencode([*fact.items(), ("code", BLOWER), ("code", code("HOLD"))])
    sent = OWN | {"Content-Type": "application/x-www-form-urlencoded"}
    assert bench.client.post("/bench/LMG-D1/kept", content=body, headers=sent).status_code == 200
    (hold,) = hall.department.item("BLW-043").holds.values()
    assert hold.placed_by == "P-OL"
    assert "kept under P-MT" in hold.cause


@pytest.mark.parametrize("more", [("person", "a\nb"), ("person", "P-MT <b>")])
def test_a_kept_fact_of_nobody_with_such_a_name_is_not_taken(hall: Hall, more: tuple[str, str]) -> None:
    bench, before = hall.bench("mirela"), hall.last
    body = urlencode([("key", "kept-1"), ("kept_at", "2026-03-05T07:05:00Z"), ("code", BLOWER), more])
    sent = OWN | {"Content-Type": "application/x-www-form-urlencoded"}
    assert bench.client.post("/bench/LMG-D1/kept", content=body, headers=sent).status_code == 422
    assert hall.last == before


# Letters


def test_a_contact_that_begins_again_keeps_its_place_on_the_mat(hall: Hall) -> None:
    """The first place is free again meanwhile; the item still lies on the second, and its letter says so."""
    bench = hall.bench("mirela")
    for item in (BLOWER, OTHER):
        hall.cleaned(bench, item)
        hall.wet(bench, item)
    assert letters(bench) == {"BLW-043": "A", "BLW-044": "B"}
    for item in (BLOWER, OTHER):
        bench.scan(item).scan(code("DRIED-EARLY"))
    hall.wet(bench, OTHER)
    assert letters(bench) == {"BLW-044": "B"}
    hall.wet(bench, BLOWER)
    assert letters(bench) == {"BLW-043": "A", "BLW-044": "B"}


def test_a_session_that_ended_keeps_what_was_paused_for_whoever_comes(hall: Hall) -> None:
    """Trade, 7: interruptions; the item waits, its command does not."""
    hall.bench("mirela")
    bench = hall.screen("LMG-D1").scan(badge("mirela")).scan(BLOWER).scan(code("START-CONTACT"))
    assert bench.pending == [BLOWER, code("START-CONTACT")]
    page = bench.hidden()
    bench.client.post("/sign-out", data={"to": "/"}, headers=OWN)
    hall.bench("mirela")
    bench.post([*page, ("code", badge("mirela"))])
    assert bench.pending == [BLOWER], bench.answer


# What is shown again


@pytest.mark.parametrize("how", ["REPEAT", "HELP", "badge", "back"])
def test_nothing_that_is_held_meanwhile_is_shown_as_ready_again(hall: Hall, how: str) -> None:
    """The answer of before was true then; what is shown is how the item is now."""
    bench = inspected(hall)
    bench.scan(BLOWER).scan(code("YES"))
    page = [*bench.hidden(), ("code", ""), ("pin", PIN)]
    bench.post(page)
    assert "Now: ready" in bench.answer
    hall.bench("petra").scan(BLOWER).scan(code("HOLD"))
    before = hall.last
    if how == "back":
        bench.post(page)
    else:
        bench.scan(badge("joss") if how == "badge" else code(how))
    assert (bench.sort, bench.sound, hall.last) == ("held", "held", before), bench.answer
    assert "put it away" not in bench.answer


def test_too_many_wrong_pins_ask_for_the_badge_and_for_no_item(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER).scan(badge("petra"))
    for _ in range(6):
        bench.again(pin="00000000")
    assert (bench.sort, bench.line("next")) == ("refused", "Scan your badge.")
    assert "Mirela Tandy, since" in unescape(bench.text)
