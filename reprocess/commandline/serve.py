"""`reprocess serve`: rings the reminders on this terminal until it is stopped."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption
from reprocess.errors import LedgerError, WrongUseError

if TYPE_CHECKING:
    from threading import Event


def serve(
    reminders_only: Annotated[
        bool, typer.Option("--reminders-only", help="Ring the reminders on this terminal; no pages, no API.")
    ] = False,
    seconds: Annotated[
        float | None, typer.Option("--for", min=0, max=31_536_000, help="Stop after so many seconds.")
    ] = None,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Ring the reminders of a department, one line each; Ctrl-C ends it. Several may run at once."""
    from reprocess.commandline.opening import department_at, department_path
    from reprocess.demo.clock import clock_for
    from reprocess.reminders import bell, channels, rounds

    if not reminders_only:
        message = "Serving pages and an API is not part of this release; `serve --reminders-only` rings the reminders."
        raise WrongUseError(message)
    path = department_path(department)
    with department_at(department) as opened, bell.stopping() as stop:
        channel = channels.json_lines if as_json else channels.terminal
        deliver = bell.guarded(channel(lambda text: _write(text, stop)))
        node = f"{opened.clock.now().node}-{os.getpid()}"

        def tick() -> None:
            # A demo keeps its own now in a file, which other commands move on: it is read anew for each sweep.
            rounds.sweep(opened.ledger, clock_for(path), deliver, node, lambda: not stop.is_set())

        print(f"Reminders of {path.name} ring here. Ctrl-C ends it.", file=sys.stderr, flush=True)
        with bell.Bell(tick) as ringing:
            ringing.ring_until(stop, seconds)


def _write(text: str, stop: Event) -> None:
    """Prints a line; where nobody reads them any more, this bell stops, so that another may ring instead.

    Raises:
        LedgerError: the terminal is gone.
    """
    try:
        print(text, flush=True)
    except OSError as fault:
        stop.set()
        message = "The terminal is gone; the reminders no longer ring here."
        raise LedgerError(message) from fault
