"""Who can do what: by hand, from people and a workflow of the definitions' own tests."""

from __future__ import annotations

from reprocess.definitions.model import Workflow
from reprocess.pictures.competencies import competencies as plot
from reprocess.pictures.drawing import drawn
from reprocess.pictures.rows.competencies import Column, Finding, grid
from reprocess.record.people import Competency, Person
from tests.definitions.texts import SOUND, workflow
from tests.pictures.telling import all_texts, at, frame, titles

LAMP = workflow(SOUND)
DAY_S = 86_400


def can(step: str, until: int, *, level: str | None = None, kinds: tuple[str, ...] = ()) -> Competency:
    return Competency(step, kinds, at(-DAY_S), at(until), "P-Z", level)


def person(name: str, *found: Competency, active: bool = True) -> Person:
    return Person(f"P-{name[0].upper()}", name, competencies=found, active=active)


PEOPLE = [
    person("Cora", can("clean", 50, level="trainee"), can("clean", -10)),
    person("Anna", can("clean", DAY_S), can("clean", 2 * DAY_S), can("dry", -30), can("dry", -60)),
    person("Ben", can("clean", DAY_S, kinds=("blower",)), can("dry", DAY_S, kinds=("lamp", "blower"))),
    person("Gone", can("clean", DAY_S), active=False),
]


def test_the_grid_by_hand() -> None:
    """A02: alone; A03: trainee; lapsed where it ran out and nothing follows; whoever left is not shown."""
    rows = grid(PEOPLE, [LAMP], at(0))
    steps = [one.step for one in rows.columns]
    assert steps == [one.step for one in LAMP.steps]
    assert rows.columns[0] == Column("lamp", steps[0], LAMP.steps[0].competency_needed)
    found = {one.name: dict(zip(steps, one.findings, strict=True)) for one in rows.people}
    assert list(found) == ["Anna", "Ben", "Cora"]
    assert found["Anna"]["clean"] == Finding("current", at(2 * DAY_S))
    assert found["Anna"]["dry"] == Finding("lapsed", at(-30))
    assert found["Ben"]["clean"] == Finding("none", None)
    assert found["Ben"]["dry"] == Finding("current", at(DAY_S))
    assert found["Cora"]["clean"] == Finding("trainee", at(50))
    assert {one.can for one in found["Cora"].values()} == {"trainee", "none"}


def test_a_step_that_two_workflows_share_has_one_column() -> None:
    """Only what is the same kind, step and competency is one column."""
    other = Workflow.model_validate(LAMP.model_dump() | {"workflow": "lamp-2"})
    assert grid([], [LAMP, other], at(0)).columns == grid([], [LAMP], at(0)).columns
    torch = Workflow.model_validate(LAMP.model_dump() | {"item_kind": "torch"})
    assert len(grid([], [LAMP, torch], at(0)).columns) == 2 * len(LAMP.steps)


def test_each_field_has_its_cell_and_its_letter() -> None:
    rows = grid(PEOPLE, [LAMP], at(0))
    picture = drawn(plot(rows, frame("can")))
    heads = picture.columns[1:]
    expected = [
        f"{row[0]} · {head} · {cell}" for row in picture.rows for head, cell in zip(heads, row[1:], strict=True)
    ]
    assert titles(picture) == expected
    anna = dict(zip(heads, picture.rows[0][1:], strict=True))
    assert anna["clean"] == "C until 2026-03-07"
    assert anna["dry"] == "L since 2026-03-05"
    assert set(anna.values()) == {"\u2013", "C until 2026-03-07", "L since 2026-03-05"}
    letters = [one for one in all_texts(picture) if len(one) == 1]
    assert len(letters) == 2 * 3 * len(LAMP.steps)
    assert (letters.count("C"), letters.count("T"), letters.count("L")) == (4, 2, 2)
    assert picture.alt.startswith(f"People: 3; steps: {len(LAMP.steps)}. Current: 2; trainee: 1; lapsed: 1.")


def test_several_kinds_are_named_before_the_step() -> None:
    torch = Workflow.model_validate(LAMP.model_dump() | {"item_kind": "torch"})
    told = plot(grid(PEOPLE, [LAMP, torch], at(0)), frame())
    assert "torch: clean" in told.columns
    assert "lamp: clean" in told.columns
