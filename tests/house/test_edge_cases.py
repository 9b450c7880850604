"""Every edge case of the trade, E01 to E40, has a test of its own that bears its number."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ENGINE = Path(__file__).parents[1] / "engine"
CASES = [f"E{number:02d}" for number in range(1, 41)]
"""The cases of the catalogue, none skipped."""
TESTS = [
    one
    for path in sorted(ENGINE.glob("test_edge_cases_*.py"))
    for one in ast.parse(path.read_text(encoding="utf-8")).body
    if isinstance(one, ast.FunctionDef) and one.name.startswith("test_")
]


@pytest.mark.parametrize("case", CASES)
def test_a_case_has_a_test_that_bears_its_number_and_says_it(case: str) -> None:
    mine = [one for one in TESTS if one.name.startswith(f"test_{case.lower()}_")]
    assert mine, "no test bears its number"
    for one in mine:
        assert (ast.get_docstring(one) or "").startswith(case), one.name


def test_no_test_there_bears_another_number() -> None:
    assert {one.name.split("_")[1].upper() for one in TESTS} == set(CASES)
