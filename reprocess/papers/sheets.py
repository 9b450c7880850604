"""What stands on each sheet: words and codes, in the order in which they are printed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from reprocess.errors import WrongUseError
from reprocess.scan.code import FormTag, ItemTag, printed
from reprocess.scan.command import COMMANDS, DEFECTS, Command, Defect, Group, tag_of

FORM_ROWS: Final = 12
"""Lines of one form (our choice: an A4 page that a gloved hand can fill in)."""
TAGS_MOST: Final = 600
FORMS_MOST: Final = 100
"""Tags and forms of one file at most (our choice)."""
FORM_COLUMNS: Final = (
    "Item",
    "Step or fact",
    "Began",
    "Ended",
    "Who",
    "Second",
    "Lot or bath",
    "Temp., readings, answers",
)
"""What is filled in by hand; `reprocess form enter` asks for the same, in the same order."""
ON_THE_FORM: Final = ("START-CONTACT", "CONTACT-DONE", "RINSED", "DRY", "PASS", "FAIL", "HOLD")
"""The commands whose codes stand at the foot of a form, as on the command sheet."""


@dataclass(frozen=True, slots=True)
class Cell:
    """Is one code with the word beside it; `code` is the text in the code."""

    word: str
    code: str


@dataclass(frozen=True, slots=True)
class Block:
    """Is one band of cells under a title."""

    title: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """Is one numbered form: its number as text and as code."""

    number: str
    code: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """Is everything that one file of sheets says.

    Attributes:
        layout: a grid of codes, or one form a page.
        foot: the line at the foot of every page.
    """

    title: str
    layout: Literal["grid", "form"]
    foot: str
    blocks: tuple[Block, ...] = ()
    pages: tuple[Page, ...] = ()
    columns: tuple[str, ...] = field(default=FORM_COLUMNS)
    rows: int = FORM_ROWS

    def codes(self) -> list[str]:
        """Returns the text of every code on it, in the order in which they are printed."""
        return [cell.code for block in self.blocks for cell in block.cells] + [page.code for page in self.pages]


def command_sheet() -> Sheet:
    """Returns the sheet of commands, one band a group of work."""
    blocks = tuple(
        Block(str(group), tuple(_cell(one) for one in COMMANDS.values() if one.group is group)) for group in Group
    )
    return Sheet("Commands", "grid", "Scan the item, then the command.", blocks)


def defect_sheet() -> Sheet:
    """Returns the sheet of defects."""
    cells = tuple(_cell(one) for one in DEFECTS.values())
    return Sheet("Defects", "grid", "Scan Fail first, then the defect.", (Block("What is wrong", cells),))


def tag_sheet(items: Sequence[str]) -> Sheet:
    """Returns a sheet of item tags.

    Raises:
        WrongUseError: there are none or too many, one stands twice, or one is no id.
    """
    if not 0 < len(items) <= TAGS_MOST or len(set(items)) != len(items):
        message = f"Name from 1 to {TAGS_MOST} tags, each once."
        raise WrongUseError(message)
    cells = tuple(Cell(one, _printed(ItemTag(one, checked=True))) for one in items)
    return Sheet("Item tags", "grid", "Put each tag on its own item; two items never share one.", (Block("", cells),))


def form_sheet(numbers: Sequence[str]) -> Sheet:
    """Returns numbered forms for downtime, one a page.

    Raises:
        WrongUseError: there are none or too many, one stands twice, or one is no number of ours.
    """
    if not 0 < len(numbers) <= FORMS_MOST or len(set(numbers)) != len(numbers):
        message = f"Ask for 1 to {FORMS_MOST} forms, each number once."
        raise WrongUseError(message)
    pages = tuple(Page(one, _printed(FormTag(one, checked=True))) for one in numbers)
    strip = Block("", tuple(_cell(COMMANDS[name]) for name in ON_THE_FORM))
    foot = "Times as 14:05. No release and no issue of held items on paper. A supervisor countersigns."
    return Sheet("Paper form for downtime", "form", foot, (strip,), pages)


def numbers_from(first: str, count: int) -> list[str]:
    """Returns so many form numbers that follow each other: `FEN-0101`, `FEN-0102`, ...

    Raises:
        WrongUseError: the first one does not end in a group of digits, or the digits run out.
    """
    head, hyphen, digits = first.rpartition("-")
    if not (hyphen and digits.isascii() and digits.isdigit()) or len(str(int(digits) + count - 1)) > len(digits):
        message = f"A form's number ends in digits with room to count, such as FEN-0101, not {first[:40]!r}."
        raise WrongUseError(message)
    return [f"{head}-{int(digits) + more:0{len(digits)}d}" for more in range(count)]


def _cell(line: Command | Defect) -> Cell:
    return Cell(line.word, printed(tag_of(line)))


def _printed(tag: ItemTag | FormTag) -> str:
    try:
        return printed(tag)
    except ValueError as fault:
        raise WrongUseError(str(fault)) from fault
