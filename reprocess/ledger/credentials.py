"""What lets people and programs in, inside one transaction: hashes of PINs, digests of sessions and of tokens.

None of it follows from an entry and none stands in one. A session's id and a token are kept as their SHA-256 alone, so
that a copy of the database lets nobody in; a PIN is kept as argon2id under a key that lies outside (`signing_in.pins`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.ledger.driver import Cursor
from reprocess.ledger.tables import ACCESSING

KEEP_PIN: Final = (
    "INSERT INTO credential (person, hash, set_us, must_change) VALUES (?, ?, ?, ?) ON CONFLICT (person) DO UPDATE"
    " SET hash = excluded.hash, set_us = excluded.set_us, must_change = excluded.must_change"
)
PIN_OF: Final = "SELECT hash, set_us, must_change FROM credential WHERE person = ?"
DROP_PIN: Final = "DELETE FROM credential WHERE person = ?"
ANY_PIN: Final = "SELECT 1 FROM credential LIMIT 1"

BEGIN: Final = (
    "INSERT INTO session (digest, person, badge, station, began_us, seen_us, ends_us) VALUES (?, ?, ?, ?, ?, ?, ?)"
)
SESSION: Final = "SELECT digest, person, badge, station, began_us, seen_us, ends_us FROM session"
ONE: Final = f"{SESSION} WHERE digest = ?"
BESIDE: Final = f"{SESSION} WHERE station = ? OR person = ? ORDER BY began_us, digest"
OF_PERSON: Final = f"{SESSION} WHERE person = ? ORDER BY began_us, digest"
SEEN: Final = "UPDATE session SET seen_us = ? WHERE digest = ? AND seen_us < ?"
END: Final = "DELETE FROM session WHERE digest = ?"
END_OLD: Final = "DELETE FROM session WHERE ends_us <= ?"

KEEP_TOKEN: Final = "INSERT INTO token_digest (digest, token) VALUES (?, ?) ON CONFLICT DO NOTHING"  # noqa: S105
WHICH_TOKEN: Final = "SELECT token, used_us FROM token_digest WHERE digest = ?"  # noqa: S105
TOKEN_USED: Final = "UPDATE token_digest SET used_us = ? WHERE digest = ?"  # noqa: S105
TOKENS_USED: Final = "SELECT token, used_us FROM token_digest"

FAILED_AT: Final = (
    f"SELECT recorded_us FROM entry WHERE {ACCESSING} AND recorded_us > ? AND kind = 'sign-in-failed' AND station = ?"  # noqa: S608
    " AND identity = ? ORDER BY recorded_us"
)
LOCKS: Final = f"SELECT count(*) FROM entry WHERE {ACCESSING} AND recorded_us > ? AND kind = 'sign-in-locked'"  # noqa: S608

KEEP_CODE: Final = (
    "INSERT INTO about (name, value) VALUES ('first-run', ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value"
)
CODE: Final = "SELECT value FROM about WHERE name = 'first-run'"
DROP_CODE: Final = "DELETE FROM about WHERE name = 'first-run'"


@dataclass(frozen=True, slots=True)
class Pin:
    """Is the kept hash of a person's PIN.

    Attributes:
        hash: argon2id with its parameters, in the usual text form.
        must_change: whether somebody else chose it.
    """

    hash: str
    set_us: int
    must_change: bool


@dataclass(frozen=True, slots=True)
class Session:
    """Is one person at one station, from signing in to signing out.

    Attributes:
        digest: SHA-256 of its id, in hexadecimal; the id itself is known to the station alone.
        seen_us: when it was last used, to some seconds.
        ends_us: when it ends, however busy.
    """

    digest: str
    person: str
    badge: str
    station: str
    began_us: int
    seen_us: int
    ends_us: int


class Credentials:
    """Is the side of one transaction that knows who may come in."""

    def __init__(self, cursor: Cursor) -> None:
        self._cursor = cursor

    def keep_pin(self, person: str, pin: Pin) -> None:
        """Keeps the hash of a person's PIN in place of the one before."""
        self._cursor.execute(KEEP_PIN, (person, pin.hash, pin.set_us, int(pin.must_change)))

    def pin_of(self, person: str) -> Pin | None:
        """Returns the kept hash of a person's PIN, or None where there is none."""
        row = self._cursor.execute(PIN_OF, (person,)).fetchone()
        return None if row is None else Pin(str(row[0]), int(row[1]), bool(row[2]))

    def drop_pin(self, person: str) -> None:
        """Forgets a person's PIN."""
        self._cursor.execute(DROP_PIN, (person,))

    def any_pin(self) -> bool:
        """Tells whether anybody can sign in at all."""
        return self._cursor.execute(ANY_PIN).fetchone() is not None

    def begin(self, session: Session) -> None:
        """Keeps a new session."""
        one = session
        row = (one.digest, one.person, one.badge, one.station, one.began_us, one.seen_us, one.ends_us)
        self._cursor.execute(BEGIN, row)

    def session(self, digest: str) -> Session | None:
        """Returns the session of that digest, or None."""
        row = self._cursor.execute(ONE, (digest,)).fetchone()
        return None if row is None else Session(*row)

    def beside(self, station: str, person: str) -> list[Session]:
        """Returns the sessions at a station or of a person, the oldest first."""
        return [Session(*row) for row in self._cursor.execute(BESIDE, (station, person)).fetchall()]

    def of_person(self, person: str) -> list[Session]:
        """Returns the sessions of a person, the oldest first."""
        return [Session(*row) for row in self._cursor.execute(OF_PERSON, (person,)).fetchall()]

    def seen(self, digest: str, now_us: int) -> None:
        """Keeps that a session was used."""
        self._cursor.execute(SEEN, (now_us, digest, now_us))

    def end(self, digest: str) -> None:
        """Ends a session; it does no harm where it ended before."""
        self._cursor.execute(END, (digest,))

    def end_old(self, now_us: int) -> None:
        """Ends every session whose shift is over."""
        self._cursor.execute(END_OLD, (now_us,))

    def keep_token(self, digest: str, token: str) -> None:
        """Keeps the digest of a token; it opens nothing unless the record says that the token was issued."""
        self._cursor.execute(KEEP_TOKEN, (digest, token))

    def which_token(self, digest: str) -> tuple[str, int | None] | None:
        """Returns (the token's id, when it was last used) of a digest, or None."""
        row = self._cursor.execute(WHICH_TOKEN, (digest,)).fetchone()
        return None if row is None else (str(row[0]), row[1])

    def token_used(self, digest: str, now_us: int) -> None:
        """Keeps when a token was last used."""
        self._cursor.execute(TOKEN_USED, (now_us, digest))

    def tokens_used(self) -> dict[str, int | None]:
        """Returns when each token was last used, by its id."""
        return dict(self._cursor.execute(TOKENS_USED).fetchall())

    def failed_at(self, station: str, identity: str, since_us: int) -> list[int]:
        """Returns when tries failed at a station after an instant, whoever's badge was shown, oldest first.

        Args:
            station: where.
            identity: as the entries have it: of the station's screen, or `claimed` for all that have none.
            since_us: the instant.
        """
        return [int(row[0]) for row in self._cursor.execute(FAILED_AT, (since_us, station, identity)).fetchall()]

    def locks(self, since_us: int) -> int:
        """Returns how many were locked after an instant."""
        return int(self._cursor.execute(LOCKS, (since_us,)).fetchone()[0])

    def keep_code(self, digest: str, until_us: int) -> None:
        """Keeps the digest of the code of the first run, in place of the one before."""
        self._cursor.execute(KEEP_CODE, (f"{digest} {until_us}",))

    def code(self) -> tuple[str, int] | None:
        """Returns (digest, until when it counts) of the code of the first run, or None where there is none."""
        row = self._cursor.execute(CODE).fetchone()
        if row is None:
            return None
        digest, until = str(row[0]).split()
        return digest, int(until)

    def drop_code(self) -> None:
        """Forgets the code of the first run."""
        self._cursor.execute(DROP_CODE)
