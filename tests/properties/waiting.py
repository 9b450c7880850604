"""Faults of the engine that were found here and wait to be mended: each has the shortest script that shows it.

A random script that meets one of them ends there, because what follows from a fault proves nothing. A fault that was
mended makes its test pass, which fails the run (`xfail_strict`): then its lines here are to be taken out.
"""

from __future__ import annotations


class StillWaiting(Exception):  # noqa: N818 - it is no error of the test
    """Ends a script at a fault that waits to be mended."""


WAITING: dict[str, str] = {
    "past its sealed-expiry": "R4",
    "by nobody": "R5",
    "nobody noticed": "R6",
    "the instrument was found faulty": "R9",
}
