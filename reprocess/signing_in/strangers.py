"""Badges that mean nobody: they wait and are locked as somebody's are, so that no answer tells the two apart (I17).

It is counted in the memory of this node alone. Whoever asks several nodes in turn, or waits for a restart, can still
find out at the price of five tries with one badge, which stand on record.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
from collections import OrderedDict
from dataclasses import replace
from typing import Final

from reprocess.record.access import Access
from reprocess.rules.guessing import LOCKED_AFTER

BADGES_MOST: Final = 10_000
"""Badges that are counted at a time; the one that was quiet longest is forgotten first (our choice). At 20 tries in ten
minutes at a station, a hundred stations take 50 minutes to fill it."""


class Strangers:
    """Counts the tries that failed with each badge that means nobody, under a digest: it may be a PIN in its place."""

    def __init__(self) -> None:
        self._kept: OrderedDict[bytes, Access] = OrderedDict()
        self._key = secrets.token_bytes(32)
        self._lock = threading.Lock()

    def of(self, badge: str) -> Access:
        """Returns how the sign-in with a badge would stand, were it somebody's."""
        with self._lock:
            return self._kept.get(self._digest(badge), _NOBODY)

    def failed(self, badge: str, now_us: int) -> None:
        """Counts one try that failed."""
        own = self._digest(badge)
        with self._lock:
            before = self._kept.pop(own, _NOBODY)
            failures = before.failures + 1
            locked_us = now_us if failures >= LOCKED_AFTER else None
            self._kept[own] = replace(before, failures=failures, failed_us=now_us, locked_us=locked_us)
            if len(self._kept) > BADGES_MOST:
                self._kept.popitem(last=False)

    def _digest(self, badge: str) -> bytes:
        return hashlib.blake2b(badge.encode(), key=self._key, digest_size=16).digest()


_NOBODY: Final = Access("")
