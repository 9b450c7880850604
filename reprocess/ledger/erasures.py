"""What makes an erasure last: the write-ahead log emptied, and a list of pseudonyms that a restored backup must obey.

A backup that was made before an erasure holds the name and knows nothing of it. So the pseudonyms of erased names
stand in a small file beside the database as well, which is no secret: it names nobody.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

from reprocess.errors import LedgerError
from reprocess.ledger.append import looking
from reprocess.ledger.driver import Cursor
from reprocess.ledger.open import Ledger, in_our_words, sync_folder
from reprocess.record.wearers import Wearer
from reprocess.record.words import WearerErased
from reprocess.terms import StreamKind, stream

LIST_BYTES_MAX: Final = 10_000_000
"""Longest list that is read: a quarter of a million pseudonyms (our choice)."""
_LATEST: Final = (
    "SELECT kind FROM entry WHERE stream = ? AND kind IN ('wearer-registered', 'wearer-erased')"
    " ORDER BY number DESC LIMIT 1"
)


def list_path(path: Path) -> Path:
    """Returns where the pseudonyms of erased names are listed: beside the database."""
    return path.with_name(path.name + ".erased")


def settle(ledger: Ledger) -> bool:
    """Brings the list up to date and empties the log; returns False where a reader still keeps the log.

    Raises:
        LedgerError: the list cannot be written; the names are erased all the same.
    """
    with looking(ledger) as read:
        known = [one for one in read.states_of(StreamKind.WEARER) if isinstance(one, Wearer)]
        back = set(read.names.wearers())
    erased = {one.wearer for one in known if one.erased_us is not None}
    _write(list_path(ledger.path), sorted({*erased, *listed(list_path(ledger.path))} - back))
    return ledger.settle()


def listed(place: Path) -> list[str]:
    """Returns the pseudonyms on a list; none where there is no such file.

    Raises:
        LedgerError: it cannot be read, or is no such list.
    """
    if not place.exists():
        return []
    try:
        if place.stat().st_size > LIST_BYTES_MAX:
            message = f"{place.name} is too long to be a list of erased names; nothing was changed."
            raise LedgerError(message, path=str(place))
        return place.read_text(encoding="ascii").split()
    except (OSError, UnicodeDecodeError) as fault:
        message = f"{place.name}, the list of erased names, cannot be read; nothing was changed."
        raise LedgerError(message, path=str(place)) from fault


def keep(path: Path, wearers: list[str]) -> None:
    """Lists pseudonyms beside a department that was restored, so that its own backups obey them too.

    Raises:
        LedgerError: the list cannot be written.
    """
    if wearers:
        _write(list_path(path), sorted(set(wearers)))


def obey(cursor: Cursor, more: list[str]) -> int:
    """Erases from a restored copy every name that its entries or a list say was erased, and returns how many.

    Nothing but the table of names is changed, so that the record verifies as before.
    """
    found = 0
    for wearer in sorted({*more, *left_over(cursor)}):
        cursor.execute("DELETE FROM wearer_name WHERE wearer = ?", (wearer,))
        found += cursor.rowcount
    return found


def left_over(cursor: Cursor) -> list[str]:
    """Returns the wearers of whom a name is kept although their latest entry about it says that it was erased."""
    kept = [str(row[0]) for row in cursor.execute("SELECT wearer FROM wearer_name ORDER BY wearer").fetchall()]
    latest = ((one, cursor.execute(_LATEST, (stream(StreamKind.WEARER, one),)).fetchone()) for one in kept)
    return [one for one, row in latest if row is not None and row[0] == WearerErased.kind]


def _write(place: Path, wearers: list[str]) -> None:
    aside = place.with_name(f"{place.name}.aside")
    try:
        with aside.open("w", encoding="ascii") as file:
            file.writelines(f"{wearer}\n" for wearer in wearers)
            file.flush()
            os.fsync(file.fileno())
        aside.replace(place)
        sync_folder(place.parent)
    except OSError as fault:
        raise in_our_words(fault, place) from fault
