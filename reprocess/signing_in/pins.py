"""PINs: which ones are taken, how they are kept, and how one is compared.

A PIN is keyed with a secret from outside the database before argon2id hashes it, so that a copy of the database alone
cannot be tried out: of eight digits there are only 100 million.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from itertools import pairwise
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from reprocess.errors import TooManyTriesError, WrongUseError

MEMORY_KIB: Final = 19 * 1024
PASSES: Final = 2
LANES: Final = 1
"""OWASP Password Storage Cheat Sheet, Argon2id: at least 19 MiB of memory, 2 iterations, 1 degree of parallelism."""
TOGETHER: Final = 2
"""PINs that one node hashes at the same time: a crowd at shift change must not take all of its memory."""
TURN_S: Final = 10.0
"""How long one waits for its turn to be hashed before it is told to come again (our choice)."""

DIGITS_LEAST: Final = 8
"""OWASP ASVS 5.0, 6.2.1: eight characters at least."""
DIGITS_MOST: Final = 32
OWN_LEAST: Final = 4
"""So many digits of the badge in a row make a PIN easy to read off it (our choice)."""
_PERIOD_MOST: Final = 4
_YEARS: Final = range(1900, 2100)
_DATES: Final = (("day", "month", "year"), ("month", "day", "year"), ("year", "month", "day"))
_INFO: Final = b"reprocess: pepper of PINs"
_DIGITS: Final = re.compile(r"[0-9]+")


class Pins:
    """Hashes and compares PINs of one department.

    Attributes:
        hashed: how many hashings were done; every comparison costs exactly one, whoever it is about.
    """

    def __init__(self, key: bytes, *, memory_kib: int = MEMORY_KIB) -> None:
        self._pepper = HKDF(algorithm=SHA256(), length=32, salt=None, info=_INFO).derive(key)
        self._hasher = PasswordHasher(time_cost=PASSES, memory_cost=memory_kib, parallelism=LANES)
        self._turns = threading.BoundedSemaphore(TOGETHER)
        self._nobody = self._hasher.hash(b"nobody has this PIN")
        self.hashed = 0

    def kept(self, pin: str) -> str:
        """Returns what is kept of a PIN."""
        with self._turn():
            return self._hasher.hash(self._keyed(pin))

    def matches(self, kept: str | None, pin: str) -> bool:
        """Tells whether it is the PIN of which this was kept; where nothing was, one like it is compared all the same.

        Raises:
            TooManyTriesError: too many wait for their turn.
        """
        with self._turn():
            try:
                self._hasher.verify(kept or self._nobody, self._keyed(pin))
            except (VerificationError, InvalidHashError):
                return False
        return kept is not None

    def outdated(self, kept: str) -> bool:
        """Tells whether it was kept with other parameters than today's."""
        return self._hasher.check_needs_rehash(kept)

    def _keyed(self, pin: str) -> bytes:
        return hmac.new(self._pepper, pin.encode(), hashlib.sha256).digest()

    @contextmanager
    def _turn(self) -> Iterator[None]:
        if not self._turns.acquire(timeout=TURN_S):
            message = "Too many sign in at this moment; try again."
            raise TooManyTriesError(message, wait_s=1)
        try:
            self.hashed += 1
            yield
        finally:
            self._turns.release()


def must_be_good(pin: str, badges: Iterable[str]) -> None:
    """Refuses a PIN that is too short, no number, or among the first that anybody would try.

    Args:
        pin: as it was chosen.
        badges: the badges of the person, whose digits it must not repeat.

    Raises:
        WrongUseError: with what to do instead; the PIN itself stands in no sentence.
    """
    if not _DIGITS.fullmatch(pin) or not DIGITS_LEAST <= len(pin) <= DIGITS_MOST:
        message = f"A PIN has {DIGITS_LEAST} to {DIGITS_MOST} digits and nothing else."
        raise WrongUseError(message)
    if any(weak(pin) for weak in _WEAK) or _on_badge(pin, badges):
        message = "That PIN is easily guessed: take no sequence, no date, no badge number."
        raise WrongUseError(message)


def _repeats(pin: str) -> bool:
    """Tells whether it is one short pattern over and over, such as 77777777 or 12341234."""
    return any(pin == (pin[:size] * len(pin))[: len(pin)] for size in range(1, _PERIOD_MOST + 1))


def _counts(pin: str) -> bool:
    """Tells whether each digit follows the one before by the same step, round the end, such as 87654321 or 13579135."""
    return len({(int(two) - int(one)) % 10 for one, two in pairwise(pin)}) == 1


def _twins(pin: str) -> bool:
    """Tells whether it has two different digits at most: of eight there are only 11,440 such."""
    return len(set(pin)) <= 2  # noqa: PLR2004 - two is the rule itself


def _is_date(pin: str) -> bool:
    """Tells whether eight digits are a day of this century or the last, in one of the usual orders."""
    return any(_day(pin, order) for order in _DATES)


def _day(pin: str, order: tuple[str, ...]) -> bool:
    if len(pin) != DIGITS_LEAST:
        return False
    told, at = {}, 0
    for part in order:
        size = 4 if part == "year" else 2
        told[part], at = int(pin[at : at + size]), at + size
    try:
        return date(told["year"], told["month"], told["day"]).year in _YEARS
    except ValueError:
        return False


_WEAK: Final[tuple[Callable[[str], bool], ...]] = (_repeats, _counts, _twins, _is_date)


def _on_badge(pin: str, badges: Iterable[str]) -> bool:
    """Tells whether the digits of a badge stand in the PIN, or the PIN in them."""
    for badge in badges:
        own = "".join(letter for letter in badge if letter.isdecimal() and letter.isascii())
        if len(own) >= OWN_LEAST and (own in pin or pin in own):
            return True
    return False
