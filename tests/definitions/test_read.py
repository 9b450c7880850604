"""A text is a definition or a list of faults, each with its line and a sentence that says what is wanted."""

from dataclasses import FrozenInstanceError
from decimal import Decimal
from typing import Annotated

import pytest
from pydantic import Field, StringConstraints

from reprocess.definitions.block import Frozen, Name, Several
from reprocess.definitions.faults import FAULTS_MAX, Faults, as_text
from reprocess.definitions.read import digest_of, line_of_step, read_as, read_definition
from reprocess.definitions.shapes import shapes_of
from reprocess.terms import Stage
from tests.definitions.texts import (
    ONE_WEARER,
    SOUND,
    TWO_FILTERS,
    WIPE,
    agent,
    changed,
    configuration,
    faults,
    line_of,
    workflow,
)


def test_a_sound_text_is_read_whole() -> None:
    lamp = workflow(SOUND)
    disinfect = lamp.step_named("disinfect")
    assert disinfect is not None
    assert disinfect.dwell is not None
    assert [step.step for step in lamp.steps][-1] == "release"
    assert (disinfect.reaches, disinfect.dwell.greatest_s) == (Stage.DISINFECTED, 1800)
    assert disinfect.dwell.agents == ("wipe",)
    assert lamp.steps[8].readings[0].least == Decimal(500)
    assert workflow(ONE_WEARER).single_wearer is True


def test_the_first_key_says_what_the_text_is() -> None:
    assert agent(WIPE).claims[0].contact_s == 180
    assert configuration(TWO_FILTERS).gaskets == 2
    assert faults("title: x\nagent: wipe\n")[0] == (
        1,
        "The first key says what the text is: `workflow`, `agent`, `configuration`, `profile`.",
    )


def test_a_definition_cannot_be_changed_afterwards() -> None:
    lamp = workflow(SOUND)
    assert isinstance(lamp.steps, tuple)
    assert hash(lamp) == hash(workflow(SOUND))
    read = read_definition("", name="empty")
    assert isinstance(read, Faults)
    with pytest.raises(FrozenInstanceError):
        read.name = "other"  # type: ignore[misc]


PLAIN = "without quotation marks reads as {} elsewhere; use another word, or put it in quotation marks."
STAGES = "`used`, `cleaned`, `disinfected`, `dried`, `inspected`, `ready`, `in repair`, `condemned`, `lost`"
BAD = [
    # One change to the sound text; how many lines below it the fault is; the sentence.
    ("step: take-apart", "step: off", 0, "`off` " + PLAIN.format("true or false")),
    ("step: take-apart", "step: null", 0, "`null` " + PLAIN.format("nothing at all")),
    ("title: Light it", "title: 012", 0, "`012` " + PLAIN.format("a number")),
    ("title: Light it", "title: 1:30", 0, "`1:30` " + PLAIN.format("a number")),
    ("title: Light it", "title: 0x1F", 0, "`0x1F` " + PLAIN.format("a number")),
    ("title: Light it", "title: 2026-03-05", 0, "`2026-03-05` " + PLAIN.format("a date")),
    ("title: Light it", "title:", 0, "A key without a value; write one, or leave the key out."),
    ("title: Light it", 'title: ""', 0, "The text is empty."),
    (
        "title: Light it",
        r'title: "a\nb"',
        0,
        "The text holds a line break or a hidden character; write it on one line, or after `>-`.",
    ),
    (
        "title: Light it",
        "title: " + "x" * 601,
        0,
        "`" + "x" * 39 + "…` is too long; at most 600 characters.",
    ),
    (
        "title: Light it",
        "title: Light: it",
        0,
        "A second `: ` on one line, or a line indented too far; put text that holds `: ` in quotation marks.",
    ),
    ("title: Light it", "title: 'Light it", 10, "This line is indented unlike the lines above it."),
    ("title: Light it", "title: [Light, it]", 0, "Here one value is wanted, not a block or a list."),
    ("title: Light it", "tilte: Light it", 0, "The key `tilte` is not known here; the nearest one is `title`."),
    (
        "title: Light it",
        "title: Light it\n    title: Light it",
        1,
        "The key `title` stands twice, in line 71 and in line 72.",
    ),
    ("title: Light it", "title: &light Light it", 0, "An anchor (`&`); write the value out where it is needed."),
    ("title: Light it", "title: *light", 0, "An alias (`*`); write the value out here."),
    ("title: Light it", "title: !!str Light it", 0, "A tag (`tag:yaml.org,2002:str`); delete it."),
    ("title: Light it", "title: Light\tit", 0, "A tab; indent with spaces, two for each level."),
    ("title: Light it", "title: Light\x07it", 0, "A hidden character (U+0007); delete it."),
    ("title: Light it", "title: Light \u202eit", 0, "A hidden character (U+202E); delete it."),
    ("title: Light it", "title: Light \ud800it", 0, "A hidden character (U+D800); delete it."),
    ("greatest_s: 1800", "greatest_s: 0", 0, "`0` is too little; it must be more than 0."),
    ("greatest_s: 1800", "greatest_s: -600", 0, "`-600` is too little; it must be more than 0."),
    ("greatest_s: 1800", "greatest_s: 604801", 0, "`604801` is too much; at most 604800."),
    ("greatest_s: 1800", "greatest_s: PT10M", 0, "`PT10M` is a duration; write whole seconds: 600."),
    ("greatest_s: 1800", "greatest_s: P1DT1H1M1S", 0, "`P1DT1H1M1S` is a duration; write whole seconds: 90061."),
    ("greatest_s: 1800", "greatest_s: PT", 0, "`PT` is not a whole number of seconds, such as `180`."),
    ("greatest_s: 1800", "greatest_s: 10 min", 0, "`10 min` is not a whole number of seconds, such as `180`."),
    ("greatest_s: 1800", "greatest_s: 1_800", 0, "`1_800` is not a whole number of seconds, such as `180`."),
    ("greatest_s: 1800", "greatest_s: 01800", 0, "`01800` is not a whole number of seconds, such as `180`."),
    ("greatest_s: 1800", "greatest_s: 30:00", 0, "`30:00` is not a whole number of seconds, such as `180`."),
    ("greatest_s: 1800", "greatest_s: 1.8e3", 0, "`1.8e3` is not a whole number of seconds, such as `180`."),
    ("greatest_s: 1800", "greatest_s: 1800.0", 0, "`1800.0` is not a whole number of seconds, such as `180`."),
    ("greatest_s: 1800", 'greatest_s: "1800"', 0, "`1800` stands in quotation marks; write the number without them."),
    (
        "greatest_s: 1800",
        "greatest_s: " + "9" * 5000,
        0,
        "`" + "9" * 39 + "…` is not a whole number of seconds, such as `180`.",
    ),
    ("exactly: 2", "exactly: two", 0, "`two` is not a whole number, such as `180`."),
    ("least: 500", "least: .nan", 0, "`.nan` is not a decimal number, such as `0.55`."),
    ("least: 500", "least: 1e999", 0, "`1e999` is not a decimal number, such as `0.55`."),
    ("least: 500", "least: .inf", 0, "`.inf` is not a decimal number, such as `0.55`."),
    ("least: 500", "least: 500,5", 0, "`500,5` has a decimal comma; write it with a point."),
    ("least: 500", "least: '500'", 0, "`500` stands in quotation marks; write the number without them."),
    ("least: 500", "least: 0.1234567890123", 0, "`0.1234567890123` has more than 12 digits."),
    (
        "least: 500",
        "least: 30000",
        -2,
        "The limits of a reading must rise: plausible_least, least, most, plausible_most.",
    ),
    ("not_alone: true", "not_alone: yes", 0, "`yes` is neither `true` nor `false`, without quotation marks."),
    (
        "reaches: dried",
        "reaches: dryed",
        0,
        "`dryed` is not one of " + STAGES + "; the nearest one is `dried`.",
    ),
    (
        "kind: charging",
        "kind: zzz",
        0,
        "`zzz` is not one of `wet-contact`, `immersion`, `thermal`, `drying`, `aeration`, `charging`, `rest`.",
    ),
    (
        "count: plugs",
        "count: Plugs",
        0,
        "`Plugs` is not written as small letters and digits, joined by single hyphens, such as `outer-wipe`.",
    ),
    (
        "after: [inspect, charge]",
        "after: inspect",
        0,
        "Here a list is wanted: lines that begin with `- `, or `[one, two]`.",
    ),
    (
        "after: [inspect, charge]",
        "after: [inspect, inspect]",
        0,
        "`inspect` stands twice in this list, in line 72 and in line 72.",
    ),
    ("after: [inspect, charge]", "after: [inspect, {a: b}]", 0, "Here one value is wanted, not a block or a list."),
    ("step: charge", "step: inspect", 0, "`inspect` stands twice in this list, in line 53 and in line 66."),
    ("check: whole", "check: no-soil", 0, "`no-soil` stands twice in this list, in line 60 and in line 63."),
    ("least_s: 900, example: true", "least_s: 900", 0, "A number needs a `source`, or the block says `example: true`."),
    (
        "least_s: 900, example: true",
        "least_s: 900, example: false",
        0,
        "A number needs a `source`, or the block says `example: true`.",
    ),
    (
        "most: 1825, example: true",
        "warn_percent: 90",
        0,
        "A number needs a `source`, or the block says `example: true`.",
    ),
    (
        "- {limit: age-days, most: 1825, example: true}",
        "- {limit: sealed-expiry}",
        0,
        "A number needs a `source`, or the block says `example: true`.",
    ),
    (
        "dwell: {kind: drying, least_s: 900, example: true}",
        "dwell: {kind: drying}",
        0,
        "A drying dwell needs `least_s`.",
    ),
    ("dwell: {kind: drying, least_s: 900, example: true}", "dwell: drying", 0, "Here `key: value` lines are wanted."),
    ("text: Nothing is cracked.", "note: x", -1, "The key `text` is missing."),
    (
        "stages: [used, cleaned,",
        "stages: [cleaned,",
        -5,
        "`stages` starts with used, ends with ready and keeps the order of the trade.",
    ),
    (
        "stages: [used, cleaned, disinfected, dried, inspected, ready]",
        "stages: [used]",
        0,
        "The list needs at least 2 members.",
    ),
    ("item_class: non-critical\n", "", -3, "The key `item_class` is missing."),
]


@pytest.mark.parametrize(("old", "new", "below", "sentence"), BAD)
def test_each_fault_has_its_line_and_says_what_is_wanted(old: str, new: str, below: int, sentence: str) -> None:
    assert (line_of(SOUND, old) + below, sentence) in faults(changed(SOUND, old, new))


ALONE = [
    ("", 1, "The text is empty."),
    ("# nothing but a remark\n", 2, "The text is empty."),
    ("~", 1, "The text holds no `key: value` lines."),
    ("just words", 1, "The text holds no `key: value` lines."),
    ("- workflow: lamp", 1, "The text holds no `key: value` lines."),
    ("name: lamp", 1, "The first key says what the text is: `workflow`, `agent`, `configuration`, `profile`."),
    ("\ufeff" + SOUND, 1, "A byte order mark; save the text as UTF-8 without it."),
    (SOUND.replace("\n", "\r"), 1, "A hidden character (U+000D); delete it."),
    (SOUND + "---\n" + SOUND, SOUND.count("\n") + 1, "A second document begins here; one text holds one definition."),
    ("%YAML 1.1\n---\n" + SOUND, 1, "A `%` directive, or a line that begins with `%`; delete it."),
    ("%TAG ! tag:example.org,2026:\n---\n" + SOUND, 1, "A `%` directive, or a line that begins with `%`; delete it."),
    ("x" + "\n" * 50_001, 1, "The text has more than 50000 lines."),
    ("? [a, b]\n: c\n", 1, "A key is one word, not a block or a list."),
    ('workflow: lamp\n"a\\x07b`": c', 2, "The key `a\\u0007b'` is not known here; the nearest one is `delay`."),
    ("&a {workflow: lamp}", 1, "An anchor (`&`); write the value out where it is needed."),
    ("? &a b\n: c\n", 1, "An anchor (`&`); write the value out where it is needed."),
    (
        'workflow: "\\UFFFFFFFF"',
        1,
        "An escape such as `\\U00110000` in this text names no character.",
    ),
    ('workflow: "lamp', 1, "A quotation mark is opened here and never closed."),
    (
        "workflow: {a: b",
        1,
        "The layout cannot be read here; look at indentation, colons, brackets and quotation marks.",
    ),
    ("workflow: !x {a: &b [*c, d]}", 1, "A tag (`!x`); delete it."),
    ("workflow: !x {a: &b [*c, d]}", 1, "An anchor (`&`); write the value out where it is needed."),
    ("workflow: !x {a: &b [*c, d]}", 1, "An alias (`*`); write the value out here."),
    (
        changed(TWO_FILTERS, "plugs: 1", "plugs: 0"),
        1,
        "3 ports need 3 filters and plugs together, not 2 (C05).",
    ),
    (changed(TWO_FILTERS, "gaskets: 2", "gaskets: 1"), 1, "2 filters need 2 gaskets, not 1 (C04)."),
    (
        changed(TWO_FILTERS, "source: an invented approval\n", ""),
        4,
        "A number needs a `source`, or the block says `example: true`.",
    ),
    (
        changed(WIPE, "contact_s: 180, example: true", "contact_s: 0"),
        7,
        "`0` is too little; it must be more than 0.",
    ),
]


@pytest.mark.parametrize(("text", "line", "sentence"), ALONE)
def test_a_text_that_is_wrong_as_a_whole_says_so(text: str, line: int, sentence: str) -> None:
    assert (line, sentence) in faults(text)


def test_every_fault_is_found_not_only_the_first() -> None:
    text = changed(SOUND, "greatest_s: 1800", "greatest_s: 0\n      agnets: [x]")
    text = changed(text, "title: Light it", "title: off")
    text = changed(text, "not_alone: true", "not_alone: perhaps\n    not_alone: true")
    text = changed(text, "least_s: 900, example: true", "least_s: 900")
    assert [sentence.split(" ")[0] + " " + sentence.split(" ")[1] for _, sentence in faults(text)] == [
        "`0` is",
        "The key",
        "A number",
        "`off` without",
        "`perhaps` is",
        "The key",
    ]


def test_what_follows_from_a_noted_fault_is_not_told_again() -> None:
    """A contact whose agents are misspelt is not also told that it names no agents."""
    text = changed(SOUND, "agents: [wipe]", "agents: [Wipe!]")
    assert len(faults(text)) == 1
    text = changed(SOUND, "agents: [wipe]", "agnets: [wipe]")
    assert faults(text) == [
        (line_of(text, "agnets"), "The key `agnets` is not known here; the nearest one is `agents`.")
    ]


def test_a_number_without_source_is_told_even_when_its_block_has_another_fault() -> None:
    text = changed(SOUND, "least_s: 900, example: true", "least_s: 900, greatest_s: x")
    line = line_of(text, "least_s: 900")
    assert faults(text) == [
        (line, "A number needs a `source`, or the block says `example: true`."),
        (line, "`x` is not a whole number of seconds, such as `180`."),
    ]
    text = changed(SOUND, "least_s: 900, example: true", "least_s: 900, example: yes")
    assert len(faults(text)) == 1


def test_what_stands_before_an_unreadable_line_is_judged_too() -> None:
    text = changed(SOUND, "exactly: 2", "exactly: two")
    text = changed(text, "title: Light it", "title: Light: it")
    assert [line for line, _ in faults(text)] == [line_of(text, "two"), line_of(text, "Light: it")]


def test_quoted_words_and_folded_text_are_taken_as_they_stand() -> None:
    text = changed(SOUND, "title: Light it", "title: 'off'")
    assert workflow(text).steps[8].title == "off"
    text = changed(SOUND, "title: Light it", "title: >\n      Light it\n      up")
    assert workflow(text).steps[8].title == "Light it up"


def test_line_ends_of_other_systems_are_read() -> None:
    assert workflow(SOUND.replace("\n", "\r\n")) == workflow(SOUND)


def test_faults_are_told_with_name_place_and_path() -> None:
    read = read_definition(changed(SOUND, "least: 500", "least: nan"), name="lamp.yaml")
    assert isinstance(read, Faults)
    assert as_text(read) == (
        "lamp.yaml:78:16 steps[functional-test].readings[light_lux].least: "
        "`nan` is not a decimal number, such as `0.55`."
    )


def test_a_text_with_very_many_faults_lists_some_and_counts_the_rest() -> None:
    text = "workflow: lamp\n" + "".join(f"k{number}: 1\n" for number in range(300))
    read = read_definition(text, name="many")
    assert isinstance(read, Faults)
    assert len(read.faults) == FAULTS_MAX
    # 300 keys are not known, and six that a workflow needs are missing.
    assert read.left_out == 206
    assert as_text(read).endswith("many: 206 more faults are not listed.")
    hidden = read_definition("\x01" * 300, name="hidden")
    assert isinstance(hidden, Faults)
    assert hidden.left_out == 200


def test_the_digest_is_over_exactly_the_text() -> None:
    # SHA-256 of "abc": FIPS 180-2 (2002), appendix B.1.
    assert digest_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert digest_of("a\n") != digest_of("a\r\n")
    assert len(digest_of("\ud800")) == 64


def test_the_line_of_a_step_is_found_for_a_finding_about_it() -> None:
    assert line_of_step(SOUND, "release") == line_of(SOUND, "step: release")
    assert line_of_step(SOUND, "polish") == 1
    assert line_of_step("steps: x", "polish") == 1
    assert line_of_step("", "polish") == 1


class Shelf(Frozen):
    shelf: Name
    rows: Annotated[tuple[Name, ...], Several, Field(max_length=3)]
    width_cm: Annotated[int, Field(multiple_of=5)]
    code: Annotated[str, StringConstraints(pattern="^X$")]


def test_any_strict_model_can_be_read_in_the_same_way() -> None:
    read = read_as("shelf: a\nrows: [b, c]\nwidth_cm: 40\ncode: X\n", Shelf, name="shelf")
    assert read == Shelf(shelf="a", rows=("b", "c"), width_cm=40, code="X")
    read = read_as("shelf: a\nrows: [b, c, d, E]\nwidth_cm: 41\ncode: Z\n", Shelf, name="shelf")
    assert isinstance(read, Faults)
    # A constraint or a pattern without words of its own is still told in plain ones.
    assert [fault.sentence for fault in read.faults] == [
        "The list has more than 3 members.",
        "`41` cannot stand here.",
        "`Z` is not written as this place wants it.",
    ]
    assert isinstance(read_as("", Shelf, name="shelf"), Faults)


class Endless(Frozen):
    names: tuple[Name, ...]


class Strange(Frozen):
    when: complex


@pytest.mark.parametrize(("model", "because"), [(Endless, "a list needs a limit"), (Strange, "a text cannot carry")])
def test_a_model_that_no_text_can_carry_is_a_mistake_of_ours(model: type[Frozen], because: str) -> None:
    with pytest.raises(TypeError, match=because):
        shapes_of(model)
