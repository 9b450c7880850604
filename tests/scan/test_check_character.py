"""The check character notices what a hand gets wrong."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.scan.check_character import ALPHABET, check_character

payloads = st.text(alphabet=ALPHABET, min_size=1, max_size=32)


@given(payloads, st.data())
def test_a_single_wrong_character_is_always_noticed(payload: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(min_value=0, max_value=len(payload) - 1))
    wrong = data.draw(st.sampled_from(ALPHABET.replace(payload[place], "")))
    mistyped = payload[:place] + wrong + payload[place + 1 :]
    assert check_character(mistyped) != check_character(payload)


def test_nearly_every_swap_of_neighbours_is_noticed() -> None:
    pairs = [(a, b) for a in ALPHABET for b in ALPHABET if a != b]
    missed = [a + b for a, b in pairs if check_character(f"I{a}{b}") == check_character(f"I{b}{a}")]
    assert len(missed) <= len(pairs) * 0.01


@pytest.mark.parametrize("payload", ["blw", "BLW-1", "A B", "\N{CYRILLIC CAPITAL LETTER A}"])
def test_other_characters_have_no_value(payload: str) -> None:
    with pytest.raises(ValueError, match="substring not found"):
        check_character(payload)
