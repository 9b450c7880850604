"""What known things are called: everything that this program or a shipped file names, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, get_args

import pytest
from babel.units import format_unit
from ruamel.yaml import YAML

from reprocess.definitions import model
from reprocess.definitions.holds import LIFTS, HoldType
from reprocess.definitions.label import Claim
from reprocess.definitions.times import Limit
from reprocess.definitions.water import Water
from reprocess.languages import LANGUAGES, facts, texts_of
from reprocess.record.loads import LoadState
from reprocess.record.touching import Touched
from reprocess.record.words.solutions import SolutionEnded
from reprocess.rules.cautions import CAUTIONS
from reprocess.rules.loads import WASHER
from reprocess.rules.permissions import PERMISSIONS, ROLES
from reprocess.rules.places import STORE_LIMITS
from reprocess.scan.command import COMMANDS, DEFECTS, Group
from reprocess.terms import Stage
from tests.languages.catalogues import OTHERS, PACKAGE, texts

SHIPPED = sorted((PACKAGE.parent / "workflows").rglob("*.yaml"))


def blocks(node: Any) -> Iterator[dict[str, Any]]:
    """Yields every mapping inside a file."""
    if isinstance(node, dict):
        yield node
        for one in node.values():
            yield from blocks(one)
    elif isinstance(node, list):
        for one in node:
            yield from blocks(one)


BLOCKS = [one for path in SHIPPED for one in blocks(YAML(typ="safe", pure=True).load(path.read_text("utf-8")))]


def named(field: str) -> set[str]:
    """Returns the words that stand under a field in the shipped files."""
    return {one[field] for one in BLOCKS if isinstance(one.get(field), str)}


VERBS = {one.step for one in COMMANDS.values() if one.step is not None} | {"contaminate", "used", "issued", "correct"}
METHODS = set(get_args(Claim.model_fields["method"].annotation)) | named("method") - {"none"}
ENTERED = {"temp_c", "hottest_c", "residual_ppm", "strip", "parts", "findings", "action"}
"""What is entered beside the readings of a step: of a bath, a load, a recipe, an inspection."""
COUNTED = {"gaskets", "plugs", "filters"}
"""What a configuration says the number of (`Count.from_configuration`)."""
KNOWN: dict[str, set[str]] = {
    "step": named("step") | VERBS,
    "stage": {facts.key("stage", one).removeprefix("stage.") for one in Stage},
    "group": {one.name.lower() for one in Group},
    "command": set(COMMANDS),
    "defect": set(DEFECTS) | named("defect") | {"OUT-OF-LIMITS"},
    "caution": set(CAUTIONS),
    "hold": set(HoldType),
    "lift": set(LIFTS),
    "role": set(ROLES),
    "kind": named("item_kind") | named("slot") | COUNTED,
    "reading": named("reading") | set(STORE_LIMITS) | ENTERED,
    "instrument": named("instrument") | {WASHER},
    "water": set(get_args(Water.model_fields["grade"].annotation)),
    "class": set(model.CONTAMINATION_CLASSES),
    "method": METHODS,
    "signal": named("signal"),
    "trace": named("trace"),
    "limit": set(get_args(Limit.model_fields["limit"].annotation)),
    "side": set(get_args(model.Step.model_fields["zone"].annotation)),
    "load-state": set(LoadState),
    "end": set(get_args(SolutionEnded.model_fields["cause"].annotation)) | {"made-anew"},
    "asked": set(PERMISSIONS),
    "touched": set(Touched) | {"items"},
}
FREE = {"word", "unit"}
"""Sorts without one list in the program: what rules say in passing, and units that are written otherwise."""


def words_of(language: str) -> dict[str, set[str]]:
    """Returns the names of every sort that a language has words for."""
    found: dict[str, set[str]] = {}
    for key in texts(language, "words"):
        sort, _, name = key.partition(".")
        found.setdefault(sort, set()).add(name)
    return found


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("sort", sorted(KNOWN))
def test_every_known_thing_has_a_word_and_no_word_is_left_over(sort: str, language: str) -> None:
    assert sorted(words_of(language)[sort] ^ KNOWN[sort]) == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_other_sort_is_named(language: str) -> None:
    assert set(words_of(language)) == set(KNOWN) | FREE


def test_the_english_is_that_of_the_sheets_and_of_the_cautions() -> None:
    english = {key: forms[0] for key, forms in texts("en", "words").items()}
    for name, command in COMMANDS.items():
        assert english[f"command.{name}"] == command.word
    for code, defect in DEFECTS.items():
        assert english[f"defect.{code}"] == defect.word
    for group in Group:
        assert english[f"group.{group.name.lower()}"] == group
    for name, text in CAUTIONS.items():
        assert english[f"caution.{name}"] == text
    for sort, lift in LIFTS.items():
        assert english[f"lift.{sort}"] == lift.requires


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("name", sorted(CAUTIONS))
def test_a_caution_says_all_that_the_english_says(name: str, language: str) -> None:
    """Sentence for sentence, figure for figure; and a ban stays a ban."""
    own, english = texts_of(language).known("caution", name), CAUTIONS[name]
    assert own.language == language
    assert _figures(own) == _figures(english)
    assert _sentences(own) == _sentences(english)
    never = {"es": ("no ", "nunca"), "ar": ("لا ", "أبدًا", "فقط")}[language]
    if any(word in english for word in ("Never", "Do not", "no oxygen")):
        assert any(one in own.lower() for one in never)


def _figures(text: str) -> list[str]:
    return [one for one in "".join(letter if letter.isdigit() else " " for letter in text).split() if one]


def _sentences(text: str) -> int:
    return sum(text.count(mark) for mark in (". ", ": ")) + 1


@pytest.mark.parametrize("language", OTHERS)
def test_no_two_things_of_a_sort_are_called_alike(language: str) -> None:
    """Two names may share a word only where they mean the same thing."""
    seen: dict[tuple[str, str], str] = {}
    twice = []
    for key, forms in texts(language, "words").items():
        spot = (key.partition(".")[0], forms[0])
        twice += [{key, seen[spot]}] if spot in seen else []
        seen[spot] = key
    assert twice == []


@pytest.mark.parametrize(
    ("language", "unit", "word"),
    [
        (language, unit, word)
        for language in OTHERS
        for unit, word in (
            ("temperature-celsius", "degC"),
            ("concentr-percent", "percent"),
            ("duration-minute", "min"),
        )
    ],
)
def test_units_are_those_of_cldr(language: str, unit: str, word: str) -> None:
    # Unicode CLDR, units, short form, through Babel.
    told = format_unit(40, unit, "short", locale=language)
    assert told.replace("40", "").strip("\u00a0 ") == texts_of(language).known("unit", word)


@pytest.mark.parametrize(
    ("language", "key", "term"),
    [
        # OSHA, Respiratory Protection, fit testing, in English and in Spanish:
        # osha.gov/video/respiratory-protection/fit-testing
        ("es", "asked.fit-test-wearer", "prueba de ajuste"),
        ("es", "kind.respirator", "respirador"),
        # Colorado Department of Public Health and Environment, environmental cleaning guidance, English and Spanish,
        # at covid19.colorado.gov/espanol/guia-de-limpieza-ambiental
        ("es", "step.clean", "limpieza"),
        ("es", "step.disinfect", "desinfección"),
        # World Health Organization, cleaning and disinfection of environmental surfaces, questions and answers in
        # English and in Arabic, 31 March 2022: who.int/ar
        ("ar", "step.clean", "تنظيف"),
        ("ar", "step.disinfect", "تطهير"),
    ],
)
def test_terms_of_published_pages_in_both_languages(language: str, key: str, term: str) -> None:
    assert term in texts(language, "words")[key][0]


def test_a_stage_of_two_words_has_a_key() -> None:
    assert texts_of("es").known("stage", Stage.IN_REPAIR) == "en reparación"


def test_what_nothing_knows_keeps_its_name_and_is_marked_as_english() -> None:
    told = texts_of("ar").known("step", "polish")
    assert (told, told.language) == ("polish", "en")
