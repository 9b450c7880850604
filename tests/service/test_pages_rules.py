"""What holds for every page: who may see it, what stands in it, what it takes, and what nobody sees.

Driven from the routes: a page that is added without a permission, or without an address to try here, fails.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from reprocess.clock import StoryClock, clock_for
from reprocess.demo.crew import NAMES
from reprocess.department import Department, open_department
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Enrol
from reprocess.ledger.append import transaction
from reprocess.ledger.credentials import Pin
from reprocess.record.words import BadgeGiven, PersonRegistered
from reprocess.rules.permissions import PERMISSIONS, ROLES, may_person
from reprocess.service import who
from reprocess.service.app import create_app
from reprocess.service.pages.routes import FACES
from reprocess.signing_in.pins import Pins
from tests.faults.crashing import copied
from tests.service.larkmoor import PEOPLE, day_at_larkmoor  # noqa: F401 - a fixture
from tests.service.pages_seen import FORM, ORIGIN, Seen, SentForm, Visitor
from tests.service.staff import PIN

FILE = "/desk/workflows/agent/quat-alcohol-wipe"
OPEN = "open to everybody"
BY_HAND = {
    "/": OPEN,
    "/sign-in": OPEN,
    "/sign-out": OPEN,
    "/language": OPEN,
    "/first-run": OPEN,
    "/calibration": OPEN,
    "/live": "read-items",
    "/bench": "read-places",
    "/bench/{station}": "read-items",
    "/bench/{station}/clocks": "read-items",
    "/bench/{station}/scan": "read-items",
    "/bench/{station}/kept": "read-items",
    "/board": "read-board",
}
"""The pages that look at who asks by themselves, since a screen sees them too, or nobody in particular."""
STREAM = "/live"
PARTS = ("/bench/{station}/clocks",)
"""What is a part of a page, and no page of its own."""
GETS = {
    "/": "/",
    "/sign-in": "/sign-in",
    "/first-run": "/first-run",
    "/calibration": "/calibration",
    "/bench": "/bench",
    "/bench/{station}": "/bench/LMG-C2",
    "/bench/{station}/clocks": "/bench/LMG-C2/clocks",
    "/board": "/board",
    "/board/handover": "/board/handover",
    "/hatch": "/hatch",
    "/hatch/item/{name}": "/hatch/item/TUB-116",
    "/hatch/item/{name}/{deed}": "/hatch/item/TUB-116/return",
    "/hatch/place/{name}": "/hatch/place/QAR-1",
    "/desk": "/desk",
    "/desk/reviews": "/desk/reviews",
    "/desk/reviews/{feed}": "/desk/reviews/FEED",
    "/desk/holds": "/desk/holds",
    "/desk/recalls": "/desk/recalls",
    "/desk/recalls/{recall}": "/desk/recalls/R-7",
    "/desk/lookback": "/desk/lookback?sort=solution&name=LMG-B2",
    "/desk/reminders": "/desk/reminders",
    "/desk/solutions": "/desk/solutions",
    "/desk/items/{item}": "/desk/items/BAT-042",
    "/desk/people": "/desk/people",
    "/desk/people/{person}": "/desk/people/P-OL",
    "/desk/workflows": "/desk/workflows",
    "/desk/workflows/{sort}/{name}": FILE,
    "/desk/screens": "/desk/screens",
}
"""Each page's address in the demo."""
NO_KEY = {"/sign-in", "/sign-out", "/language", "/first-run", "/desk/reminders/seen", "/desk/workflows/check", "/hatch"}
"""Forms that record nothing of the process, or nothing twice; a scan at the hatch only leads on."""
NOTHING = "NONE-1"
DEEDS: dict[str, list[tuple[str, str, dict[str, str]]]] = {
    "/hatch": [("/hatch", "read-items", {"code": NOTHING})],
    "/hatch/item/{name}/{deed}": [("/hatch/item/TUB-116/return", "return-item", {})],
    "/hatch/place/{name}/opened": [("/hatch/place/QAR-1/opened", "open-cabinet", {})],
    "/desk/reviews/refusals": [("/desk/reviews/refusals", "review-refusals", {"until": "1", "finding": "x"})],
    "/desk/reviews/{feed}": [("/desk/reviews/FEED", "review-entry", {"finding": "x"})],
    "/desk/holds/{deed}": [
        (
            "/desk/holds/place",
            "place-hold",
            {"item": NOTHING, "sort": "administrative", "cause": "x", "owner": "supervisor"},
        ),
        ("/desk/holds/lift", "lift-hold", {"item": NOTHING, "hold": "H-1", "disposition": "x"}),
        ("/desk/holds/quarantine", "put-in-quarantine", {"item": NOTHING, "place": "QAR-1"}),
    ],
    "/desk/recalls": [
        (
            "/desk/recalls",
            "preview-recall",
            {"recall": "R-3", "sort": "lot", "name": NOTHING, "cause": "x", "owner": "supervisor"},
        )
    ],
    "/desk/recalls/{recall}/{deed}": [
        ("/desk/recalls/NONE/commit", "commit-recall", {}),
        ("/desk/recalls/NONE/close", "close-recall", {"note": "x"}),
        ("/desk/recalls/NONE/quarantine", "put-in-quarantine", {"item": NOTHING, "place": "QAR-1"}),
    ],
    "/desk/lookback": [
        ("/desk/lookback", "trace-wearer", {"sort": "wearer", "name": NOTHING}),
        ("/desk/lookback", "read-case", {"sort": "case", "name": NOTHING}),
    ],
    "/desk/reminders/seen": [("/desk/reminders/seen", "read-due", {"reminder": NOTHING})],
    "/desk/people": [
        ("/desk/people", "person-registered", {"person": "P-77", "name": "Nell Ives", "sites": "LMG"}),
        ("/desk/people", "enrol-roles", {"person": "P-77", "name": "Nell Ives", "sites": "LMG", "roles": "inspector"}),
    ],
    "/desk/people/{person}/{deed}": [
        (
            "/desk/people/P-OL/grant",
            "competency-granted",
            {"competency": "dry", "since": "2026-03-05", "until": "2026-04-05", "assessor": "x"},
        ),
        ("/desk/people/P-OL/withdraw", "competency-withdrawn", {"competency": "none", "reason": "x"}),
        ("/desk/people/P-OL/badge", "badge-given", {"badge": "B-77"}),
        ("/desk/people/P-OL/unbadge", "badge-withdrawn", {"badge": "B-NONE", "reason": "x"}),
        ("/desk/people/P-OL/pin", "set-pin", {"first_pin": "83726154"}),
        ("/desk/people/P-OL/unlock", "unlock-sign-in", {"reason": "x"}),
        ("/desk/people/NONE/left", "person-left", {"reason": "x"}),
    ],
    "/desk/workflows/check": [
        ("/desk/workflows/check", "read-files", {"text": "x", "sort": "agent", "name": "quat-alcohol-wipe"})
    ],
    "/desk/workflows/{sort}/{name}/propose": [(f"{FILE}/propose", "publish", {"text": "x"})],
    "/desk/workflows/{sort}/{name}/approve": [(f"{FILE}/approve", "approve", {"digest": "0" * 64})],
    "/desk/workflows/{sort}/{name}/confirm": [
        (f"{FILE}/confirm", "confirm-sources", {"digest": "0" * 64, "statement": "x"})
    ],
    "/desk/screens": [("/desk/screens", "enrol-screen", {"screen": "S-1", "label": "x", "until": "1800000000000000"})],
    "/desk/screens/{screen}/withdraw": [("/desk/screens/NONE/withdraw", "withdraw-token", {"reason": "x"})],
    "/bench/{station}/scan": [],
    "/bench/{station}/kept": [],
}
"""For each form's address: what is sent, and the operation that opens it; benches have tests of their own."""
ALSO_TO_SEE = {"/hatch/item/{name}/{deed}": "return-item"}
"""What the address chosen here asks for beside the page's own permission."""


def routes(method: str) -> list[APIRoute]:
    """Returns the routes of all pages with a method, as the application has them."""
    whole = [one for face in FACES for one in face.router.routes if isinstance(one, APIRoute)]
    return [one for one in whole if method in (one.methods or ())]


PAGES = sorted(one.path for one in routes("GET") if one.path != STREAM)
SCAN = {"code": "x", "kept_at": "2026-03-05T17:00:00.000Z"}
"""What a bench sends, at once or later."""
ENTRANCES = {"/sign-in", "/sign-out", "/language", "/first-run"}
FORMS = sorted({one.path for one in routes("POST")} - ENTRANCES)


def needed(route: APIRoute) -> str | None:
    """Returns the operation without which a route shows nothing, as its dependencies say."""
    known = {who.needs(one): one for one in PERMISSIONS}
    waiting, found = list(route.dependant.dependencies), []
    while waiting:
        one = waiting.pop()
        waiting += one.dependencies
        found += [known[one.call]] if one.call in known else []
    return found[0] if found else BY_HAND.get(route.path)


@dataclass
class House:
    """Is the served demo with somebody of each role, and the browser before it."""

    visitor: Visitor
    department: Department
    clock: StoryClock
    feed: int

    def at(self, address: str) -> str:
        """Returns an address with the entry that waits for a review in its place."""
        return address.replace("FEED", str(self.feed))

    def sign_in(self, name: str) -> None:
        """Signs in somebody of the story by short name, or of a role by the role's name."""
        badge, station = NAMES.get(name, (f"B-{name.upper()}"[:40], "LMG-C2"))
        self.visitor.sign_in(badge, PIN, station)


def open_house(whole: Path, path: Path) -> Iterator[House]:
    """Yields a copy of the served demo, in which an entry waits for a review and each role is somebody's."""
    clock = clock_for(whole)
    assert isinstance(clock, StoryClock)
    with open_department(copied(whole, path), clock=clock) as department:
        office = department.station("LMG-C2", badge="B-HQ", second="B-BO")
        assert office.ask(asking.OpenPlace("QAR-1", "Quarantine", "quarantine", "dirty")).accepted
        assert office.ask(asking.PreviewRecall("R-7", "items", "", "x", "supervisor", items=("TUB-116",))).accepted
        done = next(one for one in department.history("item:TUB-115") if one.kind == "step-done")
        bench = department.station("LMG-C2", badge="B-BO", second="B-PV")
        assert bench.ask(asking.Correct("TUB-115", done.number, "wrong item scanned", mistaken=True)).accepted
        staff = [*PEOPLE.values()]
        for role in sorted(ROLES):
            name = role.upper()
            for body in (
                PersonRegistered(name=f"Somebody {role}", sites=("LMG",), roles=(role,)),
                BadgeGiven(badge=f"B-{name}"[:40]),
            ):
                answer = office.enrol(Enrol(f"person:{name}", body))
                assert answer.accepted, answer
            staff.append(name)
        pins = Pins(department.ledger.key, memory_kib=8)
        kept = Pin(pins.kept(PIN), 0, must_change=False)
        with transaction(department.ledger) as work:
            for person in staff:
                work.credentials.keep_pin(person, kept)
        app = create_app(department)
        with TestClient(app, base_url=ORIGIN) as client:
            waiting, _ = department.waiting_for_review()
            yield House(Visitor(client), department, clock, waiting[0].feed)


@pytest.fixture
def house(day_at_larkmoor: Path, tmp_path: Path) -> Iterator[House]:  # noqa: F811
    """Yields a house of one's own."""
    yield from open_house(day_at_larkmoor, tmp_path / "copy")


@pytest.fixture(scope="module")
def museum(day_at_larkmoor: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:  # noqa: F811
    """Yields a house in which pages are only looked at."""
    yield from open_house(day_at_larkmoor, tmp_path_factory.mktemp("museum") / "copy")


def test_every_page_has_a_permission_and_an_address_here() -> None:
    without = [one.path for method in ("GET", "POST") for one in routes(method) if needed(one) is None]
    assert without == []
    assert set(PAGES) <= set(GETS)
    assert set(FORMS) <= set(DEEDS)
    assert set(BY_HAND.values()) - {OPEN} <= set(PERMISSIONS)


@pytest.mark.parametrize("path", PAGES)
def test_whoever_is_not_signed_in_is_asked_to_be(museum: House, path: str) -> None:
    museum.visitor.client.cookies.clear()
    told = museum.visitor.get(museum.at(GETS[path]))
    if BY_HAND.get(path) == OPEN:
        assert told.status_code == 200
    else:
        assert told.status_code == 303
        assert told.headers["location"].startswith("/sign-in?to=/")
        assert told.headers["cache-control"] == "no-store"


@pytest.mark.parametrize("path", FORMS)
def test_a_form_of_nobody_records_nothing(museum: House, path: str) -> None:
    museum.visitor.client.cookies.clear()
    before = museum.department.last_feed()
    for address, _, fields in DEEDS[path] or [(path.replace("{station}", "LMG-C2"), "", SCAN)]:
        told = museum.visitor.post(museum.at(address), fields | {"key": "k-1", "pin": PIN})
        assert (told.status_code, told.headers["content-type"][:9]) == (401, "text/html"), address
    assert museum.department.last_feed() == before


@pytest.mark.parametrize("role", sorted(ROLES))
def test_each_role_sees_what_the_table_opens_and_no_more(museum: House, role: str) -> None:
    museum.sign_in(role)
    for route in routes("GET"):
        if route.path == STREAM:
            continue
        operation = needed(route)
        told = museum.visitor.get(museum.at(GETS[route.path]))
        wanted = [one for one in (operation, ALSO_TO_SEE.get(route.path)) if one not in (OPEN, None)]
        allowed = all(may_person((role,), str(one)) is None for one in wanted)
        assert told.status_code == (200 if allowed else 403), (role, route.path, told.status_code)
        assert told.headers["content-type"].startswith("text/html")


@pytest.mark.parametrize("role", sorted(ROLES))
def test_each_role_does_what_the_table_opens_and_no_more(house: House, role: str) -> None:
    """Without a PIN, so that what is signed is asked for one (409) where the role may, and refused (403) where not."""
    house.sign_in(role)
    for route in routes("POST"):
        for number, (address, operation, fields) in enumerate(DEEDS.get(route.path, [])):
            told = house.visitor.post(house.at(address), fields | {"key": f"{role}-{number}-{len(route.path)}"})
            wanted = (str(needed(route)), operation)
            allowed = all(may_person((role,), one) is None for one in wanted)
            assert (told.status_code != 403) == allowed, (role, address, told.status_code, told.text[-900:])
            assert told.status_code < 500, address


def pages(house: House) -> Iterator[tuple[str, Any]]:
    """Yields every page as a supervisor sees it."""
    house.sign_in("bram")
    for path in PAGES:
        if path not in PARTS:
            yield path, house.visitor.get(house.at(GETS[path]))


def test_every_page_says_its_language_and_loads_nothing_from_elsewhere(museum: House) -> None:
    for path, told in pages(museum):
        seen = Seen(told.text)
        assert (seen.attributes.get("lang"), seen.attributes.get("dir")) == ("en", "ltr"), path
        assert seen.headings == 1, path
        assert seen.faults == [], path
        assert sorted({one for one in seen.ids if seen.ids.count(one) > 1}) == [], path
        assert "`" not in seen.words, (path, re.findall(r".{40}`.{40}", seen.words))


@pytest.mark.parametrize(("language", "direction"), [("es", "ltr"), ("ar", "rtl")])
def test_no_page_in_another_language_names_a_command(museum: House, language: str, direction: str) -> None:
    museum.sign_in("bram")
    for path in PAGES:
        address = GETS[path]
        joint = "&" if "?" in address else "?"
        told = museum.visitor.get(f"{museum.at(address)}{joint}language={language}")
        seen = Seen(told.text)
        if path not in PARTS:
            assert (seen.attributes.get("lang"), seen.attributes.get("dir")) == (language, direction), path
        assert "`" not in seen.words, path


def test_every_page_has_the_headers_of_a_page(museum: House) -> None:
    """ASVS 5.0, 3.4 (browser security mechanism headers) and 14.2.2 (nothing sensitive kept by caches)."""
    for path, told in pages(museum):
        heads = told.headers
        assert heads["content-security-policy"].startswith("default-src 'none'; script-src 'self'; style-src 'self'")
        assert "unsafe" not in heads["content-security-policy"]
        assert heads["cache-control"] == "no-store", path
        assert heads["referrer-policy"] == "same-origin", path
        assert (heads["x-frame-options"], heads["x-content-type-options"]) == ("DENY", "nosniff")


def test_every_form_has_a_key_of_its_own_and_a_button(museum: House) -> None:
    for path, told in pages(museum):
        forms = [one for one in Seen(told.text).forms if one.method == "post"]
        assert all(one.buttons for one in forms), (path, [one.action for one in forms if not one.buttons])
        keyed = [one for one in forms if one.action not in NO_KEY and not one.action.startswith("/bench/")]
        keys = [one.fields.get("key") for one in keyed]
        assert all(keys), (path, [one.action for one in keyed if not one.fields.get("key")])
        assert len(set(keys)) == len(keys), path


def sendable(house: House) -> Iterator[tuple[str, SentForm]]:
    """Yields (page, form) for each address that the desk's forms go to, once."""
    house.sign_in("bram")
    ours = house.department.station("LMG-C2", badge="B-BO")
    assert ours.ask(asking.PreviewRecall("R-8", "items", "", "x", "supervisor", items=("TUB-118",))).accepted
    ours.ask(asking.CommitRecall("R-8", None))
    done: set[str] = set()
    addresses = [*(GETS[path] for path in PAGES), "/desk/recalls/R-8"]
    for address in addresses:
        if not address.startswith("/desk"):
            continue
        for form in Seen(house.visitor.get(house.at(address)).text).forms:
            if form.method == "post" and form.action.startswith("/desk") and form.action not in done:
                done.add(form.action)
                yield house.at(address), form
    assert len(done) > 15, done


HOSTILE = (
    "<script>alert(1)</script>",
    "\"'><img src=x onerror=alert(1)>",
    "a\u202eb\u2066c",
    "nul\x00and\x1b[2J",
    "x" * 5000,
    "9" * 5000,
    "{{7*7}}{% raw %}",
    "مِرحبا\U0001f9ea",
)
"""After OWASP's cheat sheet on cross-site scripting; Trojan Source (2021) for direction marks; and lengths."""


@pytest.mark.parametrize("hostile", HOSTILE, ids=range(len(HOSTILE)))
def test_whatever_stands_in_a_field_comes_back_as_text(house: House, hostile: str) -> None:
    for number, (_, form) in enumerate(list(sendable(house))):
        for only in [*form.texts, None]:
            house.clock.push(61)
            fields = {name: value or "x" for name, value in form.fields.items()}
            fields |= {name: hostile for name in form.texts if only in (name, None)}
            fields |= {"key": f"h-{number}-{only}", "pin": PIN, "second_badge": "B-HQ", "second_pin": PIN}
            told = house.visitor.post(form.action, {name: value for name, value in fields.items() if name})
            assert told.status_code not in (303, 401) or form.action.startswith("/desk/reviews/"), form.action
            assert told.status_code < 500, (form.action, only)
            seen = Seen(told.text)
            assert seen.faults == [], (form.action, only, seen.faults)
            assert not {"\u202e", "\u2066", "\x00", "\x1b"} & set(seen.words), (form.action, only)


def test_a_form_from_elsewhere_or_that_is_none_is_refused(house: House) -> None:
    house.sign_in("bram")
    before = house.department.last_feed()
    for path in FORMS:
        for address, _, fields in DEEDS[path][:1] or [(path.replace("{station}", "LMG-C2"), "", SCAN)]:
            sent, there = fields | {"key": "k-9", "pin": PIN}, house.at(address)
            refused = [
                house.visitor.post(there, sent, Origin="https://elsewhere.example"),
                house.visitor.post(there, sent, Sec_Fetch_Site="cross-site"),
                house.visitor.post(there, sent, Sec_Fetch_Site="same-site"),
                house.visitor.post(there, sent, Origin="", Sec_Fetch_Site=""),
            ]
            assert [one.status_code for one in refused] == [403] * 4, path
            other = house.visitor.post(there, sent, Content_Type="text/plain")
            as_json = house.visitor.post(there, sent, Content_Type="application/json")
            assert [other.status_code, as_json.status_code] == [415, 415], path
            heads = {"Origin": ORIGIN, "Content-Type": FORM}
            for body in (b"key=%ff%fe", b"\xff", b"novalue", b"&".join([b"a=1"] * 3000)):
                told = house.visitor.client.post(there, content=body, headers=heads)
                assert told.status_code in (400, 422), (path, body[:10], told.status_code)
    assert house.department.last_feed() == before


def test_a_form_without_a_key_of_ours_is_told_so(house: House) -> None:
    house.sign_in("bram")
    before = house.department.last_feed()
    for path in FORMS:
        for address, _, fields in DEEDS[path]:
            if path in NO_KEY or path.startswith("/hatch"):
                continue
            for key in ({}, {"key": "has:colon"}, {"key": "x" * 200}, {"key": "é"}):
                told = house.visitor.post(house.at(address), fields | key | {"pin": PIN})
                assert told.status_code in (400, 403), (address, key, re.findall(r"class=.why.>[^<]*", told.text))
    assert house.department.last_feed() == before
