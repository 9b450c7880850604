"""What all routes of one node share."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from typing import Any

from starlette.requests import HTTPConnection

from reprocess.batching import Batcher
from reprocess.department import Department
from reprocess.settings import Settings


@dataclass(slots=True)
class Served:
    """Is one department as one node serves it.

    Attributes:
        department: the open department.
        batcher: takes the calls that share transactions.
        settings: what the node was started with.
        stopping: set when the node begins to stop; streams that stay open end then.
        parts: what single groups of routes keep for themselves, by name.
    """

    department: Department
    batcher: Batcher
    settings: Settings
    stopping: asyncio.Event = field(default_factory=asyncio.Event)
    parts: dict[str, Any] = field(default_factory=dict)

    @property
    def secret_links(self) -> bool:
        """Tells whether cookies must be sent over TLS only: always, but on loopback without it."""
        return not bool(self.parts.get("plain"))


def served(connection: HTTPConnection) -> Served:
    """Returns what the application of a request serves; a dependency of the routes."""
    found: Served = connection.app.state.served
    return found
