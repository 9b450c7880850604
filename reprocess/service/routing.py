"""Every router of the service, in the order in which the documentation tells them."""

from __future__ import annotations

from fastapi import APIRouter

from reprocess.service import health, metrics, problem_pages, writing
from reprocess.service.api import (
    assemblies,
    board,
    cases,
    custody,
    exports,
    feed,
    fhir,
    files,
    following,
    forms,
    holds,
    imports,
    incoming,
    instruments,
    items,
    loads,
    lookbacks,
    lots,
    papers,
    people,
    places,
    recalls,
    reminders,
    reviews,
    scanned,
    scans,
    sessions,
    single_sign_on,
    sites,
    solutions,
    stations,
    subscriptions,
    wearers,
    workflows,
)

NOUNS = (
    sessions,
    single_sign_on,
    scans,
    items,
    following,
    board,
    solutions,
    lots,
    loads,
    assemblies,
    custody,
    places,
    instruments,
    sites,
    stations,
    holds,
    recalls,
    lookbacks,
    cases,
    people,
    wearers,
    workflows,
    reminders,
    reviews,
    forms,
    papers,
    files,
    imports,
    feed,
    subscriptions,
    incoming,
    scanned,
    exports,
    fhir,
)
"""The modules of routes; each holds one `router`."""


def routers() -> list[APIRouter]:
    """Returns the routers of all nouns."""
    return [
        writing.routes(),
        *(noun.router for noun in NOUNS),
        health.routes(),
        metrics.routes(),
        problem_pages.routes(),
    ]
