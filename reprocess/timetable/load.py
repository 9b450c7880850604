"""The reminders of a load: its end, record (W07), unloading (T14), recount (W04), and what is still out (H05)."""

from __future__ import annotations

from typing import Final

from reprocess.record.loads import Load, LoadState
from reprocess.terms import SECOND_US, StreamKind, stream
from reprocess.timetable.due import NOW, SOON, Due, Words, key_of

OVERDUE_S: Final = 600
"""How long after its programme's time a load is looked after (our choice, site parameter with this default)."""
AWAITED_S: Final = 1800
"""How long a load may await its record or an indicator before it is brought to mind (our choice, site parameter)."""
UNLOAD_S: Final = 3600
"""How long what a machine did may stay in it (our choice, site parameter with this default)."""


def for_load(load: Load) -> tuple[Due, ...]:
    """Returns every reminder that a load calls for."""
    found: list[Due] = []
    if load.state == LoadState.RUNNING and load.started is not None:
        end_us = load.started.wall_us + load.lasts_s * SECOND_US
        found.append(_due(load, "W08", "load-ends", end_us))
        found.append(_due(load, "W08", "load-overdue", end_us + OVERDUE_S * SECOND_US))
    if (load.state == LoadState.ENDED or load.awaits) and load.ended is not None and load.state != LoadState.FAILED:
        found.append(_due(load, "W07", "load-awaits", load.ended.wall_us + AWAITED_S * SECOND_US))
    settled_us = load.ended.wall_us if load.ended is not None else load.failed_us
    if settled_us is not None and not load.emptied and load.started is not None:
        found.append(_due(load, "T14", "load-unload", settled_us + UNLOAD_S * SECOND_US))
    if load.miscounted and settled_us is not None:
        found.append(_due(load, "W04", "load-recount", settled_us))
    if load.astray and load.failed_us is not None:
        found.append(_due(load, "H05", "load-astray", load.failed_us, severity=NOW))
    return tuple(found)


def _due(load: Load, rule: str, say: str, due_us: int, *, severity: int = SOON) -> Due:
    subject = stream(StreamKind.LOAD, load.load)
    words: Words = {
        "say": say,
        "site": load.site,
        "load": load.load,
        "machine": load.machine,
        "items": ", ".join(load.astray) if say == "load-astray" else len(load.items),
    }
    return Due(key_of(rule, subject, say, str(due_us)), subject, rule, due_us, severity, words)
