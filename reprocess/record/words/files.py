"""Files kept beside the record: photos, statements, the traces of loggers."""

from __future__ import annotations

from typing import ClassVar

from pydantic import Field

from reprocess.record.words.body import Body


class FileKept(Body):
    """Says that a file is kept under its digest, what it is, and which stream it is about.

    `digest` is SHA-256 in hexadecimal, `size` is in bytes.
    """

    kind: ClassVar[str] = "file-kept"
    digest: str
    name: str
    media_type: str
    size: int = Field(gt=0)
    about: str
