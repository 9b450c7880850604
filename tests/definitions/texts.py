"""Texts of definitions that the tests read, and change in one place; every number in them is an example."""

from reprocess.definitions.configuration import Configuration
from reprocess.definitions.faults import Faults
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.read import read_definition

SOUND = """\
workflow: lamp
title: Inspection lamp with a battery
item_kind: lamp
item_class: non-critical
follows: An invented maker's instructions.
stages: [used, cleaned, disinfected, dried, inspected, ready]
steps:
  - step: take-apart
    title: Take the battery off
    zone: dirty
    checks:
      - check: battery-off
        text: The battery is off.
        failing: {defect: NOT-APART}
    counts:
      - count: plugs
        exactly: 2
        example: true
        failing: {defect: PLUG-MISSING, hold: true, route: replace}
  - step: soak
    title: Lay a damp cloth on dried soil
    after: [take-apart]
    for_classes: [late]
    dwell: {kind: rest, least_s: 300, example: true}
  - step: clean
    title: Wipe off all soil
    after: [take-apart, soak]
    reaches: cleaned
    zone: dirty
    fastest: {least_s: 60, example: true}
  - step: disinfect
    title: Wipe and keep wet
    after: [clean]
    reaches: disinfected
    zone: dirty
    dwell:
      kind: wet-contact
      agents: [wipe]
      claim: mycobacteria
      method: wipe
      greatest_s: 1800
      source: An invented maker's instructions, page 3.
      failing: {defect: OVER-EXPOSED, hold: true}
  - step: rinse
    title: Wipe off the residue
    after: [disinfect]
    promptly: {of: disinfect, warn_s: 300, most_s: 1800, back_to: clean, example: true}
  - step: dry
    title: Let it dry
    after: [rinse]
    reaches: dried
    dwell: {kind: drying, least_s: 900, example: true}
  - step: inspect
    title: Look for damage and soil
    after: [dry]
    reaches: inspected
    zone: clean
    not_by: [clean, disinfect]
    checks:
      - check: no-soil
        text: No soil is seen.
        failing: {defect: SOIL, back_to: clean}
      - check: whole
        text: Nothing is cracked.
        failing: {defect: LAMP-CRACK, back_to: take-apart, hold: true, route: repair}
  - step: charge
    title: Charge the battery
    after: [dry]
    dwell: {kind: charging, least_s: 3600, example: true}
  - step: functional-test
    title: Light it
    after: [inspect, charge]
    zone: clean
    instrument: light-meter
    readings:
      - reading: light_lux
        unit: lux
        least: 500
        plausible_least: 0
        plausible_most: 20000
        source: An invented maker's instructions, page 5.
        failing: {defect: LAMP-DIM, back_to: take-apart, hold: true, route: repair}
  - step: release
    title: Release the lamp
    after: [functional-test]
    reaches: ready
    zone: clean
    not_alone: true
limits:
  - {limit: age-days, most: 1825, example: true}
never:
  - method: immerse
    text: Never immerse a lamp.
    failing: {defect: LAMP-WET, hold: true, route: quarantine}
readiness: {days_most: 30, example: true}
"""
"""A workflow with a branch, a class of its own, a way back, and two people."""

ONE_WEARER = """\
workflow: visor
title: Visor for one wearer
item_kind: visor
item_class: non-critical
follows: An invented maker's instructions.
stages: [used, inspected, ready]
single_wearer: true
steps:
  - step: inspect
    title: Look at the new visor
    reaches: inspected
    new_only: true
  - step: release
    title: Release it
    after: [inspect]
    reaches: ready
    new_only: true
    not_alone: true
"""

WIPE = """\
agent: wipe
title: A wipe
active_ingredients: an invented one
form: wipe
follows: The label.
claims:
  - {claim: mycobacteria, method: wipe, contact_s: 180, example: true}
  - {claim: enveloped-viruses, method: wipe, contact_s: 60, example: true}
film: {life_s: 105, example: true}
"""

TWO_FILTERS = """\
configuration: two-filters
title: Two filters and a plug
approval: an invented number
source: an invented approval
ports: 3
filters: 2
plugs: 1
gaskets: 2
slots:
  - {slot: filter, item_kind: filter, models: [Larkmoor F], quantity: 2}
  - {slot: tube, item_kind: tube, models: [Larkmoor T]}
"""

LAMPS = """\
profile: lamps
title: Lamps, and visors for one wearer
follows: An invented rule, then an invented maker.
workflows: [lamp, visor]
reinspection:
  - {workflow: lamp, every_months: 1, most_months: 3, source: An invented rule}
readiness:
  - {workflow: lamp, days_most: 30, example: true}
records: {years: 5, example: true}
differs:
  - {about: how often, takes: every month, instead_of: every year}
"""
"""A profile of the two workflows above; the lamp lacks its reinspection."""


def changed(text: str, old: str, new: str) -> str:
    """Returns the text with its one passage `old` replaced."""
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
    return text.replace(old, new)


def line_of(text: str, passage: str) -> int:
    """Returns the line on which a passage begins, from 1."""
    return text[: text.index(passage)].count("\n") + 1


def workflow(text: str) -> Workflow:
    """Returns the workflow of a text that can be read."""
    read = read_definition(text, name="test")
    assert isinstance(read, Workflow), read
    return read


def agent(text: str) -> Agent:
    """Returns the agent of a text that can be read."""
    read = read_definition(text, name="test")
    assert isinstance(read, Agent), read
    return read


def configuration(text: str) -> Configuration:
    """Returns the configuration of a text that can be read."""
    read = read_definition(text, name="test")
    assert isinstance(read, Configuration), read
    return read


def faults(text: str) -> list[tuple[int, str]]:
    """Returns line and sentence of every fault of a text that cannot be read."""
    read = read_definition(text, name="test")
    assert isinstance(read, Faults), "the text was read"
    return [(fault.line, fault.sentence) for fault in read.faults]
