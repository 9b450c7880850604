"""Attacks on signing in, screens and pages: what is sent, by whom and how often, must open, bar and break nothing."""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import AsyncIterator, Callable
from importlib import resources
from typing import Any
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient
from structlog.testing import capture_logs

from reprocess.errors import InvariantError, LedgerBusyError, LedgerError
from reprocess.rules.guessing import IDLE_S, SOURCE_TRIES
from reprocess.service import who
from reprocess.service.api.feed import watcher_of
from reprocess.service.pages import forms
from reprocess.service.pages.live import PAGES_EACH, PAGES_MAX, beats, number_of
from reprocess.service.streaming import Streams
from tests.ledger.conftest import day_over  # noqa: F401 - a fixture of both rooms
from tests.service.test_signing_in import DARA, HOST, SAME, Desk, app, desk  # noqa: F401 - fixtures of both
from tests.signing_in.people import ANNA, BEN, STATION, WRONG, Somebody, entries, second_station

FORM = {"Content-Type": "application/x-www-form-urlencoded"} | SAME
BROWSER = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
OTHER_PLACE = "LMV-1"


def send(desk: Desk, path: str, **fields: str) -> Any:  # noqa: F811
    """Returns the answer to a form, as a browser sends it."""
    body = urlencode({name.replace("__", "-"): value for name, value in fields.items()})
    return desk.client.post(path, content=body, headers=FORM | BROWSER, follow_redirects=False)


def by_form(desk: Desk, somebody: Somebody = ANNA, **more: str) -> Any:  # noqa: F811
    """Returns the answer to the form of signing in."""
    told = {"badge": somebody.badge, "pin": somebody.pin, "station": STATION} | more
    return send(desk, "/sign-in", **told)


def key_in(text: str) -> str:
    """Returns the key of the first form of a page that has one."""
    found = re.search(r'name="key" value="([^"]+)"', text)
    assert found is not None
    return found[1]


def enrolled_screen(desk: Desk, name: str = "HATCH-LEFT") -> None:  # noqa: F811
    """Makes the browser a screen, by somebody who signs in there."""
    desk.sign_in()
    wanted = {"screen": name, "label": "left of the hatch", "until": "2026-09-01T00:00:00Z", "pin": ANNA.pin}
    answer = desk.ask("/screens", wanted, SAME)
    assert answer.status_code == 200, answer.text


# Where somebody goes on to.


@pytest.mark.parametrize(
    "to",
    [
        "//evil.example",
        "/\\evil.example",
        "\\\\evil.example",
        "https://evil.example",
        "/%0d%0aSet-Cookie: a=b\r\nX: y",
        "\t//evil.example",
        "/\t/evil.example",
        "javascript:alert(1)",
        "/" + "a" * 600,
    ],
)
def test_nobody_is_led_to_another_server(desk: Desk, to: str) -> None:  # noqa: F811
    """WHATWG URL, section 4.4: tabs and line breaks are dropped, a backslash is a slash, two begin another host."""
    for answer in (by_form(desk, to=to), send(desk, "/language", language="es", to=to)):
        assert answer.status_code == 303
        assert answer.headers["location"] in {"/", "/%0d%0aSet-Cookie:"}, answer.headers["location"]
        assert "x" not in answer.headers


@pytest.mark.parametrize("path", ["/%2F%2Fevil.example", "/%5Cevil.example", "/desk%0d%0aX:y"])
def test_an_address_that_is_asked_for_leads_to_no_other_server(desk: Desk, path: str) -> None:  # noqa: F811
    answer = desk.client.get(path, headers=BROWSER, follow_redirects=False)
    assert answer.status_code == 404
    assert "location" not in answer.headers


def test_where_one_may_not_go_on_to_by_reading_is_told_in_a_page(desk: Desk) -> None:  # noqa: F811
    assert by_form(desk, to="/sign-out").headers["location"] == "/sign-out"
    told = desk.client.get("/sign-out", headers=BROWSER)
    assert (told.status_code, told.headers["allow"]) == (405, "POST")
    assert told.headers["content-type"].startswith("text/html")
    assert 'href="/"' in told.text
    assert desk.client.get("/v1/sessions/current").status_code == 200, "reading an address signs nobody out"


def test_a_language_is_chosen_on_the_answer_to_a_form_too(desk: Desk) -> None:  # noqa: F811
    """The address of the form takes no reading, so the page that held it is where one goes on."""
    by_form(desk)
    headers = FORM | BROWSER | {"Referer": f"{HOST}/desk/screens?x=1"}
    told = desk.client.post("/desk/screens/NONE/withdraw", content="reason=x", headers=headers)
    assert not told.is_success
    assert re.findall(r'name="to" value="([^"]*)"', told.text)[-1] == "/desk/screens"
    strange = headers | {"Referer": "https://evil.example/desk"}
    told = desk.client.post("/desk/screens/NONE/withdraw", content="reason=x", headers=strange)
    assert re.findall(r'name="to" value="([^"]*)"', told.text)[-1] == "/"


# What is sent.


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"badge=%00", 422),
        (b"station=%00&badge=x&pin=1", 422),
        (b"station=LMG-1&badge=%1b[2J&pin=1", 422),
        (b"station=LMG-1&badge=" + b"x" * 2000, 422),
        (b"badge=%ff&station=LMG-1", 400),
        ("badge=\xe9&station=LMG-1".encode("latin-1"), 400),
        ("badge=\xe9&station=LMG-1".encode(), 400),
        (b"a&&b", 400),
        (b"x=1&" * 2500, 400),
        (b"=", 422),
        (b"", 422),
        (b"a=" + b"x" * 10_000_000, 413),
    ],
    ids=lambda one: str(one)[:24],
)
def test_a_form_that_is_none_is_refused_and_told(desk: Desk, body: bytes, status: int) -> None:  # noqa: F811
    """A text with NUL cannot be kept by PostgreSQL (its documentation, 8.3): it must not even be looked up."""
    told = desk.client.post("/sign-in", content=body, headers=FORM, follow_redirects=False)
    assert told.status_code == status
    assert "Traceback" not in told.text


def test_of_a_field_that_stands_there_twice_the_first_counts(desk: Desk) -> None:  # noqa: F811
    body = f"badge={ANNA.badge}&badge={BEN.badge}&pin={ANNA.pin}&pin={BEN.pin}&station={STATION}&station=NONE"
    assert desk.client.post("/sign-in", content=body, headers=FORM, follow_redirects=False).status_code == 303
    assert desk.client.get("/v1/sessions/current").json()["person"] == ANNA.person


@pytest.mark.parametrize(
    "changed",
    [
        {"name_1": "x" * 121},
        {"name_1": "Nell\x1b[2J"},
        {"badge_1": "B 1"},
        {"badge_1": "\u202eB"},
        {"badge_1": "B" * 65},
    ],
)
def test_the_first_run_takes_by_page_what_it_takes_by_the_interface(desk: Desk, changed: dict[str, str]) -> None:  # noqa: F811
    two = {
        f"{name}_{number}": f"{name[0].upper()}-{number}" for name in ("person", "name", "badge") for number in (1, 2)
    }
    told = send(desk, "/first-run", code="X", pin_1="73910584", pin_2="58201936", **(two | changed))
    assert told.status_code == 422
    assert "73910584" not in told.text


@pytest.mark.parametrize("told", ["9" * 5000, "-1", "\u0661", "1e9", "0x1", " "])
def test_a_page_may_say_anything_of_what_it_has_seen(told: str) -> None:
    """Python makes no number of more than 4,300 digits (its documentation, "Integer string conversion")."""
    assert number_of(told) == 0
    assert number_of("417") == 417


@pytest.mark.parametrize("field", ["second_badge", "shown"])
@pytest.mark.parametrize("text", ["B\x00A", "\x1b[2J", "x" * 1001])
def test_what_goes_with_a_form_is_as_plain_as_its_fields(desk: Desk, field: str, text: str) -> None:  # noqa: F811
    by_form(desk, DARA)
    key = desk.department.clock.new_id()
    told = send(desk, "/desk/screens/NONE/withdraw", key=key, reason="lost", **{field: text, "second_pin": WRONG})
    assert told.status_code == 422, told.text
    assert "NONE" not in [one.stream.partition(":")[2] for one in entries(desk.department, "token:NONE")]


def test_a_key_is_good_for_one_form_of_one_person(desk: Desk) -> None:  # noqa: F811
    by_form(desk)
    text = desk.client.get("/desk/screens").text
    key, until = key_in(text), re.findall(r'name="until" value="(\d+)"', text)[0]
    fields = {"screen": "ONE", "label": "here", "until": until, "pin": ANNA.pin, "key": key}
    assert send(desk, "/desk/screens", **fields).status_code == 200
    assert send(desk, "/desk/screens", **fields | {"screen": "TWO"}).status_code == 422
    assert send(desk, "/desk/screens/ONE/withdraw", reason="lost", key=key).status_code == 422
    by_form(desk, BEN)
    again = send(desk, "/desk/screens", **fields | {"pin": BEN.pin})
    assert again.status_code == 422
    assert "__Host-screen" not in again.headers.get("set-cookie", "")
    assert not entries(desk.department, "token:TWO")
    assert len(entries(desk.department, "token:ONE")) == 1


@pytest.mark.parametrize(
    "text",
    ["{{7*7}}", "{% include 'base.html' %}", "<script>alert(1)</script>", '"><svg onload=alert(1)>', "{0.__class__}"],
)
def test_a_label_is_shown_as_it_was_typed(desk: Desk, text: str) -> None:  # noqa: F811
    by_form(desk)
    page = desk.client.get("/desk/screens").text
    until = re.findall(r'name="until" value="(\d+)"', page)[0]
    fields = {"screen": "X-1", "label": text, "until": until, "pin": ANNA.pin, "key": key_in(page)}
    shown = send(desk, "/desk/screens", **fields)
    assert shown.status_code == 200
    assert "<script>alert" not in shown.text
    assert "<svg onload" not in shown.text
    assert "49" not in re.findall(r"<bdi>(.*?)</bdi>", shown.text)
    again = send(desk, "/desk/screens", **fields | {"screen": "<b>", "key": "other"})
    assert again.status_code == 422
    assert "<script>alert" not in again.text
    assert "<svg onload" not in again.text
    assert ANNA.pin not in again.text


# Who asks.


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": f"{HOST}.evil.example"},
    ],
)
@pytest.mark.parametrize(
    "path", ["/sign-in", "/sign-out", "/language", "/first-run", "/desk/screens", f"/bench/{STATION}"]
)
def test_no_form_of_another_site_does_anything(desk: Desk, path: str, headers: dict[str, str]) -> None:  # noqa: F811
    by_form(desk)
    body = urlencode(
        {"badge": BEN.badge, "pin": BEN.pin, "station": STATION, "key": "k", "language": "es", "code": "x"}
    )
    own = {"Content-Type": FORM["Content-Type"]} | headers
    told = desk.client.post(path, content=body, headers=own, follow_redirects=False)
    assert told.status_code == 403
    assert "set-cookie" not in told.headers
    assert desk.client.get("/v1/sessions/current").json()["person"] == ANNA.person


@pytest.mark.parametrize(
    "path", ["/", "/sign-in", "/first-run", "/desk/screens", "/board", f"/bench/{STATION}", "/hatch"]
)
def test_no_page_is_framed_kept_or_runs_what_stands_in_it(desk: Desk, path: str) -> None:  # noqa: F811
    by_form(desk)
    told = desk.client.get(path)
    assert told.status_code == 200
    assert told.headers["cache-control"] == "no-store"
    assert told.headers["x-frame-options"] == "DENY"
    policy = told.headers["content-security-policy"]
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert not re.search(r"<script(?![^>]* src=)|\son\w+=|\sstyle=", told.text)


def test_a_session_that_a_browser_had_before_ends(desk: Desk) -> None:  # noqa: F811
    """OWASP ASVS 5.0, 7.2.4 (from memory): a new session at each sign-in, and the one before ends."""
    by_form(desk)
    before = desk.client.cookies["__Host-session"]
    assert by_form(desk, BEN, station=OTHER_PLACE).status_code == 303
    old = TestClient(desk.app, base_url=HOST, cookies={"__Host-session": before})
    assert old.get("/v1/sessions/current").status_code == 401
    assert desk.client.get("/v1/sessions/current").json()["person"] == BEN.person


def test_a_session_is_no_older_by_a_clock_that_was_set_back(desk: Desk) -> None:  # noqa: F811
    desk.sign_in()
    desk.clock.push(-IDLE_S)
    assert desk.client.get("/v1/sessions/current").status_code == 401


def test_a_withdrawn_screen_leaves_no_session_that_a_badge_alone_opened_there(desk: Desk) -> None:  # noqa: F811
    enrolled_screen(desk)
    told = desk.client.post(
        "/v1/sessions", json={"badge": ANNA.badge, "station": STATION, "bearer": True}, headers=SAME
    )
    stolen = {"Authorization": f"Bearer {told.json()['secret']}"}
    thief = TestClient(desk.app, base_url=HOST, headers=stolen)
    assert thief.get("/v1/sessions/current").status_code == 200
    office = TestClient(desk.app, base_url=HOST)
    body = {"badge": DARA.badge, "pin": DARA.pin, "station": OTHER_PLACE}
    assert office.post("/v1/sessions", json=body, headers=SAME).status_code == 201
    key = {"Idempotency-Key": "gone"}
    gone = office.request("DELETE", "/v1/tokens/HATCH-LEFT", json={"reason": "stolen"}, headers=SAME | key)
    assert gone.status_code == 200, gone.text
    assert thief.get("/v1/sessions/current").status_code == 401
    assert office.get("/v1/sessions/current").status_code == 200


def test_a_screen_goes_on_where_its_neighbour_tries_too_often(desk: Desk) -> None:  # noqa: F811
    """Both are behind one address, as behind a router or a proxy of the ward."""
    enrolled_screen(desk)
    neighbour = TestClient(desk.app, base_url=HOST)
    body = {"badge": "NOBODY", "pin": WRONG, "station": "NOWHERE"}
    answers = [neighbour.post("/v1/sessions", json=body, headers=SAME).status_code for _ in range(SOURCE_TRIES + 1)]
    assert answers[-1] == 429
    badge = {"badge": ANNA.badge, "station": STATION}
    assert desk.client.post("/v1/sessions", json=badge, headers=SAME).status_code == 201
    assert by_form(desk).status_code == 303
    tries = [desk.client.post("/v1/sessions", json=badge, headers=SAME).status_code for _ in range(SOURCE_TRIES)]
    assert tries[-1] == 429, "a screen's own tries are counted"


@pytest.mark.parametrize("name", ["A/B", "..", "A?b", "A%2Fb", "A#b", "<b>", "\\", ".A"])
def test_no_screen_has_a_name_by_which_it_could_not_be_withdrawn(desk: Desk, name: str) -> None:  # noqa: F811
    """RFC 3986, sections 2.2, 3.3 and 5.2.4: such signs, and segments of dots, mean something else in an address."""
    by_form(desk)
    page = desk.client.get("/desk/screens").text
    until = re.findall(r'name="until" value="(\d+)"', page)[0]
    fields = {"screen": name, "label": "here", "until": until, "pin": ANNA.pin, "key": key_in(page)}
    assert send(desk, "/desk/screens", **fields).status_code == 422
    wanted = {"label": "here", "until": "2026-09-01T00:00:00Z", "pin": ANNA.pin}
    assert desk.fault(desk.ask("/screens", wanted | {"screen": name}, SAME)) == (422, "invalid")
    desk.sign_in(DARA)
    asked = wanted | {"token": name, "scopes": ["items:read"], "pin": DARA.pin}
    assert desk.fault(desk.ask("/tokens", asked, SAME)) == (422, "invalid")


def test_a_screens_cookie_at_another_station_opens_nothing(desk: Desk) -> None:  # noqa: F811
    second_station(desk.department)
    enrolled_screen(desk)
    desk.client.cookies.delete("__Host-session")
    body = {"badge": ANNA.badge, "station": "LMG-2"}
    assert desk.client.post("/v1/sessions", json=body, headers=SAME).status_code == 401
    assert desk.client.get("/bench/LMG-2", headers=BROWSER, follow_redirects=False).status_code in {303, 403}


@pytest.mark.parametrize(
    "path", ["/hatch", "/desk", "/desk/people", "/desk/screens", "/desk/items/SH-1", "/board/handover"]
)
def test_a_screen_sees_no_people_and_no_wearers(desk: Desk, path: str) -> None:  # noqa: F811
    enrolled_screen(desk)
    desk.client.cookies.delete("__Host-session")
    told = desk.client.get(path, headers=BROWSER, follow_redirects=False)
    assert (told.status_code, told.headers["location"].partition("?")[0]) == (303, "/sign-in")
    assert desk.client.get(path, headers={"X-Fragment": "1"}).status_code == 401


@pytest.mark.parametrize("path", ["/live", f"/bench/{STATION}", f"/bench/{STATION}/clocks", f"/bench/{STATION}/scan"])
def test_a_stranger_reaches_no_bench_and_no_stream(desk: Desk, path: str) -> None:  # noqa: F811
    assert desk.client.get(path, headers={"X-Fragment": "1"}).status_code in {401, 405}
    told = send(desk, path, code="I:SH-1", key="k")
    assert told.status_code in {401, 405}


# Streams.


def test_one_screen_does_not_take_the_streams_of_all() -> None:
    streams = Streams(most=PAGES_MAX, each=PAGES_EACH)
    streams.readers["HATCH-LEFT"] = PAGES_EACH
    assert streams.full("HATCH-LEFT")
    assert not streams.full("HATCH-RIGHT")
    assert PAGES_MAX >= 10 * PAGES_EACH


def test_a_page_whose_session_ended_is_told_so_at_once(desk: Desk) -> None:  # noqa: F811
    """It is not led to signing in, which would be asked for with each try anew."""
    told = desk.client.get("/live", headers={"Accept": "text/event-stream"}, follow_redirects=False)
    assert told.status_code == 401


def begun(desk: Desk, seen: int) -> str:  # noqa: F811
    """Returns the sort of a stream's first event, for a page that saw so much, where 5 is the latest entry."""
    parts = desk.app.state.served
    parts.stopping = asyncio.Event()

    async def first() -> str:
        watcher_of(parts)._last = 5
        events: AsyncIterator[bytes] = beats(parts, seen, beat_s=0.001)
        text = (await anext(events)).decode()
        assert "id: 5\n" in text
        assert json.loads(text.partition("data: ")[2])["at"]
        return text.partition("event: ")[2].partition("\n")[0]

    return asyncio.run(first())


def test_a_page_that_was_away_is_told_what_it_missed(desk: Desk) -> None:  # noqa: F811
    """Else it shows what is no longer so until the next entry, as if nothing were held meanwhile."""
    assert begun(desk, 3) == "news"
    assert begun(desk, 5) == "beat"
    assert begun(desk, 0) == "beat"
    assert begun(desk, 9) == "news", "the record is an older copy"


# Every fault is a page.


@pytest.fixture
def failing(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> Callable[[Exception], Any]:  # noqa: F811
    """Returns what lets the page of the screens fail with a fault, and gives its answer."""

    def fail(fault: Exception) -> Any:
        def listed(_: object) -> None:
            raise fault

        by_form(desk)
        monkeypatch.setattr("reprocess.signing_in.programs.Programs.listed", listed)
        client = TestClient(desk.app, base_url=HOST, cookies=dict(desk.client.cookies), raise_server_exceptions=False)
        return client.get("/desk/screens", headers=BROWSER)

    return fail


@pytest.mark.parametrize(
    ("fault", "status", "waits"),
    [
        (LedgerBusyError("The record is busy."), 503, "2"),
        (LedgerError("The record cannot be used."), 503, "2"),
        (InvariantError("It is not so."), 500, None),
        (RuntimeError("a secret at /srv/x.py"), 500, None),
    ],
)
def test_a_fault_is_a_page_and_says_when_to_come_again(
    failing: Callable[[Exception], Any], fault: Exception, status: int, waits: str | None
) -> None:
    """I13: 503 and 507 come with Retry-After, and nothing of the program is told."""
    told = failing(fault)
    assert (told.status_code, told.headers.get("retry-after")) == (status, waits)
    assert told.headers["content-type"].startswith("text/html")
    assert "secret" not in told.text
    assert "Traceback" not in told.text


def test_a_fault_of_the_program_on_a_page_has_a_line_in_the_log(failing: Callable[[Exception], Any]) -> None:
    with capture_logs() as lines:
        failing(InvariantError("It is not so."))
    assert [one["code"] for one in lines if one["event"] == "fault"] == ["invariant"]


def test_a_problem_is_a_page_also_where_the_record_cannot_be_read(
    desk: Desk,  # noqa: F811
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def gone(_: object) -> bool:
        message = "The record cannot be used."
        raise LedgerError(message)

    monkeypatch.setattr("reprocess.department.Department.rests_on_examples", gone)
    told = desk.client.get("/sign-in", headers=BROWSER)
    assert (told.status_code, told.headers["retry-after"]) == (503, "2")
    assert told.headers["content-type"].startswith("text/html")


def test_whoever_tries_too_often_is_told_how_long_to_wait(desk: Desk) -> None:  # noqa: F811
    for _ in range(5):
        by_form(desk, pin=WRONG)
    told = by_form(desk)
    assert (told.status_code, told.headers["retry-after"]) == (429, "30")


@pytest.mark.parametrize("method", ["HEAD", "OPTIONS", "PUT", "DELETE", "PATCH", "TRACE"])
@pytest.mark.parametrize("path", ["/", "/desk", "/live", "/sign-in", f"/bench/{STATION}", "/desk/nowhere", "/%00"])
def test_other_methods_do_nothing_and_break_nothing(desk: Desk, method: str, path: str) -> None:  # noqa: F811
    told = desk.client.request(method, path, headers=BROWSER, follow_redirects=False)
    assert 400 <= told.status_code < 500


@pytest.mark.parametrize(
    "headers",
    [
        {"Accept-Language": "_,-,;q=nan, x;q=1e999," + "a" * 3000},
        {"Cookie": b'__Host-session="\\377"; language="\\012"; station=\xe9; __Host-screen=rpn_x'},
        {"Authorization": b"Bearer \xff\xfe"},
        {"Referer": "http://[::1"},
        {"X-Fragment": "<script>"},
    ],
)
@pytest.mark.parametrize("path", ["/", "/desk", "/board", "/sign-in?to=%ff&at=%00&language=%00", f"/bench/{STATION}"])
def test_strange_headers_break_no_page(desk: Desk, path: str, headers: dict[str, Any]) -> None:  # noqa: F811
    told = desk.client.get(path, headers=headers, follow_redirects=False)
    assert told.status_code < 500
    assert not any("\n" in value for value in told.headers.values())


def test_the_secret_fields_of_every_form_are_those_that_never_come_back() -> None:
    folder = resources.files("reprocess.service.pages").joinpath("templates")
    texts = [one.read_text() for one in [*folder.iterdir(), *folder.joinpath("desk").iterdir()] if one.is_file()]
    inputs = [one for text in texts for one in re.findall(r"<input[^>]*>", text) if 'type="password"' in one]
    names = {found[1] for one in inputs if (found := re.search(r'name="(\w+)"', one))}
    assert names
    assert names <= forms.SECRET
    assert not [one for one in inputs if "value=" in one]


def test_whether_a_page_asks_by_itself_is_said_by_a_reading_request_alone(desk: Desk) -> None:  # noqa: F811
    by_form(desk)
    desk.clock.push(IDLE_S - 1)
    assert desk.client.get("/desk", headers={"X-Fragment": "1"}).status_code == 200
    desk.clock.push(2)
    assert desk.client.get("/desk", headers={"X-Fragment": "1"}).status_code == 401
    assert who.OF_A_PAGE == "x-fragment"
