"""First PINs and tokens from the command line: how they are typed, asked for and shown."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import typer

from reprocess.commandline.say import Local
from reprocess.department import Bench
from reprocess.engine.request import IssueToken, Request, SetPin
from reprocess.errors import ReprocessError, WrongUseError
from reprocess.ledger.append import Transaction
from reprocess.rules.answer import Answer
from reprocess.settings import secret_in
from reprocess.signing_in.offices import set_first
from reprocess.signing_in.pins import Pins
from reprocess.signing_in.programs import Listed, Programs, Take
from reprocess.station import Call


def typed_pin(file: Path | None) -> str:
    """Returns a PIN from a file that its owner alone may read, or typed twice and unseen; never from an argument.

    Raises:
        WrongUseError: there is no terminal to type it at, or the file cannot be read as a secret.
    """
    if file is not None:
        return secret_in(file)
    if not sys.stdin.isatty():
        message = "Type the PIN at a terminal, or name a file that holds it with --pin-file."
        raise WrongUseError(message)
    return str(typer.prompt("PIN", hide_input=True, confirmation_prompt="Again", err=True))


def set_pin(bench: Bench, person: str, pin: str, key: str | None) -> Answer:
    """Returns the answer to a first PIN; the person chooses an own one at the next sign-in.

    Raises:
        WrongUseError: the PIN is easily guessed.
    """
    opened = bench.department
    pins = Pins(opened.ledger.key)
    return set_first(opened.ledger, opened.clock, pins, person, pin, _within(bench, SetPin(person), key))


def issue(bench: Bench, request: IssueToken, key: str | None) -> tuple[Answer, str | None]:
    """Returns (the answer to the request for a token, the token itself, which is shown this once)."""
    opened = bench.department
    programs = Programs(opened.ledger, opened.clock)
    return programs.issue(request.token, _within(bench, request, key))


def listed(bench: Bench) -> list[Listed]:
    """Returns every token ever issued."""
    return Programs(bench.department.ledger, bench.department.clock).listed()


def token_lines(tokens: Iterable[Listed], now_us: int, show: Local) -> list[str]:
    """Returns tokens as lines: which, whose, what they may, until when, and when each was last used."""
    lines = []
    for one in tokens:
        token = one.token
        counts = f"until {show(token.until_us)}" if token.counts(now_us) else "counts no more"
        used = show(one.used_us) if one.used_us is not None else "never"
        sort = f"screen at {token.station}, " if token.station is not None else ""
        lines.append(f"{token.token:<16} {sort}{token.label}: {counts}; last used: {used}")
        lines.append(f"  may: {', '.join(token.scopes)}; at: {', '.join(token.sites) or 'every site'}")
    return lines or ["No token was issued."]


def token_json(one: Listed, now_us: int) -> dict[str, Any]:
    """Returns one token as JSON values."""
    token = one.token
    return {
        "token": token.token,
        "label": token.label,
        "scopes": list(token.scopes),
        "sites": list(token.sites),
        "issued_us": token.issued_us,
        "issued_by": token.issued_by,
        "until_us": token.until_us,
        "used_us": one.used_us,
        "counts": token.counts(now_us),
        "station": token.station,
    }


def _within(bench: Bench, request: Request, key: str | None) -> Take:
    desk = bench.department.desk
    call = Call(request, bench.station, bench.badge, bench.second, key or desk.clock.new_id())

    def take(work: Transaction) -> Answer:
        outcome = desk.take_within(work, call)
        if isinstance(outcome, ReprocessError):
            raise outcome
        return outcome

    return take
