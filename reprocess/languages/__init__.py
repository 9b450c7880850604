"""The texts that people read, by key, in every language that this program speaks: gettext catalogues, one an area.

    <language>/<area>.po    msgid is the key, such as `bench.scan-item`; msgstr the sentence with its {named} places

English is complete. Where another language lacks a key, the English text stands in, marked as English. The reasons of
the rules have their English in `reprocess.rules.words`, as the record's own words do; here are their translations.
"""

from reprocess.languages.texts import LANGUAGES, Text, Texts, texts_of

__all__ = ["LANGUAGES", "Text", "Texts", "texts_of"]
