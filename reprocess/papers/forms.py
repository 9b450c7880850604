"""Numbered forms for downtime, with the same codes as the screens: what is written there is entered later."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from reprocess.errors import WrongUseError
from reprocess.papers.sheets import ENGLISH, Forms, Page, Sheet, cell_of, code_of, must_be_few, spoken
from reprocess.scan.code import FormTag
from reprocess.scan.command import COMMANDS

FORM_ROWS: Final = 12
"""Lines of one form (our choice: an A4 page that a gloved hand can fill in)."""
FORMS_MOST: Final = 100
"""Forms of one file at most (our choice)."""
COLUMNS: Final = ("item", "did", "began", "ended", "by", "with", "in", "readings")
"""What is filled in by hand; `reprocess form enter` asks for the same, in the same order, the readings last."""
SAID: Final = ("day", "station", "number", "entered-by", "countersigned-by")
NOTES: Final = ("times", "wet", "two-people", "never-on-paper")
"""The sentences on the form, in their order."""
ON_THE_FORM: Final = ("START-CONTACT", "CONTACT-DONE", "RINSED", "DRY", "PASS", "FAIL", "HOLD")
"""The commands whose codes stand at the foot of a form, as on the command sheet."""


def form_sheet(numbers: Sequence[str], language: str = ENGLISH) -> Sheet:
    """Returns numbered forms for downtime, one a page.

    Raises:
        WrongUseError: there are none or too many, one stands twice, or one is no number of ours.
    """
    texts = spoken(language)
    must_be_few(numbers, FORMS_MOST, "forms")
    body = Forms(
        pages=tuple(Page(one, code_of(FormTag(one, checked=True))) for one in numbers),
        said={name: texts(f"papers.form.{name}") for name in SAID},
        columns=tuple(texts(f"papers.form.column.{name}") for name in COLUMNS),
        notes=tuple(texts(f"papers.form.note.{name}") for name in NOTES),
        strip=tuple(cell_of(texts, COMMANDS[name]) for name in ON_THE_FORM),
        rows=FORM_ROWS,
    )
    return Sheet(texts("papers.form.title"), texts("papers.form.foot"), language, body)


def numbers_from(first: str, count: int) -> list[str]:
    """Returns so many form numbers that follow each other: `FEN-0101`, `FEN-0102`, ...

    Raises:
        WrongUseError: the first one does not end in a group of digits, the digits run out, or there are too many.
    """
    head, hyphen, digits = first.rpartition("-")
    if not 0 < count <= FORMS_MOST:
        message = f"Ask for 1 to {FORMS_MOST} forms at once."
        raise WrongUseError(message)
    if not (hyphen and digits.isascii() and digits.isdigit()) or len(str(int(digits) + count - 1)) > len(digits):
        message = f"A form's number ends in digits with room to count, such as FEN-0101, not {first[:40]!r}."
        raise WrongUseError(message)
    return [f"{head}-{int(digits) + more:0{len(digits)}d}" for more in range(count)]
