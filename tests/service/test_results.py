"""Results in and subscriptions over HTTP: who is believed, what is answered, and what is shown once."""

from __future__ import annotations

import json
from base64 import b64encode
from pathlib import Path
from typing import Any

import pytest

from reprocess.receiving.results import BODY_MOST
from reprocess.record import words
from reprocess.reminders.signing import signed
from reprocess.service import who
from reprocess.service.api import incoming, subscriptions
from reprocess.service.served import Served
from reprocess.settings import Settings, SourceSettings, SubscriptionSettings
from reprocess.terms import SECOND_US
from tests.exchange.feeding import write
from tests.service.conftest import Bench

SECRET = b"s" * 32
READING = {"place": "STORE-1", "reading": "temp_c", "value": "21.5"}
HOST = "warehouse.larkmoor.example"
MADE = {"subscription": "warehouse", "title": "The warehouse", "url": f"https://{HOST}/hook"}


@pytest.fixture
def bench(served: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """The served department with a sensor that reports, a listed host, and anna as a supervisor who signs."""
    for router in (incoming.router, subscriptions.router):
        known = {getattr(route, "path", "") for route in served.app.routes}
        if not {f"/v1{getattr(route, 'path', '')}" for route in router.routes} & known:
            served.app.include_router(router, prefix="/v1")
    file = tmp_path / "secret"
    file.write_text("whsec_" + b64encode(SECRET).decode())
    file.chmod(0o600)
    parts: Served = served.app.state.served
    sensor = SourceSettings(sort="sensor", instrument="TH-1", station="LMG-1", secret_files=(file,))
    parts.settings = Settings(sources={"fridge": sensor}, subscriptions=SubscriptionSettings(hosts=(HOST,)))
    monkeypatch.setattr(who, "signs", lambda *_: "signed")
    opened = words.PlaceOpened(title="Clean store", sort="store", zone="clean", site="LMG", limits={"temp_c": "5..30"})
    write(served.department, "place:STORE-1", opened, station="LMG-1")
    return served


def report(
    bench: Bench, body: Any = READING, *, source: str = "fridge", message: str = "m-1", secret: bytes = SECRET,
    late_s: int = 0,
) -> Any:  # fmt: skip
    text = body if isinstance(body, bytes) else json.dumps(body).encode()
    at_s = bench.clock.now().wall_us // SECOND_US - late_s
    headers = signed([secret], message, at_s, text) | {"content-type": "application/json"}
    return bench.client.post(f"/v1/results/{source}", content=text, headers=headers)


def test_a_signed_result_is_on_record_as_the_machines_own_word(bench: Bench) -> None:
    told = report(bench)
    assert told.status_code == 200, told.text
    last = bench.department.history("place:STORE-1")[-1]
    assert (last.kind, last.envelope.actor, last.envelope.identity) == ("place-read", None, "machine")


def test_an_unknown_source_and_a_wrong_signature_look_alike(bench: Bench) -> None:
    count = bench.department.last_feed()
    answers = [
        report(bench, source="nobody"),
        report(bench, secret=b"x" * 32),
        report(bench, late_s=301),
        report(bench, late_s=-301),
        bench.client.post("/v1/results/fridge", json=READING),
    ]
    seen = {(one.status_code, json.dumps({**one.json(), "instance": None})) for one in answers}
    assert len(seen) == 1
    assert answers[0].status_code == 401
    assert bench.department.last_feed() == count


def test_the_same_message_gives_the_same_answer_and_one_entry(bench: Bench) -> None:
    first = report(bench)
    count = bench.department.last_feed()
    bench.clock.push(7 * 86_400)
    again = report(bench)
    assert again.json() == first.json() | {"repeated": True}
    assert bench.department.last_feed() == count
    other = report(bench, READING | {"value": "4"})
    assert (other.status_code, other.json()["type"]) == (422, "/v1/problems/key-reused")


@pytest.mark.parametrize("body", [b"no json", {}, READING | {"more": 1}, READING | {"value": 21.5}])
def test_what_does_not_fit_is_told_once_the_signature_is_right(bench: Bench, body: Any) -> None:
    count = bench.department.last_feed()
    assert report(bench, body).status_code == 422
    assert report(bench, body, secret=b"x" * 32).status_code == 401
    assert bench.department.last_feed() == count


def test_a_result_without_end_is_cut_off(bench: Bench) -> None:
    told = report(bench, b" " * (BODY_MOST + 1))
    assert told.status_code == 413


def supervise(bench: Bench) -> None:
    """Lets anna be a supervisor on record too."""
    people = words.PersonRegistered(name="Anna", sites=(), roles=("supervisor",))
    write(bench.department, "person:anna", people, station="LMG-1")


def test_a_subscription_is_made_listed_replayed_rekeyed_and_ended(bench: Bench) -> None:
    supervise(bench)
    made = bench.post("/subscriptions", MADE, key="make-1")
    assert made.status_code == 200, made.text
    assert made.json()["secret"].startswith("whsec_")
    assert made.headers["cache-control"] == "no-store"
    again = bench.post("/subscriptions", MADE, key="make-1").json()
    assert again["repeated"]
    assert "secret" not in again
    assert bench.post("/subscriptions/warehouse/replay", {"after": 0}).status_code == 200
    line = bench.get("/subscriptions").json()[0]
    assert (line["subscription"], line["state"], line["after"]) == ("warehouse", "active", 0)
    assert "secret" not in line
    rekeyed = bench.post("/subscriptions/warehouse/rekey").json()
    assert rekeyed["secret"] != made.json()["secret"]
    assert bench.post("/subscriptions/warehouse/change", {**MADE, "subscription": None}).status_code == 422
    less = {"title": "Stock", "url": MADE["url"], "kinds": ["lot-used"]}
    assert bench.post("/subscriptions/warehouse/change", less).status_code == 200
    assert bench.post("/subscriptions/warehouse/end", {"because": "moved"}).status_code == 200
    assert bench.get("/subscriptions").json()[0]["state"] == "ended"
    assert bench.post("/subscriptions/warehouse/rekey").status_code == 409


@pytest.mark.parametrize(
    "change",
    [
        {"url": "https://elsewhere.example/"},
        {"url": f"http://{HOST}/"},
        {"url": "https://127.0.0.1/"},
        {"kinds": ["item-dreamt"]},
        {"scopes": ["cases:read"]},
    ],
)
def test_a_subscription_that_leads_where_it_must_not_is_not_made(bench: Bench, change: dict[str, Any]) -> None:
    supervise(bench)
    told = bench.post("/subscriptions", MADE | change)
    assert (told.status_code, told.json()["type"]) == (422, "/v1/problems/wrong-use")
    assert bench.get("/subscriptions").json() == []
