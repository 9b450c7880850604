"""What supervisors and administrators ask about sign-in and tokens; PINs and tokens themselves never come this far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.engine.request.further import Further


@dataclass(frozen=True, slots=True)
class SetPin(Further):
    """Asks to record that an office chose a PIN for a person, who must choose an own one next."""

    asked: ClassVar[str] = "set-pin"
    person: str


@dataclass(frozen=True, slots=True)
class UnlockSignIn(Further):
    """Asks to let a locked person sign in again (D10)."""

    asked: ClassVar[str] = "unlock-sign-in"
    person: str
    reason: str


@dataclass(frozen=True, slots=True)
class IssueToken(Further):
    """Asks to let a program in, or a screen at a station, for what and until when (D10).

    Attributes:
        scopes: what it may ask (`rules.permissions`).
        sites: where it counts; everywhere when empty. A screen counts at its station's site.
        station: the station whose screen it is; None for a program's.
    """

    asked: ClassVar[str] = "issue-token"
    token: str
    label: str
    scopes: tuple[str, ...]
    sites: tuple[str, ...]
    until_us: int
    station: str | None = None


@dataclass(frozen=True, slots=True)
class WithdrawToken(Further):
    """Asks to let a token count no more."""

    asked: ClassVar[str] = "withdraw-token"
    token: str
    reason: str


@dataclass(frozen=True, slots=True)
class RotateKey(Further):
    """Asks to seal the record with a new key from now on; which one, the record and its key file say."""

    asked: ClassVar[str] = "rotate-key"


AccessRequest = SetPin | UnlockSignIn | IssueToken | WithdrawToken | RotateKey
