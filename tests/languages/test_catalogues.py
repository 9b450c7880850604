"""The files of the catalogues: headers, keys, places, and what must be whole in every language.

Outside the project stand the Unicode CLDR plural rules and Babel's own checks of a catalogue.
"""

from __future__ import annotations

import re

import pytest
from babel import Locale
from babel.messages.catalog import Catalog
from babel.messages.plurals import get_plural

from reprocess.languages import LANGUAGES, texts_of
from reprocess.reminders.wording import SAYINGS
from reprocess.rules.words import SENTENCES
from tests.languages import catalogues
from tests.languages.catalogues import ARABIC, OTHERS, areas, complete, places, read, texts, whole

CATEGORIES = ("zero", "one", "two", "few", "many", "other")
"""The plural categories in the order of the forms of a catalogue (Unicode CLDR, plural rules)."""
ALIKE = {
    "bench.value-of",
    "hatch.no",
    "shared.pin",
    "command.NO",
    "kind.cable",
    "unit.min",
    "why.not-a-number",
    "why.signal",
}
"""Keys whose Spanish is the English, letter for letter, and rightly so."""
WITHOUT_ARABIC = {"bench.value-of", "why.not-a-number", "why.signal", "unit.percent"}
LATIN_IN_ARABIC = {"A0", "ATP", "D06", "ISO", "NUREG", "P", "PIN", "in", "n", "plus"}
"""Latin words that stand in Arabic sentences: names of values, rules and ids, and the readings of a dilution."""
NOT_SAID = {
    "en": re.compile(r"\b(sterile|certified|patient-ready)\b", re.IGNORECASE),
    "es": re.compile(r"\b(est[eé]ril\w*|certificad\w*|segur[oa]s?)\b", re.IGNORECASE),
    "ar": re.compile(r"معق[ّ]?م|تعقيم|عقيم|آمن|معتمد للمرضى"),
}
"""Words that promise what nobody here can promise."""
NAMED = {
    "bench-screen.away-command": ("HOLD", "FAIL", "DRIED-EARLY"),
    "bench-screen.look": ("NEXT",),
    "bench-screen.wet-now": ("RE-WET",),
    "bench.ask-yes-no": ("YES", "NO"),
    "bench.scan-command": ("YES", "NO"),
    "papers.defects.foot": ("FAIL",),
}
"""Texts that name commands of the sheet."""
FILES = [(language, area) for language in LANGUAGES for area in areas(language)]
TRANSLATED = [(language, area) for language in OTHERS for area in complete()]


def english(area: str) -> dict[str, tuple[str, ...]]:
    """Returns the English of an area; that of reasons and reminders stands where they are made."""
    found = dict(texts("en", area))
    if area == "board":
        found |= {f"board.say.{key}": (text,) for key, text in SAYINGS.items()}
    if area == "reasons":
        for key, (why, following) in SENTENCES.items():
            found |= {f"why.{key}": (why,), f"next.{key}": (following,)}
    return found


@pytest.mark.parametrize(("language", "area"), FILES)
def test_a_header_names_the_language_and_the_plurals_of_cldr(language: str, area: str) -> None:
    catalog = read(language, area)
    told = dict(catalog.mime_headers)
    assert str(catalog.locale) == language
    assert told["Content-Type"] == "text/plain; charset=utf-8"
    assert catalog.num_plurals == get_plural(language).num_plurals
    plural = texts_of(language)._own.plural
    tags = CATEGORIES if language == "ar" else ("one", "other")
    rule = Locale.parse(language).plural_form
    assert [tags[plural(number)] for number in range(1001)] == [rule(number) for number in range(1001)]
    assert catalog.plural_expr == read(language, "words").plural_expr


@pytest.mark.parametrize(("language", "area"), FILES)
def test_babel_finds_nothing_wrong(language: str, area: str) -> None:
    catalog: Catalog = read(language, area)
    assert [(one.id, found) for one, found in catalog.check()] == []
    assert not catalog.obsolete
    assert [one.id for one in catalog if one.id and one.fuzzy] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_key_stands_twice(language: str) -> None:
    keys = [key for area in areas(language) for key in texts(language, area)]
    assert sorted({key for key in keys if keys.count(key) > 1}) == []


@pytest.mark.parametrize(("language", "area"), FILES)
def test_no_text_is_empty_and_every_key_is_plain(language: str, area: str) -> None:
    for key, forms in texts(language, area).items():
        assert all(forms), key
        assert all(one == one.strip() for one in forms), key
        assert re.fullmatch(r"[a-z-]+(\.[A-Za-z0-9_-]+)+", key), key


@pytest.mark.parametrize(("language", "area"), TRANSLATED)
def test_an_area_is_whole_in_every_language(language: str, area: str) -> None:
    assert sorted(set(english(area)) ^ set(texts(language, area))) == []


@pytest.mark.parametrize("language", OTHERS)
def test_nothing_is_translated_that_english_lacks(language: str) -> None:
    known = {key for area in areas("en") for key in english(area)}
    assert sorted(set(whole(language)) - known) == []


@pytest.mark.parametrize(("language", "area"), FILES)
def test_every_language_has_the_same_places(language: str, area: str) -> None:
    wanted = english(area)
    for key, forms in texts(language, area).items():
        if key not in wanted:
            continue
        named = set().union(*(places(one) for one in wanted[key]))
        for form in forms:
            assert places(form) | {"count"} == named | {"count"}, (key, form)
        assert len(forms) == (1 if len(wanted[key]) == 1 else read(language, area).num_plurals), key


@pytest.mark.parametrize("area", areas("es"))
def test_spanish_is_not_english_by_accident(area: str) -> None:
    wanted = english(area)
    same = {key for key, forms in texts("es", area).items() if forms == wanted.get(key)}
    assert sorted(same - ALIKE) == []


@pytest.mark.parametrize("area", areas("ar"))
def test_arabic_is_written_in_arabic_letters(area: str) -> None:
    for key, forms in texts("ar", area).items():
        for form in forms:
            assert key in WITHOUT_ARABIC or ARABIC.search(form), key
            own = re.sub(r"`[^`]*`|\{[^}]*\}", "", form)
            assert set(re.findall(r"[A-Za-z][A-Za-z0-9]*", own)) <= LATIN_IN_ARABIC, (key, form)


@pytest.mark.parametrize("area", areas("ar"))
def test_arabic_files_hold_no_direction_marks(area: str) -> None:
    marks = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
    assert [key for key, forms in texts("ar", area).items() if any(marks.search(one) for one in forms)] == []


@pytest.mark.parametrize(("language", "area"), FILES)
def test_no_text_promises_too_much(language: str, area: str) -> None:
    found = {
        key: one for key, forms in texts(language, area).items() for one in forms if NOT_SAID[language].search(one)
    }
    assert found == {}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("area", catalogues.FACES)
def test_a_sentence_of_the_faces_has_at_most_twelve_words(language: str, area: str) -> None:
    long = {key: one for key, forms in texts(language, area).items() for one in forms if catalogues.longest(one) > 12}
    assert long == {}


def test_every_language_is_spoken_by_its_own_name() -> None:
    # Unicode CLDR, the names of languages in themselves.
    for language, name in LANGUAGES.items():
        assert (Locale.parse(language).get_display_name(language) or "").casefold() == name.casefold()


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("key", sorted(NAMED))
def test_a_command_is_named_as_the_sheet_prints_it(key: str, language: str) -> None:
    told = texts_of(language)
    for name in NAMED[key]:
        printed = re.split(r"[:(]", told.known("command", name))[0].strip()
        assert printed in told(key, number=1, items="B1")


def test_scanning_is_never_called_wiping_in_arabic() -> None:
    """The plain word for both is one word; at a bench where people wipe, a text must not be read as the other."""
    found = {key: one for key, forms in whole("ar").items() for one in forms if re.search(r"(?<!\w)[اي]مسح", one)}
    assert found == {}


def test_spanish_tells_what_to_do_in_one_way() -> None:
    """In the infinitive: nobody is addressed in one sentence and not in the next."""
    polite = re.compile(r"\b(escanee|mire|introduzca|espere|confirme|escriba|usted|pregunte|llame)\w*\b", re.IGNORECASE)
    assert {key: one for key, forms in whole("es").items() for one in forms if polite.search(one)} == {}
