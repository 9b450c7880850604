"""The standing of a person's sign-in (what failed since the last success, whether it is locked), and of a token."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Proved:
    """Is when somebody gave badge and PIN to sign in, at which station, and which entry of the whole record says so."""

    at_us: int
    station: str
    feed: int


@dataclass(frozen=True, slots=True)
class Access:
    """Is how a person's sign-in stands.

    Attributes:
        failures: tries that failed since the last one that did not.
        failed_us: when the last one failed.
        locked_us: since when it is locked, or None.
        station: where the person is signed in as far as the record says, or None.
        proved: when badge and PIN were last given; None once the person signed out on purpose, or anything happened
            after which the badge alone proves nothing.
    """

    person: str
    pin_us: int | None = None
    failures: int = 0
    failed_us: int = 0
    locked_us: int | None = None
    signed_in_us: int | None = None
    station: str | None = None
    proved: Proved | None = None
    number: int = 0


@dataclass(frozen=True, slots=True)
class Token:
    """Is what a program may do with a token, or what a screen shows.

    Attributes:
        scopes: what it holds (`rules.permissions`).
        sites: where it counts; everywhere when empty.
        until_us: when it runs out.
        issued_by: the person who issued it.
        withdrawn_us: when it was withdrawn, or None.
        station: the station whose screen it is; None for a program's.
    """

    token: str
    label: str = ""
    scopes: tuple[str, ...] = ()
    sites: tuple[str, ...] = ()
    issued_us: int = 0
    until_us: int = 0
    issued_by: str | None = None
    withdrawn_us: int | None = None
    station: str | None = None
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
            return replace(after, locked_us=entry.at_us, station=None, proved=None)
        case words.SignInUnlocked():
            return replace(after, failures=0, failed_us=0, locked_us=None)
        case words.PinSet():
            after = replace(after, pin_us=entry.at_us)
            return replace(after, proved=None) if body.first else after
        case words.SignedIn():
            return _signed_in(after, entry, body.proof)
        case words.SignedOut():
            after = replace(after, station=None)
            return after if body.because in SHIFT_GOES_ON else replace(after, proved=None)
        case _:
            return after


SHIFT_GOES_ON: Final = frozenset({"idle", "over", "switched", "moved"})
"""Why a session ends although its person may still be at work: nobody did anything on purpose to end it."""


def _signed_in(access: Access, entry: Entry, proof: str) -> Access:
    """Returns a sign-in after one more session; a badge alone begins no count of wrong PINs anew, and no shift."""
    place = entry.envelope.station
    after = replace(access, signed_in_us=entry.at_us, station=place)
    if proof == "badge-in-shift":
        return after
    after = replace(after, failures=0, failed_us=0)
    return replace(after, proved=Proved(entry.at_us, place or "", entry.feed)) if proof == "badge-and-pin" else after


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
                station=body.station,
            )
        case words.TokenWithdrawn():
            return replace(after, withdrawn_us=entry.at_us)
        case _:
            return after
