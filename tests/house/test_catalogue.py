"""Every rule of the catalogue is decided somewhere and named by a test, or says why not (`check --rules`)."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from reprocess.commandline.catalogue import Row, as_fields, lines, rows
from reprocess.rules.catalogue import FAMILIES

SIZES = {"T": 18, "M": 12, "P": 16, "A": 9, "S": 8, "L": 14, "G": 12, "H": 12, "C": 12, "U": 15, "Q": 8, "B": 7, "W": 8,
         "D": 14, "R": 12}  # fmt: skip
"""How many ids each letter has; none is skipped."""

ROWS = rows()


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.rule.id)
def test_a_rule_is_decided_and_tested_or_says_why_not(row: Row) -> None:
    if row.rule.left:
        assert not row.decided, "it is decided after all"
        return
    assert row.decided, "nothing decides it"
    assert row.tests, "no test names it"


def test_no_id_is_missing_and_none_stands_twice() -> None:
    ids = [row.rule.id for row in ROWS]
    assert Counter(ids).most_common(1)[0][1] == 1
    assert set(ids) == {f"{letter}{number:02d}" for letter, most in SIZES.items() for number in range(1, most + 1)}


def test_every_rule_says_what_it_asks_and_what_its_default_rests_on() -> None:
    for rules in FAMILIES.values():
        for rule in rules:
            assert re.fullmatch(r"[A-Z].*\.", rule.says), rule.id
            assert len(rule.says.split()) <= 16, rule.id
            assert rule.source, rule.id


def test_the_table_names_what_is_missing() -> None:
    table = "\n".join(lines(ROWS))
    assert "NOT DECIDED" not in table
    untested = [row.rule.id for row in ROWS if not row.tests and not row.rule.left]
    assert not untested
    assert [one["id"] for one in as_fields(ROWS)] == [row.rule.id for row in ROWS]
