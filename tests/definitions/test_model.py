"""What the models themselves refuse and answer."""

from decimal import Decimal

import pytest

from reprocess.definitions.holds import LIFTS, HoldType
from reprocess.terms import Stage
from tests.definitions.texts import SOUND, TWO_FILTERS, WIPE, agent, changed, faults, line_of, workflow


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            "exactly: 2",
            "exactly: 2\n        from_configuration: plugs",
            "A count says either `exactly` or `from_configuration`.",
        ),
        ("        exactly: 2\n        example: true\n", "", "A count says either `exactly` or `from_configuration`."),
        ("      claim: mycobacteria\n", "", "A contact names its `agents`, its `claim` and its `method`."),
        ("agents: [wipe]", "agents: []", "A contact names its `agents`, its `claim` and its `method`."),
        ("      method: wipe\n", "", "A contact names its `agents`, its `claim` and its `method`."),
        ("greatest_s: 1800", "greatest_s: 1800\n      least_s: 1800", "`greatest_s` must be more than `least_s`."),
        (
            "greatest_s: 1800",
            "greatest_s: 1800\n      unobserved: two-people",
            "A wet contact that was not observed always restarts.",
        ),
        ("kind: charging", "kind: thermal", "A thermal dwell needs `thermal` with its A0."),
        (
            "readiness:",
            "delay: {until: [clean], extended_s: 60, held_s: 60, example: true}\nreadiness:",
            "`held_s` must be more than `extended_s`.",
        ),
        (
            "readiness:",
            "recurring: [{step: clean, rule: M09, example: true}]\nreadiness:",
            "A recurring step says `every_days`, `every_charge_cycles` or both.",
        ),
    ],
)
def test_a_block_whose_parts_do_not_fit_says_so(old: str, new: str, sentence: str) -> None:
    assert sentence in [said for _, said in faults(changed(SOUND, old, new))]


def test_a_configuration_says_what_does_not_add_up() -> None:
    text = changed(TWO_FILTERS, "quantity: 2", "quantity: 1")
    assert (1, "The `filter` slots hold 1, the configuration says 2.") in faults(text)


def test_the_stage_is_the_highest_one_without_a_gap() -> None:
    lamp = workflow(SOUND)
    assert lamp.stage_for(frozenset()) is Stage.USED
    assert lamp.stage_for(frozenset({"take-apart"})) is Stage.USED
    assert lamp.stage_for(frozenset({"clean", "disinfect"})) is Stage.DISINFECTED
    assert lamp.stage_for(frozenset({"clean", "dry"})) is Stage.CLEANED
    assert lamp.stage_for(frozenset(step.step for step in lamp.steps)) is Stage.READY
    assert lamp.release_step.step == "release"


def test_a_step_asks_for_the_competency_of_its_name_unless_it_says_another() -> None:
    text = changed(SOUND, "title: Light it\n", "title: Light it\n    competency: inspect\n")
    assert workflow(text).steps[8].competency_needed == "inspect"
    assert workflow(SOUND).steps[8].competency_needed == "functional-test"


def test_the_row_of_a_label_is_never_interpolated() -> None:
    """The row with the highest temperature not above the liquid's governs; of two such rows the longer time."""
    row = "  - {claim: mycobacteria, method: immersion, contact_s: %s, example: true%s}\n"
    rows = row % (900, "") + row % (600, ", temp_least_c: 20") + row % (720, ", temp_least_c: 20")
    rows += row % (300, ", temp_least_c: 35, temp_most_c: 40")
    label = agent(changed(WIPE, "film:", rows + "film:"))

    def contact_s(temp_c: str | None) -> int | None:
        held = label.row_for("mycobacteria", "immersion", None if temp_c is None else Decimal(temp_c))
        return held.contact_s if held is not None else None

    assert [contact_s(temp_c) for temp_c in (None, "19.9", "20", "34.9", "35", "40", "40.1")] == [
        *(900, 900, 720, 720, 300, 300, 720),
    ]
    assert label.row_for("spores", "immersion", Decimal(20)) is None


def test_every_type_of_hold_can_be_lifted_by_a_role() -> None:
    assert set(LIFTS) == set(HoldType)
    assert all(lift.roles and lift.requires for lift in LIFTS.values())


def test_the_place_of_a_fault_between_parts_is_the_block() -> None:
    text = changed(SOUND, "      method: wipe\n", "")
    assert faults(text)[0][0] == line_of(text, "kind: wet-contact")
