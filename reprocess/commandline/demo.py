"""`reprocess demo`: one day of the fictional network, told as it happens."""

from __future__ import annotations

import typer


def demo() -> None:
    """Play one day of the fictional Larkmoor network."""
    raise typer.Exit(0)
