"""The same requests at the same clock readings once more, perhaps with other claims in them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from reprocess import enrolment
from reprocess.engine import request as ask
from reprocess.enrolment import EnrolCall
from reprocess.errors import WrongUseError
from reprocess.station import Call
from tests.properties.clocks import SECOND_US, TwoNodes
from tests.properties.play import LIBRARY, opened

Logged = list[tuple[Call | EnrolCall, TwoNodes]]


def replayed(path: Path, log: Logged, change: Callable[[Call], Call] = lambda call: call) -> list[str | None]:
    """Makes the requests of a log on a department and returns the verdicts; None where one could not be read."""
    verdicts: list[str | None] = []
    clock = TwoNodes()
    department = opened(path, clock)
    try:
        for call, kept in log:
            clock.set_as(kept)
            try:
                if isinstance(call, EnrolCall):
                    answer = enrolment.take(department.ledger, LIBRARY, clock, call)
                else:
                    answer = department.desk.take(change(call))
                verdicts.append(str(answer.verdict))
            except WrongUseError:
                verdicts.append(None)
    finally:
        department.close()
    return verdicts


def otherwise_claimed(call: Call) -> Call:
    """Returns the request without the claimed end of use, and with paper times that are 20 s later."""
    request = call.request
    if isinstance(request, ask.Contaminate) and request.use_ended_us is not None:
        return replace(call, request=replace(request, use_ended_us=None))
    late = getattr(request, "late", None)
    if isinstance(request, ask.DoStep | ask.EndDwell) and late is not None:
        began = None if late.began_us is None else late.began_us + 20 * SECOND_US
        moved = replace(late, occurred_us=late.occurred_us + 20 * SECOND_US, began_us=began)
        return replace(call, request=replace(request, late=moved))
    return call
