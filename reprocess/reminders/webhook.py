"""Hands a reminder or an entry to a web address that the department listed, signed, and follows nobody anywhere else.

What keeps it from reaching what it must not: only listed hosts, https, the address looked up once, judged and then
used, no redirects, time limits, and nothing of the answer but its status (OWASP, Server-Side Request Forgery
Prevention Cheat Sheet). A private or loopback address must be listed as such; a hospital's own systems have those.
"""

from __future__ import annotations

import socket
import ssl
from dataclasses import dataclass
from http.client import HTTPConnection, HTTPException, HTTPResponse
from io import BufferedReader, RawIOBase
from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address
from typing import Any, Final
from urllib.parse import SplitResult, urlsplit

from reprocess.clock import SystemClock
from reprocess.errors import WrongUseError
from reprocess.ledger.posts import Post
from reprocess.reminders.signing import message_id, signed
from reprocess.terms import SECOND_US

TIMEOUT_S: Final = 5.0
"""How long connecting, and each wait for an answer, may take (our choice)."""
WHOLE_S: Final = 5.0
"""How long the whole answer may take, so that one that comes byte by byte holds nobody else up (our choice)."""
PORTS: Final = {"https": 443, "http": 80}
TAKEN, REDIRECT, GONE = range(200, 300), range(300, 400), 410


@dataclass(frozen=True, slots=True)
class WebhookRoute:
    """Is where reminders or entries are posted to.

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
        parts = _split(self.url)
        host = parts.hostname or ""
        if host not in self.hosts or parts.username is not None:
            message = f"The webhook's host {host or 'is missing and'} is not listed: add it to `hosts`."
            raise WrongUseError(message)
        if parts.scheme != "https" and not (parts.scheme == "http" and host in self.private):
            message = "A webhook's address begins with https; http is only for a host listed as private."
            raise WrongUseError(message)
        return parts


def _split(url: str) -> SplitResult:
    """Returns the parts of an address.

    Raises:
        WrongUseError: it is none, such as one with a single bracket or a port that is no number.
    """
    try:
        parts = urlsplit(url)
        _ = parts.port
    except ValueError as fault:
        message = "The webhook's address cannot be read; write it as https://host/path."
        raise WrongUseError(message) from fault
    return parts


@dataclass(frozen=True, slots=True)
class Letter:
    """Is what is posted: its id, the same at every try, what it is and its bytes."""

    id: str
    media_type: str
    body: bytes


def hand(route: WebhookRoute, post: Post, at_s: int) -> str | None:
    """Posts a reminder once, and returns None when it was taken, or else in one word what kept it back."""
    letter = Letter(message_id(post.key, post.level), "application/json", post.message.encode())
    return send(route, letter, at_s)


def send(route: WebhookRoute, letter: Letter, at_s: int) -> str | None:
    """Posts a letter once, and returns None when it was taken, or else in one word what kept it back."""
    parts = route.parts()
    host = parts.hostname or ""
    port = parts.port or PORTS[parts.scheme]
    try:
        address = _address(host, port, allowed=host in route.private)
    except OSError:
        return "unreachable"
    if address is None:
        return "private-address"
    headers = {"content-type": letter.media_type, "user-agent": "reprocess"}
    headers |= signed(route.secrets, letter.id, at_s, letter.body)
    connection = _Pinned(host, port, address, _trust(route) if parts.scheme == "https" else None)
    path = f"{parts.path or '/'}{f'?{parts.query}' if parts.query else ''}"
    try:
        connection.request("POST", path, letter.body, headers)
        return _judged(connection.getresponse().status)
    except ssl.SSLError:
        return "tls"
    except TimeoutError:
        return "timeout"
    except (OSError, HTTPException):
        return "unreachable"
    finally:
        connection.close()


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
    if not allowed and not all(_is_public(ip_address(one.partition("%")[0])) for one in found):
        return None
    return found[0]


def _is_public(address: IPv4Address | IPv6Address) -> bool:
    """Tells whether an address is the internet's, and so is every IPv4 address that a gateway would make of it."""
    if isinstance(address, IPv4Address):
        return address.is_global and not address.is_multicast
    if address in NAT64:
        return _is_public(IPv4Address(int(address) & 0xFFFF_FFFF))
    if address.sixtofour is not None:
        return _is_public(address.sixtofour)
    return address in UNICAST and address.is_global


UNICAST: Final = IPv6Network("2000::/3")
"""RFC 4291, section 2.4, and IANA's registry: what is global unicast so far."""
NAT64: Final = IPv6Network("64:ff9b::/96")
"""RFC 6052, section 2.1: the last 32 bits are an IPv4 address; RFC 3056, section 2 has them after 2002."""


class _Pinned(HTTPConnection):
    """Is a connection to one address that was judged before, so that a second look-up cannot lead elsewhere."""

    def __init__(self, host: str, port: int, address: str, trust: ssl.SSLContext | None) -> None:
        super().__init__(host, port, timeout=TIMEOUT_S)
        self._address = address
        self._trust = trust
        self.response_class = _InTime

    def connect(self) -> None:
        """Connects to the address; over TLS the name of the host is still what is proved."""
        plain = socket.create_connection((self._address, self.port), TIMEOUT_S)
        try:
            self.sock = plain if self._trust is None else self._trust.wrap_socket(plain, server_hostname=self.host)
        except OSError:
            plain.close()
            raise


class _InTime(HTTPResponse):
    """Is an answer that comes within its time as a whole, not only each part of it."""

    def __init__(self, sock: socket.socket, **more: Any) -> None:
        super().__init__(sock, **more)
        self.fp = BufferedReader(_Reading(self.fp.detach(), sock))


class _Reading(RawIOBase):
    """Reads what a socket receives until the time is over."""

    def __init__(self, raw: RawIOBase, sock: socket.socket) -> None:
        self._raw = raw
        self._sock = sock
        self._clock = SystemClock()
        self._until_us = self._clock.now().mono_us + int(WHOLE_S * SECOND_US)

    def readable(self) -> bool:
        """Tells that it is there to be read."""
        return True

    def readinto(self, buffer: Any) -> int | None:
        """Reads what there is.

        Raises:
            TimeoutError: the time is over.
        """
        left_s = (self._until_us - self._clock.now().mono_us) / SECOND_US
        if left_s <= 0:
            raise TimeoutError
        self._sock.settimeout(min(left_s, TIMEOUT_S))
        return self._raw.readinto(buffer)

    def close(self) -> None:
        """Ends."""
        self._raw.close()
        super().close()
