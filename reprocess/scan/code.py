"""What one scanned or typed string is.

A code that we print is a kind, an id and a check character: `I:BLW-0041.W`. The kinds are I item,
B badge, C command, S solution, P place, F paper form. The check character stands over the kind and the id, so
that neither a wrong character nor a wrong kind goes unnoticed. Typed by hand, the check character
may be left out, and an item may be its bare id; the tag then says that it is not checked, and the
station may ask for it twice (edge case E20). A bare id holds a letter, as a number alone is a
reading or the barcode of a product. No two ids may differ by their hyphens alone.

A maker's label on a device starts as ours never do. It names a model or a lot before it names an item,
so it is no tag; `reprocess.scan.device_label` reads it.
"""

from dataclasses import dataclass
from enum import StrEnum, unique
from typing import TypeAlias

from reprocess.scan.check_character import ALPHABET, check_character

CHARACTERS_MAX = 128
"""Longer input is refused before it is looked at. Our own choice."""

ID_CHARACTERS_MAX = 32
"""An id that people can still compare by eye, with room. Our own choice."""

ECHO_CHARACTERS_MAX = 24

_ALPHANUMERIC = frozenset(ALPHABET)
_MAKERS_FIRST = ("]", "(", "+", "=", "&")
"""A symbology identifier, or the first character of a standard's device label."""


@dataclass(frozen=True, slots=True)
class ItemTag:
    """The tag of one reusable part, or of a batch of counted ones."""

    id: str
    checked: bool


@dataclass(frozen=True, slots=True)
class BadgeTag:
    """The badge of a person; who may act is judged by the person, never by the badge."""

    id: str
    checked: bool


@dataclass(frozen=True, slots=True)
class CommandTag:
    """One line of a command sheet."""

    id: str
    checked: bool


@dataclass(frozen=True, slots=True)
class SolutionTag:
    """The label of a prepared bath or an opened container."""

    id: str
    checked: bool


@dataclass(frozen=True, slots=True)
class StationTag:
    """The label of a place where work is done."""

    id: str
    checked: bool


@dataclass(frozen=True, slots=True)
class FormTag:
    """The number of a paper form, printed on it before it is filled in."""

    id: str
    checked: bool


@unique
class CodeFault(StrEnum):
    """What kept a string from being a code; the values are stored words."""

    EMPTY = "empty"
    TOO_LONG = "too-long"
    NOT_ASCII = "not-ascii"
    CONTROL_CHARACTER = "control-character"
    MAKERS_LABEL = "makers-label"
    UNKNOWN_KIND = "unknown-kind"
    NOT_AN_ID = "not-an-id"
    WRONG_CHECK_CHARACTER = "wrong-check-character"


_SENTENCES = {
    CodeFault.EMPTY: "Nothing was scanned; scan the tag again.",
    CodeFault.TOO_LONG: "That is too long for one of our tags; scan the tag again.",
    CodeFault.NOT_ASCII: "That holds characters that our tags never use; scan the tag again.",
    CodeFault.CONTROL_CHARACTER: "That holds hidden characters; scan the tag again.",
    CodeFault.MAKERS_LABEL: "That is the maker's own label; scan our tag on the same part.",
    CodeFault.UNKNOWN_KIND: "That is no kind of tag that we print; look for our own tag.",
    CodeFault.NOT_AN_ID: "That is not an id of ours; scan the tag again or type its id.",
    CodeFault.WRONG_CHECK_CHARACTER: "The check character is wrong; scan or type it again.",
}


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A string that is no code; `echo` is a harmless shortened copy that may be shown."""

    fault: CodeFault
    echo: str

    @property
    def reason(self) -> str:
        """Returns the reason as one sentence for the operator."""
        return _SENTENCES[self.fault]


Tag: TypeAlias = ItemTag | BadgeTag | CommandTag | SolutionTag | StationTag | FormTag
Code: TypeAlias = Tag | Unreadable

_KINDS: dict[str, type[Tag]] = {
    "I": ItemTag,
    "B": BadgeTag,
    "C": CommandTag,
    "S": SolutionTag,
    "P": StationTag,
    "F": FormTag,
}
_LETTERS = {kind: letter for letter, kind in _KINDS.items()}


def read_code(scanned: str) -> Code:
    """Returns what the string is; every string has an answer.

    Lower case is folded to upper. The work grows with the length of the input, up to the greatest
    length, and not beyond.
    """
    fault = _strange_text(scanned)
    if fault is not None:
        return Unreadable(fault, echo(scanned))
    # Folding is safe only now: outside ASCII some small letters become a capital I or S.
    letter, colon, rest = scanned.upper().rpartition(":")
    kind = _KINDS.get(letter if colon else "I")
    if kind is None:
        return Unreadable(CodeFault.UNKNOWN_KIND, echo(scanned))
    identity, point, check = rest.partition(".")
    if not _is_id(identity) or (not colon and _is_number(identity)):
        return Unreadable(CodeFault.NOT_AN_ID, echo(scanned))
    if point and check != _check(kind, identity):
        return Unreadable(CodeFault.WRONG_CHECK_CHARACTER, echo(scanned))
    return kind(identity, checked=bool(point))


def printed(tag: Tag) -> str:
    """Returns the text that goes into the barcode of this tag, check character included.

    Raises:
        ValueError: the id could not be read back.
    """
    if not _is_id(tag.id):
        sentence = f"{tag.id!r} is not an id: capital letters, digits and single hyphens, up to 32."
        raise ValueError(sentence)
    return f"{_LETTERS[type(tag)]}:{tag.id}.{_check(type(tag), tag.id)}"


def echo(scanned: str) -> str:
    """Returns the start of what was scanned, with a question mark for what a screen must not show."""
    start = scanned[:ECHO_CHARACTERS_MAX]
    return "".join(character if character.isascii() and character.isprintable() else "?" for character in start)


def _strange_text(scanned: str) -> CodeFault | None:
    if not scanned:
        return CodeFault.EMPTY
    if len(scanned) > CHARACTERS_MAX:
        return CodeFault.TOO_LONG
    if not scanned.isascii():
        return CodeFault.NOT_ASCII
    if scanned.startswith(_MAKERS_FIRST):
        return CodeFault.MAKERS_LABEL
    return None if scanned.isprintable() else CodeFault.CONTROL_CHARACTER


def _is_id(text: str) -> bool:
    """Returns whether the text is groups of capitals and digits joined by single hyphens."""
    groups = text.split("-")
    return len(text) <= ID_CHARACTERS_MAX and all(group and _ALPHANUMERIC.issuperset(group) for group in groups)


def _is_number(identity: str) -> bool:
    return identity.replace("-", "").isdigit()


def _check(kind: type[Tag], identity: str) -> str:
    # The hyphens are no part of the standard's alphabet; they only help the eye.
    return check_character(_LETTERS[kind] + identity.replace("-", ""))
