"""Every page's router, in the order of the job."""

from __future__ import annotations

from fastapi import APIRouter

from reprocess.service.pages import assets, first_run, live, signing_in
from reprocess.service.pages.bench import calibration
from reprocess.service.pages.bench import kept as bench_kept
from reprocess.service.pages.bench import page as bench
from reprocess.service.pages.board import page as board
from reprocess.service.pages.desk import (
    holds,
    life,
    lookback,
    people,
    recalls,
    reminders,
    reviews,
    screens,
    solutions,
    start,
    workflows,
)
from reprocess.service.pages.hatch import page as hatch

FACES = (
    signing_in,
    first_run,
    live,
    bench,
    bench_kept,
    calibration,
    board,
    hatch,
    start,
    reviews,
    holds,
    recalls,
    lookback,
    reminders,
    solutions,
    life,
    people,
    workflows,
    screens,
)
"""The modules of pages; each holds one `router`."""


def routers() -> list[APIRouter]:
    """Returns the routers of all pages."""
    return [assets.routes(), *(face.router for face in FACES)]
