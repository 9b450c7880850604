"""The standing of a person's sign-in (what failed since the last success, whether it is locked), and of a token."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Access:
    """Is how a person's sign-in stands.

    Attributes:
        failures: tries that failed since the last one that did not.
        failed_us: when the last one failed.
        locked_us: since when it is locked, or None.
        station: where the person is signed in as far as the record says, or None.
    """

    person: str
    pin_us: int | None = None
    failures: int = 0
    failed_us: int = 0
    locked_us: int | None = None
    signed_in_us: int | None = None
    station: str | None = None
    number: int = 0


@dataclass(frozen=True, slots=True)
class Token:
    """Is what a program may do with a token.

    Attributes:
        scopes: what it holds (`rules.permissions`).
        sites: where it counts; everywhere when empty.
        until_us: when it runs out.
        issued_by: the person who issued it.
        withdrawn_us: when it was withdrawn, or None.
    """

    token: str
    label: str = ""
    scopes: tuple[str, ...] = ()
    sites: tuple[str, ...] = ()
    issued_us: int = 0
    until_us: int = 0
    issued_by: str | None = None
    withdrawn_us: int | None = None
    number: int = 0

    def counts(self, now_us: int) -> bool:
        """Tells whether it is issued, not withdrawn, and not run out."""
        return self.number > 0 and self.withdrawn_us is None and self.issued_us > 0 and now_us < self.until_us


def apply(access: Access, entry: Entry) -> Access:
    """Returns how a sign-in stands after one more entry of the stream."""
    body = entry.body
    after = replace(access, person=subject_of(entry.stream), number=entry.number)
    match body:
        case words.SignInFailed():
            return replace(after, failures=access.failures + 1, failed_us=entry.at_us)
        case words.SignInLocked():
            return replace(after, locked_us=entry.at_us, station=None)
        case words.SignInUnlocked():
            return replace(after, failures=0, failed_us=0, locked_us=None)
        case words.PinSet():
            return replace(after, pin_us=entry.at_us)
        case words.SignedIn():
            place = entry.envelope.station
            return replace(after, failures=0, failed_us=0, signed_in_us=entry.at_us, station=place)
        case words.SignedOut():
            return replace(after, station=None)
        case _:
            return after


def apply_token(token: Token, entry: Entry) -> Token:
    """Returns how a token stands after one more entry of the stream."""
    body = entry.body
    after = replace(token, token=subject_of(entry.stream), number=entry.number)
    match body:
        case words.TokenIssued():
            return replace(
                after,
                label=body.label,
                scopes=body.scopes,
                sites=body.sites,
                issued_us=entry.at_us,
                until_us=body.until_us,
                issued_by=entry.envelope.actor,
            )
        case words.TokenWithdrawn():
            return replace(after, withdrawn_us=entry.at_us)
        case _:
            return after
