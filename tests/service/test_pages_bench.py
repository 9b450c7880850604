"""The bench without a browser: what each scan of the grammar does, and what a page carries to the next one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient

from reprocess.clock import StoryClock, clock_for
from reprocess.demo.crew import NAMES, Crew
from reprocess.department import Department, open_department
from reprocess.engine.enrolling import Enrol
from reprocess.ledger.append import transaction
from reprocess.ledger.credentials import Pin
from reprocess.record.words import BadgeGiven, CompetencyGranted, PersonRegistered
from reprocess.scan.code import BadgeTag, ItemTag, SolutionTag, printed
from reprocess.scan.command import COMMANDS, DEFECTS, tag_of
from reprocess.service.app import create_app
from reprocess.service.pages.bench.grammar import turned
from reprocess.signing_in.pins import Pins
from reprocess.signing_in.sessions import Door
from tests.faults.crashing import copied
from tests.service.larkmoor import PEOPLE, day_at_larkmoor  # noqa: F401 - a fixture
from tests.service.staff import PIN

OWN = {"Origin": "https://testserver", "Sec-Fetch-Site": "same-origin"}
"""What a browser sends with a form of the server's own page (Fetch, section 4.6; RFC 6454)."""
BLOWER = printed(ItemTag("BLW-043", checked=True))
OTHER = printed(ItemTag("BLW-044", checked=True))
WIPES = printed(SolutionTag("LMG-W1", checked=True))


def code(command: str) -> str:
    """Returns what is printed for a command of the sheet."""
    return printed(tag_of(COMMANDS[command]))


def defect(name: str) -> str:
    """Returns what is printed for a defect of the sheet."""
    return printed(tag_of(DEFECTS[name]))


def badge(name: str) -> str:
    """Returns what is printed on somebody's badge."""
    return printed(BadgeTag(NAMES[name][0], checked=True))


@dataclass
class Browser:
    """Is one bench's page without script: it sends what its form holds, and keeps what came."""

    client: TestClient
    station: str
    text: str = ""
    status: int = 0

    def open(self) -> Browser:
        """Opens the bench."""
        return self._keep(self.client.get(f"/bench/{self.station}"))

    def scan(self, text: str, **more: Any) -> Browser:
        """Scans one code: the page's own hidden fields go with it."""
        fields = [*self.hidden(), ("code", text), *more.items()]
        return self.post(fields)

    def post(self, fields: list[tuple[str, str]], **headers: str) -> Browser:
        """Sends fields as they are."""
        body = urlencode(fields)
        sent = OWN | {"Content-Type": "application/x-www-form-urlencoded"} | headers
        return self._keep(self.client.post(f"/bench/{self.station}/scan", content=body, headers=sent))

    def again(self, **more: Any) -> Browser:
        """Sends the page's form with no new scan, as its button does."""
        return self.post([*self.hidden(), ("code", ""), *more.items()])

    def _keep(self, response: Any) -> Browser:
        self.text, self.status = response.text, response.status_code
        return self

    def hidden(self) -> list[tuple[str, str]]:
        """Returns the hidden fields of the answer."""
        found = re.findall(r'<input type="hidden" name="([a-z]+)" value="([^"]*)">', self.answer)
        return [(name, unescape(value)) for name, value in found]

    @property
    def answer(self) -> str:
        """Returns the part of the page that answers."""
        return self.text[self.text.index('<div id="answer"') : self.text.index('<p class="field code">')]

    @property
    def sort(self) -> str:
        """Returns which answer it is."""
        return str(re.findall(r'<section class="answer ([a-z]+)"', self.text)[0])

    @property
    def sound(self) -> str:
        """Returns what the answer sounds like."""
        return str(re.findall(r'data-sound="([a-z]+)"', self.text)[0])

    def line(self, name: str) -> str:
        """Returns the text of the first paragraph of a class, without its marks; empty where there is none."""
        found = re.findall(rf'<p class="{name}"[^>]*>(.*?)</p>', self.answer, re.DOTALL)
        return unescape(re.sub(r"<[^>]+>", "", found[0])).strip() if found else ""

    @property
    def pending(self) -> list[str]:
        """Returns the codes that the page carries."""
        return [value for name, value in self.hidden() if name == "pending"]


@dataclass
class Hall:
    """Is the served demo after its day; each bench has a browser of its own."""

    app: Any
    department: Department
    clock: StoryClock
    clients: list[TestClient] = field(default_factory=list)

    def browser(self, station: str) -> Browser:
        """Returns a browser at which nobody is signed in."""
        client = TestClient(self.app, base_url="https://testserver", follow_redirects=False)
        self.clients.append(client)
        return Browser(client, station)

    def bench(self, name: str, station: str | None = None) -> Browser:
        """Returns the bench of somebody who signed in there with badge and PIN."""
        own, usual = NAMES[name]
        browser = self.browser(station or usual)
        given = {"badge": own, "pin": PIN, "station": browser.station, "to": "/"}
        assert browser.client.post("/sign-in", data=given, headers=OWN).status_code == 303
        return browser.open()

    def screen(self, station: str) -> Browser:
        """Returns the enrolled screen of a station, at which nobody is signed in."""
        browser = self.bench("hedda", station)
        until = {"screen": f"SCREEN-{station}", "label": "on the wall", "until": "2026-09-01T00:00:00Z", "pin": PIN}
        headers = OWN | {"Idempotency-Key": f"screen-{station}"}
        assert browser.client.post("/v1/screens", json=until, headers=headers).status_code == 200
        assert browser.client.post("/sign-out", data={"to": "/"}, headers=OWN).status_code == 303
        return browser.open()

    def cleaned(self, bench: Browser, item: str) -> None:
        """Takes a blower from used to cleaned, by scans alone."""
        for scans in ((item, code("YES"), "3"), (item, code("CLEAN-DONE")), (item, code("CLEAN-CHECK-OK"))):
            self.clock.push(90)
            for one in scans:
                bench.scan(one)
            assert bench.sort == "accepted", bench.answer

    def wet(self, bench: Browser, item: str) -> None:
        """Wets it with disinfectant."""
        for one in (item, code("START-CONTACT"), WIPES):
            bench.scan(one)
        assert bench.sort == "accepted", bench.answer

    @property
    def last(self) -> int:
        """Returns the number of the latest entry."""
        return self.department.last_feed()


@pytest.fixture
def hall(day_at_larkmoor: Path, tmp_path: Path) -> Iterator[Hall]:  # noqa: F811
    """Yields the demo, served with its own door: people sign in as they do."""
    kept_at = clock_for(day_at_larkmoor)
    assert isinstance(kept_at, StoryClock)
    clock = StoryClock(kept_at.wall_us, kept_at.count)
    clock.running_us = kept_at.running_us
    with open_department(copied(day_at_larkmoor, tmp_path / "copy"), clock=clock) as department:
        pins = Pins(department.ledger.key, memory_kib=8)
        kept = Pin(pins.kept(PIN), 0, must_change=False)
        with transaction(department.ledger) as work:
            for person in (*PEOPLE.values(), "P-OL"):
                work.credentials.keep_pin(person, kept)
        app = create_app(department)
        app.state.served.parts["door"] = Door(department.ledger, clock, pins)
        with TestClient(app, base_url="https://testserver"):
            made = Hall(app, department, clock)
            yield made


def test_a_bench_asks_for_a_scan_and_says_who_is_signed_in(hall: Hall) -> None:
    bench = hall.bench("mirela")
    assert (bench.status, bench.sort, bench.pending) == (200, "idle", [])
    assert "Mirela Tandy, since" in unescape(bench.text)


def test_an_item_alone_shows_its_next_step_and_records_nothing(hall: Hall) -> None:
    bench, before = hall.bench("mirela"), hall.last
    bench.scan(BLOWER)
    assert (bench.sort, bench.sound, bench.pending) == ("read", "tick", [BLOWER])
    assert bench.line("item") == "BLW-043"
    assert bench.line("step") == "Step: take apart"
    assert "All filters are off the blower." in bench.text
    assert hall.last == before


def test_yes_does_the_step_that_was_shown_and_asks_for_what_must_be_counted(hall: Hall) -> None:
    """Three plugs close the three ports of this blower during wet work (workflows/blower.yaml)."""
    bench = hall.bench("mirela").scan(BLOWER).scan(code("YES"))
    assert (bench.sort, bench.line("field number")) == ("refused", "How many: plugs")
    before = hall.last
    bench.scan("3")
    assert (bench.sort, bench.sound, bench.pending) == ("accepted", "accepted", [])
    assert bench.line("next") == "Next: clean"
    assert "take-apart" in hall.department.item("BLW-043").satisfied
    assert hall.last == before + 1


def test_a_count_that_is_wrong_is_a_failure_and_no_advance(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER).scan(code("YES")).scan("2")
    assert bench.sort == "refused"
    assert hall.department.history("item:BLW-043")[-1].kind == "step-failed"
    assert "take-apart" not in hall.department.item("BLW-043").satisfied


def test_a_command_first_takes_many_items_and_says_so(hall: Hall) -> None:
    bench = hall.bench("mirela")
    for item in (BLOWER, OTHER):
        bench.scan(item).scan(code("YES")).scan("3")
    hall.clock.push(90)
    bench.scan(code("CLEAN-DONE"))
    assert 'data-batch="1"' in bench.answer
    assert bench.line("next") == "Scan the item."
    for name, item in (("BLW-043", BLOWER), ("BLW-044", OTHER)):
        hall.clock.push(20)
        bench.scan(item)
        assert (bench.sort, bench.line("item"), bench.pending) == ("accepted", name, [code("CLEAN-DONE")])
    bench.scan(code("CLEAN-CHECK-OK")).scan(BLOWER)
    assert (bench.sort, bench.pending) == ("accepted", [code("CLEAN-CHECK-OK")])


def test_a_batch_ends_after_half_a_minute_on_the_server_as_well(hall: Hall) -> None:
    bench, before = hall.bench("mirela").scan(code("HOLD")), hall.last
    hall.clock.push(31)
    bench.scan(BLOWER)
    assert (bench.sort, bench.pending, hall.last) == ("read", [BLOWER], before)


def test_another_item_takes_the_place_of_the_one_that_waits(hall: Hall) -> None:
    """Nobody's command meets an item that somebody else only looked at."""
    bench = hall.bench("mirela").scan(BLOWER).scan(OTHER)
    assert bench.pending == [OTHER]
    hall.clock.push(121)
    bench.scan(code("HOLD"))
    assert bench.pending == [code("HOLD")]
    assert not hall.department.item("BLW-044").held


def test_the_label_is_shown_when_contact_begins(hall: Hall) -> None:
    """Trade, 8.1: the label governs; keep the surface visibly wet."""
    bench = hall.bench("mirela")
    hall.cleaned(bench, BLOWER)
    hall.wet(bench, BLOWER)
    assert "visibly wet" in bench.answer
    assert bench.line("next") == "Keep it wet, then confirm: disinfect."


def test_contact_without_a_solution_asks_for_one(hall: Hall) -> None:
    bench = hall.bench("mirela")
    bench.scan(BLOWER).scan(code("YES")).scan("3")
    bench.scan(BLOWER).scan(code("START-CONTACT"))
    assert (bench.sort, bench.line("next")) == ("refused", "Scan the solution that is used.")
    assert bench.pending == [BLOWER, code("START-CONTACT")]


def test_fail_asks_for_the_defect_and_a_held_item_stops(hall: Hall) -> None:
    """The hold's caution is shown, and the sound of a stop is another one than that of a refusal."""
    bench = hall.bench("petra").scan(BLOWER).scan(code("FAIL"))
    assert (bench.sort, bench.line("next")) == ("refused", "Scan what is wrong, from the defect sheet.")
    bench.scan(defect("BLW-CRACK"))
    assert (bench.sort, bench.sound) == ("held", "held")
    assert "STOP" in bench.answer
    assert hall.department.item("BLW-043").held
    bench.scan(BLOWER)
    assert (bench.sort, bench.sound) == ("held", "held")


def test_no_asks_what_is_wrong_with_the_step_that_was_shown(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER).scan(code("YES")).scan("3")
    bench.scan(BLOWER).scan(code("CLEAN-DONE")).scan(BLOWER).scan(code("NO"))
    assert bench.line("next") == "Scan what is wrong, from the defect sheet."
    bench.scan(defect("SOIL"))
    assert bench.sort == "held", bench.answer
    assert "step-failed" in [one.kind for one in hall.department.history("item:BLW-043")[-3:]]


def test_one_line_of_the_checklist_can_be_pressed_as_not_so(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER)
    bench.post([*bench.hidden(), ("not_so", "outlet-capped"), ("code", "")])
    assert (bench.sort, bench.line("why")) == ("refused", "Not good: The outlet is capped. (CAP-MISSING). P13")
    assert hall.department.history("item:BLW-043")[-1].kind == "step-failed"


def test_rinsed_asks_whether_it_is_so(hall: Hall) -> None:
    bench = hall.bench("mirela")
    hall.cleaned(bench, BLOWER)
    hall.wet(bench, BLOWER)
    contact(hall, bench)
    clean = hall.bench("petra")
    clean.scan(BLOWER).scan(code("RINSED"))
    assert (clean.sort, clean.line("next")) == ("refused", "Is all of this so? Scan Yes or No.")
    assert "No streaks or residue" in clean.answer
    clean.scan(code("YES"))
    assert clean.sort == "accepted", clean.answer


def contact(hall: Hall, bench: Browser, item: str = BLOWER) -> None:
    """Keeps an item wet until its time is met, and confirms it."""
    opened = hall.department.item(item.removeprefix("I:").partition(".")[0]).dwell
    assert opened is not None
    left = opened.least_s
    while opened.film_s is not None and left > opened.film_s * 0.8:
        hall.clock.push(opened.film_s * 0.7)
        left -= int(opened.film_s * 0.7)
        assert bench.scan(item).scan(code("RE-WET")).sort == "accepted", bench.answer
    hall.clock.push(left + 1)
    bench.scan(item).scan(code("CONTACT-DONE"))
    assert bench.sort == "accepted", bench.answer


def test_contact_done_too_soon_is_refused_with_one_next_action(hall: Hall) -> None:
    bench = hall.bench("mirela")
    hall.cleaned(bench, BLOWER)
    hall.wet(bench, BLOWER)
    hall.clock.push(5)
    bench.scan(BLOWER).scan(code("CONTACT-DONE"))
    assert (bench.sort, bench.sound) == ("refused", "refused")
    assert len(re.findall('<p class="next">', bench.answer)) == 1
    assert "T01" in bench.line("why")


def test_help_tells_the_rule_and_who_can_help_and_calls_nobody(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER).scan(code("CLEAN-DONE"))
    assert bench.sort == "refused"
    before = hall.last
    bench.scan(code("HELP"))
    assert re.search(r'<div class="help">.*P01.*</div>', bench.answer, re.DOTALL)
    assert "Who can help" in bench.answer or "yourself" in bench.answer
    assert hall.last == before


def test_repeat_shows_the_last_answer_again_and_records_nothing(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER).scan(code("CLEAN-DONE"))
    first, before = (bench.sort, bench.line("why"), bench.line("next")), hall.last
    bench.scan(code("REPEAT"))
    assert (bench.sort, bench.line("why"), bench.line("next")) == first
    assert (bench.sound, hall.last) == ("tick", before)


def test_repeat_shows_what_waits_and_does_not_do_it(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER).scan(code("YES"))
    before = hall.last
    bench.scan(code("REPEAT"))
    assert bench.line("field number") == "How many: plugs"
    assert hall.last == before


def test_repeat_asks_nothing_although_nothing_is_missing_any_more(hall: Hall) -> None:
    """Somebody else did the step meanwhile: the sentence could be asked now, and would be refused on record."""
    first, second = hall.bench("mirela", "LMG-D1"), hall.bench("oskar", "LMG-D2")
    second.scan(BLOWER).scan(code("YES"))
    first.scan(BLOWER).scan(code("YES")).scan("3")
    before = hall.last
    second.scan(code("REPEAT"))
    assert (second.sort, hall.last) == ("idle", before)


def test_next_shows_another_step_that_may_come(hall: Hall) -> None:
    """Of one step that may come, `Next` shows that one; `turned` goes round several."""
    assert turned(("dry", "charge"), "dry") == "charge"
    assert turned(("dry", "charge"), "charge") == "dry"
    assert turned((), "dry") is None
    bench = hall.bench("mirela").scan(BLOWER).scan(code("NEXT"))
    assert (bench.sort, bench.line("step")) == ("read", "Step: take apart")
    assert bench.pending == [BLOWER]


def test_language_goes_round_and_stays(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER)
    bench.scan(code("LANGUAGE"))
    assert '<html lang="es" dir="ltr"' in bench.text
    assert bench.pending == [BLOWER]
    bench.open().scan(code("LANGUAGE"))
    assert '<html lang="ar" dir="rtl"' in bench.text
    bench.scan(code("LANGUAGE"))
    assert '<html lang="en" dir="ltr"' in bench.text


def test_undo_takes_back_the_last_scan_within_a_minute(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER).scan(code("YES")).scan("3")
    bench.scan(code("UNDO"))
    assert (bench.sort, bench.line("why")) == ("accepted", "Undone. The record is kept.")
    assert "take-apart" not in hall.department.item("BLW-043").satisfied
    bench.scan(BLOWER).scan(code("YES")).scan("3")
    hall.clock.push(61)
    bench.scan(BLOWER).scan(code("UNDO"))
    assert bench.sort == "refused"


@pytest.mark.parametrize(
    "hostile",
    ["\x00", "I:BLW-1.X", "<script>alert(1)</script>", "' OR 1=1 --", "\u202eBLW-043", "=1+1", "A" * 257, "\x1b[2J"],
)
def test_a_hostile_scan_is_text_and_nothing_runs(hall: Hall, hostile: str) -> None:
    """I17: what was scanned is shown in part, in plain ASCII, and the sentence waits on."""
    bench = hall.bench("mirela").scan(BLOWER)
    before = hall.last
    bench.scan(hostile)
    assert (bench.status, bench.sort, bench.pending, hall.last) == (200, "refused", [BLOWER], before)
    assert "<script>alert" not in bench.text
    assert bench.line("seen").removeprefix("Scanned:").strip().isascii()


def test_a_page_that_sends_too_much_or_nothing_records_nothing(hall: Hall) -> None:
    bench, before = hall.bench("mirela"), hall.last
    for fields in ([("code", "X")], [("key", "k-1")], [("key", "k-2"), ("code", "X"), *[("pending", "Y")] * 21]):
        assert bench.post(fields).status in {400, 422}, fields
    assert bench.post([("key", "k-3"), ("code", "X"), ("pending", "A" * 257)]).status == 422
    assert hall.last == before


def test_the_same_key_twice_records_once(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(BLOWER)
    fields = [*bench.hidden(), ("code", code("HOLD"))]
    assert bench.post(fields).sound == "held"
    before = hall.last
    assert bench.post(fields).sound == "tick"
    assert hall.last == before


def test_any_node_goes_on_with_a_sentence(hall: Hall) -> None:
    """Nothing of it is in the server's memory: another application on the same record goes on."""
    bench = hall.bench("mirela").scan(BLOWER).scan(code("YES"))
    fields = [*bench.hidden(), ("code", "3")]
    other = Browser(TestClient(create_app(hall.department), base_url="https://testserver"), "LMG-D1")
    other.client.cookies = bench.client.cookies
    assert other.post(fields).sort == "accepted"


def test_a_fragment_brings_the_answer_and_who_is_signed_in_alone(hall: Hall) -> None:
    bench = hall.bench("mirela")
    bench.post([*bench.hidden(), ("code", BLOWER)], **{"X-Fragment": "1"})
    assert bench.text.startswith('<div id="answer"')
    assert 'id="who"' in bench.text
    assert "<html" not in bench.text


def test_whoever_is_at_another_bench_is_sent_there(hall: Hall) -> None:
    bench = hall.bench("mirela")
    bench.station = "LMG-D2"
    assert bench.open().status == 403
    assert hall.browser("LMG-D1").open().status == 303


def test_a_screen_of_another_station_is_refused(hall: Hall) -> None:
    bench = hall.screen("LMG-D1")
    assert (bench.status, bench.line("next")) == (200, "Scan your badge.")
    bench.station = "LMG-D2"
    assert bench.open().status == 403


def test_a_screen_shows_an_item_and_takes_no_command_without_a_person(hall: Hall) -> None:
    bench = hall.screen("LMG-D1")
    before = hall.last
    assert bench.scan(BLOWER).line("step") == "Step: take apart"
    bench.scan(code("HOLD"))
    assert (bench.sort, bench.line("next"), bench.pending) == ("refused", "Scan your badge.", [BLOWER])
    assert hall.last == before


def test_a_badge_alone_switches_at_a_screen_within_the_shift_and_shows_what_was_paused(hall: Hall) -> None:
    hall.bench("mirela")
    bench = hall.screen("LMG-D1").scan(BLOWER).scan(badge("mirela"))
    assert (bench.sort, bench.line("why")) == ("read", "The bench is yours now.")
    assert "Mirela Tandy, since" in unescape(bench.text)
    assert bench.pending == [BLOWER]
    assert bench.scan(code("YES")).line("field number") == "How many: plugs"


def test_a_badge_elsewhere_asks_for_the_pin(hall: Hall) -> None:
    bench = hall.bench("mirela").scan(badge("petra"))
    assert bench.line("next") == "Give your PIN. Later the badge is enough."
    assert 'type="password"' in bench.answer
    assert bench.again(pin="00000000").line("why") == "Badge and PIN do not belong together. Try again."
    bench.again(pin=PIN)
    assert "Petra Vail, since" in unescape(bench.text)


@pytest.mark.parametrize("unknown", ["WEARER-1", "NOBODY-7"])
def test_a_badge_of_nobody_here_tells_no_name(hall: Hall, unknown: str) -> None:
    bench = hall.bench("mirela").scan(printed(BadgeTag(unknown, checked=True)))
    assert bench.line("next") == "Give your PIN. Later the badge is enough."
    assert unknown not in re.sub(r'<input type="hidden"[^>]*>', "", bench.answer)
    assert "Mirela Tandy, since" in unescape(bench.text)


def test_there_is_no_bench_of_that_name(hall: Hall) -> None:
    bench = hall.bench("mirela")
    bench.station = "NOWHERE"
    assert bench.open().status == 404


def test_a_system_administrator_reads_no_items_at_a_bench(hall: Hall) -> None:
    """A08: process rights and rights over the system are apart (rules/permissions.py, READING)."""
    enrol(hall, PersonRegistered(name="Sol Ames", sites=("LMG",), roles=("system-administrator",)))
    enrol(hall, BadgeGiven(badge="B-SA"))
    with transaction(hall.department.ledger) as work:
        work.credentials.keep_pin(
            "P-SA", Pin(Pins(hall.department.ledger.key, memory_kib=8).kept(PIN), 0, must_change=False)
        )
    bench = hall.browser("LMG-D1")
    given = {"badge": "B-SA", "pin": PIN, "station": "LMG-D1", "to": "/"}
    assert bench.client.post("/sign-in", data=given, headers=OWN).status_code == 303
    assert bench.open().status == 403


def enrol(hall: Hall, body: Any, person: str = "P-SA") -> None:
    """Enrols something about a person, as the supervisor does."""
    office = hall.department.station("LMG-C2", badge=NAMES["hedda"][0], second=NAMES["bram"][0])
    answer = office.enrol(Enrol(f"person:{person}", body))
    assert answer.accepted, answer


def test_a_trainee_needs_a_second_person_whose_badge_then_goes_with_the_scan(hall: Hall) -> None:
    """A03: a competent person stands by; away from an enrolled screen that person gives the PIN as well (D10)."""
    year_us = 365 * 86_400 * 1_000_000
    now_us = hall.clock.now().wall_us
    trainee = CompetencyGranted(
        competency="take-apart", from_us=now_us, until_us=now_us + year_us, assessor="Hedda Quist", level="trainee"
    )
    enrol(hall, trainee, "P-JA")
    bench = hall.bench("joss", "LMG-D1").scan(BLOWER).scan(code("YES")).scan("3")
    assert (bench.sort, bench.line("next")) == ("refused", "A second person scans a badge.")
    bench.scan(badge("mirela"))
    assert bench.line("next") == "Give the PIN."
    assert bench.again(second_pin="00000000").line("why") == "Badge and PIN do not belong together. Try again."
    bench.again(second_pin=PIN)
    assert bench.sort == "accepted", bench.answer
    assert hall.department.history("item:BLW-043")[-1].envelope.second == "P-MT"
    assert NAMES["mirela"][0] not in bench.answer


def test_a_release_is_signed_with_the_pin_in_the_same_scan(hall: Hall) -> None:
    """D10: the PIN goes with the request; a wrong one releases nothing, and the item need not be scanned again."""
    bench = inspected(hall)
    bench.scan(BLOWER).scan(code("YES"))
    assert (bench.sort, bench.line("next")) == ("read", "Compare the tag, then sign with your PIN.")
    assert bench.again(pin="00000000").line("why") == "Badge and PIN do not belong together. Try again."
    assert hall.department.item("BLW-043").stage == "inspected"
    bench.again(pin=PIN)
    assert (bench.sort, bench.line("next")) == ("accepted", "Next: put it away.")
    assert hall.department.item("BLW-043").stage == "ready"
    assert hall.department.history("item:BLW-043")[-1].envelope.identity == "signed"


def inspected(hall: Hall) -> Browser:
    """Returns the bench of whoever may release a blower that is inspected and tested; the crew of the story did it."""
    crew = Crew(hall.department, hall.clock)
    crew.take("BLW-043", "functional-test")
    hall.clock.push(30)
    return hall.bench("joss", "LMG-C2")


def test_two_benches_on_one_item_the_second_is_told_who_was_first(hall: Hall) -> None:
    first, second = hall.bench("mirela", "LMG-D1"), hall.bench("oskar", "LMG-D2")
    second.scan(BLOWER)
    first.scan(BLOWER).scan(code("YES")).scan("3")
    assert first.sort == "accepted"
    second.scan(code("YES"))
    assert second.sort == "refused"
    assert "done already, by P-MT" in second.line("why")


def test_a_clock_stands_at_the_bench_where_it_was_started_under_its_letter(hall: Hall) -> None:
    bench = hall.bench("mirela")
    third = printed(ItemTag("BLW-045", checked=True))
    for item in (BLOWER, OTHER, third):
        hall.cleaned(bench, item)
    hall.wet(bench, BLOWER)
    hall.wet(bench, OTHER)
    assert letters(bench) == {"BLW-043": "A", "BLW-044": "B"}
    bench.scan(BLOWER).scan(code("DRIED-EARLY"))
    assert letters(bench) == {"BLW-044": "B"}
    hall.wet(bench, third)
    assert letters(bench) == {"BLW-045": "A", "BLW-044": "B"}
    assert letters(hall.bench("petra")) == {"TUB-117": ""}, "a dryer is no place on the mat"


def letters(bench: Browser) -> dict[str, str]:
    """Returns the letter of each clock at a bench."""
    text = bench.client.get(f"/bench/{bench.station}/clocks", headers={"X-Fragment": "1"}).text
    return dict(re.findall(r'data-clock="([^"]+)" data-letter="([A-H]?)"', text))


def test_what_begins_nothing_is_not_carried_on(hall: Hall) -> None:
    bench = hall.bench("mirela")
    for one in ("3", code("YES"), defect("SOIL")):
        bench.scan(one)
        assert (bench.pending, bench.line("next")) == ([], "Scan the item."), one


def test_the_benches_are_listed_and_others_ask_for_a_sign_in_there(hall: Hall) -> None:
    bench = hall.bench("mirela")
    text = bench.client.get("/bench").text
    assert '<a href="/bench/LMG-D1">' in text
    assert 'href="/sign-in?to=/bench/LMG-C1&amp;at=LMG-C1"' in text
    assert "SAL-B1" not in text, "people of one site see its stations alone"
    assert hall.browser("LMG-D1").client.get("/bench").status_code == 303
