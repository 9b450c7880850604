"""Which rows somebody sees who may see some sites alone: on a server by its own rules of rows, on SQLite by views.

A row of a site is seen by those who may see that site. What belongs to no site is seen by everybody where it is of an
ordinary kind. Who may see some sites sees no names, no credentials and no queues. An entry is seen by the site that
its stream belongs to now, which needs the whole history; on a server also by the site it was written at.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Any, Final

from reprocess.errors import WrongUseError
from reprocess.ledger.tables import DUE, ENTRY, METADATA, REVIEW, STANDING, TOUCH
from reprocess.terms import StreamKind

ORDINARY: Final = (
    StreamKind.ITEM, StreamKind.SOLUTION, StreamKind.LOT, StreamKind.LOAD, StreamKind.INSTRUMENT, StreamKind.PERSON,
    StreamKind.STATION, StreamKind.WORKFLOW, StreamKind.SITE, StreamKind.PLACE, StreamKind.RECALL,
)  # fmt: skip
"""The kinds of stream that are seen where they belong to no site; new kinds stay unseen."""
UNLIMITED: Final = frozenset({"badge", "definition", "rang", "escalated", "claim", "about"})
"""Tables that tell nothing about a site: badges, published files, reminders by their keys, what the database is."""
_KINDS: Final = ", ".join(f"'{kind}'" for kind in ORDINARY)
_SUBJECTS: Final = {
    ENTRY.name: "entry.stream",
    TOUCH.name: "'item:' || touch.item",
    DUE.name: "due.subject",
    REVIEW.name: "review.stream",
}
"""Tables whose rows are seen with the standing of a stream."""
CLOSED: Final = tuple(
    table.name
    for table in METADATA.sorted_tables
    if table.name not in UNLIMITED and table.name not in _SUBJECTS and table is not STANDING
)
"""Tables of which whoever may see some sites alone sees nothing: a new table stays unseen until somebody decides."""
_SITE: Final = re.compile(r"[A-Z0-9]+(?:-[A-Z0-9]+)*")


def conditions(at_site: str, some: str = "TRUE") -> dict[str, str]:
    """Returns by table which rows are seen.

    Args:
        at_site: what holds for a row whose column `site` is a site that may be seen.
        some: what holds where anything may be seen at all.
    """
    ordinary = f"(coalesce(site, '') = '' AND {some} AND kind IN ({_KINDS}))"
    found = {STANDING.name: f"{at_site} OR {ordinary}"}
    for table, stream in _SUBJECTS.items():
        found[table] = f"EXISTS (SELECT 1 FROM standing AS s WHERE s.stream = {stream})"  # noqa: S608
    return found | dict.fromkeys(CLOSED, "FALSE")


def named(sites: Collection[str]) -> list[str]:
    """Returns the names of sites, by name.

    Raises:
        WrongUseError: one could not be a site's.
    """
    for site in sites:
        if not _SITE.fullmatch(site):
            message = "A site is named by capital letters, digits and hyphens."
            raise WrongUseError(message)
    return sorted(sites)


def limit_file(cursor: Any, sites: Collection[str]) -> None:
    """Puts a view before each table for the rest of one transaction, which takes them away again when it ends."""
    some = ", ".join(f"'{site}'" for site in named(sites))
    for table, seen in conditions(f"site IN ({some})").items():
        inside = seen.replace("FROM standing", "FROM temp.standing")
        cursor.execute(f"CREATE TEMP VIEW {table} AS SELECT * FROM main.{table} WHERE {inside}")  # noqa: S608
