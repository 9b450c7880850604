"""The organisation's own sign-on at supervisors' desks: OpenID Connect, authorization code with PKCE (RFC 7636, S256).

What a sign-on waits with (state, nonce, verifier) travels sealed with the browser, so that any node can finish what
another one began. It opens a session only; whoever signs something gives the PIN as everybody does.
"""

from __future__ import annotations

import base64
import hmac
import secrets
from dataclasses import dataclass, field
from typing import Any, Final
from urllib.parse import urlsplit

import httpx2
import orjson
from authlib.oauth2.rfc6749.parameters import prepare_grant_uri  # type: ignore[import-untyped]
from authlib.oauth2.rfc7636 import create_s256_code_challenge  # type: ignore[import-untyped]
from authlib.oidc.core import CodeIDToken  # type: ignore[import-untyped]
from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet

from reprocess.errors import NotSignedInError, WrongUseError
from reprocess.terms import SECOND_US

ALGORITHMS: Final = ("RS256", "PS256", "ES256", "EdDSA")
"""How an ID token may be signed: never with a secret that both sides know, never not at all."""
WAITS_S: Final = 600
"""How long a sign-on may take (our choice)."""
LEEWAY_S: Final = 60
"""How far the provider's clock may be off (our choice)."""
ANSWER_MAX: Final = 256 * 1024
"""Bytes of one answer of the provider that are read."""
TIMEOUT_S: Final = 5.0
_INFO: Final = b"reprocess: single sign-on that waits"
_RANDOM: Final = 32
FAILED: Final = "The sign-on was not completed. Begin again, or sign in with badge and PIN."


@dataclass(frozen=True, slots=True)
class Provider:
    """Is the organisation's sign-on, and what it is used for.

    Attributes:
        issuer: its address; all it says of itself must agree with it.
        client_id: what this department is called there.
        client_secret: the secret that it gave us.
        back: the address to which it sends the browser back.
        claim: the member of the ID token that says who it is.
        people: persons on record by that member's value; where it is empty, the value is the person's id.
        stations: the desks at which it may be used.
    """

    issuer: str
    client_id: str
    client_secret: str = field(repr=False)
    back: str
    claim: str
    stations: frozenset[str]
    people: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Begun:
    """Is a sign-on that began: where the browser goes, and what it carries along, sealed."""

    address: str
    sealed: str


class SignOn:
    """Signs people on with one provider.

    Args:
        key: the record's key, from which the key of what waits is derived.
        provider: the organisation's sign-on.
        transport: how the provider is reached; tests bring their own.
    """

    def __init__(self, key: bytes, provider: Provider, transport: httpx2.BaseTransport | None = None) -> None:
        _must_be_safe(provider.issuer)
        self.provider = provider
        self._transport = transport
        derived = HKDF(algorithm=SHA256(), length=32, salt=None, info=_INFO).derive(key)
        self._fernet = Fernet(base64.urlsafe_b64encode(derived))

    def begin(self, station: str, now_us: int) -> Begun:
        """Returns where the browser goes to sign on at a desk.

        Raises:
            WrongUseError: the sign-on is not used at that station.
            NotSignedInError: the provider cannot be reached, or is not the one that it says.
        """
        if station not in self.provider.stations:
            message = f"Nobody signs on at {station} this way. Sign in with badge and PIN."
            raise WrongUseError(message, station=station)
        state, nonce, verifier = (secrets.token_urlsafe(_RANDOM) for _ in range(3))
        address = prepare_grant_uri(
            self._told()["authorization_endpoint"],
            self.provider.client_id,
            "code",
            redirect_uri=self.provider.back,
            scope="openid profile email",
            state=state,
            nonce=nonce,
            code_challenge=create_s256_code_challenge(verifier),
            code_challenge_method="S256",
        )
        waits = orjson.dumps([state, nonce, verifier, station])
        return Begun(str(address), self._fernet.encrypt_at_time(waits, now_us // SECOND_US).decode())

    def finish(self, state: str, code: str, sealed: str, now_us: int) -> tuple[str, str]:
        """Returns (the person, the station) of a sign-on that came back.

        Raises:
            NotSignedInError: it is not the one that began in this browser, it took too long, or it proves nothing.
        """
        began, nonce, verifier, station = self._opened(sealed, now_us)
        if not hmac.compare_digest(began, state):
            raise NotSignedInError(FAILED)
        told = self._told()
        form = {
            "grant_type": "authorization_code",
            "code": code,
            "redirect_uri": self.provider.back,
            "code_verifier": verifier,
        }
        with self._client() as client:
            given = _read(client, "POST", told["token_endpoint"], form, self._secret())
            keys = _read(client, "GET", told["jwks_uri"])
        claims = self._claims(given.get("id_token"), keys, nonce, now_us)
        value = claims.get(self.provider.claim)
        people = dict(self.provider.people)
        person = people.get(str(value)) if people else value
        if not isinstance(person, str) or not person:
            raise NotSignedInError(FAILED)
        return person, station

    def _claims(self, id_token: object, keys: dict[str, Any], nonce: str, now_us: int) -> dict[str, Any]:
        """Returns what the ID token says, once signature, issuer, audience, time and nonce are found right."""
        try:
            token = jwt.decode(str(id_token), KeySet.import_key_set(keys), algorithms=ALGORITHMS)  # type: ignore[arg-type]
            told = CodeIDToken(
                token.claims,
                token.header,
                options={
                    "iss": {"essential": True, "value": self.provider.issuer},
                    "aud": {"essential": True, "value": self.provider.client_id},
                    "nonce": {"essential": True, "value": nonce},
                },
                params={"nonce": nonce, "client_id": self.provider.client_id},
            )
            told.validate(now=now_us // SECOND_US, leeway=LEEWAY_S)
        except (JoseError, ValueError, KeyError, TypeError) as fault:
            raise NotSignedInError(FAILED) from fault
        return dict(token.claims)

    def _opened(self, sealed: str, now_us: int) -> tuple[str, str, str, str]:
        try:
            waits = self._fernet.decrypt_at_time(sealed.encode(), WAITS_S, now_us // SECOND_US)
        except (InvalidToken, UnicodeEncodeError) as fault:
            raise NotSignedInError(FAILED) from fault
        state, nonce, verifier, station = orjson.loads(waits)
        return state, nonce, verifier, station

    def _told(self) -> dict[str, Any]:
        """Returns what the provider says of itself (OpenID Connect Discovery 1.0, section 4)."""
        with self._client() as client:
            told = _read(client, "GET", f"{self.provider.issuer.rstrip('/')}/.well-known/openid-configuration")
        if told.get("issuer") != self.provider.issuer:
            raise NotSignedInError(FAILED)
        for name in ("authorization_endpoint", "token_endpoint", "jwks_uri"):
            _must_be_safe(str(told.get(name)))
        return told

    def _secret(self) -> httpx2.BasicAuth:
        return httpx2.BasicAuth(self.provider.client_id, self.provider.client_secret)

    def _client(self) -> httpx2.Client:
        return httpx2.Client(timeout=TIMEOUT_S, follow_redirects=False, trust_env=False, transport=self._transport)


def _read(
    client: httpx2.Client,
    method: str,
    address: str,
    form: dict[str, str] | None = None,
    secret: httpx2.BasicAuth | None = None,
) -> dict[str, Any]:
    """Returns the JSON object that the provider answers with.

    Raises:
        NotSignedInError: it is not reached, refuses, or answers with something else or too much.
    """
    try:
        with client.stream(method, address, data=form, auth=secret) as answer:
            body = b""
            for part in answer.iter_bytes():
                body += part
                if len(body) > ANSWER_MAX:
                    raise NotSignedInError(FAILED)
        found = orjson.loads(body)
    except (httpx2.HTTPError, orjson.JSONDecodeError) as fault:
        raise NotSignedInError(FAILED) from fault
    if not answer.is_success or not isinstance(found, dict):
        raise NotSignedInError(FAILED)
    return found


def _must_be_safe(address: str) -> None:
    """Refuses an address that anybody on the way could read; the same computer may do without TLS.

    Raises:
        WrongUseError: with the address.
    """
    parts = urlsplit(address)
    if parts.scheme == "https" and parts.hostname:
        return
    if parts.scheme == "http" and parts.hostname in {"localhost", "127.0.0.1", "::1"}:
        return
    message = f"The sign-on at {address[:200]} is not reached over TLS."
    raise WrongUseError(message, address=address[:200])
