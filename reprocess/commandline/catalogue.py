"""The table of every rule: what it asks, where it is decided, what its default rests on and which tests name it."""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import reprocess
from reprocess.rules.catalogue import FAMILIES, Rule
from reprocess.shipped import folder

PACKAGE: Final = Path(reprocess.__file__).parent
TESTS: Final = PACKAGE.parent / "tests"
"""The tests stand beside the program in a clone; an installed program has none."""
SILENT: Final = frozenset({"rules/catalogue.py", "rules/words.py", "commandline/catalogue.py"})
"""Files that name rules without deciding anything."""
PLACES_SHOWN: Final = 3
_ID: Final = re.compile(r"\b[A-Z]\d\d\b")
_IN_FILE: Final = re.compile(r"rule: ([A-Z]\d\d)\b")


@dataclass(frozen=True, slots=True)
class Row:
    """Is one line of the table.

    Attributes:
        decided: the modules whose code names the rule, and what carries it in a file or in every entry.
        tests: how many test files name it; None where the tests are not beside the program.
    """

    family: str
    rule: Rule
    decided: tuple[str, ...]
    tests: int | None


def rows() -> list[Row]:
    """Returns one row a rule, in the order of the catalogue."""
    places = _places()
    named = _named_in_tests() if TESTS.is_dir() else None
    return [
        Row(family, rule, _decided(rule, places), None if named is None else named[rule.id])
        for family, rules in FAMILIES.items()
        for rule in rules
    ]


def _decided(rule: Rule, places: dict[str, set[str]]) -> tuple[str, ...]:
    return (*sorted(places.get(rule.id, ())), *((rule.by,) if rule.by else ()))


def _places() -> dict[str, set[str]]:
    """Returns the modules in which each id stands as a constant of its own, and the files whose lines name it."""
    found: dict[str, set[str]] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        name = path.relative_to(PACKAGE).as_posix()
        if name in SILENT:
            continue
        for text in _constants(path.read_text(encoding="utf-8")):
            if _ID.fullmatch(text):
                found.setdefault(text, set()).add(name.removesuffix(".py").replace("/", "."))
    for path in sorted(folder().rglob("*.yaml")):
        for rule in _IN_FILE.findall(path.read_text(encoding="utf-8")):
            found.setdefault(rule, set()).add(f"{path.stem}.yaml")
    return found


def _constants(source: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def _named_in_tests() -> Counter[str]:
    named: Counter[str] = Counter()
    for path in sorted(TESTS.rglob("*.py")):
        named.update(set(_ID.findall(path.read_text(encoding="utf-8"))))
    return named


def lines(found: Iterable[Row]) -> Iterator[str]:
    """Yields the table as text for a person, family by family."""
    family = ""
    for row in found:
        if row.family != family:
            family = row.family
            yield f"\n{family}"
        yield f"  {row.rule.id}  {row.rule.says}"
        yield f"       {_where(row)}; default: {row.rule.source}; {_tested(row)}"


def _where(row: Row) -> str:
    if row.rule.left:
        return f"left out: {row.rule.left}"
    shown = row.decided[:PLACES_SHOWN]
    more = f" and {len(row.decided) - len(shown)} more" if len(row.decided) > len(shown) else ""
    return f"decided in {', '.join(shown)}{more}" if shown else "NOT DECIDED"


def _tested(row: Row) -> str:
    if row.tests is None:
        return "tests are in the clone"
    if row.rule.left:
        return "not tested"
    return f"named in {row.tests} test files" if row.tests else "NO TEST"


def as_fields(found: Iterable[Row]) -> list[dict[str, Any]]:
    """Returns the table as JSON values."""
    return [
        {
            "id": row.rule.id,
            "family": row.family,
            "says": row.rule.says,
            "decided": list(row.decided),
            "source": row.rule.source,
            "tests": row.tests,
            "left_out": row.rule.left or None,
        }
        for row in found
    ]
