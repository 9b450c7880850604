"""The department of these tests; its fixtures are shared with tests/rules and tests/record."""

from tests.engine.fixtures import floor, prepared

__all__ = ["floor", "prepared"]
