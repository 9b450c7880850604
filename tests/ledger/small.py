"""A department as small as it can be: one kind of part, one assembly, one wipe, two people. Every name is invented."""

from __future__ import annotations

from pathlib import Path

from reprocess.clock import Clock, StoryClock
from reprocess.definitions.read import digest_of, read_definition
from reprocess.department import Department, found_department
from reprocess.gathering import Library
from reprocess.ledger.address import Server
from reprocess.ledger.open import Connect, Ledger, connect_sqlite, open_ledger
from reprocess.shipped import File
from reprocess.station import Desk

START_US = 1_772_694_300_000_000
"""2026-03-05T07:05:00Z."""

SHELL = """\
workflow: shell
title: Shell that is wiped
item_kind: filter
item_class: filter
follows: An invented maker's instructions.
example: true
stages: [used, cleaned, disinfected, inspected, ready]
steps:
  - {step: clean, title: Wipe off all soil, reaches: cleaned, zone: any}
  - step: disinfect
    title: Wipe and keep wet
    after: [clean]
    reaches: disinfected
    dwell: {kind: wet-contact, agents: [wipe], claim: general, method: wipe, greatest_s: 1800, example: true}
  - step: inspect
    title: Look at it
    after: [disinfect]
    reaches: inspected
    readings:
      - {reading: gap_mm, unit: mm, most: 2, plausible_least: 0, plausible_most: 9, example: true,
         failing: {defect: GAP, back_to: clean, hold: true, route: repair}}
    checks:
      - {check: whole, text: It is whole., failing: {defect: CRACK, back_to: clean, hold: true, route: repair}}
  - {step: release, title: Release it, after: [inspect], reaches: ready, not_alone: true}
never:
  - {method: boil, text: Never boil it., failing: {defect: BOILED, back_to: clean, hold: true}}
limits:
  - {limit: cycles, most: 50, example: true}
readiness: {days_most: 30, example: true}
"""
SET = """\
workflow: set
title: Set of one shell
item_kind: set
item_class: assembly
follows: An invented maker's instructions.
example: true
stages: [used, inspected, ready]
steps:
  - step: assemble
    title: Put it together
    assembles: true
    counts:
      - {count: gaskets, from_configuration: gaskets, failing: {defect: GASKET-MISSING}}
      - {count: plugs, from_configuration: plugs, failing: {defect: PLUG-MISSING}}
  - {step: inspect, title: Look at it, after: [assemble], reaches: inspected}
  - {step: release, title: Release it, after: [assemble, inspect], reaches: ready}
"""
WIPE = """\
agent: wipe
title: Invented wipe
active_ingredients: invented
form: wipe
follows: An invented label.
example: true
claims:
  - {claim: general, method: wipe, contact_s: 180, example: true}
film: {life_s: 120, example: true}
"""
ONE_PORT = """\
configuration: one-port
title: Set with one port
approval: example approval
ports: 1
filters: 1
plugs: 0
gaskets: 1
example: true
slots:
  - {slot: filter, item_kind: filter, models: [M-1]}
"""
DEPARTMENT = """\
network: Larkmoor Health Network
sites:
  - {site: LMG, title: Larkmoor General, zone: Europe/London}
stations:
  - {station: LMG-1, title: Bench, site: LMG, side: any}
people:
  - person: P-A
    name: Anna Brook
    roles: [supervisor]
    badges: [B-A]
    competencies:
      - {competency: clean, since: "2026-01-01", until: "2099-01-01", assessor: Larkmoor school}
      - {competency: disinfect, since: "2026-01-01", until: "2099-01-01", assessor: Larkmoor school}
      - {competency: assemble, since: "2026-01-01", until: "2099-01-01", assessor: Larkmoor school}
      - {competency: release, since: "2026-01-01", until: "2099-01-01", assessor: Larkmoor school}
  - person: P-B
    name: Ben Fell
    roles: [supervisor]
    badges: [B-B]
    competencies:
      - {competency: inspect, since: "2026-01-01", until: "2099-01-01", assessor: Larkmoor school}
      - {competency: release, since: "2026-01-01", until: "2099-01-01", assessor: Larkmoor school}
files: {published_by: P-A, approved_by: P-B}
items:
  - {item: S-1, workflow: shell, model: M-1, site: LMG, in_service: "2026-01-01"}
  - {item: S-2, workflow: shell, model: M-1, site: LMG, in_service: "2026-01-01"}
  - {item: S-3, workflow: shell, model: M-1, site: LMG, in_service: "2026-01-01"}
  - {item: SET-1, workflow: set, model: M-9, site: LMG, in_service: "2026-01-01"}
"""


def files() -> list[File]:
    """Returns the small department's workflows, agent and configuration, agents first."""
    texts = {"wipe": WIPE, "one-port": ONE_PORT, "shell": SHELL, "set": SET}
    return [
        File(Path(f"{name}.yaml"), text, digest_of(text), read_definition(text, name=name))
        for name, text in texts.items()
    ]


def found(path: Path | Server, clock: Clock | None = None, *, connect: Connect = connect_sqlite) -> Department:
    """Returns the small department, newly founded."""
    own = clock if clock is not None else StoryClock(START_US)
    return found_department(path, DEPARTMENT, clock=own, shipped=files(), connect=connect)


def opened(
    path: Path | Server, clock: Clock, *, connect: Connect = connect_sqlite, library: Library | None = None
) -> Department:
    """Returns an existing department over a connection of the test's choice."""
    return over(open_ledger(path, connect=connect), clock, library)


def over(ledger: Ledger, clock: Clock, library: Library | None = None) -> Department:
    """Returns a department over an open ledger; a library that was used before spares reading its files again."""
    own = library if library is not None else Library()
    return Department(ledger, clock, Desk(ledger, own, clock), own)
