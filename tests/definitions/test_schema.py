"""The schema for editors says what the reader takes, and nothing that it refuses."""

from collections.abc import Iterator
from typing import Any, Literal, get_args

import pytest

from reprocess.definitions.schema import DIALECT, schema

Kind = Literal["workflow", "agent", "configuration", "profile"]
KINDS: tuple[Kind, ...] = get_args(Kind)


def parts_of(part: object) -> Iterator[dict[str, Any]]:
    if isinstance(part, dict):
        yield part
        for inner in part.values():
            yield from parts_of(inner)
    if isinstance(part, list):
        for inner in part:
            yield from parts_of(inner)


@pytest.mark.parametrize("kind", KINDS)
def test_a_schema_names_its_dialect_and_its_kind(kind: Kind) -> None:
    made = schema(kind)
    assert made["$schema"] == DIALECT
    assert made["title"] == kind
    assert kind in made["required"]
    assert made["additionalProperties"] is False


@pytest.mark.parametrize("kind", KINDS)
def test_every_reference_leads_to_a_block_and_every_block_says_what_it_is(kind: Kind) -> None:
    made = schema(kind)
    blocks = made["$defs"]
    for part in parts_of(made):
        if "$ref" in part:
            assert part["$ref"].removeprefix("#/$defs/") in blocks
    for block in (made, *blocks.values()):
        assert block["description"]
        assert "Attributes:" not in block["description"]


@pytest.mark.parametrize("kind", KINDS)
def test_no_key_is_offered_null_or_a_number_as_text(kind: Kind) -> None:
    for part in parts_of(schema(kind)):
        assert part.get("type") != "null"
        assert "anyOf" not in part
        assert "default" not in part or part["default"] is not None


def test_keys_carry_limits_and_the_words_of_the_models() -> None:
    dwell = schema("workflow")["$defs"]["Dwell"]["properties"]
    assert dwell["greatest_s"] == {
        "exclusiveMinimum": 0,
        "maximum": 604_800,
        "type": "integer",
        "title": "greatest s",
        "description": "longest time; past it the item is held for a look at the material (T06).",
    }
    assert schema("workflow")["$defs"]["Reading"]["properties"]["least"]["type"] == "number"
    assert schema("workflow")["properties"]["steps"]["maxItems"] == 40
