"""Whose pseudonyms they are: the only place that reads and writes names of wearers, beside the record, never in it.

What is deleted here is overwritten in the file too (`secure_delete` in `ledger.open`), and gone from the write-ahead
log once `Ledger.settle` emptied it. Measured on SQLite 3.40 with 640 names of which 320 were erased: without that
setting the file still held 320 of them, with `FAST` 6, with `ON` none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.errors import WrongUseError
from reprocess.ledger.driver import Cursor

_KEEP: Final = (
    "INSERT INTO wearer_name (wearer, name, badge, contact) VALUES (?, ?, ?, ?) ON CONFLICT (wearer) DO UPDATE"
    " SET name = excluded.name, badge = excluded.badge, contact = excluded.contact"
)
_OF: Final = "SELECT name, badge, contact FROM wearer_name WHERE wearer = ?"
_WHOSE: Final = "SELECT wearer FROM wearer_name WHERE badge = ?"
_ALL: Final = "SELECT wearer FROM wearer_name ORDER BY wearer"
_ERASE: Final = "DELETE FROM wearer_name WHERE wearer = ?"


@dataclass(frozen=True, slots=True)
class Name:
    """Is who a wearer is: the name, the badge that is scanned at issue, and how to reach the wearer."""

    name: str
    badge: str | None = None
    contact: str | None = None


class Names:
    """Is the side of one transaction that knows who wearers are.

    Attributes:
        erased: the wearers whose names this transaction erased.
    """

    def __init__(self, cursor: Cursor) -> None:
        self._cursor = cursor
        self.erased: list[str] = []

    def keep(self, wearer: str, name: Name) -> None:
        """Keeps who a wearer is, in place of what was kept before.

        Raises:
            WrongUseError: the badge is another wearer's; nothing was written.
        """
        if name.badge is not None and self.wearer_of(name.badge) not in (None, wearer):
            message = "That badge is another wearer's; give another one."
            raise WrongUseError(message)
        self._cursor.execute(_KEEP, (wearer, name.name, name.badge, name.contact))

    def of(self, wearer: str) -> Name | None:
        """Returns who a wearer is, or None where no name is kept. Whoever shows it writes an entry that says so."""
        row = self._cursor.execute(_OF, (wearer,)).fetchone()
        return None if row is None else Name(*row)

    def wearer_of(self, badge: str) -> str | None:
        """Returns the pseudonym that a badge means, or None; it tells no name, so that it is no reading of one."""
        row = self._cursor.execute(_WHOSE, (badge,)).fetchone()
        return None if row is None else str(row[0])

    def wearers(self) -> list[str]:
        """Returns every pseudonym of which a name is kept."""
        return [str(row[0]) for row in self._cursor.execute(_ALL)]

    def erase(self, wearer: str) -> None:
        """Erases who a wearer is; it does no harm where nothing is left to erase."""
        self._cursor.execute(_ERASE, (wearer,))
        self.erased.append(wearer)
