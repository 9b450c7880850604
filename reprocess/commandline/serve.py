"""`reprocess serve`: rings the reminders on this terminal until it is stopped."""

from __future__ import annotations

import math
import os
import sys
from contextlib import nullcontext
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption
from reprocess.errors import ReprocessError, WrongUseError


def serve(
    reminders_only: Annotated[
        bool, typer.Option("--reminders-only", help="Ring the reminders on this terminal; no pages, no API.")
    ] = False,
    seconds: Annotated[
        float | None, typer.Option("--for", min=0, max=31_536_000, help="Stop after so many seconds; 0: ring once.")
    ] = None,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Ring the reminders of a department, one line each; Ctrl-C ends it. Several may run at once."""
    from reprocess.commandline.opening import department_at, department_path
    from reprocess.commandline.posting import hands, kept_for
    from reprocess.demo.clock import clock_for
    from reprocess.reminders import bell, channels, posting, rounds
    from reprocess.settings import Settings

    if not reminders_only:
        message = "Serving pages and an API is not part of this release; `serve --reminders-only` rings the reminders."
        raise WrongUseError(message)
    path = department_path(department)
    settings = Settings()
    outside, kept = hands(settings), kept_for(settings)
    lost: list[OSError] = []
    with department_at(department) as opened, bell.stopping() as stop:

        def write(text: str) -> None:
            try:
                print(text, flush=True)
            except OSError as fault:
                # Nobody reads this terminal any more: the bell stops, so that another one may ring instead.
                lost.append(fault)
                stop.set()
                raise

        channel = channels.json_lines if as_json else channels.terminal
        deliver = bell.guarded(channel(write))
        node = f"{opened.clock.now().node}-{os.getpid()}"

        def tick() -> None:
            # A demo keeps its own now in a file, which other commands move on: it is read anew for each sweep.
            rounds.sweep(opened.ledger, clock_for(path), deliver, node, lambda: not stop.is_set(), kept)

        def post() -> None:
            posting.post_round(opened.ledger, clock_for(path), outside, lambda: not stop.is_set())

        print(f"Reminders of {path.name} ring here. Ctrl-C ends it.", file=sys.stderr, flush=True)
        with bell.Bell(tick) as ringing, bell.Bell(post, posting.EVERY_S) if outside else nullcontext():
            ringing.ring_until(stop, math.inf if seconds is None else seconds)
    if lost:
        message = "The terminal is gone; the reminders no longer ring here."
        raise ReprocessError(message) from lost[0]
