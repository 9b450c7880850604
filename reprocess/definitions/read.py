"""Text to a workflow, an agent, a configuration or a profile, or to every fault in it with its line.

Faults are found in three rounds: hidden characters and size; the layout of the text; then keys, values and what they
mean together. A text that fails a round is still judged by the next one as far as it can be read, except that
nothing is read from a text with hidden characters.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from enum import Enum
from functools import lru_cache
from typing import TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from reprocess.definitions.block import UNSOURCED, Sourced
from reprocess.definitions.configuration import Configuration
from reprocess.definitions.faults import Faults, Found, shown
from reprocess.definitions.label import Agent
from reprocess.definitions.lines import Check, Count, Reading
from reprocess.definitions.model import Never, Step, Workflow
from reprocess.definitions.nodes import ListNode, MapNode, Node, Unusable, Words, nodes_of
from reprocess.definitions.profile import Profile, ReadinessLine, ReinspectionLine
from reprocess.definitions.scalars import Wrong, converted
from reprocess.definitions.shapes import Block, Several, Shape, name_key, shapes_of
from reprocess.definitions.times import Limit
from reprocess.definitions.wording import sentence
from reprocess.terms import Digest

__all__ = ["digest_of", "line_of_step", "read_as", "read_definition"]

Wanted = TypeVar("Wanted", bound=BaseModel)

Definition = Workflow | Agent | Configuration | Profile
"""What a text can hold."""
MODELS: Mapping[str, type[Definition]] = {
    "workflow": Workflow,
    "agent": Agent,
    "configuration": Configuration,
    "profile": Profile,
}
"""Which model a text is read as, by its first key."""
_ONCE_EACH: tuple[type[BaseModel], ...] = (
    Step,
    Check,
    Reading,
    Count,
    Limit,
    Never,
    ReinspectionLine,
    ReadinessLine,
)
"""Blocks of which a list holds one of a name; a label's rows and the slots of a configuration may repeat theirs."""
_KEY_SHOWN_MAX = 60


class _Bad(Enum):
    """Marks a value that is not used further because its fault is noted."""

    BAD = "bad"


_BAD = _Bad.BAD


TEXTS_MOST = 256
"""Texts whose reading is remembered; a department has some fifty."""


def read_definition(text: str, *, name: str) -> Definition | Faults:
    """Returns the definition that a text holds, or every fault found in it; never raises, whatever the text.

    Args:
        text: YAML; the first key says what it is: `workflow`, `agent`, `configuration` or `profile`.
        name: what the text is called in the faults, such as its file's name.
    """
    definition, found = _read(text)
    return definition if definition is not None and not found.faults else found.under(name)


@lru_cache(maxsize=TEXTS_MOST)
def _read(text: str) -> tuple[Definition | None, Found]:
    """Returns what a text holds and what was found in it; the same text is read once, for reading is slow and pure."""
    found = Found()
    root = nodes_of(text, found)
    return _definition(root, found) if root is not None else None, found


def read_as(text: str, model: type[Wanted], *, name: str) -> Wanted | Faults:
    """Returns a text read as any strict model, or every fault found in it; never raises, whatever the text."""
    found = Found()
    root = nodes_of(text, found)
    built = _Walk(found).block(root, model, "") if root is not None else None
    return built if isinstance(built, model) and not found.faults else found.under(name)


def digest_of(text: str) -> Digest:
    """Returns the SHA-256 of a text as 64 hexadecimal digits.

    It is over exactly the characters of the text, as UTF-8, line ends and comments included: what was approved is
    what was approved. A text that differs in anything is another text.
    """
    return Digest(hashlib.sha256(text.encode(errors="surrogatepass")).hexdigest())


def line_of_step(text: str, step: str) -> int:
    """Returns the line on which a workflow's step begins, for a finding about it; 1 when it has no such step."""
    root = nodes_of(text, Found())
    listed = _under(root, "steps")
    for member in listed.members if isinstance(listed, ListNode) else ():
        called = _under(member, "step")
        if isinstance(called, Words) and called.text == step:
            return called.line
    return 1


def _under(node: Node | None, key: str) -> Node | None:
    pairs = node.pairs if isinstance(node, MapNode) else ()
    return next((value for held, value in pairs if held.text == key), None)


def _definition(root: Node, found: Found) -> Definition | None:
    if not isinstance(root, MapNode):
        if not isinstance(root, Unusable):
            found.add(root.line, root.column, "", "The text holds no `key: value` lines.")
        return None
    keys = [key.text for key, _ in root.pairs]
    kinds = [key for key in keys if key in MODELS]
    if (keys or root.whole) and (not kinds or kinds[0] != keys[0]):
        known = ", ".join(f"`{kind}`" for kind in MODELS)
        found.add(root.line, root.column, "", f"The first key says what the text is: {known}.")
    if not kinds:
        return None
    built = _Walk(found).block(root, MODELS[kinds[0]], "")
    return built if isinstance(built, Definition) else None


@dataclass(slots=True)
class _Parts:
    """Is what was read of one block: usable values, and the keys whose fault is noted already."""

    node: MapNode
    path: str
    values: dict[str, object]
    bad: set[str]
    is_sound: bool

    def place(self, key: str) -> tuple[int, int]:
        """Returns where the value of a key stands; the block itself when it has no such key."""
        held = _under(self.node, key)
        return (held.line, held.column) if held is not None else (self.node.line, self.node.column)

    def figures(self) -> Iterator[str]:
        """Yields the keys of numbers."""
        for key, value in self.values.items():
            if isinstance(value, int | Decimal) and not isinstance(value, bool):
                yield key


class _Walk:
    """Walks nodes beside the models, noting faults; a block is handed to its model as soon as its parts are read."""

    def __init__(self, found: Found) -> None:
        self.found = found

    def block(self, node: Node, model: type[BaseModel], path: str) -> BaseModel | _Bad:
        """Returns the model's instance, or that its faults are noted."""
        if not isinstance(node, MapNode):
            self._note(node, path, "Here `key: value` lines are wanted.")
            return _BAD
        shapes = shapes_of(model)
        parts = _Parts(node, path, {}, set(), node.whole)
        for key, held in node.pairs:
            if key.text not in shapes:
                self._note_unknown(key, model, path)
                parts.is_sound = False
                continue
            value = self._value(held, shapes[key.text], f"{path}.{key.text}" if path else key.text)
            if isinstance(value, _Bad):
                parts.bad.add(key.text)
                parts.is_sound = False
            else:
                parts.values[key.text] = value
        return self._built(parts, model)

    def _value(self, node: Node, shape: Shape, path: str) -> object:
        match shape:
            case Block():
                return self.block(node, shape.model, path)
            case Several():
                return self._several(node, shape, path)
            case _:
                if not isinstance(node, Words):
                    self._note(node, path, "Here one value is wanted, not a block or a list.")
                    return _BAD
                value = converted(path.rpartition(".")[2], node, shape)
                if isinstance(value, Wrong):
                    self._note(node, path, value.sentence)
                    return _BAD
                return value

    def _several(self, node: Node, shape: Several, path: str) -> object:
        if not isinstance(node, ListNode):
            self._note(node, path, "Here a list is wanted: lines that begin with `- `, or `[one, two]`.")
            return _BAD
        values = []
        called: dict[str, int] = {}
        sound = node.whole
        for number, member in enumerate(node.members[: shape.most], start=1):
            name = self._once(member, shape, called, path)
            value = self._value(member, shape.member, f"{path}[{name or number}]")
            sound = sound and not isinstance(value, _Bad)
            values.append(value)
        if len(node.members) > shape.most:
            self._note(node.members[shape.most], path, f"The list has more than {shape.most} members.")
            sound = False
        return tuple(values) if sound else _BAD

    def _once(self, member: Node, shape: Several, called: dict[str, int], path: str) -> str | None:
        """Returns what a member is called, noting a name that stands twice."""
        model = shape.member.model if isinstance(shape.member, Block) else None
        words = _under(member, name_key(model)) if model is not None else member
        if not isinstance(words, Words):
            return None
        name = words.text[:_KEY_SHOWN_MAX]
        if model is None or model in _ONCE_EACH:
            first = called.get(name)
            called.setdefault(name, words.line)
            if first is not None:
                both = f"in line {first} and in line {words.line}"
                self._note(words, path, f"{shown(name)} stands twice in this list, {both}.")
        return name if model is not None else None

    def _note(self, node: Node, path: str, words: str) -> None:
        if not isinstance(node, Unusable):
            self.found.add(node.line, node.column, path, words)

    def _note_unknown(self, key: Words, model: type[BaseModel], path: str) -> None:
        if self.found.is_full:
            self.found.left_out += 1
            return
        known = list(shapes_of(model))
        near = get_close_matches(key.text[:_KEY_SHOWN_MAX], known, n=1, cutoff=0)[0]
        self.found.add(
            key.line,
            key.column,
            path,
            f"The key {shown(key.text)} is not known here; the nearest one is `{near}`.",
        )

    def _built(self, parts: _Parts, model: type[BaseModel]) -> BaseModel | _Bad:
        unsourced = self._note_unsourced(parts, model)
        try:
            built = model.model_validate(parts.values)
        except ValidationError as refused:
            for error in refused.errors(include_url=False):
                self._note_refused(parts, error)
            return _BAD
        return built if parts.is_sound and not unsourced else _BAD

    def _note_unsourced(self, parts: _Parts, model: type[BaseModel]) -> bool:
        """Notes a number without a source at the number itself, whatever else is wrong with its block."""
        first = next(parts.figures(), None)
        said = (
            parts.values.get("example") is True
            or "source" in parts.values
            or not parts.bad.isdisjoint({"source", "example"})
        )
        if first is None or said or not issubclass(model, Sourced):
            return False
        line, column = parts.place(first)
        self.found.add(line, column, parts.path, _as_sentence(UNSOURCED))
        return True

    def _note_refused(self, parts: _Parts, error: ErrorDetails) -> None:
        key = str(error["loc"][0]) if error["loc"] else ""
        if error["type"] == "missing":
            if parts.node.whole and key not in parts.bad:
                self._note(parts.node, parts.path, sentence(error))
        elif key:
            path = f"{parts.path}.{key}" if parts.path else key
            line, column = self._inside(parts, key, error["loc"][1:])
            self.found.add(line, column, path, sentence(error))
        elif parts.is_sound:
            self._note_whole(parts, error)

    def _note_whole(self, parts: _Parts, error: ErrorDetails) -> None:
        words = sentence(error)
        is_noted = words == _as_sentence(UNSOURCED) and next(parts.figures(), None) is not None
        if not is_noted:
            self._note(parts.node, parts.path, words)

    @staticmethod
    def _inside(parts: _Parts, key: str, rest: tuple[int | str, ...]) -> tuple[int, int]:
        """Returns the place of a value, or of the member of a list that the model named by its number."""
        held = _under(parts.node, key)
        if isinstance(held, ListNode) and rest and isinstance(rest[0], int):
            member = held.members[rest[0]]
            return member.line, member.column
        return parts.place(key)


def _as_sentence(words: str) -> str:
    return words[0].upper() + words[1:] + "."
