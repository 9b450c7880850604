"""Assemblies and their parts."""

from __future__ import annotations

from typing import ClassVar

from reprocess.record.words.body import Body, Counts


class AssemblyBuilt(Body):
    """Says which parts now make up this assembly, under which approved configuration.

    `lots` is slot or count to the lot that the part or the counted parts were taken from.
    """

    kind: ClassVar[str] = "assembly-built"
    configuration: str
    digest: str
    members: dict[str, str]
    counts: Counts
    lots: dict[str, str] | None = None


class AssemblyDissolved(Body):
    """Says that the parts of this assembly no longer belong together."""

    kind: ClassVar[str] = "assembly-dissolved"
    cause: str
    members: dict[str, str]


class MemberJoined(Body):
    """Says that this item is now part of an assembly."""

    kind: ClassVar[str] = "member-joined"
    assembly: str
    slot: str


class MemberLeft(Body):
    """Says that this item no longer is part of an assembly."""

    kind: ClassVar[str] = "member-left"
    assembly: str
    cause: str
