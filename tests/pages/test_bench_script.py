"""What a bench's script does with keys, answers and clocks: in a real browser, before a page of the tests' own."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.pages.conftest import Floor, must_be_accessible, screenshot
from tests.pages.trial import Trial, burst, scan, tried


@pytest.fixture
def trial(floor: Floor) -> Iterator[Trial]:
    with tried(floor) as trial:
        yield trial


def still(page: Page) -> None:
    """Stops the page's clock, so that keys come in one moment and time passes only when a test says so."""
    page.clock.pause_at(page.evaluate("() => Date.now()") / 1000 + 2)
    expect(page.locator("html")).to_have_attribute("data-link", "here")


def passes(page: Page, ms: int) -> None:
    """Lets time pass on the page, and its server be heard of again after it."""
    page.clock.run_for(ms)
    expect(page.locator("html")).to_have_attribute("data-link", "here")


def opened(trial: Trial) -> Page:
    """Returns the trial page whose clock the test moves."""
    page = trial.floor.page()
    page.clock.install()
    trial.floor.sign_in(page, "mirela", "/trial/LMG-D1")
    trial.ready(page)
    still(page)
    return page


@pytest.mark.parametrize("focus", ["#trap", "#away", "#tick", "#language", "#go", ".who button"])
def test_a_scan_presses_nothing_that_has_the_focus(trial: Trial, focus: str) -> None:
    page = opened(trial)
    page.evaluate("() => document.getElementById('trap').addEventListener('click', () => document.title = 'pressed')")
    page.locator(focus).focus()
    scan(page, "I:BLW 0041.W")  # a space presses a button, a letter chooses in a list, Enter follows a link
    expect(page.locator("#answer .next")).to_have_text("I:BLW 0041.W")
    assert trial.codes == ["I:BLW 0041.W"]
    assert page.title() == "Trial · reprocess"
    assert page.url.endswith("/trial/LMG-D1")
    expect(page.locator("#tick")).not_to_be_checked()
    expect(page.locator("#language")).to_have_value("en")


def test_a_scan_over_a_pin_is_a_scan_and_no_pin(trial: Trial) -> None:
    page = opened(trial)
    trial.pin = True
    scan(page, "I:BLW-0041.W")
    expect(page.locator("#pin")).to_be_focused()
    passes(page, 3000)
    scan(page, "C:HOLD.X")
    expect(page.locator("#answer .next")).to_have_text("C:HOLD.X")
    expect(page.locator("#pin")).to_have_value("")
    assert trial.codes == ["I:BLW-0041.W", "C:HOLD.X"]


def test_a_pin_half_typed_is_never_sent_with_a_scan_but_with_its_own_enter(trial: Trial) -> None:
    page = opened(trial)
    trial.pin = True
    scan(page, "I:BLW-0041.W")
    expect(page.locator("#pin")).to_be_focused()
    typed(page, "4711")
    expect(page.locator("#pin")).to_have_value("4711")
    passes(page, 3000)
    scan(page, "C:HOLD.X")
    expect(page.locator("#answer .next")).to_have_text("C:HOLD.X")
    assert "pin" not in dict(trial.sent[1].fields)
    passes(page, 3000)
    typed(page, "4711")
    page.keyboard.press("Enter")
    expect(page.locator("#pin")).to_have_value("")
    assert dict(trial.sent[2].fields)["pin"] == "4711"


def typed(page: Page, text: str) -> None:
    """Types as a person does: a fifth of a second between two keys."""
    for one in text:
        page.keyboard.press({" ": "Space"}.get(one, one))
        passes(page, 200)


def test_what_a_person_types_and_presses_works_as_ever(trial: Trial) -> None:
    page = opened(trial)
    page.evaluate(
        """() => { let count = 0; document.getElementById('trap').addEventListener('click', () => {
             document.title = `pressed ${count += 1}`; }); }"""
    )
    page.locator("#trap").focus()
    typed(page, " ")
    assert page.title() == "pressed 1"
    page.keyboard.press("Enter")
    assert page.title() == "pressed 2"
    page.locator("#tick").focus()
    typed(page, " ")
    expect(page.locator("#tick")).to_be_checked()
    page.locator("#code").focus()
    typed(page, "BLW-0042")
    page.keyboard.press("Backspace")
    expect(page.locator("#code")).to_have_value("BLW-004")
    typed(page, "3")
    page.keyboard.press("Enter")
    expect(page.locator("#answer .next")).to_have_text("BLW-0043")
    assert trial.codes == ["BLW-0043"]
    expect(page.locator("#code")).to_have_value("")


def test_two_keys_at_once_are_typing(trial: Trial) -> None:
    page = opened(trial)
    page.locator("#code").focus()
    page.keyboard.press("4")
    page.keyboard.press("2")  # the fingers of one hand: less than 60 ms apart
    page.keyboard.press("Enter")
    expect(page.locator("#answer .next")).to_have_text("42")


@pytest.mark.parametrize("key", ["F8", "Control+]", "|"])
def test_the_group_separator_comes_as_the_key_that_the_scanner_sends(trial: Trial, key: str) -> None:
    # GS1 General Specifications, 7.8.3: a field of variable length ends with the separator, U+001D.
    page = opened(trial)
    for one in "0109506000134352":
        page.keyboard.press(one)
    page.keyboard.press(key)
    scan(page, "10LOT7")
    expect(page.locator("#answer .next")).to_be_visible()
    assert trial.codes == ["0109506000134352\x1d10LOT7"]


@pytest.mark.parametrize(("prefix", "suffix"), [("none", "Tab"), ("Enter", "Enter"), ("Tab", "none"), ("none", "none")])
def test_the_scanner_may_be_set_up_otherwise(trial: Trial, prefix: str, suffix: str) -> None:
    page = opened(trial)
    page.evaluate(
        "([prefix, suffix]) => localStorage.setItem('bench.scanner', JSON.stringify({ prefix, suffix }))",
        [prefix, suffix],
    )
    page.reload()
    trial.ready(page)
    page.locator("#away").focus()
    if prefix != "none":
        page.keyboard.press(prefix)
    scan(page, "I:BLW-0041.W", close=suffix if suffix != "none" else "")
    passes(page, 200)
    expect(page.locator("#answer .next")).to_have_text("I:BLW-0041.W")
    assert page.url.endswith("/trial/LMG-D1")


def test_a_line_feed_after_the_scan_presses_nothing(trial: Trial) -> None:
    page = opened(trial)
    page.locator("#away").focus()
    scan(page, "I:BLW-0041.W")
    page.keyboard.press("Enter")
    expect(page.locator("#answer .next")).to_have_text("I:BLW-0041.W")
    assert page.url.endswith("/trial/LMG-D1")


def test_the_same_code_within_two_seconds_is_a_tick_and_is_not_sent(trial: Trial) -> None:
    page = opened(trial)
    scan(page, "I:BLW-0041.W")
    expect(page.locator("#answer .next")).to_have_text("I:BLW-0041.W")
    passes(page, 1900)
    scan(page, "I:BLW-0041.W")
    assert sounds(page)[-1] == "tick"
    passes(page, 200)  # two seconds and a tenth after the first
    scan(page, "I:BLW-0041.W")
    scan(page, "C:NEXT.1")
    scan(page, "C:NEXT.1")  # a command that means something each time
    expect(page.locator("#answer .next")).to_have_text("C:NEXT.1")
    page.wait_for_load_state("networkidle")
    assert trial.codes == ["I:BLW-0041.W", "I:BLW-0041.W", "C:NEXT.1", "C:NEXT.1"]


def sounds(page: Page) -> list[str]:
    """Returns what the page has played."""
    found: list[str] = page.evaluate(
        """async () => {
          const at = document.querySelector('script[src*="bench.js"]').src.replace("bench.js", "sound.js");
          return (await import(at)).played;
        }"""
    )
    return found


def test_scans_go_one_after_the_other_each_under_the_key_of_the_answer_before(trial: Trial) -> None:
    page = opened(trial)
    trial.gate = threading.Event()
    for code in ("I:BLW-0041.W", "C:RINSED.1", "I:BLW-0042.X"):
        scan(page, code)
    expect(page.locator("body.scripted")).to_be_attached()
    assert len(trial.sent) <= 1
    trial.gate.set()
    expect(page.locator("#answer .next")).to_have_text("I:BLW-0042.X")
    assert trial.codes == ["I:BLW-0041.W", "C:RINSED.1", "I:BLW-0042.X"]
    assert len({dict(one.fields)["key"] for one in trial.sent}) == 3


HOSTILE = (
    "<img src=x onerror=document.title='pwned'>",
    "<script>document.title='pwned'</script>",
    '"><b id=made>x</b>',
    "=1+1",
    "@SUM(1+1)*cmd|' /C calc'!A0",
    "javascript:document.title='pwned'",
)


@pytest.mark.parametrize("code", HOSTILE)
def test_hostile_scans_are_text(trial: Trial, code: str) -> None:
    page = opened(trial)
    burst(page, code)
    expect(page.locator("#answer .next")).to_be_visible()
    assert page.locator("#answer .next").text_content() == code.replace("|", "\x1d")
    assert trial.codes == [code.replace("|", "\x1d")]
    assert page.title() == "Trial · reprocess"
    expect(page.locator("#made")).to_have_count(0)


# Unicode 16, block "Control Pictures": U+2400 stands for U+0000 and so on; U+FFFD for what has no picture.
HIDDEN = [
    ("I:BLW\u0007-0041", "I:BLW␇-0041"),
    ("I:BLW\u0000-0041", "I:BLW␀-0041"),
    ("I:BLW\u007f-0041", "I:BLW␡-0041"),
    ("I:\u202e1400-WLB", "I:\ufffd1400-WLB"),
    ("I:BLW\u200b-0041", "I:BLW\ufffd-0041"),
    ("I:BLW\u2066-0041", "I:BLW\ufffd-0041"),
]


@pytest.mark.parametrize(("code", "seen"), HIDDEN)
def test_hidden_characters_are_shown_as_symbols_and_never_sent(trial: Trial, code: str, seen: str) -> None:
    page = opened(trial)
    burst(page, code)
    expect(page.locator("#local .seen")).to_have_text(seen)
    expect(page.locator("#local")).to_contain_text("That code holds hidden characters.")
    assert sounds(page)[-1] == "refused"
    assert trial.codes == []


def test_a_scanner_that_sends_control_keys_opens_nothing_and_is_refused(trial: Trial) -> None:
    page = opened(trial)
    page.evaluate(
        """() => addEventListener('keydown', (event) => {
             if (event.ctrlKey && event.key !== 'Control') document.title = 'heard'; })"""
    )
    page.keyboard.press("Control+p")
    for one in "I:BLW-":
        page.keyboard.press(one)
    page.keyboard.press("Control+g")
    scan(page, "0041")
    expect(page.locator("#local .seen")).to_have_text("I:BLW-␇0041")
    assert page.title() == "Trial · reprocess"  # nobody on the page heard of them either
    assert trial.codes == []


def test_a_scan_that_is_too_long_says_so(trial: Trial) -> None:
    page = opened(trial)
    scan(page, "A" * 256)
    expect(page.locator("#answer .next")).to_have_text("A" * 256)
    passes(page, 3000)
    scan(page, "B" * 257)
    expect(page.locator("#local")).to_contain_text("That code is too long.")
    assert trial.codes == ["A" * 256]


def test_ten_megabytes_pasted_or_typed_are_refused_at_once(trial: Trial) -> None:
    page = opened(trial)
    page.evaluate(
        """() => {
          const data = new DataTransfer();
          data.setData("text/plain", "I:BLW-0041.W".padEnd(10 * 1024 * 1024, " "));
          const field = document.getElementById("code");
          field.focus();
          field.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true }));
        }"""
    )
    expect(page.locator("#local")).to_contain_text("That code is too long.")
    expect(page.locator("#code")).to_have_value("")
    passes(page, 3000)
    page.evaluate(
        """() => { for (let count = 0; count < 200_000; count += 1) document.body.dispatchEvent(
             new KeyboardEvent("keydown", { key: "A", bubbles: true, cancelable: true })); }"""
    )
    page.keyboard.press("Enter")
    expect(page.locator("#local .seen")).to_contain_text("AAAA")
    assert len(page.locator("#local .seen").inner_text()) < 60
    assert trial.codes == []


def test_a_broken_scan_is_refused_with_its_rest(trial: Trial) -> None:
    page = opened(trial)
    scan(page, "I:BLW", close="")
    passes(page, 100)
    expect(page.locator("#local")).to_contain_text("Part of the code is missing.")
    scan(page, "-0041.W")  # the rest might have been a tag of its own
    expect(page.locator("#local .seen")).to_have_text("-0041.W")
    assert trial.codes == []
    passes(page, 1000)
    scan(page, "I:BLW-0041.W")
    expect(page.locator("#answer .next")).to_have_text("I:BLW-0041.W")
    expect(page.locator("#local")).to_be_hidden()


def test_a_command_waits_thirty_seconds_for_its_next_item(trial: Trial) -> None:
    page = opened(trial)
    trial.batch, trial.pending = True, ["C:RINSED.1"]
    scan(page, "C:RINSED.1")
    expect(page.locator("#batch")).to_have_text("Scan the next item within 30 s.")
    passes(page, 12_000)
    expect(page.locator("#batch")).to_have_text("Scan the next item within 18 s.")
    scan(page, "I:BLW-0041.W")
    expect(page.locator("#batch")).to_have_text("Scan the next item within 30 s.")
    assert dict(trial.sent[1].fields)["pending"] == "C:RINSED.1"
    passes(page, 31_000)
    expect(page.locator("#batch")).to_be_hidden()
    expect(page.locator("#local")).to_contain_text("The command is over.")
    trial.batch, trial.pending = False, []
    scan(page, "I:BLW-0042.X")
    expect(page.locator("#answer .next")).to_have_text("I:BLW-0042.X")
    assert "pending" not in dict(trial.sent[2].fields)


def test_each_answer_sounds_and_its_time_is_kept(trial: Trial) -> None:
    page = trial.open()
    for sort in ("accepted", "refused", "held"):
        trial.sort = sort
        burst(page, f"I:{sort.upper()}")
        expect(page.locator("#answer .next")).to_have_text(f"I:{sort.upper()}")
        assert sounds(page)[-1] == sort
    times = page.evaluate("() => window.benchTimes")
    assert len(times) == 3
    assert all(0 < one < 10_000 for one in times)


def test_sounds_differ_and_lie_where_ears_hear_them_in_a_washer_room(trial: Trial) -> None:
    # 500 to 3000 Hz: the department's own need, as its alarms must stand out from 70 to 85 dB(A) of a washer room.
    page = trial.open()
    patterns = page.evaluate(
        """async () => {
          const at = document.querySelector('script[src*="bench.js"]').src.replace("bench.js", "sound.js");
          return (await import(at)).PATTERNS;
        }"""
    )
    assert set(patterns) == {"accepted", "refused", "held", "tick", "wet"}
    assert all(500 <= hz <= 3000 for tones in patterns.values() for one in tones for hz in (one["hz"], one["to"]))
    (rising,) = patterns["accepted"]
    assert rising["to"] > rising["hz"]
    assert len(patterns["refused"]) == 2
    assert max(one["hz"] for one in patterns["refused"]) < min(rising["hz"], *(one["hz"] for one in patterns["held"]))
    rhythms = {tuple((one["from_ms"], one["lasts_ms"]) for one in tones) for tones in patterns.values()}
    assert len(rhythms) == len(patterns)


CLOCKS: list[dict[str, object]] = [
    {"clock": "BLW-0041", "left": 180, "most": 1800, "letter": "A"},
    {"clock": "BLW-0042", "left": 100, "rewet": 40, "most": 600, "letter": "B"},
    {"clock": "BLW-0043", "left": 3900, "letter": "C"},
    {"clock": "BLW-0044", "left": 61, "most": 70, "letter": "D"},
]


def counting(trial: Trial, clocks: list[dict[str, object]]) -> Page:
    """Returns the trial page just after its server told these clocks."""
    page = opened(trial)
    trial.clocks = clocks
    with page.expect_response("**/clocks"):
        passes(page, 600)
    expect(page.locator("[data-clock] .digits")).to_have_count(len(clocks))
    return page


def order(page: Page) -> list[str | None]:
    return [one.get_attribute("data-letter") for one in page.locator("#clocks [data-clock]").all()]


def face(page: Page, letter: str) -> tuple[str, str | None, str]:
    clock = page.locator(f"[data-letter={letter}]")
    due = clock.get_attribute("data-due")
    return clock.locator(".digits").inner_text(), due, clock.locator(".due").inner_text()


def test_clocks_count_on_by_themselves_and_stand_in_the_order_of_what_comes_first(trial: Trial) -> None:
    page = counting(trial, CLOCKS)
    assert order(page) == ["B", "D", "A"]  # 40 s to the next re-wet, 61 s, 180 s
    assert page.locator("#rail [data-clock]").get_attribute("data-letter") == "C"
    assert face(page, "D")[:2] == ("1:01", "wait")
    assert face(page, "B")[:2] == ("1:40", "wet")
    assert face(page, "C")[0] == "1h05"
    passes(page, 41_000)
    assert face(page, "B") == ("0:59", "rewet", "Re-wet now")
    assert sounds(page).count("wet") == 1
    passes(page, 29_000)
    assert sounds(page).count("wet") == 1
    passes(page, 2_000)
    assert sounds(page).count("wet") == 2  # again after half a minute in which nobody scanned
    assert face(page, "D") == ("0:00", "overdue", "Overdue: confirm now +0:11")
    assert face(page, "A")[:2] == ("1:48", "wait")
    passes(page, 30_000)
    assert face(page, "B")[1:] == ("confirm", "Look, then confirm +0:02")
    assert order(page) == ["D", "B", "A"]


def test_the_clock_on_the_wall_changes_nothing(trial: Trial) -> None:
    page = counting(trial, CLOCKS)
    before = face(page, "A")
    page.clock.set_system_time("2031-01-01T00:00:00")
    passes(page, 1_300)
    assert before[0] == "3:00"
    assert face(page, "A")[0] == "2:59"


def test_a_film_that_is_short_has_its_cue_before_the_servers(trial: Trial) -> None:
    # A film of 120 s: the server's cue at four fifths comes 24 s before it dries; ours a quarter, 30 s, before.
    page = counting(trial, [{"clock": "BLW-0041", "left": 300, "rewet": 10, "film": 120, "letter": "A"}])
    passes(page, 3_000)
    assert face(page, "A")[1] == "wet"
    passes(page, 1_500)
    assert face(page, "A")[1] == "rewet"


def test_a_bench_with_everything_on_it_is_accessible(trial: Trial) -> None:
    page = counting(trial, CLOCKS)
    scan(page, "I:BLW-0041.W")
    expect(page.locator("#answer .next")).to_have_text("I:BLW-0041.W")
    page.clock.resume()
    must_be_accessible(page)
    screenshot(page, "bench-trial")
