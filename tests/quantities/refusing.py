"""What a quantity answers to any input: a value, or a refusal in a sentence."""

from collections.abc import Callable
from typing import TypeVar

Value = TypeVar("Value")


def refusal(make: Callable[[], object]) -> str | None:
    """Returns the sentence of the ValueError, or None where there is none; any other error is not caught."""
    try:
        make()
    except ValueError as error:
        return str(error)
    return None


def answer(make: Callable[[], Value]) -> Value | None:
    """Returns the value, or None where it was refused; a refusal has to be a sentence."""
    sentence = refusal(make)
    if sentence is None:
        return make()
    assert sentence[0].isupper(), sentence
    assert sentence.endswith("."), sentence
    return None
