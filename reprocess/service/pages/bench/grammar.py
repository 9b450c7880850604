"""How scans at a bench become one sentence: an item then its command, or a command then many items.

A sentence that is not finished travels with the page, so that any node goes on with it. Nothing here asks anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from reprocess.service.scanning import FACTS, UNKNOWN, UNREADABLE, Scanned

ACTS: Final = frozenset({"NEXT", "REPEAT", "LANGUAGE", "HELP", "UNDO"})
"""Commands on which the screen acts at once, whatever was scanned before."""
ANSWERS: Final = frozenset({"YES", "NO"})
WITH: Final = frozenset({"solution", "instrument", "load", "lot"})
"""What a sentence names beside its items, one of each sort; it stays for the next item of a batch."""
ELSEWHERE: Final = frozenset({"station", "place", "form"})
"""What means nothing at a bench."""
BATCH_MS: Final = 30_000
"""How long a command waits for its next item (our choice: half a minute)."""
ITEM_MS: Final = 120_000
"""How long an item waits for its command, so that nobody's command meets somebody else's item (our choice)."""
PENDING_MOST: Final = 20
"""Codes of one unfinished sentence at most (our choice)."""


@dataclass(frozen=True, slots=True)
class Word:
    """Is one code of a sentence: the string as it came, and what it means."""

    text: str
    seen: Scanned

    @property
    def sort(self) -> str:
        """Returns its place in the grammar: item, command, answer, badge, number, defect, or what it is of."""
        if self.seen.sort == "command" and self.seen.name in ANSWERS:
            return "answer"
        return "item" if self.seen.sort == UNKNOWN and self.seen.name is not None else self.seen.sort


Sentence = tuple[Word, ...]


def of_sort(sentence: Sentence, *sorts: str) -> Sentence:
    """Returns the words of some sorts, in their order."""
    return tuple(one for one in sentence if one.sort in sorts)


def without(sentence: Sentence, *sorts: str) -> Sentence:
    """Returns a sentence without the words of some sorts."""
    return tuple(one for one in sentence if one.sort not in sorts)


def is_batch(sentence: Sentence) -> bool:
    """Tells whether the command came first, so that it waits for the next item."""
    first = next((one.sort for one in sentence if one.sort in {"item", "command"}), None)
    return first == "command"


def acts(word: Word) -> str | None:
    """Returns the command on which the screen acts at once, or None."""
    return word.seen.name if word.seen.sort == "command" and word.seen.name in ACTS else None


def means_nothing(word: Word) -> bool:
    """Tells whether a code cannot be part of any sentence of a bench."""
    lost = word.seen.sort == UNKNOWN and word.seen.name is None
    return lost or word.sort == UNREADABLE or word.sort in ELSEWHERE


def is_denied(sentence: Sentence, word: Word) -> bool:
    """Tells whether a word says that something was done of which somebody said No just before."""
    said_no = any(one.seen.name == "NO" for one in of_sort(sentence, "answer"))
    says_so = word.seen.name == "YES" if word.sort == "answer" else word.seen.name not in FACTS
    return said_no and word.sort in {"answer", "command"} and says_so


def joined(sentence: Sentence, word: Word) -> Sentence:
    """Returns a sentence with one more word; what the word takes the place of is left out.

    A No is not wiped out by one scan: what says otherwise only lets the item be shown once more.
    """
    if is_denied(sentence, word):
        return without(sentence, "answer", "number")
    match word.sort:
        case "item":
            return _with_item(sentence, word)
        case "command":
            return _with_command(sentence, word)
        case "answer" | "badge":
            return (*without(sentence, word.sort), word)
        case _ if word.sort in WITH:
            return (*without(sentence, word.sort), word)
        case _:
            return (*sentence, word)


def _with_item(sentence: Sentence, word: Word) -> Sentence:
    """Returns the sentence for another item: a batch goes on with it, else a new sentence begins."""
    beside = of_sort(sentence, *WITH)
    if is_batch(sentence):
        named = of_sort(sentence, "defect") if not of_sort(sentence, "item") else ()  # for the first item alone
        return (*of_sort(sentence, "command"), *named, *beside, word)
    return (*beside, word) if not of_sort(sentence, "item") else (word,)


def _with_command(sentence: Sentence, word: Word) -> Sentence:
    """Returns the sentence with another command: of the item that waits for one, else a batch begins anew."""
    if is_batch(sentence):
        return (word,)
    return (*of_sort(sentence, "item", *WITH), word)


def begun(sentence: Sentence) -> Sentence:
    """Returns a sentence, or nothing where what was scanned answers no question and begins nothing."""
    return sentence if of_sort(sentence, "item", "command", *WITH) else ()


def rest(sentence: Sentence) -> Sentence:
    """Returns what stays once a sentence was asked: of a batch its command and what goes with it, else nothing."""
    return of_sort(sentence, "command", *WITH) if is_batch(sentence) else ()


def is_over(sentence: Sentence, waited_ms: int) -> bool:
    """Tells whether an unfinished sentence waited too long for its next word, or nobody knows how long.

    A clock that was set back makes no sentence wait longer.
    """
    return bool(sentence) and abs(waited_ms) > (BATCH_MS if is_batch(sentence) else ITEM_MS)


def turned(steps: Sequence[str], offered: str | None) -> str | None:
    """Returns the step that `Next` shows after another one, of those that may come next; None where there is none."""
    if not steps:
        return None
    return steps[(steps.index(offered) + 1) % len(steps)] if offered in steps else steps[0]
