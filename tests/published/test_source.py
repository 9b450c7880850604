"""The harness itself: a value without a source is no value."""

from dataclasses import fields, replace

import pytest

from tests.published.source import Published

ROW = Published(
    id="V00-00",
    statement="a statement",
    unit="s",
    condition="none stated",
    source="a document, a table, a year",
    address="https://example.test/",
    evidence="seen",
    basis="published",
)


@pytest.mark.parametrize("name", [field.name for field in fields(Published)])
def test_a_row_with_something_missing_fails(name: str) -> None:
    with pytest.raises(ValueError, match=r"has no|no known"):
        replace(ROW, **{name: " "})  # type: ignore[arg-type]


def test_only_our_own_working_may_lack_an_address() -> None:
    assert replace(ROW, evidence="computed", address="").address == ""
    with pytest.raises(ValueError, match="has no address"):
        replace(ROW, evidence="memory", address="")
