"""Whatever the text, the reader answers: it never raises, never hangs, and never speaks in a library's words."""

import sys
import time
from typing import Literal

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from reprocess.definitions.configuration import Configuration
from reprocess.definitions.faults import FAULTS_MAX, Faults, as_text
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.nodes import NESTING_MAX, NODES_MAX
from reprocess.definitions.profile import Profile
from reprocess.definitions.read import digest_of, read_definition
from reprocess.definitions.schema import schema
from reprocess.definitions.shapes import Block, Choice, Several, shapes_of
from reprocess.definitions.wording import PATTERNS
from tests.definitions.texts import LAMPS, ONE_WEARER, SOUND, TWO_FILTERS, WIPE

JARGON = ("input should", "value error", "pydantic", "none", "type=", "valid ", "traceback", "<", "scalar", "token")
SECONDS_MOST = 2.0 if sys.gettrace() is None else 20.0
"""CPU time for one text; a run that traces every line for coverage may take longer."""

SIGNS = [
    "\n",
    "\n  ",
    "\n- ",
    "\n  - ",
    ": ",
    "? ",
    "- ",
    "[",
    "]",
    "{",
    "}",
    ", ",
    "|\n",
    ">-\n  ",
    "'",
    '"',
    "#",
    " #",
]
REFUSED = ["&a ", "*a ", "!t ", "!!int ", "%YAML 1.1\n", "---\n", "...\n", "<<: ", "\\U00110000", "\\x00", "\\ud800"]
LIARS = ["~", "off", "012", "1:30", "1e999", ".nan", "1_000", "PT10M", "-1", "0", "180", "true", "x" * 700, "`"]
KEYS = ["workflow", "agent", "steps", "step", "dwell", "least_s", "example"]
ODD = ["\t", "\r", "\x00", "\ud800", "\ufeff", "\u2028", "é", "😀"]
PIECES = st.sampled_from([*SIGNS, *REFUSED, *LIARS, *KEYS, *ODD])
LOOSE = st.lists(PIECES, max_size=40).map("".join)


@st.composite
def spoilt(draw: st.DrawFn) -> str:
    """A sound text with a few passages cut out, doubled or replaced."""
    text = draw(st.sampled_from([SOUND, ONE_WEARER, WIPE, TWO_FILTERS, LAMPS]))
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 30)))
        text = text[:start] + draw(st.one_of(LOOSE, st.just(text[start:end] * 2), st.just(""))) + text[end:]
    return text


@given(text=st.one_of(spoilt(), LOOSE, LOOSE.map("workflow: ".__add__), st.text(max_size=200)))
@example(text='workflow: "\\UFFFFFFFF"')
@example(text="workflow: " + "9" * 10_000)
@example(text="{}")
@settings(max_examples=400, deadline=None)
def test_any_text_is_a_definition_or_faults_in_plain_words(text: str) -> None:
    read = read_definition(text, name="any")
    assert read == read_definition(text, name="any")
    assert len(digest_of(text)) == 64
    if not isinstance(read, Faults):
        assert isinstance(read, Workflow | Agent | Configuration | Profile)
        return
    assert 1 <= len(read.faults) <= FAULTS_MAX
    assert list(read.faults) == sorted(read.faults)
    assert as_text(read).isprintable() or "\n" in as_text(read)
    for fault in read.faults:
        assert 1 <= fault.line <= text.count("\n") + text.count("\r") + 2
        assert fault.column >= 1
        assert fault.sentence.endswith(".")
        assert fault.sentence[0].isupper() or fault.sentence[0] in "`0123456789"
        said = "".join(fault.sentence.split("`")[::2]).lower()
        assert not [word for word in JARGON if word in said], fault.sentence


HOSTILE = {
    "20,000 steps": "workflow: w\nsteps:\n" + "  - step: a\n    title: x\n" * 20_000,
    "20,000 short steps": "workflow: w\nsteps:\n" + "  - step: a\n" * 20_000,
    "2,000 open lists": "[" * 2_000,
    "half a million open lists": "workflow: " + "[" * 500_000,
    "half a million open blocks": "workflow: " + "{a: " * 125_000,
    "flat lists without end": "workflow: [" + "[]," * 150_000,
    "keys without end": "".join(f"k{number}: 1\n" for number in range(40_000)),
    "a key of half a megabyte": "x" * 500_000 + ": 1",
    "a value of half a megabyte": "workflow: " + "y" * 500_000,
    "questions without end": "? " * 250_000,
    "directives without end": "%x\n" * 170_000,
    "quotation marks without end": "workflow: " + "'\n'" * 170_000,
    "remarks without end": "# x\n" * 125_000,
    "documents without end": "--- a\n" * 85_000,
    "an alias bomb": "a: &a [x]\n" + "".join(f"k{n}: &k{n} [*a,*a,*a,*a]\n" for n in range(9_000)),
    "ten megabytes": "x" * 10_000_000,
    "two megabytes of accents": "é" * 500_000,
    "tabs without end": "\t" * 500_000,
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_text_is_refused_within_two_seconds(name: str) -> None:
    """CPU time is measured, so that a busy machine does not decide."""
    began_s = time.process_time()
    read = read_definition(HOSTILE[name], name=name)
    assert time.process_time() - began_s < SECONDS_MOST
    assert isinstance(read, Faults)


def sentences(text: str) -> list[str]:
    read = read_definition(text, name="limit")
    assert isinstance(read, Faults)
    return [fault.sentence for fault in read.faults]


def test_each_limit_is_named() -> None:
    steps = "".join(f"- step: s{number}\n  title: x\n" for number in range(15_000))
    assert "The list has more than 40 members." in sentences("workflow: w\nsteps:\n" + steps)
    too_many = f"More than {NODES_MAX} values; the text was not read further."
    assert too_many in sentences("workflow: [" + "a," * NODES_MAX)
    too_deep = f"Nested deeper than {NESTING_MAX} levels; the text was not read further."
    assert too_deep in sentences("[" * (NESTING_MAX + 1))
    assert too_deep not in sentences("[" * NESTING_MAX + "]" * NESTING_MAX)
    too_long = ["The text is longer than 512 KiB."]
    assert sentences("x" * (512 * 1024 + 1)) == too_long
    assert sentences("é" * (256 * 1024 + 1)) == too_long


def patterns_in(schema: object) -> set[str]:
    if isinstance(schema, dict):
        own = {schema["pattern"]} if isinstance(schema.get("pattern"), str) else set()
        return own.union(*(patterns_in(part) for part in schema.values()))
    if isinstance(schema, list):
        return set().union(*(patterns_in(part) for part in schema))
    return set()


def test_every_pattern_of_the_models_is_put_into_words() -> None:
    """A pattern without words would be told as `this place wants it`."""
    kinds: list[Literal["workflow", "agent", "configuration", "profile"]] = [
        "workflow",
        "agent",
        "configuration",
        "profile",
    ]
    assert set().union(*(patterns_in(schema(kind)) for kind in kinds)) <= set(PATTERNS)


def choices_of(model: type[BaseModel]) -> set[str]:
    words: set[str] = set()
    for shape in shapes_of(model).values():
        held = shape.member if isinstance(shape, Several) else shape
        if isinstance(held, Choice):
            words |= set(held.values)
        if isinstance(held, Block):
            words |= choices_of(held.model)
    return words


def test_no_word_of_a_choice_reads_as_something_else_elsewhere() -> None:
    """Choices may be written without quotation marks, so none of them may be a word like `off`."""
    for model in (Workflow, Agent, Configuration, Profile):
        for word in choices_of(model):
            assert sentences(f"workflow: {word}") == sentences("workflow: lamp") or " " in word
