"""One request to the department from a route: through the batches where it may share one, else by itself."""

from __future__ import annotations

import anyio.to_thread

from reprocess import enrolment
from reprocess.rules.answer import Answer
from reprocess.service.served import Served
from reprocess.station import Call


async def ask(parts: Served, call: Call | enrolment.EnrolCall) -> Answer:
    """Returns the answer to one call; what it says is on record when it returns.

    Raises:
        ReprocessError: as the department says.
    """
    if isinstance(call, Call):
        return await parts.batcher.take(call)
    desk = parts.department.desk
    return await anyio.to_thread.run_sync(enrolment.take, desk.ledger, desk.library, desk.clock, call)


async def zone_of(parts: Served, station: str) -> str:
    """Returns the time zone of a station's site, which is kept: it does not change while a node runs."""
    zones: dict[str, str] = parts.parts.setdefault("zones", {})
    if station not in zones:
        zone = await anyio.to_thread.run_sync(parts.department.zone_of_station, station)
        if len(zones) > ZONES_MAX:
            zones.clear()
        zones[station] = zone
    return zones[station]


ZONES_MAX = 1000
