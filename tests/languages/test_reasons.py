"""Why not and what is next, in every language, with facts said in that language and nothing moved by them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

import pytest

from reprocess.languages import LANGUAGES, facts, texts_of
from reprocess.rules.answer import Fact, Reason
from reprocess.rules.words import SENTENCES, next_action, sentence
from reprocess.terms import Stage
from tests.languages.catalogues import OTHERS, PACKAGE, longest, places, texts

WORDS_MOST = 20
"""Most words of a sentence of a reason; English has 21 in its longest one."""
OWN_WORDS = {"because", "cause", "reading", "by"}
"""Facts whose fixed texts are whole clauses or marks of the rules; they stand in English."""


def local(at_us: int) -> str:
    return f"14:{at_us:02}"


def sample(key: str) -> dict[str, Fact]:
    """Returns a text for every place of both sentences of a key."""
    return {name: f"<{name}>" for text in SENTENCES[key] for name in places(text)}


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("key", sorted(SENTENCES))
def test_every_reason_is_told_in_the_language_itself(key: str, language: str) -> None:
    told, reason = texts_of(language), Reason("X00", key, sample(key))
    why, following = told.why(reason, local), told.next(reason, local)
    assert (why.language, following.language) == (language, language)
    for text, english in ((why, SENTENCES[key][0]), (following, SENTENCES[key][1])):
        assert all(f"<{name}>" in text for name in places(english))
        assert not re.search(r"[{}]", text)
        assert text.count("\u2068") + text.count("\u2066") == text.count("\u2069")


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("key", sorted(SENTENCES))
def test_a_sentence_ends_is_short_and_names_no_command(key: str, language: str) -> None:
    for part in ("why", "next"):
        (text,) = texts(language, "reasons")[f"{part}.{key}"]
        assert text[-1] in ".:)}", text
        assert longest(text) <= WORDS_MOST, text
        assert not re.search(r"`|reprocess |--[a-z]", text), text


@pytest.mark.parametrize("key", sorted(SENTENCES))
def test_no_page_in_english_asks_anybody_to_type_a_command(key: str) -> None:
    told, reason = texts_of("en"), Reason("X00", key, sample(key), helpers=("Ana",))
    assert not re.search(r"`|reprocess |--[a-z]", told.why(reason, local) + told.next(reason, local))
    assert told.next(reason, local).endswith("(Ana can.)")


def test_what_pages_say_instead_has_the_facts_of_the_rules_own_sentence() -> None:
    said = {key: text for key, text in texts("en", "reasons").items() if key.startswith(("next.", "why."))}
    for key, (text,) in said.items():
        own = SENTENCES[key.partition(".")[2]]
        assert set(places(text)) <= {name for one in own for name in places(one)}, key
        assert re.search(r"`|--[a-z]", own[1]), f"{key} names no command; it needs no other words"


def test_english_stays_that_of_the_rules() -> None:
    reason = Reason("X00", "out-of-order", {"step": "dry", "missing": ["clean"], "next": "clean"}, helpers=("Ana",))
    assert texts_of("en").why(reason, local) == sentence(reason, local)
    assert texts_of("en").next(reason, local) == next_action(reason, local)
    assert next_action(reason, local).endswith(str(texts_of("en")("reasons.who-can", names=["Ana"])))


@pytest.mark.parametrize("language", OTHERS)
def test_those_who_can_help_are_named_in_every_language(language: str) -> None:
    told = texts_of(language).next(Reason("A02", "competency-missing", helpers=("Ana", "Bea")), local)
    assert "Ana" in told
    assert "Bea" in told
    assert told.endswith(".)")


def test_known_facts_are_said_in_the_language() -> None:
    reason = Reason("P01", "out-of-order", {"step": "dry", "missing": ["clean", "disinfect"], "next": "clean"})
    assert texts_of("es").why(reason, local) == "«secado» no puede ser ahora; falta: limpieza, desinfección."
    assert texts_of("es").next(reason, local) == "Siguiente: limpieza."


def test_a_stage_a_role_and_nobody_are_said_in_the_language() -> None:
    told = texts_of("es")
    assert "en reparación" in told.why(Reason("P01", "aside", {"item": "B1", "stage": Stage.IN_REPAIR}), local)
    assert "supervisión" in told.why(Reason("A08", "role-needed", {"roles": ["supervisor"]}), local)
    assert "nadie" in told.next(Reason("A08", "not-your-role", {"operation": "release", "roles": ["nobody"]}), local)


def test_what_lifts_a_hold_is_said_in_the_language() -> None:
    reason = Reason("H10", "inspect-first", {"hold": "H1", "requires": "the reason settled"})
    assert texts_of("es").why(reason, local) == "La retención H1 no está resuelta: el motivo resuelto."


def test_ids_and_peoples_own_words_stay() -> None:
    reason = Reason("H04", "on-hold", {"hold": "H1", "sort": "defect", "cause": "the clean room leaks", "owner": "Ana"})
    assert "the clean room leaks" in texts_of("es").why(reason, local)


def test_instants_are_local_and_isolated_in_arabic() -> None:
    told = texts_of("ar").why(Reason("D05", "not-in-the-past", {"at_us": 5}), local)
    assert "\u206814:05\u2069" in told


@pytest.mark.parametrize("mark", ["\u202e", "\u2069", "\u200f", "\u061c"])
@pytest.mark.parametrize("language", OTHERS)
def test_a_fact_brings_no_direction_of_its_own(mark: str, language: str) -> None:
    # Unicode Technical Report 36, 2.3: an override inside a shown text turns what is read after it.
    told = texts_of(language).why(Reason("P05", "unknown-item", {"item": f"B1{mark}2"}), local)
    assert "B12" in told


def test_a_name_in_arabic_letters_moves_nothing_in_spanish() -> None:
    told = texts_of("es").why(Reason("S08", "same-person", {"name": "ليلى"}), local)
    assert "\u2068ليلى\u2069" in told


def test_the_table_of_facts_names_places_and_sorts_that_exist() -> None:
    used = {name for texts_of_key in SENTENCES.values() for text in texts_of_key for name in places(text)}
    assert sorted(set(facts.SORTS) - used) == []
    sorts = {key.partition(".")[0] for key in texts("en", "words")}
    assert {sort for named in facts.SORTS.values() for sort in named} <= sorts


def fixed() -> Iterator[tuple[str, str]]:
    """Yields (fact, text) wherever the rules write a fixed text into a fact."""
    for folder in ("rules", "engine"):
        for path in sorted((PACKAGE / folder).glob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Reason" and len(node.args) > 2:
                    yield from _fixed_in(node.args[2])


def _fixed_in(node: ast.expr) -> Iterator[tuple[str, str]]:
    if not isinstance(node, ast.Dict):
        return
    for name, value in zip(node.keys, node.values, strict=True):
        for part in ast.walk(value):
            options: list[ast.expr] = part.values[1:] if isinstance(part, ast.BoolOp) else []
            options += [part.body, part.orelse] if isinstance(part, ast.IfExp) else []
            options += [value] if part is value else []
            for one in options:
                one = one.elts[0] if isinstance(one, ast.List) and one.elts else one  # noqa: PLW2901 - its only member
                if isinstance(one, ast.Constant) and isinstance(one.value, str) and isinstance(name, ast.Constant):
                    yield str(name.value), one.value


def test_every_fixed_text_of_a_fact_is_a_known_word() -> None:
    found = sorted({(name, text) for name, text in fixed() if text and name not in OWN_WORDS})
    assert len(found) > 5
    for name, text in found:
        assert any(key in texts("en", "words") for key in facts.keys(name, text)), (name, text)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_fact_that_is_missing_is_a_question_mark(language: str) -> None:
    assert "?" in texts_of(language).why(Reason("P01", "aside", {"item": "B1"}), local)
