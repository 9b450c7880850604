"""A small Larkmoor: two sites in two zones, nine invented people, one item of every kind and the parts of a kit."""

from __future__ import annotations

from pathlib import Path

from reprocess.definitions.read import digest_of, read_definition
from reprocess.shipped import File, files_in, folder

EVERY_STEP = (
    "take-apart",
    "clean",
    "disinfect",
    "dry",
    "charge",
    "inspect",
    "functional-test",
    "assemble",
    "launder",
    "release",
)


def _competencies(*steps: str, since: str = "2026-01-01", until: str = "2027-01-01", kinds: str = "") -> str:
    line = '      - {{competency: {}, since: "{}", until: "{}", assessor: Larkmoor school{}}}'
    only = f", item_kinds: [{kinds}]" if kinds else ""
    return "\n".join(line.format(step, since, until, only) for step in steps)


FOUNDING = f"""
network: Larkmoor Health Network
demo: true
sites:
  - {{site: LMG, title: Larkmoor General, zone: Europe/London}}
  - {{site: SAL, title: Saltgate, zone: America/Halifax, contact_floor_s: 240, self_inspection: true}}
stations:
  - {{station: LMG-D, title: Sink side, site: LMG, side: dirty}}
  - {{station: LMG-C, title: Clean bench, site: LMG, side: clean}}
  - {{station: LMG-A, title: Hatch, site: LMG, side: any}}
  - {{station: SAL-D, title: Sink, site: SAL, side: dirty}}
  - {{station: SAL-C, title: Bench, site: SAL, side: clean}}
  - {{station: SAL-A, title: Hatch, site: SAL, side: any}}
people:
  - person: ANNA
    name: Anna Example
    sites: [LMG]
    roles: [technician]
    badges: [B-ANNA-1, B-ANNA-2]
    competencies:
{_competencies(*EVERY_STEP)}
  - person: BEN
    name: Ben Example
    sites: [LMG, SAL]
    roles: [technician]
    badges: [B-BEN-1, B-BEN-2]
    competencies:
{_competencies(*EVERY_STEP)}
  - person: CARA
    name: Cara Example
    roles: [supervisor]
    badges: [B-CARA-1, B-CARA-2]
    competencies:
{_competencies(*EVERY_STEP)}
  - person: DINO
    name: Dino Example
    sites: [LMG]
    roles: [technician]
    badges: [B-DINO-1]
    competencies:
{_competencies("inspect", "functional-test", "release", kinds="blower, filter")}
  - person: EMMA
    name: Emma Example
    sites: [LMG]
    roles: [technician]
    badges: [B-EMMA-1]
    competencies:
{_competencies(*EVERY_STEP, until="2026-03-29")}
  - person: FINN
    name: Finn Example
    sites: [SAL]
    roles: [technician]
    badges: [B-FINN-1]
    competencies:
{_competencies(*EVERY_STEP)}
  - person: GINA
    name: Gina Example
    roles: [infection-prevention, programme-administrator]
    badges: [B-GINA-1]
  - person: HUGO
    name: Hugo Example
    roles: [clinical-engineer]
    badges: [B-HUGO-1, B-HUGO-2]
  - person: IRIS
    name: Iris Example
    sites: [LMG]
    roles: [supervisor]
    badges: [B-IRIS-1]
    competencies:
{_competencies(*EVERY_STEP)}
instruments:
  - {{instrument: FLOW-1, sort: flow-indicator, site: LMG, verified_until: "2026-12-31"}}
  - {{instrument: BAY-1, sort: charger-bay, site: LMG, verified_until: "2026-12-31"}}
  - {{instrument: BAY-3, sort: charger-bay, site: SAL, verified_until: "2026-12-31"}}
  - {{instrument: FLOW-2, sort: flow-indicator, site: LMG, verified_until: "2026-03-28"}}
  - {{instrument: FLOW-3, sort: flow-indicator, site: SAL, verified_until: "2026-12-31"}}
  - {{instrument: FLOW-4, sort: flow-indicator, site: SAL}}
  - {{instrument: LAMP-1, sort: lamp, site: LMG, verified_until: "2026-12-31"}}
files: {{published_by: GINA, approved_by: CARA}}
items:
  - {{item: BLW-1, workflow: blower, model: LB-3, site: LMG, in_service: "2024-05-01"}}
  - {{item: BLW-2, workflow: blower, model: LB-3, site: SAL, in_service: "2024-05-01"}}
  - {{item: BLW-9, workflow: blower, model: LB-3, site: LMG, in_service: "2021-03-30"}}
  - {{item: TUB-1, workflow: breathing-tube-immersion, model: LT-1, site: LMG}}
  - {{item: TUB-2, workflow: breathing-tube-wipe, model: LT-1, site: LMG}}
  - {{item: TUB-3, workflow: breathing-tube-soak, model: LT-1, site: LMG}}
  - {{item: HED-1, workflow: head-cover, model: LH-1, site: LMG}}
  - {{item: ONE-1, workflow: head-cover-one-wearer, model: LH-2, site: LMG, sealed_until: "2028-01-01"}}
  - {{item: ONE-2, workflow: head-cover-one-wearer, model: LH-2, site: LMG, sealed_until: "2026-03-01"}}
  - {{item: FLT-1, workflow: hepa-cartridge, model: LF-H, site: LMG, opened: "2026-01-01"}}
  - {{item: FLT-2, workflow: hepa-cartridge, model: LF-H, site: SAL, opened: "2025-01-01"}}
  - {{item: BAT-1, workflow: battery-pack, model: LP-1, site: LMG}}
  - {{item: BLT-1, workflow: belt-fabric, model: LW-F, site: LMG}}
  - {{item: BLT-2, workflow: belt-wipe-down, model: LW-W, site: LMG}}
  - {{item: GSK-1, workflow: filter-gasket, model: LG-1, site: LMG, quantity: 40}}
  - {{item: GSK-2, workflow: filter-gasket, model: LG-1, site: SAL, quantity: 40}}
  - {{item: PLG-1, workflow: port-plug, model: LQ-1, site: LMG, quantity: 20}}
  - {{item: RSP-1, workflow: respirator, model: LR-1, site: LMG}}
  - {{item: RSP-2, workflow: respirator, model: LR-1, site: LMG}}
  - {{item: KIT-BLW, workflow: blower, model: LB-3, site: LMG}}
  - {{item: KIT-TUB, workflow: breathing-tube-wipe, model: LT-1, site: LMG}}
  - {{item: KIT-HED, workflow: head-cover, model: LH-1, site: LMG}}
  - {{item: KIT-FLT-1, workflow: hepa-cartridge, model: LF-H, site: LMG, opened: "2026-03-01"}}
  - {{item: KIT-FLT-2, workflow: hepa-cartridge, model: LF-H, site: LMG, opened: "2026-03-01"}}
  - {{item: KIT-FLT-3, workflow: hepa-cartridge, model: LF-C, site: LMG, opened: "2026-03-01"}}
  - {{item: KIT-BAT, workflow: battery-pack, model: LP-1, site: LMG}}
  - {{item: KIT-BLT, workflow: belt-wipe-down, model: LW-W, site: LMG}}
"""

CHANGES = {
    # A workflow that lets countersigned paper count, and one in which some steps take two people.
    "head-cover": (
        ("\nsteps:\n", "\naccepts_attested: true\nsteps:\n"),
        ("limit: cycles, most: 30", "limit: cycles, most: 90"),
    ),
    "port-plug": (("title: Inspect every plug\n", "title: Inspect every plug\n    two_people: true\n"),),
    "hepa-cartridge": (("title: Inspect the cartridge\n", "title: Inspect the cartridge\n    two_people: true\n"),),
    "belt-fabric": (("title: Dry the belt\n", "title: Dry the belt\n    two_people: true\n"),),
}
SOAK = (
    ("workflow: breathing-tube-immersion", "workflow: breathing-tube-soak"),
    ("claim: respirator-disinfection", "claim: high-level"),
    ("agents: [hypochlorite-50ppm, iodine-50ppm]", "agents: [opa-055, glutaraldehyde-25]"),
    ("greatest_s: 1800", "greatest_s: 10800"),
)
"""A workflow whose bath is tested before each use and whose contact time comes from a row for a temperature."""


def shipped() -> list[File]:
    """Returns the shipped files with a few changes, so that every rule has something to bite on."""
    found = []
    for file in files_in(folder()):
        found.append(_changed(file, CHANGES.get(file.name, ())))
        if file.name == "breathing-tube-immersion":
            found.append(_changed(file, SOAK))
    return found


def _changed(file: File, changes: tuple[tuple[str, str], ...]) -> File:
    text = file.text
    for old, new in changes:
        text = text.replace(old, new, 1)
    return File(Path(file.path), text, digest_of(text), read_definition(text, name=file.name))
