"""What a field of a model wants from the text, worked out once from the model's annotations."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cache
from types import MappingProxyType, NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import MaxLen
from pydantic import BaseModel
from pydantic.fields import FieldInfo


@dataclass(frozen=True, slots=True)
class Text:
    """Wants words; their pattern and length are the model's to judge."""


@dataclass(frozen=True, slots=True)
class Flag:
    """Wants `true` or `false`."""


@dataclass(frozen=True, slots=True)
class Whole:
    """Wants a whole number."""


@dataclass(frozen=True, slots=True)
class Figure:
    """Wants a decimal number."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Wants one of a few words; each stands for a value."""

    values: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Block:
    """Wants `key: value` lines of a model."""

    model: type[BaseModel]


@dataclass(frozen=True, slots=True)
class Several:
    """Wants a list with at most `most` members of one shape."""

    member: Scalar | Block
    most: int


Scalar = Text | Flag | Whole | Figure | Choice
Shape = Scalar | Block | Several


@cache
def shapes_of(model: type[BaseModel]) -> Mapping[str, Shape]:
    """Returns what each field of a model wants, in the model's order."""
    return MappingProxyType({name: _field_shape(name, field) for name, field in model.model_fields.items()})


def name_key(model: type[BaseModel]) -> str:
    """Returns the field by which a block of that model is called: the first that it must have."""
    fields = model.model_fields
    return next((name for name, field in fields.items() if field.is_required()), next(iter(fields)))


def _field_shape(name: str, field: FieldInfo) -> Shape:
    return _shape(name, field.annotation, field.metadata)


def _shape(name: str, wanted: Any, extra: list[Any]) -> Shape:
    """Returns the shape of an annotation.

    Raises:
        TypeError: a model has a field of a type that no text can carry; a mistake in the model.
    """
    origin = get_origin(wanted)
    if origin is Annotated:
        inner, *more = get_args(wanted)
        return _shape(name, inner, [*extra, *_flat(more)])
    if origin in {Union, UnionType}:
        (inner,) = [one for one in get_args(wanted) if one is not NoneType]
        return _shape(name, inner, extra)
    if origin is tuple:
        member = _shape(name, get_args(wanted)[0], [])
        limits = [one.max_length for one in extra if isinstance(one, MaxLen)]
        if isinstance(member, Several) or not limits:
            message = f"{name}: a list needs a limit and holds no lists"
            raise TypeError(message)
        return Several(member, min(limits))
    if origin is Literal:
        return Choice({one: one for one in get_args(wanted)})
    return _plain(name, wanted)


def _flat(extra: list[Any]) -> list[Any]:
    """Returns constraints with those inside a `Field(...)` laid open."""
    flat: list[Any] = []
    for one in extra:
        flat += one.metadata if isinstance(one, FieldInfo) else [one]
    return flat


_PLAIN: Mapping[type, Scalar] = {str: Text(), bool: Flag(), int: Whole(), Decimal: Figure()}


def _plain(name: str, wanted: Any) -> Scalar | Block:
    if wanted in _PLAIN:
        return _PLAIN[wanted]
    if isinstance(wanted, type) and issubclass(wanted, StrEnum):
        return Choice({str(one): one for one in wanted})
    if isinstance(wanted, type) and issubclass(wanted, BaseModel):
        return Block(wanted)
    message = f"{name}: a text cannot carry {wanted!r}"
    raise TypeError(message)
