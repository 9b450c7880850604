"""How often one address of the network tries: counted in the memory of this node, and nowhere else."""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from typing import Final

from reprocess.clock import Clock
from reprocess.errors import TooManyTriesError
from reprocess.rules.guessing import SOURCE_S, SOURCE_TRIES
from reprocess.terms import SECOND_US

SOURCES_MOST: Final = 10_000
"""Addresses that are counted at a time; the one that was quiet longest is forgotten first (our choice)."""


class Sources:
    """Counts the tries of each address within the last minute."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._tries: OrderedDict[str, deque[int]] = OrderedDict()
        self._lock = threading.Lock()

    def tries(self, source: str) -> None:
        """Counts one try.

        Raises:
            TooManyTriesError: this address tried too often; other addresses go on.
        """
        now_us = self._clock.now().mono_us
        with self._lock:
            tries = self._tries.setdefault(source, deque(maxlen=SOURCE_TRIES))
            self._tries.move_to_end(source)
            if len(self._tries) > SOURCES_MOST:
                self._tries.popitem(last=False)
            left_us = tries[0] + SOURCE_S * SECOND_US - now_us if len(tries) == SOURCE_TRIES else 0
            if left_us > 0:
                message = "Too many tries come from this computer. Wait, then try again."
                raise TooManyTriesError(message, wait_s=-(-left_us // SECOND_US))
            tries.append(now_us)
