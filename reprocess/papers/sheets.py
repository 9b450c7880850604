"""What stands on each sheet: words and codes, in the order in which they are printed and in the language asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from reprocess.errors import WrongUseError
from reprocess.languages import LANGUAGES, Text, Texts, texts_of
from reprocess.papers.looks import OF_DEFECTS, OF_GROUPS, Look, defects_of
from reprocess.scan.code import FormTag, ItemTag, StationTag, printed
from reprocess.scan.command import COMMANDS, Command, Defect, tag_of

ENGLISH: Final = "en"


@dataclass(frozen=True, slots=True)
class Cell:
    """Is one code with the word beside it; `code` is the text in the code."""

    word: Text
    code: str


@dataclass(frozen=True, slots=True)
class Block:
    """Is one band of cells under a title."""

    title: Text
    look: Look
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """Is a sheet of codes to be scanned from the wall or the bench."""

    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """Is one numbered form: its number as text and as code."""

    number: str
    code: str


@dataclass(frozen=True, slots=True)
class Forms:
    """Is numbered forms, one a page.

    Attributes:
        said: the words printed on each, by the ends of their keys.
        columns: the headings, in the order in which the program asks for them.
        notes: the sentences under the lines.
        strip: the codes at the foot.
    """

    pages: tuple[Page, ...]
    said: dict[str, Text]
    columns: tuple[Text, ...]
    notes: tuple[Text, ...]
    strip: tuple[Cell, ...]
    rows: int


@dataclass(frozen=True, slots=True)
class Size:
    """Is the size of one tag in millimetres, and of the symbol on it.

    Attributes:
        name: as it is asked for.
        across: how many stand side by side on a page; one means a roll, a page a tag.
        symbol_most: the widest that a symbol may be, its quiet zone included.
        letters_most: the largest id, in points; a longer id is printed smaller.
    """

    name: str
    width: int
    height: int
    across: int
    symbol_most: int
    letters_most: int


@dataclass(frozen=True, slots=True)
class Tag:
    """Is one tag: the id for people, its check character, what it is, and the code.

    Attributes:
        letters: the size of the id in points.
    """

    id: str
    letters: Fraction
    check: Text
    kind: Text | None
    code: str


@dataclass(frozen=True, slots=True)
class Tags:
    """Is tags of one size.

    Attributes:
        boxes: what each leaves to be filled in by hand, none but on slips.
    """

    tags: tuple[Tag, ...]
    size: Size
    boxes: dict[str, Text]


@dataclass(frozen=True, slots=True)
class Line:
    """Is one line of a release label: what it is, and what the record says."""

    word: Text
    told: Text


@dataclass(frozen=True, slots=True)
class Label:
    """Is one release label; every value on it stands in the entry that it names."""

    title: Text
    item: str
    code: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Labels:
    """Is release labels, one a page of a roll."""

    labels: tuple[Label, ...]
    size: Size


@dataclass(frozen=True, slots=True)
class Sheet:
    """Is everything that one file of sheets says.

    Attributes:
        foot: the line at the foot of every page.
        banner: what must stand on it because of where the data come from.
    """

    title: Text
    foot: Text
    language: str
    body: Grid | Forms | Tags | Labels
    banner: tuple[Text, ...] = ()

    def codes(self) -> list[str]:
        """Returns the text of every code on it, in the order in which they are printed; a form's strip page by page."""
        match self.body:
            case Grid(blocks=blocks):
                return [cell.code for block in blocks for cell in block.cells]
            case Forms(pages=pages, strip=strip):
                return [code for page in pages for code in (page.code, *(cell.code for cell in strip))]
            case Tags(tags=tags):
                return [tag.code for tag in tags]
            case Labels(labels=labels):
                return [label.code for label in labels]


def command_sheet(language: str = ENGLISH) -> Sheet:
    """Returns the sheet of commands, one band a group of work.

    Raises:
        WrongUseError: this program does not speak the language.
    """
    texts = spoken(language)
    blocks = tuple(
        Block(
            texts(f"papers.group.{look.name}"),
            look,
            tuple(cell_of(texts, one) for one in COMMANDS.values() if one.group is group),
        )
        for group, look in OF_GROUPS.items()
    )
    return Sheet(texts("papers.commands.title"), texts("papers.commands.foot"), language, Grid(blocks))


def defect_sheet(language: str = ENGLISH) -> Sheet:
    """Returns the sheet of defects, one band a sort of part.

    Raises:
        WrongUseError: this program does not speak the language.
    """
    texts = spoken(language)
    blocks = tuple(
        Block(texts(f"papers.part.{look.name}"), look, tuple(cell_of(texts, one) for one in defects_of(look)))
        for look in OF_DEFECTS
    )
    return Sheet(texts("papers.defects.title"), texts("papers.defects.foot"), language, Grid(blocks))


def spoken(language: str) -> Texts:
    """Returns the texts of a language.

    Raises:
        WrongUseError: this program does not speak it.
    """
    if language not in LANGUAGES:
        message = f"The languages are {', '.join(LANGUAGES)}."
        raise WrongUseError(message)
    return texts_of(language)


def cell_of(texts: Texts, line: Command | Defect) -> Cell:
    """Returns the cell of one line of either sheet; its English word stands in where the language lacks one."""
    key = f"command.{line.name}" if isinstance(line, Command) else f"defect.{line.code}"
    word = texts(key) if texts.has(key) else Text(line.word, ENGLISH)
    return Cell(word, printed(tag_of(line)))


def code_of(tag: ItemTag | StationTag | FormTag) -> str:
    """Returns the text in the code of a tag.

    Raises:
        WrongUseError: its id is none of ours.
    """
    try:
        return printed(tag)
    except ValueError as fault:
        raise WrongUseError(str(fault)) from fault


def must_be_few(names: Sequence[str], most: int, what: str) -> None:
    """Raises unless there are so many names at most, at least one, and none twice.

    Raises:
        WrongUseError: otherwise.
    """
    if not 0 < len(names) <= most or len(set(names)) != len(names):
        message = f"Name from 1 to {most} {what}, each once."
        raise WrongUseError(message)
