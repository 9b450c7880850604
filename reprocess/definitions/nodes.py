"""Text to a tree of nodes: mappings, lists and words with their places, and nothing that YAML would guess.

Events of the YAML parser are walked one at a time, so that a text is dropped at the first limit it breaks; nothing is
resolved or constructed. Anchors, aliases, tags and directives are refused: they hide what a reader would approve.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    NodeEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
    StreamEndEvent,
)

from reprocess.definitions.faults import Found, shown

TEXT_BYTES_MAX = 512 * 1024
"""Longest text of a definition, as UTF-8 (our choice); the longest one we ship is under 10 KiB."""
TEXT_LINES_MAX = 50_000
"""Most lines of a text (our choice); beyond that a person has not written it."""
NESTING_MAX = 8
"""Deepest nesting of blocks and lists (our choice); the models need six."""
NODES_MAX = 20_000
"""Most values in one text (our choice); more are not read, so that any text is answered within two seconds."""

_HIDDEN = re.compile(
    "^%|[\x00-\x09\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufeff\ufffe\uffff]|\r(?!\n)",
    re.MULTILINE,
)
_STYLES: dict[str | None, Literal["plain", "quoted", "block"]] = {
    "'": "quoted",
    '"': "quoted",
    "|": "block",
    ">": "block",
}
_PLAINLY = {
    "mapping values are not allowed": "a second `: ` on one line, or a line indented too far; put text that holds "
    "`: ` in quotation marks",
    "could not find expected ':'": "a key without its `: ` before this place",
    "found unexpected end of stream": "a quotation mark is opened here and never closed",
    "found unexpected document separator": "`---` or `...` inside quotation marks",
    "expected <block end>": "this line is indented unlike the lines above it",
    "found duplicate anchor": "an anchor; write the value out where it is needed",
}


@dataclass(frozen=True, slots=True)
class Words:
    """Is a scalar as it was written: text and whether it stood in quotation marks or in a `>` or `|` block."""

    line: int
    column: int
    text: str
    style: Literal["plain", "quoted", "block"]


@dataclass(frozen=True, slots=True)
class ListNode:
    """Is a list; `whole` is False when the text could not be read to its end."""

    line: int
    column: int
    members: tuple[Node, ...]
    whole: bool


@dataclass(frozen=True, slots=True)
class MapNode:
    """Is a block of `key: value` lines in the order of the text; every key once."""

    line: int
    column: int
    pairs: tuple[tuple[Words, Node], ...]
    whole: bool


@dataclass(frozen=True, slots=True)
class Unusable:
    """Stands where an alias, a tagged value or the end of what was read is; its fault is already noted."""

    line: int
    column: int


Node = Words | ListNode | MapNode | Unusable


def has_hidden_characters(text: str) -> bool:
    """Returns whether a value holds a control character, a line break or a sign that turns the reading order."""
    return "\n" in text or "\r" in text or any(match.group() != "%" for match in _HIDDEN.finditer(text))


def nodes_of(text: str, found: Found) -> Node | None:
    """Returns the one document of a text as nodes, as far as it can be read, and notes what is wrong with it.

    Hidden characters and size are judged first: a text that has them is not looked into further.
    """
    if len(text) > TEXT_BYTES_MAX or len(text.encode(errors="surrogatepass")) > TEXT_BYTES_MAX:
        found.add(1, 1, "", f"The text is longer than {TEXT_BYTES_MAX // 1024} KiB.")
        return None
    if text.count("\n") > TEXT_LINES_MAX:
        found.add(1, 1, "", f"The text has more than {TEXT_LINES_MAX} lines.")
        return None
    _note_hidden(text, found)
    if found.faults:
        return None
    return _Composer(text, found).document()


def _note_hidden(text: str, found: Found) -> None:
    for match in _HIDDEN.finditer(text):
        if found.is_full:
            found.left_out += 1
            continue
        start = match.start()
        line = text.count("\n", 0, start) + 1
        column = start - text.rfind("\n", 0, start)
        found.add(line, column, "", _hidden_sentence(match.group()))


def _hidden_sentence(character: str) -> str:
    if character == "\t":
        return "A tab; indent with spaces, two for each level."
    if character == "%":
        return "A `%` directive, or a line that begins with `%`; delete it."
    if character == "\ufeff":
        return "A byte order mark; save the text as UTF-8 without it."
    return f"A hidden character (U+{ord(character):04X}); delete it."


class _Composer:
    """Builds nodes from the parser's events, under the limits above."""

    def __init__(self, text: str, found: Found) -> None:
        self.found = found
        self.events: Iterator[Event] = YAML(typ="base", pure=True).parse(text)
        self.nodes = 0
        self.stopped = False

    def document(self) -> Node | None:
        """Returns the document's root, or None when there is none."""
        event = self._next()
        while event is not None and not isinstance(event, DocumentStartEvent | StreamEndEvent):
            event = self._next()
        if event is None:
            return None
        if isinstance(event, StreamEndEvent):
            self._note(event, "The text is empty.")
            return None
        first = self._next()
        root = self._node(first, 1) if first is not None else None
        self._end_of_stream()
        return root

    def _end_of_stream(self) -> None:
        event = self._next()
        while event is not None:
            if isinstance(event, DocumentStartEvent):
                self._note(event, "A second document begins here; one text holds one definition.")
                return
            event = self._next()

    def _next(self) -> Event | None:
        if self.stopped or self.found.is_full:
            return None
        try:
            return next(self.events, None)
        except MarkedYAMLError as fault:
            self.stopped = True
            self._note_layout(fault)
        except (YAMLError, ValueError, OverflowError):
            # The parser turns escapes such as "\UFFFFFFFF" into characters without a check of its own.
            self.stopped = True
            self.found.add(1, 1, "", "An escape such as `\\U00110000` in this text names no character.")
        return None

    def _note_layout(self, fault: MarkedYAMLError) -> None:
        problem = fault.problem or ""
        sentence = next(
            (words for start, words in _PLAINLY.items() if start in problem),
            "the layout cannot be read here; look at indentation, colons, brackets and quotation marks",
        )
        opened = "never closed" in sentence and fault.context_mark is not None
        mark = fault.context_mark if opened else fault.problem_mark or fault.context_mark
        line, column = (mark.line + 1, mark.column + 1) if mark is not None else (1, 1)
        self.found.add(line, column, "", sentence[0].upper() + sentence[1:] + ".")

    def _note(self, event: Event, sentence: str) -> None:
        mark = event.start_mark
        self.found.add(mark.line + 1, mark.column + 1, "", sentence)

    def _node(self, event: Event, depth: int) -> Node:
        line, column = event.start_mark.line + 1, event.start_mark.column + 1
        self.nodes += 1
        if self.nodes > NODES_MAX:
            self.stopped = True
            self._note(event, f"More than {NODES_MAX} values; the text was not read further.")
        elif depth > NESTING_MAX and not isinstance(event, ScalarEvent):
            self.stopped = True
            self._note(event, f"Nested deeper than {NESTING_MAX} levels; the text was not read further.")
        if self.stopped or self._is_refused(event):
            self._skip(event)
            return Unusable(line, column)
        if isinstance(event, SequenceStartEvent):
            return self._list(line, column, depth)
        if isinstance(event, MappingStartEvent):
            return self._mapping(line, column, depth)
        return self._words(event, line, column)

    def _is_refused(self, event: Event) -> bool:
        if isinstance(event, AliasEvent):
            self._note(event, "An alias (`*`); write the value out here.")
            return True
        if isinstance(event, NodeEvent) and event.anchor is not None:
            self._note(event, "An anchor (`&`); write the value out where it is needed.")
            return True
        if getattr(event, "tag", None) is not None:
            self._note(event, f"A tag ({shown(str(getattr(event, 'tag', '')))}); delete it.")
            return True
        return False

    def _skip(self, event: Event | None) -> None:
        """Passes over what belongs to a refused node, noting the refused nodes inside it."""
        open_ones = 0
        while event is not None:
            if isinstance(event, SequenceStartEvent | MappingStartEvent):
                open_ones += 1
            elif isinstance(event, SequenceEndEvent | MappingEndEvent):
                open_ones -= 1
            if open_ones == 0:
                return
            event = self._next()
            if event is not None:
                self._is_refused(event)

    @staticmethod
    def _words(event: Event, line: int, column: int) -> Words:
        style = _STYLES.get(getattr(event, "style", None), "plain")
        text = str(getattr(event, "value", ""))
        # A `>` block ends with a line break that nobody means.
        return Words(line, column, text.rstrip("\n") if style == "block" else text, style)

    def _list(self, line: int, column: int, depth: int) -> ListNode:
        members: list[Node] = []
        while (event := self._next()) is not None:
            if isinstance(event, SequenceEndEvent):
                return ListNode(line, column, tuple(members), whole=True)
            members.append(self._node(event, depth + 1))
        return ListNode(line, column, tuple(members), whole=False)

    def _mapping(self, line: int, column: int, depth: int) -> MapNode:
        pairs: dict[str, tuple[Words, Node]] = {}
        while (event := self._next()) is not None:
            if isinstance(event, MappingEndEvent):
                return MapNode(line, column, tuple(pairs.values()), whole=True)
            key = self._node(event, depth + 1)
            held = self._next()
            if held is None:
                break
            value = self._node(held, depth + 1)
            if isinstance(value, Words) and not value.text and value.style == "plain":
                # The parser places what is not there at the word that comes next.
                value = Words(key.line, key.column, "", "plain")
            if not isinstance(key, Words):
                self._note_key(key)
            elif key.text in pairs:
                first = pairs[key.text][0]
                self.found.add(
                    key.line,
                    key.column,
                    "",
                    f"The key {shown(key.text)} stands twice, in line {first.line} and in line {key.line}.",
                )
            else:
                pairs[key.text] = (key, value)
        return MapNode(line, column, tuple(pairs.values()), whole=False)

    def _note_key(self, key: Node) -> None:
        if not isinstance(key, Unusable):
            self.found.add(key.line, key.column, "", "A key is one word, not a block or a list.")
