"""Reads the catalogues and gives texts by key; nothing is compiled beforehand."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from gettext import c2py
from importlib import resources
from typing import Final

from babel.messages.pofile import read_po

from reprocess.languages import facts as spoken
from reprocess.rules import words
from reprocess.rules.answer import Fact, Reason

LANGUAGES: Final[Mapping[str, str]] = {"en": "English", "es": "Español", "ar": "العربية"}
"""The languages by their tags (RFC 5646), each by its own name."""
FIRST: Final = "en"
RIGHT_TO_LEFT: Final = frozenset({"ar"})
COMMAS: Final[Mapping[str, str]] = {"ar": "، "}
"""What stands between the members of a list, where it is no comma and a space."""

_ISOLATE: Final = "\u2068"
_END: Final = "\u2069"
_MARKS: Final = dict.fromkeys((0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)))
"""The characters that only change directions (Unicode Standard Annex 9, 2): no fact brings its own."""

Local = Callable[[int], str]


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Is everything that the files of a language hold.

    Attributes:
        forms: the texts by key, one, or as many as the language has forms of a plural.
        plural: which of the forms a number takes, by the header of the files.
    """

    forms: Mapping[str, tuple[str, ...]]
    plural: Callable[[int], int]

    def form(self, key: str, number: int = 1) -> str:
        """Returns the text of a key; of a plural the form for a number. Nothing where the catalogue lacks it."""
        forms = self.forms.get(key, ("",))
        return forms[0] if len(forms) == 1 else forms[self.plural(number)]


class Text(str):
    """Is one text and the language that it is in: English stands in where a language lacks the key."""

    __slots__ = ("language",)
    language: str

    def __new__(cls, text: str, language: str) -> Text:
        """Makes the text, which tells its language."""
        made = super().__new__(cls, text)
        made.language = language
        return made


class Texts:
    """Gives the texts of one language.

    Attributes:
        language: its tag.
    """

    def __init__(self, language: str, own: Catalogue, english: Catalogue) -> None:
        self.language = language
        self._own = own
        self._english = english

    @property
    def direction(self) -> str:
        """Returns `rtl` where the language is written from right to left, else `ltr`."""
        return "rtl" if self.language in RIGHT_TO_LEFT else "ltr"

    def has(self, key: str) -> bool:
        """Tells whether the language itself has a text for a key."""
        return bool(self._own.form(key))

    def __call__(self, key: str, **facts: Fact) -> Text:
        """Returns the text of a key with its facts in their places; `count` chooses among the forms of a plural.

        Raises:
            KeyError: no language has it, or a fact is missing.
        """
        count = facts.get("count")
        number = count if isinstance(count, int) else 1
        for catalogue, language in ((self._own, self.language), (self._english, FIRST)):
            form = catalogue.form(key, number)
            if form:
                return Text(self._filled(form, {name: self._shown(one) for name, one in facts.items()}), language)
        message = f"no text has the key {key}"
        raise KeyError(message)

    def known(self, sort: str, name: str) -> Text:
        """Returns what something of a known sort is called (`stage.ready`); its own name where nothing knows it."""
        key = spoken.key(sort, name)
        return self(key) if self._own.form(key) or self._english.form(key) else Text(name, FIRST)

    def why(self, reason: Reason, local: Local) -> Text:
        """Returns why not, in words."""
        return self._of_reason("why", reason, local, words.sentence)

    def next(self, reason: Reason, local: Local) -> Text:
        """Returns what the person does next, with the names of those who can help.

        The rules' own English names commands; where it does, the English of pages stands in the catalogue.
        """
        action = self._of_reason("next", reason, local, words.next_action)
        if not self.has(f"next.{reason.key}") or not reason.helpers:
            return action
        return Text(f"{action} {self('reasons.who-can', names=list(reason.helpers))}", action.language)

    def _of_reason(self, part: str, reason: Reason, local: Local, english: Callable[[Reason, Local], str]) -> Text:
        form = self._own.form(f"{part}.{reason.key}")
        if not form:
            return Text(english(reason, local).translate(_MARKS), FIRST)
        told = {name: self._said(name, fact) for name, fact in reason.facts.items()}
        filled = words.filled(replace(reason, facts=told), local)
        for name, fact in reason.facts.items():
            if isinstance(fact, int):
                filled[name.removesuffix("_us")] = self._shown(filled[name.removesuffix("_us")])
        return Text(self._filled(form, filled), self.language)

    def _said(self, name: str, fact: Fact) -> Fact:
        """Returns a fact as it stands in a sentence of this language; numbers and instants are still to be told."""
        if isinstance(fact, int):
            return fact
        if isinstance(fact, list):
            return self._shown([self._word(name, one) for one in fact])
        return self._shown(self._word(name, fact))

    def _word(self, name: str, text: str) -> str:
        """Returns what a fact's text is called in this language, or the text where it is no known word."""
        return next((form for key in spoken.keys(name, text) if (form := self._own.form(key))), text)

    def _shown(self, fact: Fact) -> str:
        """Returns a fact as a text that moves nothing around it."""
        if isinstance(fact, list):
            return COMMAS.get(self.language, ", ").join(self._isolated(one) for one in fact)
        return self._isolated(str(fact))

    def _isolated(self, text: str) -> str:
        """Returns a text in isolates where its direction may be another than the sentence's (UAX 9, 2.7)."""
        plain = text.translate(_MARKS)
        if self.direction == "rtl" or any(unicodedata.bidirectional(one) in {"R", "AL"} for one in plain):
            return f"{_ISOLATE}{plain}{_END}"
        return plain

    def _filled(self, form: str, facts: Mapping[str, str]) -> str:
        """Returns a sentence with its places filled."""
        return form.format_map(facts)


@cache
def texts_of(language: str) -> Texts:
    """Returns the texts of a language, read once.

    Raises:
        KeyError: this program does not speak it.
    """
    if language not in LANGUAGES:
        raise KeyError(language)
    return Texts(language, _catalogue(language), _catalogue(FIRST))


@cache
def _catalogue(language: str) -> Catalogue:
    """Returns what all files of a language hold; their headers say the same."""
    forms: dict[str, tuple[str, ...]] = {}
    plural = "n != 1"
    folder = resources.files("reprocess.languages").joinpath(language)
    for file in sorted(folder.iterdir(), key=lambda one: one.name):
        if not file.name.endswith(".po"):
            continue
        with file.open("rb") as content:
            read = read_po(content, locale=language, abort_invalid=True)
        plural = read.plural_expr
        for message in read:
            if message.id:
                forms[_key(message.id)] = _forms(message.string or "")
    return Catalogue(forms, c2py(plural))


def _key(found: str | Sequence[str]) -> str:
    return found if isinstance(found, str) else found[0]


def _forms(found: str | Sequence[str]) -> tuple[str, ...]:
    return (found,) if isinstance(found, str) else tuple(found)
