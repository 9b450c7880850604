"""Single sign-on against a provider that others wrote (oidc-provider-mock), and against one that lies.

OpenID Connect Core 1.0, section 3.1.3.7, says what of an ID token is looked at; RFC 7636 what PKCE is.
"""

from __future__ import annotations

import base64
import hashlib
import warnings
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from urllib.parse import parse_qs, urlsplit

import httpx2
import pytest
from joserfc import jwt
from joserfc.jwk import OctKey, RSAKey

from reprocess.errors import NotSignedInError, WrongUseError
from reprocess.signing_in.single_sign_on import WAITS_S, Provider, SignOn
from reprocess.terms import SECOND_US

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the provider of the tests still imports a module that its library calls old
    import oidc_provider_mock  # type: ignore[import-untyped]

KEY = bytes(range(32))
NOW_US = 1_772_694_300_000_000
DESK = "DESK-1"
HERE = Provider(
    issuer="http://localhost",
    client_id="larkmoor",
    client_secret="invented",  # noqa: S106 - of a provider that lives for one test
    back="http://localhost:8000/v1/single-sign-on/back",
    claim="sub",
    stations=frozenset({DESK}),
)


@pytest.fixture
def others(monkeypatch: pytest.MonkeyPatch) -> httpx2.BaseTransport:
    """Returns how a provider in this process is reached; nothing listens on a port."""
    warnings.filterwarnings("ignore", module="authlib")
    warnings.filterwarnings("ignore", module="oidc_provider_mock")
    del monkeypatch
    return httpx2.WSGITransport(app=oidc_provider_mock.app(require_nonce=True))


def query(address: str) -> dict[str, str]:
    return {name: values[0] for name, values in parse_qs(urlsplit(address).query).items()}


def allow(transport: httpx2.BaseTransport, address: str, sub: str) -> dict[str, str]:
    """Lets somebody sign on at the provider, and returns what the browser brings back."""
    with httpx2.Client(transport=transport) as browser:
        answer = browser.post(address, data={"sub": sub})
    assert answer.status_code == 302, answer.text
    return query(answer.headers["location"])


def now_us() -> int:
    """Returns the time by which the provider's own library judges."""
    from reprocess.clock import SystemClock  # noqa: PLC0415 - here alone a test asks for the real time

    return SystemClock().now().wall_us


@pytest.mark.filterwarnings("ignore")
def test_a_sign_on_goes_there_and_back(others: httpx2.BaseTransport) -> None:
    desk = SignOn(KEY, HERE, others)
    begun = desk.begin(DESK, now_us())
    asked = query(begun.address)
    assert (asked["response_type"], asked["code_challenge_method"]) == ("code", "S256")
    back = allow(others, begun.address, "P-A")
    assert back["state"] == asked["state"]
    assert desk.finish(back["state"], back["code"], begun.sealed, now_us()) == ("P-A", DESK)
    with pytest.raises(NotSignedInError):
        desk.finish(back["state"], back["code"], begun.sealed, now_us())


@pytest.mark.filterwarnings("ignore")
def test_any_node_with_the_same_key_finishes_it_and_no_other(others: httpx2.BaseTransport) -> None:
    begun = SignOn(KEY, HERE, others).begin(DESK, now_us())
    back = allow(others, begun.address, "P-A")
    with pytest.raises(NotSignedInError):
        SignOn(bytes(32), HERE, others).finish(back["state"], back["code"], begun.sealed, now_us())
    assert SignOn(KEY, HERE, others).finish(back["state"], back["code"], begun.sealed, now_us())[0] == "P-A"


@pytest.mark.filterwarnings("ignore")
def test_another_browsers_sign_on_is_not_finished_here(others: httpx2.BaseTransport) -> None:
    desk = SignOn(KEY, HERE, others)
    mine, theirs = desk.begin(DESK, now_us()), desk.begin(DESK, now_us())
    back = allow(others, theirs.address, "P-B")
    with pytest.raises(NotSignedInError):
        desk.finish(back["state"], back["code"], mine.sealed, now_us())


@pytest.mark.filterwarnings("ignore")
def test_people_may_be_called_something_else_there(others: httpx2.BaseTransport) -> None:
    desk = SignOn(KEY, replace(HERE, people=(("anna.brook", "P-A"),)), others)
    for sub, person in (("anna.brook", "P-A"), ("P-B", None)):
        begun = desk.begin(DESK, now_us())
        back = allow(others, begun.address, sub)
        if person is None:
            with pytest.raises(NotSignedInError):
                desk.finish(back["state"], back["code"], begun.sealed, now_us())
        else:
            assert desk.finish(back["state"], back["code"], begun.sealed, now_us()) == (person, DESK)


class Liar:
    """Is a provider that answers whatever a test wants."""

    def __init__(self) -> None:
        self.key = RSAKey.generate_key(2048, {"kid": "k1", "use": "sig", "alg": "RS256"})
        self.signs: Any = self.key
        self.header: dict[str, Any] = {"alg": "RS256", "kid": "k1"}
        self.claims: dict[str, Any] = {}
        self.published = [self.key.as_dict(private=False)]
        self.issuer = HERE.issuer
        self.form: dict[str, str] = {}
        self.status = 200

    def answer(self, request: httpx2.Request) -> httpx2.Response:
        match request.url.path:
            case "/.well-known/openid-configuration":
                names = ("authorization_endpoint", "token_endpoint", "jwks_uri")
                told = {name: f"http://localhost/{name}" for name in names}
                return httpx2.Response(200, json={"issuer": self.issuer, **told})
            case "/jwks_uri":
                return httpx2.Response(200, json={"keys": self.published})
            case _:
                self.form = {name: values[0] for name, values in parse_qs(request.content.decode()).items()}
                token = jwt.encode(self.header, self.claims, self.signs, algorithms=[self.header["alg"]])
                return httpx2.Response(self.status, json={"id_token": token, "access_token": "a"})

    def tries(self, **claims: Any) -> tuple[str, str]:
        """Signs on with an ID token of these claims; those not named are right, those that are None are left out."""
        desk = SignOn(KEY, HERE, httpx2.MockTransport(self.answer))
        begun = desk.begin(DESK, NOW_US)
        asked = query(begun.address)
        now = NOW_US // SECOND_US
        right = {"iss": HERE.issuer, "aud": "larkmoor", "sub": "P-A", "iat": now, "exp": now + 300}
        told = right | {"nonce": asked["nonce"]} | claims
        self.claims = {name: value for name, value in told.items() if value is not None}
        found = desk.finish(asked["state"], "code", begun.sealed, NOW_US)
        digest = hashlib.sha256(self.form["code_verifier"].encode()).digest()
        assert base64.urlsafe_b64encode(digest).rstrip(b"=").decode() == asked["code_challenge"]
        return found


@pytest.fixture(scope="module")
def made() -> Liar:
    return Liar()


@pytest.fixture
def liar(made: Liar) -> Liar:
    """Returns a provider that lies about nothing yet."""
    one = Liar.__new__(Liar)
    one.__dict__ |= {**made.__dict__, "signs": made.key, "status": 200, "header": {"alg": "RS256", "kid": "k1"}}
    return one


def test_the_right_one_comes_in(liar: Liar) -> None:
    """RFC 7636, section 4.6: the verifier that is sent is the one whose digest was."""
    assert liar.tries() == ("P-A", DESK)


NOW = NOW_US // SECOND_US


@pytest.mark.parametrize(
    "claims",
    [
        {"iss": "https://elsewhere.example"},
        {"aud": "another-client"},
        {"aud": ["larkmoor", "another-client"], "azp": "another-client"},
        {"exp": NOW - 120},
        {"iat": NOW + 3600},
        {"nonce": "another"},
        {"nonce": None},
        {"exp": None},
        {"sub": None},
        {"sub": 7},
        {"sub": ""},
    ],
    ids=" ".join,
)
def test_an_id_token_that_says_something_else_lets_nobody_in(liar: Liar, claims: dict[str, Any]) -> None:
    """OpenID Connect Core 1.0, 3.1.3.7, items 2 to 5, 9 to 11."""
    with pytest.raises(NotSignedInError):
        liar.tries(**claims)


def _another_key(liar: Liar) -> None:
    liar.signs = RSAKey.generate_key(2048, {"kid": "k1"})


def _shared_secret(liar: Liar) -> None:
    """A secret among the public keys: whoever reads them signs."""
    liar.header = {"alg": "HS256", "kid": "k2"}
    liar.signs = OctKey.import_key(b"s" * 32, {"kid": "k2"})
    liar.published = [*liar.published, liar.signs.as_dict()]


def _refuses(liar: Liar) -> None:
    liar.status = 400


def _another_issuer(liar: Liar) -> None:
    liar.issuer = "http://localhost:9"


@pytest.mark.parametrize("lie", [_another_key, _shared_secret, _refuses, _another_issuer])
@pytest.mark.filterwarnings("ignore::joserfc.errors.SecurityWarning")
def test_a_provider_that_is_not_the_one_lets_nobody_in(liar: Liar, lie: Callable[[Liar], None]) -> None:
    lie(liar)
    with pytest.raises(NotSignedInError):
        liar.tries()


def test_it_is_used_at_desks_only_and_over_tls_only(liar: Liar) -> None:
    desk = SignOn(KEY, HERE, httpx2.MockTransport(liar.answer))
    with pytest.raises(WrongUseError):
        desk.begin("LMG-1", NOW_US)
    for address in ("http://sign-on.example", "ftp://localhost", "javascript:alert(1)", "https://"):
        with pytest.raises(WrongUseError):
            SignOn(KEY, replace(HERE, issuer=address))


def test_it_waits_ten_minutes(liar: Liar) -> None:
    desk = SignOn(KEY, HERE, httpx2.MockTransport(liar.answer))
    begun = desk.begin(DESK, NOW_US)
    with pytest.raises(NotSignedInError):
        desk.finish(query(begun.address)["state"], "code", begun.sealed, NOW_US + (WAITS_S + 1) * SECOND_US)
    for spoilt in ("", "x", "é", begun.sealed[:-2]):
        with pytest.raises(NotSignedInError):
            desk.finish(query(begun.address)["state"], "code", spoilt, NOW_US)
