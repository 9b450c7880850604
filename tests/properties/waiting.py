"""Faults of the engine that were found here and wait to be mended, each with the shortest script that shows it.

A random script that meets one of them ends there, because what follows from a fault proves nothing. A fault that was
mended makes its test pass, which fails the run (`xfail_strict`): then its line is to be taken out.
"""

from __future__ import annotations

from dataclasses import dataclass

from tests.properties.script import Climb, Script, Time


class StillWaiting(Exception):  # noqa: N818 - it is no error of the test
    """Ends a script at a fault that waits to be mended."""


@dataclass(frozen=True, slots=True)
class Fault:
    """Is one fault: the words in which the oracle tells it, the script that shows it, and what is wrong."""

    words: str
    script: Script
    reason: str


WAITING = (
    Fault(
        "past its sealed-expiry",
        Script(("ONE-2",), (Time("step", -90_000.0), Climb(0, 2))),
        "T12: a package that was out of date when it came is in date again while the wall clock is set back",
    ),
    Fault(
        "cleaning began late",
        Script(("KIT-TUB",), (Climb(0, 2), Time("pass", 90_000.0), Climb(0, 1))),
        "T11: once the item is taken apart in time, cleaning may begin a day later and nobody notices",
    ),
)
