"""What was made for one page is kept for the others that ask for the same within a moment: few, and not for long."""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Hashable
from typing import Generic, TypeVar

Made = TypeVar("Made")


class Kept(Generic[Made]):
    """Keeps what was made by its key; whoever asks while it is being made waits for that one.

    A key holds all that the made thing depends on, the number of the latest entry and the second among it, so that
    nothing old is ever found: another node makes the same.

    Args:
        most: how many are kept; the one that was asked for the longest ago goes first.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._made: OrderedDict[Hashable, asyncio.Future[Made]] = OrderedDict()
        self.makings = 0

    def __len__(self) -> int:
        return len(self._made)

    async def get(self, key: Hashable, make: Callable[[], Awaitable[Made]]) -> Made:
        """Returns what a key stands for, made once; what could not be made is tried anew by whoever asks next."""
        found = self._made.get(key)
        if found is None:
            self.makings += 1
            found = self._made[key] = asyncio.ensure_future(make())
            while len(self._made) > self._most:
                self._made.popitem(last=False)
        self._made.move_to_end(key)
        try:
            return await asyncio.shield(found)
        except Exception:
            self._made.pop(key, None)
            raise
