"""What keeping a file is judged on: where, by whom, and whether its name is a wearer's (D13)."""

from __future__ import annotations

from reprocess.engine.request import KeepFile
from reprocess.gathering.cases import names
from reprocess.gathering.reading import Library
from reprocess.ledger.append import Transaction
from reprocess.record.cases import Case
from reprocess.record.standing import Standing
from reprocess.rules.scene import Bench, Scene
from reprocess.terms import StreamKind, subject_of


def for_file(read: Transaction, _: Library, at: Bench, request: KeepFile) -> Scene:
    """Returns the bench, and whether the file is named after a wearer whom it is about."""
    said = f"{request.name} {request.media_type}".casefold()
    kept = (read.names.of(wearer) for wearer in _wearers(read, request.about))
    return Scene(
        bench=at, item=Standing(item=""), names_somebody=any(name is not None and names(said, name) for name in kept)
    )


def _wearers(read: Transaction, about: str) -> tuple[str, ...]:
    """Returns the pseudonyms of whom a file may tell: of the wearers of its case, or of the wearer it is about."""
    if about.startswith(f"{StreamKind.WEARER}:"):
        return (subject_of(about),)
    case = read.state(about) if about.startswith(f"{StreamKind.CASE}:") else None
    return case.wearers if isinstance(case, Case) else ()
