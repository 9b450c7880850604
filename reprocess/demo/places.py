"""Where a demo may be made: over an older demo, never over a department."""

from __future__ import annotations

from pathlib import Path

from reprocess.clock import clock_path
from reprocess.errors import LedgerError
from reprocess.ledger.open import key_path


def clear(path: Path) -> None:
    """Removes an older demo of that name.

    Raises:
        LedgerError: what lies there is no demo, or cannot be removed.
    """
    if path.exists() and not clock_path(path).exists():
        message = f"{path} is not a demo; nothing was changed. Choose another file with --department."
        raise LedgerError(message, path=str(path))
    try:
        for old in (path, path.with_name(path.name + "-wal"), path.with_name(path.name + "-shm")):
            old.unlink(missing_ok=True)
        key_path(path).unlink(missing_ok=True)
        clock_path(path).unlink(missing_ok=True)
    except OSError as fault:
        message = f"{path} cannot be made anew: {fault.strerror}."
        raise LedgerError(message, path=str(path)) from fault
