"""Single sign-on over HTTP: there, back, and the same session as with badge and PIN."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import httpx2
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from reprocess.batching import Batcher
from reprocess.clock import StoryClock
from reprocess.gathering import Library
from reprocess.service.app import create_app
from reprocess.settings import Settings, SignOnSettings
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.conftest import EVENING_US
from tests.signing_in.people import ANNA, STATION
from tests.signing_in.test_single_sign_on import Liar, query

BACK = "/v1/single-sign-on/back"


@pytest.fixture
def provider() -> Liar:
    """Returns a provider that lies about nothing."""
    return Liar()


@pytest.fixture
def browser(day_over: Path, tmp_path: Path, provider: Liar) -> Iterator[TestClient]:
    """Yields a browser at the served department, whose settings name a sign-on for one desk."""
    secret = tmp_path / "client"
    secret.write_text("invented", encoding="ascii")
    secret.chmod(0o600)
    clock = StoryClock(EVENING_US, count=100_000)
    named = SignOnSettings(
        issuer="http://localhost", client_id="larkmoor", secret_file=secret, back=BACK, stations=(STATION,)
    )
    with small.opened(copied(day_over, tmp_path / "copy"), clock, library=Library()) as department:
        app = create_app(department, Settings(sign_on=named))
        app.state.served.parts["sign-on transport"] = httpx2.MockTransport(provider.answer)
        with TestClient(app, base_url="https://testserver", follow_redirects=False) as client:
            yield client


def signed_on(browser: TestClient, provider: Liar, sub: str) -> httpx2.Response:
    """Returns what the browser is answered when it comes back."""
    gone = browser.get("/v1/single-sign-on", params={"station": STATION})
    assert gone.status_code == 303, gone.text
    asked = query(gone.headers["location"])
    now = EVENING_US // 1_000_000
    provider.claims = {"iss": "http://localhost", "aud": "larkmoor", "sub": sub, "iat": now, "exp": now + 300}
    provider.claims["nonce"] = asked["nonce"]
    answer: httpx2.Response = browser.get(BACK, params={"state": asked["state"], "code": "a-code"})
    return answer


def test_whoever_signed_on_has_a_session(browser: TestClient, provider: Liar) -> None:
    answer = signed_on(browser, provider, ANNA.person)
    assert answer.status_code == 200, answer.text
    cookies = answer.headers.get_list("set-cookie")
    session = next(one for one in cookies if one.startswith("__Host-session="))
    assert {"HttpOnly", "Secure", "Path=/"} <= {one.strip() for one in session.split(";")}
    assert "samesite=strict" in session.lower()


def test_somebody_who_does_not_work_here_has_none(browser: TestClient, provider: Liar) -> None:
    answer = signed_on(browser, provider, "P-NOBODY")
    assert answer.status_code == 401
    assert "set-cookie" not in answer.headers


def test_coming_back_without_having_gone_opens_nothing(browser: TestClient) -> None:
    assert browser.get(BACK, params={"state": "s", "code": "c"}).status_code == 401


def test_other_stations_have_badge_and_pin(browser: TestClient) -> None:
    assert browser.get("/v1/single-sign-on", params={"station": "LMG-9"}).status_code == 422


def test_where_the_settings_name_none_there_is_none(browser: TestClient) -> None:
    app = browser.app
    assert isinstance(app, FastAPI)
    before = app.state.served
    app.state.served = replace(before, settings=Settings(), batcher=Batcher(before.department.desk))
    assert browser.get("/v1/single-sign-on", params={"station": STATION}).status_code == 404
    app.state.served.batcher.close()
    app.state.served = before
