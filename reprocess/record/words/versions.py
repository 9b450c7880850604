"""What becomes of files once they are in force: confirmed sources, and a change for safety."""

from __future__ import annotations

from typing import ClassVar, Literal

from reprocess.record.words.body import Body, Texts


class SourcesConfirmed(Body):
    """Says that a named person compared every number of a file with its source (trade 8.3)."""

    kind: ClassVar[str] = "sources-confirmed"
    sort: Literal["workflow", "agent", "configuration", "profile"]
    name: str
    digest: str
    role: str
    statement: str


class CycleMoved(Body):
    """Says that an open cycle goes on under another version, changed for safety, and which steps fell (G12, E26)."""

    kind: ClassVar[str] = "cycle-moved"
    workflow: str
    digest: str
    was: str
    stage: str
    fell: Texts
    because: str
