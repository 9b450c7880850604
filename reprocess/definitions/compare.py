"""Two texts of one file side by side: what stands in one only, and every number that is not the same in both."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from difflib import unified_diff
from typing import Any

from pydantic import BaseModel

from reprocess.definitions.read import Definition
from reprocess.definitions.shapes import name_key


@dataclass(frozen=True, slots=True)
class Changed:
    """Is one number that is not the same in two texts.

    Attributes:
        path: the keys down to it, blocks of a list by their names: `steps[dry].dwell.least_s`.
        before: the number as text; None where it stands in the later text only.
        after: the number as text; None where it stands in the earlier text only.
    """

    path: str
    before: str | None
    after: str | None


def as_lines(before: str, after: str, names: tuple[str, str]) -> str:
    """Returns the lines that differ, with three lines around each place, as a unified difference."""
    lines = unified_diff(before.splitlines(), after.splitlines(), *names, lineterm="")
    return "\n".join(lines)


def changed_numbers(before: Definition, after: Definition) -> tuple[Changed, ...]:
    """Returns every number that differs, in the order of the later text, then what only the earlier one holds."""
    old, new = dict(_numbers("", before)), dict(_numbers("", after))
    found = [Changed(path, old.get(path), value) for path, value in new.items() if old.get(path) != value]
    return (*found, *(Changed(path, value, None) for path, value in old.items() if path not in new))


def _numbers(path: str, value: Any) -> Iterator[tuple[str, str]]:
    if isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from _numbers(f"{path}.{name}" if path else name, getattr(value, name))
    elif isinstance(value, tuple):
        for name, one in _named(value):
            yield from _numbers(f"{path}[{name}]", one)
    elif isinstance(value, int | Decimal) and not isinstance(value, bool):
        yield path, str(value)


def _named(blocks: Iterable[Any]) -> Iterator[tuple[str, Any]]:
    """Yields the members of a list by their names; a name that comes again gets its number as well."""
    seen: dict[str, int] = {}
    for number, one in enumerate(blocks):
        name = str(getattr(one, name_key(type(one)))) if isinstance(one, BaseModel) else str(number)
        seen[name] = seen.get(name, 0) + 1
        yield name if seen[name] == 1 else f"{name} {seen[name]}", one
