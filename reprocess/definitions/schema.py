"""JSON Schema of the definition files, so that an editor completes keys and marks mistakes while one types.

The reader stays the judge: a schema cannot say that a number needs a source or that no step goes round another.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from typing import Any, Literal

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from reprocess.definitions.read import MODELS
from reprocess.definitions.shapes import Block, Several, shapes_of

DIALECT = "https://json-schema.org/draft/2020-12/schema"

_ATTRIBUTE = re.compile(r"^    (\w+): (.+?)(?=^    \w+: |\Z)", re.MULTILINE | re.DOTALL)


class _AsWritten(GenerateJsonSchema):
    """Describes values as the reader takes them: a decimal is a number, and an absent key is left out, not null."""

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        """Returns what the key holds when it stands there."""
        return self.generate_inner(schema["schema"])

    def decimal_schema(self, schema: core_schema.DecimalSchema) -> JsonSchemaValue:
        """Returns a number with the limits of the field."""
        limits = {
            "minimum": schema.get("ge"),
            "maximum": schema.get("le"),
            "exclusiveMinimum": schema.get("gt"),
            "exclusiveMaximum": schema.get("lt"),
        }
        known = {key: float(value) for key, value in limits.items() if value is not None}
        return {"type": "number", **known}

    def get_title_from_name(self, name: str) -> str:
        """Returns a key as words: `least_s` is `least s`."""
        return name.replace("_", " ")


def schema(of: Literal["workflow", "agent", "configuration", "profile"]) -> dict[str, Any]:
    """Returns the JSON Schema (draft 2020-12) of one kind of definition."""
    model = MODELS[of]
    made = model.model_json_schema(schema_generator=_AsWritten)
    blocks = made.get("$defs", {})
    for one in _models(model):
        _describe(made if one is model else blocks[one.__name__], one)
    return {"$schema": DIALECT, "title": of, **{key: made[key] for key in made if key != "title"}}


def _models(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    """Yields the model and those of its blocks, each once."""
    seen = [model]
    for one in seen:
        yield one
        for shape in shapes_of(one).values():
            held = shape.member if isinstance(shape, Several) else shape
            if isinstance(held, Block) and held.model not in seen:
                seen.append(held.model)


def _describe(made: dict[str, Any], model: type[BaseModel]) -> None:
    text = inspect.cleandoc(model.__doc__ or "")
    head, _, attributes = text.partition("\nAttributes:\n")
    made["description"] = " ".join(head.split())
    told = dict(_ATTRIBUTE.findall(attributes))
    for key, held in made["properties"].items():
        if held.get("default", "") is None:
            del held["default"]
        if key in told:
            held["description"] = " ".join(told[key].split())
