"""Hands a reminder to a web address that the department listed, signed, and follows nobody anywhere else.

What keeps it from reaching what it must not: only listed hosts, https, the address looked up once, judged and then
used, no redirects, a time limit, and nothing of the answer but its status (OWASP, Server-Side Request Forgery
Prevention Cheat Sheet). A private or loopback address must be listed as such; a hospital's own systems have those.
"""

from __future__ import annotations

import socket
import ssl
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException
from ipaddress import ip_address
from typing import Final
from urllib.parse import SplitResult, urlsplit

from reprocess.errors import WrongUseError
from reprocess.ledger.posts import Post
from reprocess.reminders.signing import message_id, signed

TIMEOUT_S: Final = 5.0
"""How long connecting, and each wait for an answer, may take (our choice)."""
PORTS: Final = {"https": 443, "http": 80}
TAKEN, REDIRECT, GONE = range(200, 300), range(300, 400), 410


@dataclass(frozen=True, slots=True)
class WebhookRoute:
    """Is where reminders are posted to.

    Attributes:
        url: the address; its host stands among `hosts`.
        secrets: what signs, the one in use first.
        hosts: the hosts that may be reached at all.
        private: those of them whose address may be private or loopback; only they may be reached without TLS.
        trust: the TLS settings; the system's own where left out.
    """

    url: str
    secrets: tuple[bytes, ...]
    hosts: frozenset[str]
    private: frozenset[str] = frozenset()
    trust: ssl.SSLContext | None = None

    def parts(self) -> SplitResult:
        """Returns the parts of the address.

        Raises:
            WrongUseError: the address is not one that may be used.
        """
        parts = urlsplit(self.url)
        host = parts.hostname or ""
        if host not in self.hosts or parts.username is not None:
            message = f"The webhook's host {host or 'is missing and'} is not listed: add it to `hosts`."
            raise WrongUseError(message)
        if parts.scheme != "https" and not (parts.scheme == "http" and host in self.private):
            message = "A webhook's address begins with https; http is only for a host listed as private."
            raise WrongUseError(message)
        return parts


def hand(route: WebhookRoute, post: Post, at_s: int) -> str | None:
    """Posts a reminder once, and returns None when it was taken, or else in one word what kept it back."""
    parts = route.parts()
    host = parts.hostname or ""
    port = parts.port or PORTS[parts.scheme]
    try:
        address = _address(host, port, allowed=host in route.private)
        if address is None:
            return "private-address"
        body = post.message.encode()
        headers = {"content-type": "application/json", "user-agent": "reprocess"}
        headers |= signed(route.secrets, message_id(post.key, post.level), at_s, body)
        connection = _Pinned(host, port, address, _trust(route) if parts.scheme == "https" else None)
        try:
            connection.request("POST", f"{parts.path or '/'}{f'?{parts.query}' if parts.query else ''}", body, headers)
            return _judged(connection.getresponse().status)
        finally:
            connection.close()
    except ssl.SSLError:
        return "tls"
    except TimeoutError:
        return "timeout"
    except (OSError, HTTPException):
        return "unreachable"


def _judged(status: int) -> str | None:
    if status in TAKEN:
        return None
    if status in REDIRECT:
        return "redirected"
    return "gone" if status == GONE else f"status-{status}"


def _trust(route: WebhookRoute) -> ssl.SSLContext:
    return route.trust if route.trust is not None else ssl.create_default_context()


def _address(host: str, port: int, *, allowed: bool) -> str | None:
    """Returns the address to connect to, or None where one of the host's addresses is not a public one."""
    found = [str(row[4][0]) for row in socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)]
    if not allowed and not all(ip_address(one.partition("%")[0]).is_global for one in found):
        return None
    return found[0]


class _Pinned(HTTPConnection):
    """Is a connection to one address that was judged before, so that a second look-up cannot lead elsewhere."""

    def __init__(self, host: str, port: int, address: str, trust: ssl.SSLContext | None) -> None:
        super().__init__(host, port, timeout=TIMEOUT_S)
        self._address = address
        self._trust = trust

    def connect(self) -> None:
        """Connects to the address; over TLS the name of the host is still what is proved."""
        plain = socket.create_connection((self._address, self.port), TIMEOUT_S)
        try:
            self.sock = plain if self._trust is None else self._trust.wrap_socket(plain, server_hostname=self.host)
        except OSError:
            plain.close()
            raise
