"""Files beside the database: the key, which lies outside it, and what the disk's errors are called."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Final

from reprocess.errors import LedgerError, LedgerFullError, ReprocessError

KEY_BYTES: Final = 32


def key_path(path: Path) -> Path:
    """Returns where the MAC key of a database lies: beside it, never in it."""
    return path.with_name(path.name + ".key")


def keep_key(key: bytes, place: Path) -> None:
    """Writes a key to a new file that its owner alone can read, and waits until it is on the disk.

    Raises:
        FileExistsError: there is such a file already; a key is never overwritten.
    """
    handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(key)
        file.flush()
        os.fsync(file.fileno())
    sync_folder(place.parent)


def sync_folder(folder: Path) -> None:
    """Waits until the names in a folder are on the disk, where the system can do that for folders."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as fault:
        if fault.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(handle)


def of_the_disk(fault: OSError, path: Path) -> ReprocessError:
    """Returns an error of the disk as one sentence that says that nothing was recorded."""
    if fault.errno in (errno.ENOSPC, errno.EDQUOT):
        return LedgerFullError(f"The disk with {path.name} is full; nothing was recorded.")
    if fault.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return LedgerFullError(f"{path.name} cannot be written here; nothing was recorded.")
    return LedgerError(f"{path.name} could not be used ({fault.strerror or fault}); nothing was recorded.")
