"""Hands a reminder to a mail server, as plain text, to the addresses of the role that it is for."""

from __future__ import annotations

import json
import smtplib
import ssl
from collections.abc import Mapping
from dataclasses import dataclass
from email.message import EmailMessage
from email.utils import format_datetime
from typing import Final, Literal

from reprocess.ledger.posts import Post
from reprocess.reminders.signing import message_id
from reprocess.terms import SECOND_US, as_datetime

TIMEOUT_S: Final = 5.0
"""How long connecting, and each wait for an answer, may take (our choice)."""
Security = Literal["tls", "starttls", "none"]


@dataclass(frozen=True, slots=True)
class MailRoute:
    """Is the mail server and who gets what.

    Attributes:
        to: the addresses of each role.
        security: TLS from the first byte, TLS after STARTTLS, or none; nobody logs in without TLS.
        user: the name to log in with; None where the server asks for none.
        trust: the TLS settings; the system's own where left out.
    """

    host: str
    port: int
    sender: str
    to: Mapping[str, tuple[str, ...]]
    security: Security = "tls"
    user: str | None = None
    password: str | None = None
    trust: ssl.SSLContext | None = None


def hand(route: MailRoute, post: Post, at_s: int) -> str | None:
    """Sends a reminder once, and returns None when it was taken, or else in one word what kept it back."""
    letter = letter_of(route, post, at_s)
    if letter is None:
        return "no-address"
    try:
        with _server(route) as server:
            if route.security == "starttls":
                server.starttls(context=_trust(route))
            if route.user is not None and route.password is not None and route.security != "none":
                server.login(route.user, route.password)
            server.send_message(letter)
    except smtplib.SMTPAuthenticationError:
        return "log-in"
    except smtplib.SMTPRecipientsRefused:
        return "recipients"
    except smtplib.SMTPException:
        return "server"
    except ssl.SSLError:
        return "tls"
    except TimeoutError:
        return "timeout"
    except OSError:
        return "unreachable"
    return None


def letter_of(route: MailRoute, post: Post, at_s: int) -> EmailMessage | None:
    """Returns the letter, or None where the role that it is for has no address.

    Its id is always the same for a reminder and level, so that a letter that is sent again is known as the same one.
    """
    said = json.loads(post.message)["data"]
    addresses = route.to.get(said["to_role"], ())
    if not addresses:
        return None
    letter = EmailMessage()
    letter["From"] = route.sender
    letter["To"] = ", ".join(addresses)
    letter["Subject"] = " ".join(f"{said['mark']}: {said['about']} [{said['rule']}]".split())
    letter["Date"] = format_datetime(as_datetime(at_s * SECOND_US))
    letter["Message-ID"] = f"<{message_id(post.key, post.level)}@{route.sender.rpartition('@')[2]}>"
    letter["Auto-Submitted"] = "auto-generated"  # RFC 3834: nothing answers by itself
    letter.set_content(f"{said['line']}\n\nAcknowledge it: reprocess due --seen '{post.key}'\n")
    return letter


def _trust(route: MailRoute) -> ssl.SSLContext:
    return route.trust if route.trust is not None else ssl.create_default_context()


def _server(route: MailRoute) -> smtplib.SMTP:
    if route.security == "tls":
        return smtplib.SMTP_SSL(route.host, route.port, timeout=TIMEOUT_S, context=_trust(route))
    return smtplib.SMTP(route.host, route.port, timeout=TIMEOUT_S)
