"""What a standing looks like outside: a schema made from its own fields, and its values in that schema.

Instants named `..._us` are RFC 3339 texts without that ending, `..._at` where another member has the name; a reading
of the clocks is the wall time it shows. The words that a standing's docstring has for its fields become the schema's.
"""

from __future__ import annotations

import dataclasses
import re
import types
from collections.abc import Collection, Mapping
from enum import StrEnum
from functools import cache
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel, ConfigDict, Field, create_model

from reprocess.record.moment import Moment
from reprocess.service.answers import instant

InstantOut = Annotated[str, Field(json_schema_extra={"format": "date-time"}, examples=["2026-03-05T07:05:00Z"])]
"""An instant in RFC 3339, in UTC with `Z`."""
WITHHELD: Final = "withheld"
"""Stands where a wearer's pseudonym would, for whoever may not see it (D13)."""


def model_of(
    kind: Any, name: str, *, leave: Collection[str] = (), more: Mapping[str, tuple[Any, Any]] | None = None
) -> type[BaseModel]:
    """Returns the schema of a standing.

    Args:
        kind: the dataclass of the standing.
        name: what the schema is called in the documentation.
        leave: its fields that are not shown.
        more: further members, each with its type and its `Field`.
    """
    told = told_of(kind)
    own: dict[str, Any] = {}
    for field, outside, hint in _members(kind, frozenset(leave)):
        own[outside] = (_type(hint, field), Field(default=None, description=told.get(field)))
        if type(None) not in get_args(hint):
            own[outside] = (own[outside][0], Field(description=told.get(field)))
    own |= more or {}
    made: type[BaseModel] = create_model(name, __config__=ConfigDict(extra="forbid"), __doc__=_first_line(kind), **own)
    return made


def values_of(state: Any, leave: Collection[str] = ()) -> dict[str, Any]:
    """Returns the values of a standing in its schema."""
    kind: Any = type(state)
    members = _members(kind, frozenset(leave))
    return {outside: _value(getattr(state, field), field) for field, outside, _ in members}


@cache
def _members(kind: Any, leave: frozenset[str]) -> tuple[tuple[str, str, Any], ...]:
    """Returns (field, its name outside, its type) of every field that is shown."""
    names = [one.name for one in dataclasses.fields(kind) if one.name not in leave]
    hints = get_type_hints(kind)
    return tuple((name, _outside(name, names), hints[name]) for name in names)


def _outside(name: str, names: list[str]) -> str:
    if not name.endswith("_us"):
        return name
    bare = name.removesuffix("_us")
    return f"{bare}_at" if bare in names else bare


def told_of(kind: Any) -> dict[str, str]:
    """Returns what a dataclass's docstring says of its fields."""
    _, _, told = (kind.__doc__ or "").partition("Attributes:\n")
    found = re.findall(r"^ {8}(\w+): (.+(?:\n {12}.+)*)", told, re.MULTILINE)
    return {name: _sentence(text) for name, text in found}


def _sentence(text: str) -> str:
    line = re.sub(r"\s+", " ", text)
    return line[:1].upper() + line[1:].replace("None", "null")


def _first_line(kind: Any) -> str:
    return (kind.__doc__ or "").strip().partition("\n")[0]


def _type(hint: Any, name: str) -> Any:
    """Returns the type of a member outside."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        kept = [_type(one, name) for one in inner if one is not type(None)]
        whole: Any = kept[0]
        return whole | None
    if origin is tuple:
        return list[_type(inner[0], name)]  # type: ignore[misc]
    if origin is dict:
        return dict[str, _type(inner[1], name)]  # type: ignore[misc]
    if hint is Moment or (hint is int and name.endswith("_us")):
        return InstantOut
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return _inner(hint)
    if origin is Literal or not (isinstance(hint, type) and issubclass(hint, StrEnum)):
        return hint
    return str


@cache
def _inner(kind: Any) -> type[BaseModel]:
    """Returns the schema of a dataclass within a standing, made once."""
    return model_of(kind, f"{kind.__name__}Within")


def _value(value: Any, name: str) -> Any:
    if isinstance(value, Moment):
        return instant(value.wall_us)
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, int):
        return instant(value) if name.endswith("_us") else value
    if isinstance(value, dict):
        return {key: _value(one, name) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_value(one, name) for one in value]
    return values_of(value) if dataclasses.is_dataclass(value) else value
