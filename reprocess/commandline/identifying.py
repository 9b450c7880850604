"""From words about which thing an item is to requests."""

from __future__ import annotations

from reprocess.commandline.options import readable
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.errors import WrongUseError

WORDS = ("typed", "tag", "untag", "doubt", "split", "rename", "not-this-item")
"""What `reprocess log` says about an item's identity (E14, E20-E22)."""


def request_about(item: str, what: str, action: str | None, note: str | None) -> Request | None:
    """Returns the request that the words mean, or None where they are about something else.

    Raises:
        WrongUseError: the word needs another one after it.
    """
    if what not in WORDS:
        return None
    match what, action:
        case "typed", _:
            return asking.TypeCode(item, readable(action) if action is not None else None)
        case "doubt", _:
            return asking.DoubtIdentity(item, note or "not said", readable(action) if action is not None else None)
        case "tag", str():
            return asking.GiveTag(item, readable(action))
        case "untag", str():
            return asking.WithdrawTag(item, readable(action), note or "not said")
        case "rename", str():
            return asking.Recommission(item, readable(action), note or "not said")
        case "not-this-item", str():
            return asking.Correct(item, _number(action), note or "another item was meant", mistaken=True)
        case "split", str():
            other, _, numbers = action.partition("/")
            return asking.SplitHistory(item, readable(other), _numbers(numbers), note or "not said")
        case _:
            message = f"Say what, such as `{_EXAMPLES[what]}`."
            raise WrongUseError(message)


_EXAMPLES = {
    "tag": "tag BLW-0041-N2",
    "untag": "untag BLW-0041-N2",
    "rename": "rename BLW-0901",
    "not-this-item": "not-this-item 12",
    "split": "split BLW-0042/12,13",
}


def _numbers(text: str) -> tuple[int, ...]:
    return tuple(_number(one) for one in text.split(","))


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 9):
        message = f"An entry is named by its number in the item's history, not {text[:20]!r}."
        raise WrongUseError(message)
    return int(text)
