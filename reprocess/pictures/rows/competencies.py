"""Who can do what at one instant, as a grid: people down, steps of the workflows in force across."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from reprocess.definitions.model import Workflow
from reprocess.record.people import Person

Can = Literal["current", "trainee", "lapsed", "none"]


@dataclass(frozen=True, slots=True, order=True)
class Column:
    """Is one step on one kind of item, and the competency that it asks for."""

    item_kind: str
    step: str
    competency: str


@dataclass(frozen=True, slots=True)
class Finding:
    """Is what one person can do of one column: until when, or since when no more; None where never."""

    can: Can
    until_us: int | None


@dataclass(frozen=True, slots=True)
class PersonRow:
    """Is one person with a finding for each column."""

    person: str
    name: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class GridRows:
    """Is the grid at one instant; separate hands (S01, S02) are judged at each item."""

    at_us: int
    columns: tuple[Column, ...]
    people: tuple[PersonRow, ...]


def grid(people: Iterable[Person], workflows: Iterable[Workflow], at_us: int) -> GridRows:
    """Returns who can do what, people by id and columns in the workflows' order; who left is left out.

    Several workflows of one kind may share a step; it has one column where it asks for the same competency.
    """
    columns = tuple(
        dict.fromkeys(
            Column(workflow.item_kind, step.step, step.competency_needed)
            for workflow in sorted(workflows, key=lambda one: (one.item_kind, one.workflow))
            for step in workflow.steps
        )
    )
    staff = sorted((one for one in people if one.active), key=lambda one: one.person)
    rows = (PersonRow(one.person, one.name, tuple(finding(one, column, at_us) for column in columns)) for one in staff)
    return GridRows(at_us, columns, tuple(rows))


def finding(person: Person, column: Column, at_us: int) -> Finding:
    """Returns what one person can do of one column at an instant."""
    asked = (column.competency, column.item_kind, at_us)
    can: Can | None = "current" if person.may(*asked) else "trainee" if person.learns(*asked) else None
    if can is not None:
        return Finding(can, max(one.until_us for one in person.competencies if one.holds(*asked)))
    ended_us = person.lapsed(*asked)
    return Finding("none" if ended_us is None else "lapsed", ended_us)
