"""What `backup` and `restore` say of a finished copy."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Final

from reprocess.clock import clock_path
from reprocess.errors import LedgerError
from reprocess.ledger.backup import Copied
from reprocess.terms import as_text

MISSING: Final = (
    "Whatever was recorded after that is not in it, and nothing here can tell whether something was: ask the stations, "
    "and treat every item that may have been touched since as used."
)


def copied_line(copied: Copied) -> str:
    """Returns how far a copy goes: its entries and when the last one was recorded."""
    ended = f", recorded {as_text(copied.last_us)}" if copied.last_us is not None else ""
    return f"{copied.entries} entries, the last one number {copied.entries}{ended}"


def copied_json(copied: Copied) -> dict[str, str | int | None]:
    """Returns the same as JSON values."""
    ended = as_text(copied.last_us) if copied.last_us is not None else None
    return {"path": str(copied.path), "entries": copied.entries, "last_feed": copied.entries, "last_recorded": ended}


def copy_clock(source: Path, target: Path) -> None:
    """Copies the "now" of a demo department, which keeps its own clock; does nothing for any other.

    Raises:
        LedgerError: it cannot be written.
    """
    if not clock_path(source).exists():
        return
    try:
        shutil.copyfile(clock_path(source), clock_path(target))
    except OSError as fault:
        message = f"The demo's clock could not be copied to {clock_path(target)}: {fault.strerror}."
        raise LedgerError(message) from fault
