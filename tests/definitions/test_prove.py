"""The proof holds of a sound workflow, and finds each way round with the shortest moves that show it."""

from dataclasses import replace

import pytest

from reprocess.definitions.crew import beyond_two
from reprocess.definitions.graph import Fall, graphs_of
from reprocess.definitions.proof import PROPERTIES, CounterExample, Proof, as_text
from reprocess.definitions.prove import prove
from reprocess.definitions.read import digest_of
from reprocess.definitions.search import explored, out_of_order
from tests.definitions.texts import ONE_WEARER, SOUND, WIPE, agent, changed, workflow

USED = "an item never used before becomes used, class routine"


def proof_of(text: str, label: str = WIPE) -> Proof:
    return prove(workflow(text), {"wipe": agent(label)}, digest=digest_of(text))


def wrong_with(text: str, label: str = WIPE) -> list[tuple[str, str, str | None]]:
    return [(one.fails, one.sentence, one.step) for one in proof_of(text, label).counter_examples]


def found_in(text: str, fails: str) -> CounterExample:
    return next(one for one in proof_of(text).counter_examples if one.fails == fails)


@pytest.mark.parametrize("text", [SOUND, ONE_WEARER], ids=["lamp", "visor"])
def test_a_sound_workflow_is_proved_in_every_property(text: str) -> None:
    proof = proof_of(text)
    assert proof.counter_examples == ()
    assert proof.is_sound
    assert proof.proved == tuple(PROPERTIES)


def test_the_search_counts_each_state_once() -> None:
    # Routine: a chain of five, then inspection and charging in either order, then two more; late: one step longer.
    assert proof_of(SOUND).states == 11 + 12
    # Before first use: nothing, inspected, released; afterwards nothing can be done.
    assert proof_of(ONE_WEARER).states == 3 + 1


def test_the_least_time_is_the_longest_chain_of_least_times() -> None:
    """60 s by hand, 180 s of contact, 900 s of drying, 3600 s of charging beside the inspection."""
    assert proof_of(SOUND).least_s == 60 + 180 + 900 + 3600
    beside = changed(SOUND, "after: [inspect, charge]", "after: [inspect]")
    assert proof_of(beside).least_s == 60 + 180 + 900
    assert proof_of(ONE_WEARER).least_s == 0


def test_the_fastest_agent_gives_the_least_time_and_the_item_may_ask_for_more() -> None:
    faster = agent(changed(WIPE, "contact_s: 180", "contact_s: 30")).model_copy(update={"agent": "fast"})
    text = changed(SOUND, "agents: [wipe]", "agents: [wipe, fast]")
    agents = {"wipe": agent(WIPE), "fast": faster}
    assert prove(workflow(text), agents, digest=digest_of(text)).least_s == 60 + 30 + 900 + 3600
    text = changed(text, "method: wipe\n", "method: wipe\n      least_s: 240\n")
    assert prove(workflow(text), agents, digest=digest_of(text)).least_s == 60 + 240 + 900 + 3600


def test_a_release_that_does_not_rest_on_a_mandated_step_is_shown_with_the_way_round_it() -> None:
    text = changed(SOUND, "after: [functional-test]", "after: [inspect]")
    assert found_in(text, "mandated") == CounterExample(
        "mandated",
        "The item can be released without charge.",
        "charge",
        (USED, "take-apart", "clean", "disinfect", "rinse", "dry", "inspect", "release"),
    )
    assert [step for fails, _, step in wrong_with(text)] == ["charge", "functional-test"]


def test_a_step_that_is_skipped_only_for_one_class_is_found_in_that_class() -> None:
    text = changed(SOUND, "after: [take-apart, soak]", "after: [take-apart]")
    one = found_in(text, "mandated")
    assert one.sentence == "The item can be released without soak."
    assert one.moves[0] == "an item never used before becomes used, class late"


def test_a_prerequisite_of_another_class_does_not_keep_the_order() -> None:
    """Without `take-apart` beside it, `soak` alone would keep the order for late items only."""
    text = changed(SOUND, "after: [take-apart, soak]", "after: [soak]")
    assert found_in(text, "mandated").sentence == "The item can be released without take-apart."
    assert found_in(text, "mandated").moves == (
        USED,
        *("clean", "disinfect", "rinse", "dry", "inspect", "charge", "functional-test", "release"),
    )


BAD = [
    ("    reaches: ready\n", "", "release", "Exactly one step reaches ready; here: none."),
    (
        "title: Light it\n",
        "title: Light it\n    reaches: ready\n",
        "release",
        "Exactly one step reaches ready; here: functional-test, release.",
    ),
    (
        "not_alone: true\n",
        "not_alone: true\n  - step: pack\n    title: Pack it\n    after: [release]\n",
        "release",
        "release reaches ready, yet pack rests on it.",
    ),
    (
        "not_alone: true\n",
        "not_alone: true\n    mandated: false\n",
        "release",
        "release reaches ready and must be mandated, for every class.",
    ),
    (
        "not_alone: true\n",
        "not_alone: true\n    for_classes: [late]\n",
        "release",
        "release reaches ready and must be mandated, for every class.",
    ),
    ("    reaches: dried\n", "", "stages", "Exactly one step reaches dried; here: none."),
    (
        "title: Wipe off the residue\n",
        "title: Wipe off the residue\n    reaches: dried\n",
        "stages",
        "Exactly one step reaches dried; here: rinse, dry.",
    ),
    (
        "reaches: dried\n",
        "reaches: lost\n",
        "stages",
        "dry reaches lost, which is not a stage of this workflow after used.",
    ),
    ("reaches: dried\n", "reaches: dried\n    mandated: false\n", "stages", "dry reaches dried and is not mandated."),
    (
        "after: [rinse]\n",
        "after: [clean]\n",
        "stages",
        "dry reaches dried without resting on disinfect, which reaches the stage before.",
    ),
    (
        "back_to: take-apart, hold: true, route: repair}\n  - step: charge",
        "back_to: charge}\n  - step: charge",
        "loops",
        "inspect does not rest on charge (LAMP-CRACK, back_to), so it would not fall with it.",
    ),
    (
        "most_s: 1800, back_to: clean",
        "most_s: 1800, back_to: inspect",
        "loops",
        "rinse does not rest on inspect (promptly, back_to), so it would not fall with it.",
    ),
    (
        "promptly: {of: disinfect",
        "promptly: {of: charge",
        "loops",
        "rinse does not rest on charge (promptly, of), so it would not fall with it.",
    ),
    (
        "for_classes: [late]\n",
        "for_classes: [lat]\n",
        "names",
        "soak names the class lat; the classes are routine, soiled, blood, isolation, late.",
    ),
    (
        "after: [functional-test]",
        "after: [functional-tset]",
        "names",
        "release names the step functional-tset (after); there is none.",
    ),
    (
        "not_by: [clean, disinfect]",
        "not_by: [clean, polish]",
        "names",
        "inspect names the step polish (not_by); there is none.",
    ),
    (
        "promptly: {of: disinfect",
        "promptly: {of: polish",
        "names",
        "rinse names the step polish (promptly, of); there is none.",
    ),
    (
        "most_s: 1800, back_to: clean",
        "most_s: 1800, back_to: polish",
        "names",
        "rinse names the step polish (promptly, back_to); there is none.",
    ),
    (
        "{defect: SOIL, back_to: clean}",
        "{defect: SOIL, back_to: polish}",
        "names",
        "inspect names the step polish (SOIL, back_to); there is none.",
    ),
    (
        "{defect: LAMP-WET,",
        "{defect: LAMP-WET, back_to: polish,",
        "names",
        "immerse sends back to polish; there is no such step.",
    ),
    ("agents: [wipe]", "agents: [wipe, bleach]", "names", "disinfect names the agent bleach; there is none."),
    ("after: [rinse]\n", "after: [rinse, inspect]\n", "order", "dry waits for itself: dry after inspect after dry."),
    (
        "after: [take-apart]\n    for_classes",
        "after: [soak]\n    for_classes",
        "order",
        "soak waits for itself: soak after soak.",
    ),
    (
        "title: Charge the battery\n",
        "title: Charge the battery\n    new_only: true\n",
        "exits",
        "Ready cannot be reached: these cannot be done: charge, functional-test, release.",
    ),
    (
        "agents: [wipe]\n      claim: mycobacteria",
        "agents: [wipe]\n      claim: spores",
        "contact",
        "disinfect with wipe: its label has no row for spores by wipe at a temperature the item bears.",
    ),
    (
        "method: wipe\n",
        "method: immersion\n",
        "contact",
        "disinfect with wipe: its label has no row for mycobacteria by immersion at a temperature the item bears.",
    ),
    (
        "greatest_s: 1800",
        "greatest_s: 180",
        "contact",
        "disinfect with wipe: its least time of 180 s is not below the greatest of 180 s.",
    ),
]


@pytest.mark.parametrize(("old", "new", "fails", "sentence"), BAD)
def test_each_property_is_seen_to_fail(old: str, new: str, fails: str, sentence: str) -> None:
    assert (fails, sentence) in [one[:2] for one in wrong_with(changed(SOUND, old, new))]


def test_names_and_circles_are_told_alone_and_nothing_else_is_called_proved() -> None:
    proof = proof_of(changed(SOUND, "after: [rinse]\n", "after: [rinse, inspect]\n"))
    assert {one.fails for one in proof.counter_examples} == {"order"}
    assert proof.proved == ("names",)
    assert (proof.states, proof.least_s) == (0, None)
    assert "nothing was searched" in proof.notes[0]


def test_two_steps_of_one_name_are_found_although_no_reader_lets_them_through() -> None:
    lamp = workflow(SOUND)
    held = {name: getattr(lamp, name) for name in type(lamp).model_fields}
    double = type(lamp).model_construct(**{**held, "steps": (*lamp.steps, lamp.steps[2])})
    proof = prove(double, {"wipe": agent(WIPE)}, digest=digest_of(SOUND))
    assert [one.sentence for one in proof.counter_examples] == ["Two steps are called clean."]


def test_what_is_not_wrong_is_not_called_wrong() -> None:
    assert wrong_with(changed(SOUND, "item_class: non-critical", "item_class: semi-critical")) == []
    assert wrong_with(changed(SOUND, "not_by: [clean, disinfect]", "two_people: true\n    not_by: [clean]")) == []
    assert wrong_with(changed(SOUND, "kind: charging", "kind: rest")) == []


def test_disinfected_is_reached_only_through_a_contact() -> None:
    contact = SOUND[SOUND.index("    dwell:\n      kind: wet-contact") : SOUND.index("  - step: rinse")]
    text = changed(SOUND, contact, "").replace("of: disinfect", "of: disinfect")
    assert ("disinfection", "disinfect reaches disinfected without a contact or a thermal dose.", "disinfect") in (
        wrong_with(text)
    )
    heat = "    dwell: {kind: thermal, thermal: {a0_least_s: 600, floor_c: 65, example: true}}\n"
    assert wrong_with(changed(SOUND, contact, heat)) == []
    assert proof_of(changed(SOUND, contact, heat)).least_s == 60 + 900 + 3600


def test_a_contact_before_the_step_that_reaches_disinfected_will_do() -> None:
    text = changed(SOUND, "    reaches: disinfected\n", "")
    text = changed(text, "title: Wipe off the residue\n", "title: Wipe off the residue\n    reaches: disinfected\n")
    assert wrong_with(text) == []


def test_a_semi_critical_item_needs_the_stage_disinfected() -> None:
    text = changed(SOUND, "item_class: non-critical", "item_class: semi-critical")
    text = changed(changed(text, " disinfected, dried", " dried"), "    reaches: disinfected\n", "")
    assert wrong_with(text) == [("disinfection", "A semi-critical item needs the stage disinfected.", None)]


def test_an_item_for_one_wearer_is_not_ready_after_its_use() -> None:
    text = changed(ONE_WEARER, "reaches: ready\n    new_only: true", "reaches: ready")
    assert wrong_with(text) == []
    text = changed(text, "reaches: inspected\n    new_only: true", "reaches: inspected")
    proof = proof_of(text)
    assert proof.counter_examples == (
        CounterExample(
            "one-wearer",
            "An item for one wearer can be released again after its first use.",
            None,
            ("an item used before becomes used, class routine", "inspect", "release"),
        ),
    )


def test_a_step_for_new_items_traps_an_item_that_is_used_again() -> None:
    one = found_in(changed(ONE_WEARER, "single_wearer: true\n", ""), "exits")
    assert one.sentence == "Ready cannot be reached: these cannot be done: inspect, release."
    assert one.moves == ("an item used before becomes used, class routine",)


def test_one_person_who_may_inspect_first_and_polish_afterwards_is_found() -> None:
    text = changed(SOUND, "after: [inspect, charge]", "after: [inspect, charge, polish]")
    text = changed(text, "  - step: charge\n", "  - step: polish\n    title: x\n    after: [dry]\n  - step: charge\n")
    assert wrong_with(text) == []
    text = changed(text, "not_by: [clean, disinfect]", "not_by: [clean, polish]")
    assert found_in(text, "people") == CounterExample(
        "people",
        "inspect does not rest on polish: one person can do inspect and then polish, unnoticed.",
        "inspect",
        (
            *(USED, "Bo: take-apart", "Bo: clean", "Bo: disinfect", "Bo: rinse", "Bo: dry"),
            *("Anna: inspect", "Anna: polish"),
        ),
    )
    assert [fails for fails, _, _ in wrong_with(text)] == ["people"]


@pytest.mark.parametrize(
    ("old", "new", "step"),
    [
        ("title: Take the battery off\n", "title: Take the battery off\n    not_alone: true\n", "take-apart"),
        ("after: [clean]\n", "after: [clean]\n    not_by: [clean]\n", "inspect"),
        ("after: [clean]\n", "after: [clean]\n    two_people: true\n", "inspect"),
    ],
    ids=["nobody before", "three persons apart", "both have disinfected"],
)
def test_work_that_two_people_cannot_share_is_found(old: str, new: str, step: str) -> None:
    sentence = f"Two people cannot do everything: whoever is left may not do {step}."
    assert ("people", sentence, step) in wrong_with(changed(SOUND, old, new))


def test_a_contact_longer_than_a_minute_needs_a_film_life() -> None:
    no_film = changed(WIPE, "film: {life_s: 105, example: true}\n", "")
    sentence = "disinfect with wipe: the contact takes 180 s and nobody says how long the film stays wet."
    assert wrong_with(SOUND, no_film) == [("contact", sentence, "disinfect")]
    assert wrong_with(SOUND, changed(no_film, "contact_s: 180", "contact_s: 60")) == []
    assert wrong_with(changed(SOUND, "method: wipe\n", "method: wipe\n      film_life_s: 90\n"), no_film) == []


def test_a_row_of_the_label_above_the_items_temperature_does_not_count() -> None:
    warm = changed(WIPE, "contact_s: 180, example", "contact_s: 180, temp_least_c: 45, example")
    assert wrong_with(SOUND, warm) == []
    cool = changed(SOUND, "method: wipe\n", "method: wipe\n      temp_most_c: 43\n")
    assert [fails for fails, _, _ in wrong_with(cool, warm)] == ["contact"]


def test_a_hold_that_nobody_can_lift_is_found() -> None:
    """A defect hold asks for a new inspection, which this workflow does not have."""
    text = changed(ONE_WEARER, "stages: [used, inspected, ready]", "stages: [used, ready]")
    text = changed(text, "    reaches: inspected\n", "")
    sentence = (
        "A hold of type defect is lifted by supervisor or clinical-engineer after a new inspection; "
        "no step reaches inspected."
    )
    assert wrong_with(text) == [("holds", sentence, None)]


def test_a_workflow_too_wide_to_be_searched_is_not_called_proved() -> None:
    steps = "".join(f"  - step: s{number}\n    title: x\n" for number in range(38))
    text = changed(ONE_WEARER, "steps:\n", "steps:\n" + steps)
    proof = proof_of(text)
    assert ("size", "More than 20000 states; put more steps after one another.") in [
        (one.fails, one.sentence) for one in proof.counter_examples
    ]
    assert "size" not in proof.proved


def test_what_rests_on_examples_is_noted() -> None:
    proof = proof_of(changed(SOUND, "item_class: non-critical\n", "item_class: non-critical\nexample: true\n"))
    whole, parts = proof.notes
    assert whole.startswith("the whole file is an example")
    assert "steps[clean].fastest, steps[rinse].promptly, steps[dry].dwell" in parts
    assert "limits[age-days]" in parts


def test_a_workflow_that_one_person_may_do_alone_says_so() -> None:
    proof = proof_of(changed(ONE_WEARER, "    not_alone: true\n", ""))
    assert proof.is_sound
    assert proof.notes == ("one person may do every step of this workflow (S01, S02)",)


def test_the_proof_is_one_page_that_names_the_text() -> None:
    page = as_text(proof_of(ONE_WEARER))
    assert page.startswith(f"Proof of the workflow visor: holds\nText (SHA-256): {digest_of(ONE_WEARER)}\n")
    assert "Searched to the end: 4 states, " in page
    assert "Least possible time from used to ready: 0 s (0 h 0 min 0 s)" in page
    assert page.count("\n") < 60


def test_a_failed_proof_tells_the_moves() -> None:
    page = as_text(proof_of(changed(SOUND, "after: [functional-test]", "after: [inspect]")))
    assert "Proof of the workflow lamp: FAILS" in page
    assert "  mandated: The item can be released without charge.\n    1. an item never used" in page
    assert "    8. release\n" in page
    unordered = as_text(proof_of(changed(SOUND, "after: [rinse]\n", "after: [rinse, inspect]\n")))
    assert "Least possible time from used to ready: ready cannot be reached" in unordered


def test_a_set_without_its_prerequisite_is_told() -> None:
    """No workflow comes to this, since all that rests on a step falls with it; the search would see it if one did."""
    graph = graphs_of(workflow(ONE_WEARER))[0]
    seen = explored(replace(graph, falls=(Fall("inspect fails alone", 1),)))
    assert list(out_of_order(seen)) == [
        CounterExample(
            "mandated",
            "release can stand without inspect, on which it rests.",
            "release",
            (USED, "inspect", "release", "inspect fails alone"),
        )
    ]


def test_a_sharing_of_work_that_is_too_hard_to_find_is_not_called_possible() -> None:
    """Many steps that anybody may do, and then two that nobody is left for: every sharing would have to be tried."""
    free = "".join(
        f"  - step: s{number}\n    title: x\n    after: [dry]\n    mandated: false\n" for number in range(20)
    )
    text = changed(SOUND, "  - step: inspect\n", free + "  - step: inspect\n")
    text = changed(text, "after: [clean]\n", "after: [clean]\n    two_people: true\n")
    lamp = workflow(text)
    (graph, *_) = graphs_of(lamp)
    (told,) = beyond_two(lamp, graph)
    assert told.sentence.startswith("Two people cannot do everything")


def recurring(step: str) -> str:
    block = f"recurring: [{{step: {step}, every_days: 30, rule: M09, example: true}}]"
    return changed(SOUND, "readiness:", f"{block}\nreadiness:")


def test_a_recurring_step_is_plain_and_use_alone_does_not_call_for_it() -> None:
    for step in ("functional-test", "dry", "release"):
        assert [one.step for one in proof_of(recurring(step)).counter_examples if one.fails == "recurring"] == [step]
    optional = changed(
        recurring("polish"),
        "  - step: release",
        "  - step: polish\n    title: Polish\n    mandated: false\n  - step: release",
    )
    assert proof_of(optional).is_sound
    batch = changed(optional, "stages:", "counted: true\nstages:")
    assert "without a serial number" in found_in(batch, "recurring").sentence
    assert wrong_with(recurring("shine")) == [("names", "recurring names the step shine; there is none.", None)]


def test_the_clock_of_a_late_start_stops_at_a_step_that_exists() -> None:
    late = "delay: {until: [scrub], extended_s: 60, held_s: 90, example: true}\nreadiness:"
    told = wrong_with(changed(SOUND, "readiness:", late))
    assert told == [("names", "delay names the step scrub; there is none.", None)]
