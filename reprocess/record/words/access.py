"""Who signed in where, what failed, and which tokens programs have; never a PIN, a token or a digest of one."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from reprocess.record.words.body import Body, Texts


class PinSet(Body):
    """Says that a person has a new PIN; whoever set it stands in the envelope.

    Attributes:
        first: whether somebody else chose it, so that it opens nothing but the choice of an own one.
    """

    kind: ClassVar[str] = "pin-set"
    first: Literal[True] | None = None


class SignInFailed(Body):
    """Says that somebody tried to be a person, or nobody on record, and was not believed.

    What was typed stands nowhere: a PIN is easily typed where the badge belongs.

    Attributes:
        because: `pin` where it was wrong, `no-pin` where the person has none, `left` where they work here no more,
            `badge` where it means nobody.
        signing: whether it was a signature of somebody who is signed in.
    """

    kind: ClassVar[str] = "sign-in-failed"
    because: Literal["pin", "no-pin", "left", "badge"]
    signing: Literal[True] | None = None


class SignedIn(Body):
    """Says that a person is signed in at a station, by which proof.

    Attributes:
        proof: `badge-in-shift` where the badge alone was scanned at a screen of the site where badge and PIN were
            given within the shift.
    """

    kind: ClassVar[str] = "signed-in"
    proof: Literal["badge-and-pin", "single-sign-on", "badge-in-shift"]


class SignedOut(Body):
    """Says that a session ended, and why.

    Attributes:
        because: `asked`; `idle` or `over` by time; `switched` for somebody else at the station, `moved` for another
            station; `locked`; `badge` where it was withdrawn; `left` where the person works here no more.
    """

    kind: ClassVar[str] = "signed-out"
    because: Literal["asked", "idle", "over", "switched", "moved", "locked", "badge", "left"]


class SignInLocked(Body):
    """Says that so many tries failed that a person can sign in only once a supervisor allows it."""

    kind: ClassVar[str] = "sign-in-locked"
    failures: int = Field(gt=0)


class SignInUnlocked(Body):
    """Says that a supervisor allows a locked person to sign in again."""

    kind: ClassVar[str] = "sign-in-unlocked"
    reason: str


class LocksMany(Body):
    """Says that so many were locked within a while that somebody may be guessing (21 CFR 11.300(d), from memory)."""

    kind: ClassVar[str] = "locks-many"
    times: int = Field(gt=0)
    within_s: int = Field(gt=0)


class TokenIssued(Body):
    """Says that a program may ask, for what, at which sites (all when empty) and until when; the token is not here.

    Attributes:
        station: where it is a screen: a browser at this station, which shows what everybody there sees.
    """

    kind: ClassVar[str] = "token-issued"
    label: str
    scopes: Texts
    sites: Texts
    until_us: int
    station: str | None = None


class TokenWithdrawn(Body):
    """Says that a token counts no more."""

    kind: ClassVar[str] = "token-withdrawn"
    reason: str


class KeyRotated(Body):
    """Says that from this entry on the record is sealed with a new key; the key itself is not here.

    Attributes:
        number: which one it is; the first key has number 1 and began with the record.
        key_id: the first 16 hexadecimal digits of the key's SHA-256, by which two copies of a key file are compared.
        before: SHA-256 over the digests of all entries before this one, in the order of the feed: whoever holds an
            older key alone cannot change what stands before either.
    """

    kind: ClassVar[str] = "key-rotated"
    number: int = Field(gt=1)
    key_id: str
    before: str
