"""The department of the engine's tests, for what only a whole record shows."""

from tests.engine.fixtures import floor, prepared

__all__ = ["floor", "prepared"]
