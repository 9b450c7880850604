"""Every reason has two sentences, and no sentence is without its reason."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import reprocess
from reprocess.rules.answer import Reason
from reprocess.rules.words import SENTENCES, next_action, sentence

HERE = Path(reprocess.__file__).parent
FOLDERS = ("rules", "engine")


def keys_in_the_code() -> set[str]:
    """Returns every key that a reason is made with: plain, either-or, and those that a variable holds."""
    found: set[str] = set()
    for folder in FOLDERS:
        for path in sorted((HERE / folder).glob("*.py")):
            if path.name == "words.py":
                continue
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value in SENTENCES:
                    found.add(node.value)
    return found


def keys_of_reasons() -> set[str]:
    """Returns the keys that stand as the second argument of a reason."""
    found: set[str] = set()
    for folder in FOLDERS:
        for path in sorted((HERE / folder).glob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Reason":
                    key = node.args[1]
                    options = [key.body, key.orelse] if isinstance(key, ast.IfExp) else [key]
                    found |= {str(one.value) for one in options if isinstance(one, ast.Constant)}
    return found


def test_every_reason_has_its_sentences() -> None:
    assert keys_of_reasons() <= set(SENTENCES)
    assert len(keys_of_reasons()) > 100


def test_no_sentence_is_left_over() -> None:
    assert set(SENTENCES) == keys_in_the_code()


@pytest.mark.parametrize("key", sorted(SENTENCES))
def test_a_sentence_ends_and_says_what_is_next(key: str) -> None:
    why, what = SENTENCES[key]
    assert why.rstrip()[-1] in ".:})", key
    assert what.endswith("."), key


def test_facts_are_filled_in_as_a_person_reads_them() -> None:
    reason = Reason("L07", "solution-failed", {"solution": "B-1", "at_us": 7})
    assert sentence(reason, lambda at_us: f"<{at_us}>") == "B-1 failed its test <7>."
    many = Reason("G01", "steps-missing", {"missing": ["clean", "dry"], "next": "clean"})
    assert sentence(many, str) == "Not done in this cycle: clean, dry."
    assert next_action(many, str) == "Next: clean."
    assert sentence(Reason("G01", "steps-missing"), str) == "Not done in this cycle: ?."


def test_helpers_are_named_at_the_end() -> None:
    reason = Reason("A02", "competency-missing", {}, helpers=("Anna Rowe", "Ben Okoro"))
    assert next_action(reason, str) == "Somebody with a current competency does it. (Anna Rowe, Ben Okoro can.)"
