"""Which language a page is in: what somebody chose here, else what the browser prefers, else English."""

from __future__ import annotations

from typing import Final

from babel.core import negotiate_locale
from starlette.requests import HTTPConnection

from reprocess.languages import LANGUAGES, Texts, texts_of

COOKIE: Final = "language"
ASKED: Final = "language"
FIRST: Final = "en"
TAGS_MOST: Final = 20


def texts_for(request: HTTPConnection) -> Texts:
    """Returns the texts in the language of a request: of its address, its cookie, its header."""
    for chosen in (request.query_params.get(ASKED), request.cookies.get(COOKIE)):
        if chosen in LANGUAGES:
            return texts_of(chosen)
    preferred = _preferred(request.headers.get("accept-language", ""))
    return texts_of(negotiate_locale(preferred, [*LANGUAGES], sep="-") or FIRST)


def _preferred(header: str) -> list[str]:
    """Returns the language tags of a header, best first (RFC 9110, section 12.5.4)."""
    found = []
    for part in header.split(",")[:TAGS_MOST]:
        tag, _, weight = part.strip().partition(";q=")
        found.append((_weight(weight), tag.strip()))
    return [tag for weight, tag in sorted(found, key=lambda one: -one[0]) if tag and weight > 0]


def _weight(text: str) -> float:
    try:
        return float(text) if text else 1.0
    except ValueError:
        return 0.0
