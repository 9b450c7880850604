"""Files kept beside the record: named by an entry, so that verification can miss them."""

from __future__ import annotations

import re
from typing import Final

from reprocess.engine import decision as deciding
from reprocess.engine.decision import Decision, on_site
from reprocess.engine.request import KeepFile
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.rules import competence
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Scene

DIGEST: Final = re.compile(r"[0-9a-f]{64}")


def keep(scene: Scene, request: KeepFile) -> Decision:
    """Names a file in the site's stream; whoever is not known here names none (A01), and no file names a wearer (D13).

    Raises:
        WrongUseError: the digest or the size is none.
    """
    if DIGEST.fullmatch(request.digest) is None or request.size <= 0:
        message = "A file is named by its SHA-256 digest in hexadecimal and has at least one byte."
        raise WrongUseError(message)
    reasons = competence.known(scene.bench)
    if scene.names_somebody:
        reasons.append(Reason("D13", "names-somebody", {}))
    if reasons:
        return deciding.refuse(scene, request, reasons, about=request.about)
    body = words.FileKept(
        digest=request.digest,
        name=request.name,
        media_type=request.media_type,
        size=request.size,
        about=request.about,
    )
    return deciding.accept(scene, request, [on_site(scene.bench, body)], about=request.about)
