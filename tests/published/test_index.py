"""The list of published values is whole: each id is a row of a test or has a reason, never both."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.published.index import INDEX, NOT_APPLICABLE, TOPICS

HERE = Path(__file__).resolve().parent
ID = re.compile(r"V\d\d-\d\d")
EXAMPLES = "V00"
"""The topic of the made-up rows that test the harness."""


def ids_in(source: str) -> Iterator[str]:
    """Yields every literal that is an id and nothing else."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and ID.fullmatch(node.value):
            yield node.value


@pytest.fixture(scope="module")
def used() -> set[str]:
    """Returns the ids of every row in the tests of this folder."""
    found = {id for path in sorted(HERE.glob("test_*.py")) for id in ids_in(path.read_text(encoding="utf-8"))}
    return {id for id in found if not id.startswith(EXAMPLES)}


def test_an_id_is_found_only_where_it_stands_alone() -> None:
    source = '"""V00-01 in a sentence."""\nrow = Published(id="V00-02", statement="V00-03 and more")\nother("V00-04")\n'
    assert sorted(ids_in(source)) == ["V00-02", "V00-04"]


def test_the_index_holds_what_it_says() -> None:
    assert len(INDEX) == 183
    assert {id.partition("-")[0] for id in INDEX} == set(TOPICS)
    assert all(ID.fullmatch(id) and words.strip() for id, words in INDEX.items())
    assert list(INDEX) == sorted(INDEX)


@pytest.mark.parametrize("topic", TOPICS)
def test_every_id_is_a_row_or_has_a_reason(used: set[str], topic: str) -> None:
    missing = [id for id in INDEX if id.startswith(topic) and id not in used and id not in NOT_APPLICABLE]
    assert not missing, f"neither a row nor a reason: {', '.join(missing)}"


def test_no_id_is_both_a_row_and_not_applicable(used: set[str]) -> None:
    assert not used & set(NOT_APPLICABLE)


def test_no_id_is_unknown(used: set[str]) -> None:
    assert not used - set(INDEX)
    assert not set(NOT_APPLICABLE) - set(INDEX)


@pytest.mark.parametrize(("id", "reason"), NOT_APPLICABLE.items())
def test_a_reason_says_because(id: str, reason: str) -> None:
    assert re.fullmatch(r"because \S.{20,}[^.\s]", reason), id
