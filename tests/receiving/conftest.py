"""The floor of the engine's tests, at which machines report."""

from tests.engine.fixtures import floor, prepared

__all__ = ["floor", "prepared"]
