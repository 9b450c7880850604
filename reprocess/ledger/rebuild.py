"""Rebuilding: every projection made anew from the entries, and proven equal to what was kept or put right."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.errors import TamperedError
from reprocess.ledger import guards, walking
from reprocess.ledger.driver import take_time
from reprocess.ledger.open import Ledger
from reprocess.ledger.refold import WITHOUT_DUE, Difference, Refresh, differing, fill, put_right, scratch
from reprocess.ledger.tables import PROJECTIONS

DIFFERENCES_MAX: Final = 100
"""Differences named in one report (our choice); all of them are put right."""


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """Is what a rebuild did.

    Attributes:
        entries: how many entries everything was made from.
        total: how many rows were not what the entries come to.
        differences: the first hundred of them.
        mended: tables, indexes and triggers that were missing and were made anew.
    """

    entries: int
    streams: int
    total: int
    differences: tuple[Difference, ...]
    mended: tuple[str, ...]

    @property
    def equal(self) -> bool:
        """Tells whether everything was kept as the entries say."""
        return self.total == 0 and not self.mended


def rebuild(ledger: Ledger, *, refresh: Refresh | None = None) -> Rebuilt:
    """Makes every projection anew in one transaction, and returns in what it differed from what was kept.

    Rows that are equal are not written again. The working table `claim` is left alone, and what rang stays as the
    entries say, so that nothing rings again. Other writers wait meanwhile.

    Args:
        ledger: the record.
        refresh: computes what is due; without it the table of what is due is left as it is.

    Raises:
        TamperedError: an entry is not as it was written; nothing was changed, since nothing follows from it.
        DamagedEntryError: an entry cannot be read by this program; nothing was changed.
    """
    with ledger.writing() as cursor, walking.any_text(cursor):
        take_time(cursor)
        walked = walking.walk(cursor, ledger.ring.latest(), most=1)
        if walked.findings:
            first = walked.findings[0]
            message = f"The record is not sound, so nothing was rebuilt: entry {first.feed}, {first.sentence}."
            raise TamperedError(message, feed=first.feed)
        mended = tuple(one.sentence for one in guards.mend(cursor))
        differences: list[Difference] = []
        total = 0
        with scratch() as anew:
            fill(cursor, anew, refresh=refresh)
            for row in differing(cursor, anew, WITHOUT_DUE if refresh is None else PROJECTIONS):
                put_right(cursor, row)
                total += 1
                if total <= DIFFERENCES_MAX:
                    differences.append(row.difference)
    return Rebuilt(walked.entries, walked.streams, total, tuple(differences), mended)
