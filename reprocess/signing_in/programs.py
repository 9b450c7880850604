"""Programs with a token, and screens: whose token it is, what it may, and how one is issued (D10)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from reprocess.clock import Clock
from reprocess.errors import NotSignedInError
from reprocess.gathering import state_as
from reprocess.ledger.append import Transaction, looking, transaction
from reprocess.ledger.open import Ledger
from reprocess.record.access import Token
from reprocess.rules.answer import Answer
from reprocess.signing_in import tokens
from reprocess.terms import SECOND_US, StreamKind, stream

USED_EVERY_US: Final = 60 * SECOND_US
"""How seldom it is kept that a token was used (our choice)."""
NO_TOKEN: Final = "This token does not count. Ask an administrator for one that does."  # noqa: S105

Take = Callable[[Transaction], Answer]
"""Asks the department for something inside a transaction that somebody else ends."""


@dataclass(frozen=True, slots=True)
class Listed:
    """Is one token as a list shows it, and when it was last used."""

    token: Token
    used_us: int | None


class Programs:
    """Knows the programs that may ask one department."""

    def __init__(self, ledger: Ledger, clock: Clock) -> None:
        self._ledger = ledger
        self._clock = clock

    def whose(self, secret: str) -> Token:
        """Returns what a token may do, and keeps that it was used.

        Raises:
            NotSignedInError: there is no such token, it was withdrawn, or it has run out.
        """
        found = self._used(secret) if tokens.is_like(secret, tokens.TOKEN) else None
        if found is None:
            raise NotSignedInError(NO_TOKEN)
        return found

    def screen(self, secret: str) -> Token | None:
        """Returns the screen that holds a secret, or None where none does any more; it is kept that it was used."""
        return self._used(secret) if tokens.is_like(secret, tokens.SCREEN) else None

    def still(self, secret: str) -> Token | None:
        """Returns what a token may do, or None where it counts no more; it is not kept that it was used."""
        found = self._found(secret)
        return found.token if found is not None and found.token.counts(self._clock.now().wall_us) else None

    def _used(self, secret: str) -> Token | None:
        """Returns the token of a secret where it counts, and keeps now and then that it was used."""
        found, now_us = self._found(secret), self._clock.now().wall_us
        if found is None or not found.token.counts(now_us):
            return None
        if found.used_us is None or abs(now_us - found.used_us) >= USED_EVERY_US:
            with transaction(self._ledger) as work:
                work.credentials.token_used(tokens.digest_of(secret), now_us)
        return found.token

    def _found(self, secret: str) -> Listed | None:
        with looking(self._ledger) as read:
            found = read.credentials.which_token(tokens.digest_of(secret))
            if found is None:
                return None
            return Listed(state_as(read, stream(StreamKind.TOKEN, found[0]), Token), found[1])

    def issue(self, token: str, take: Take, prefix: str = tokens.TOKEN) -> tuple[Answer, str | None]:
        """Returns (the answer to the request that issues a token, the token itself where it was issued just now).

        Args:
            token: its id.
            take: asks for `IssueToken`, in the transaction that keeps the token's digest.
            prefix: how it begins: a program's, or a screen's.
        """
        secret = tokens.new(prefix)
        with transaction(self._ledger) as work:
            answer = take(work)
            if not answer.accepted or answer.repeated:
                return answer, None
            work.credentials.keep_token(tokens.digest_of(secret), token)
        return answer, secret

    def listed(self) -> list[Listed]:
        """Returns every token ever issued, by id."""
        with looking(self._ledger) as read:
            used = read.credentials.tokens_used()
            found = [one for one in read.states_of(StreamKind.TOKEN) if isinstance(one, Token)]
        return [Listed(one, used.get(one.token)) for one in found]
