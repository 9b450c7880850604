"""From a description to a drawing: in a process that draws one picture and ends, kept by the digest of its description.

Measured on Debian 12 with vl-convert 1.9.0, one picture of fifty bars: inside the server the library and its JavaScript
engine add 70 MB that are never given back (with Altair beside it 132 MB), and 200 open pages may cost 150 MB in all. A
process of its own takes 88 MB for half a second and nothing afterwards; kept running it would save 0.4 s on the second
picture and cost those 88 MB for as long. So each picture has its own process, one at a time, and what was drawn is kept
up to 8 MB: a picture of the same minute is the same description. What is kept is a matter of speed only; any node draws
any picture. Whoever waits for one holds a thread that a scan may need: only a few wait, and the others get the table.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections import OrderedDict
from hashlib import sha256
from importlib.util import find_spec
from pathlib import Path
from threading import BoundedSemaphore, Lock
from typing import Final

from reprocess.pictures import svg
from reprocess.pictures.picture import MARKS_MOST, Missing, Picture, Plot

KEPT_MOST: Final = 8_000_000
"""Characters of drawings that are kept (our choice)."""
DRAWS_S_MOST: Final = 20
"""Seconds that one drawing may take, forty times what is usual; waiting for the one before takes as long at most."""
WAIT_MOST: Final = 6
"""Pictures that are drawn or waited for at a time (our choice: 3 s as a rule, few of a server's threads)."""
WORKER: Final = Path(__file__).with_name("worker.py")


def drawn(plot: Plot) -> Picture:
    """Returns a picture with its drawing, or with the reason why it has none; its table is there either way."""
    drawing, missing = _drawing(plot)
    told = (plot.language, plot.title, plot.alt, plot.caption, plot.columns, plot.rows)
    if drawing is None:
        return Picture(None, missing, *told)
    try:
        return Picture(svg.finished(drawing, plot.key, plot.title, plot.alt), None, *told)
    except ValueError:
        return Picture(None, "failed", *told)


def _drawing(plot: Plot) -> tuple[str | None, Missing | None]:
    if plot.marks > MARKS_MOST:
        return None, "large"
    if not available():
        return None, "extra"
    text = json.dumps(plot.spec, separators=(",", ":"))
    digest = sha256(text.encode()).hexdigest()
    found = _KEPT.get(digest)
    if found is None:
        if not _ROOM.acquire(blocking=False):
            return None, "busy"
        try:
            found = _in_turn(text, digest)
        finally:
            _ROOM.release()
    return found, None if found is not None else "failed"


def _in_turn(text: str, digest: str, most_s: float = DRAWS_S_MOST) -> str | None:
    """Returns the drawing of a description once it is its turn; None where that took too long, or it failed.

    Of those who wait for the same drawing, the first has it drawn.
    """
    if not _ONE.acquire(timeout=most_s):
        return None
    try:
        found = _KEPT.get(digest)
        if found is None:
            found = _draw(text)
            if found is not None:
                _KEPT.keep(digest, found)
        return found
    finally:
        _ONE.release()


def available() -> bool:
    """Tells whether the extra that draws is installed."""
    return find_spec("vl_convert") is not None


class Kept:
    """Keeps what was drawn, up to so many characters; what was asked for longest ago goes first."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._drawings: OrderedDict[str, str] = OrderedDict()
        self._size = 0
        self._lock = Lock()

    def get(self, digest: str) -> str | None:
        """Returns the drawing of a description, or None."""
        with self._lock:
            if digest not in self._drawings:
                return None
            self._drawings.move_to_end(digest)
            return self._drawings[digest]

    def keep(self, digest: str, drawing: str) -> None:
        """Keeps a drawing, where it is not larger than everything that may be kept."""
        with self._lock:
            if digest in self._drawings or len(drawing) > self._most:
                return
            self._drawings[digest] = drawing
            self._size += len(drawing)
            while self._size > self._most:
                _, gone = self._drawings.popitem(last=False)
                self._size -= len(gone)

    @property
    def size(self) -> int:
        """Returns how many characters are kept."""
        return self._size


_KEPT: Final = Kept(KEPT_MOST)
_ONE: Final = Lock()
_ROOM: Final = BoundedSemaphore(WAIT_MOST)


def _draw(text: str, worker: Path = WORKER, most_s: float = DRAWS_S_MOST) -> str | None:
    """Returns the drawing of a description, or None where it took too long or failed."""
    try:
        done = subprocess.run(  # noqa: S603 - our own program; the description goes in as text, not as an argument
            [sys.executable, "-P", str(worker)],
            input=text,
            capture_output=True,
            encoding="utf-8",
            timeout=most_s,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return None
    return done.stdout if done.returncode == 0 and done.stdout else None
