"""Files that are kept beside the record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from reprocess.engine.request.further import Further


@dataclass(frozen=True, slots=True)
class KeepFile(Further):
    """States that a file, which lies under its digest already, belongs to the record, and what it is about.

    Attributes:
        about: the stream it is about, such as `load:WD-1-0042`.
        size: in bytes.
    """

    asked: ClassVar[str] = "keep-file"
    about: str
    digest: str
    name: str
    media_type: str
    size: int
