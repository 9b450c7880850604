"""A template to a page: its language and direction, its banners, who is signed in, and the texts by key."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape
from starlette.requests import Request
from starlette.responses import HTMLResponse

from reprocess.clock import StoryClock
from reprocess.gathering import local, local_text
from reprocess.languages import LANGUAGES, Text, Texts
from reprocess.languages.texts import FIRST
from reprocess.rules.answer import Answer, Fact, Reason, Verdict
from reprocess.service import who
from reprocess.service.answers import as_us
from reprocess.service.pages import assets
from reprocess.service.pages.language import texts_for
from reprocess.service.served import Served, served
from reprocess.service.who import Caller

STATUS_OK: Final = 200
FRAGMENT: Final = who.OF_A_PAGE
"""The header with which our own script asks for a part of a page only."""


@cache
def environment() -> Environment:
    """Returns what reads the templates: everything is escaped, and a name that is not given is a fault."""
    made = Environment(
        loader=PackageLoader("reprocess.service.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
        finalize=_shown,
    )
    made.globals["asset"] = assets.address
    made.filters["isolated"] = isolated
    made.filters["visible"] = visible
    made.filters["at"] = lambda instant, zone: local_text(zone, _as_us(instant))
    return made


def isolated(text: object) -> Markup:
    """Returns a text of unknown direction so that it moves nothing around it (WHATWG HTML, the `bdi` element)."""
    return Markup("<bdi>{}</bdi>").format(visible(text))


def visible(text: object) -> str:
    """Returns a text in which U+FFFD stands for whatever has no shape and moves what stands around it."""
    return str(text).translate(_TURNING)


_UNSEEN: Final = dict.fromkeys([*range(9), 11, 12, *range(14, 32), 127, *range(0x202A, 0x202F)], "\ufffd")
"""Controls, and the marks that embed or override a direction (Unicode Standard Annex 9, 2.1 and 2.2)."""
_TURNING: Final = {**_UNSEEN, **dict.fromkeys(range(0x2066, 0x206A), "\ufffd")}
"""The same with the isolates (2.4), which our own Arabic texts use around their facts."""


def _shown(value: object) -> object:
    """Returns what a template shows of a value; whatever it came from, it does not turn what is read after it."""
    if type(value) is str and not value.isprintable():
        return value.translate(_UNSEEN)
    return value


class Words:
    """Is the texts as templates call them: `t("board.title")`; what is in another language says so."""

    def __init__(self, texts: Texts) -> None:
        self.texts = texts

    def __call__(self, key: str, **facts: Fact) -> Markup:
        """Returns the text of a key."""
        return self.told(self.texts(key, **facts))

    def plain(self, key: str, **facts: Fact) -> str:
        """Returns the text of a key for an attribute, where no element can stand."""
        return str(self.texts(key, **facts))

    def known(self, sort: str, name: str) -> Markup:
        """Returns what something of a known sort is called."""
        return self.told(self.texts.known(sort, name))

    def plain_known(self, sort: str, name: str) -> str:
        """Returns what something is called for an attribute or an option, where no element can stand."""
        return str(self.texts.known(sort, name))

    def told(self, text: str) -> Markup:
        """Returns a text, marked where it is in another language than the page."""
        if isinstance(text, Text) and text.language != self.texts.language:
            return Markup('<span lang="{}" dir="ltr">{}</span>').format(text.language, str(text))
        return escape(str(text))


@dataclass(frozen=True, slots=True)
class Told:
    """Is one reason in words: its rule, why not, what comes next and how long to wait."""

    rule: str
    key: str
    why: Markup
    next: Markup
    wait_s: int | None


@dataclass(frozen=True, slots=True)
class AnswerShown:
    """Is an answer as the pages show it; `sort` is accepted, noted, refused or held."""

    sort: str
    subject: str
    step: str | None
    reasons: Sequence[Told]
    warnings: Sequence[Told]
    cautions: Sequence[Markup]
    stage: str | None
    next_steps: Sequence[str]
    answer: Answer


def shown(answer: Answer, words: Words, zone: str) -> AnswerShown:
    """Returns an answer in the words of a page, instants in the zone of its site."""
    keys = [one for one in (answer.caution, *answer.cautions) if one is not None]
    return AnswerShown(
        sort=answer.word.lower(),
        subject=answer.subject,
        step=answer.step,
        reasons=[told(one, words, zone) for one in answer.reasons],
        warnings=[told(one, words, zone) for one in answer.warnings],
        cautions=[words.known("caution", one) for one in dict.fromkeys(keys)],
        stage=answer.stage,
        next_steps=answer.next_steps,
        answer=answer,
    )


def fault_shown(request: Request, detail: str) -> AnswerShown:
    """Returns what went wrong with a form as a page shows a refusal: what happened, then what comes next."""
    words = words_for(request)
    first, _, following = detail.partition(". ")
    why = words.told(Text(f"{first}." if following else first, FIRST))
    then = words.told(Text(following, FIRST)) if following else Markup()
    answer = Answer(Verdict.REFUSED, "", "")
    return AnswerShown("refused", "", None, [Told("", "", why, then, None)], [], [], None, (), answer)


def told(reason: Reason, words: Words, zone: str) -> Told:
    """Returns a reason in the words of a page."""

    def show(at_us: int) -> str:
        return local_text(zone, at_us)

    why, following = words.texts.why(reason, show), words.texts.next(reason, show)
    return Told(reason.rule, reason.key, words.told(why), words.told(following), reason.wait_s)


def _as_us(instant: int | str) -> int:
    """Returns an instant in microseconds, which the interface tells as text (RFC 3339)."""
    return instant if isinstance(instant, int) else as_us(datetime.fromisoformat(instant))


def clock_time(zone: str, at_us: int) -> str:
    """Returns the time of day alone, with seconds."""
    return local(zone, at_us).strftime("%H:%M:%S")


def words_for(request: Request) -> Words:
    """Returns the texts of a request's page."""
    return Words(texts_for(request))


def page(request: Request, template: str, *, status: int = STATUS_OK, **context: Any) -> HTMLResponse:
    """Returns a page made from a template, with what every page knows.

    Args:
        request: what is answered.
        template: its name, such as `board.html`.
        status: the response's.
        context: what the template names beside; `caller` where another one than the request's, `banners` where the
            record cannot be asked for them.
    """
    parts = served(request)
    words = context.pop("words", None) or words_for(request)
    caller: Caller | None = context.pop("caller", None) or getattr(request.state, "caller", None)
    every = {
        "t": words,
        "texts": words.texts,
        "languages": LANGUAGES,
        "caller": caller,
        "banners": context["banners"] if "banners" in context else banners(parts),
        "address": request.url.path,
        "here": _read_at(request),
        "fragment": FRAGMENT in request.headers,
    }
    html = environment().get_template(template).render({**every, **context})
    return HTMLResponse(html, status, {"Cache-Control": "no-store"})


def banners(parts: Served) -> list[str]:
    """Returns the keys of the banners that every page of this department shows."""
    found = ["shared.demo"] if isinstance(parts.department.clock, StoryClock) else []
    return found + (["shared.example"] if parts.department.rests_on_examples() else [])


def own_address(asked: str) -> str:
    """Returns an address within this server to go on to: one that leads elsewhere becomes the first page."""
    return asked if _OWN.fullmatch(asked) else "/"


def _read_at(request: Request) -> str:
    """Returns the address at which a page can be read again: its own, or that of the page whose form it answers."""
    if request.method in who.READS:
        return own_address(request.url.path)
    found = _SENT_FROM.match(request.headers.get("referer", ""))
    own = found is not None and found["host"] == request.headers.get("host")
    return own_address(found["path"]) if found is not None and own else "/"


_SENT_FROM: Final = re.compile(r"https?://(?P<host>[^/?#]+)(?P<path>[^?#]*)")
_OWN: Final = re.compile(r"/(?![/\\])[!-\[\]-~]{0,500}")
"""A path on this server: one slash first, printable ASCII, no backslash (a browser reads that as a slash)."""
