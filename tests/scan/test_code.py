"""Every string is one of our tags or is unreadable for a reason that can be shown."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.scan.check_character import ALPHABET
from reprocess.scan.code import (
    BadgeTag,
    CodeFault,
    CommandTag,
    FormTag,
    ItemTag,
    SolutionTag,
    StationTag,
    Tag,
    Unreadable,
    printed,
    read_code,
)

KINDS: dict[str, type[Tag]] = {
    "I": ItemTag,
    "B": BadgeTag,
    "C": CommandTag,
    "S": SolutionTag,
    "P": StationTag,
    "F": FormTag,
}

groups = st.text(alphabet=ALPHABET, min_size=1, max_size=6)
identities = st.lists(groups, min_size=1, max_size=4).map("-".join)
tags = st.builds(
    lambda kind, identity: kind(identity, checked=True),
    st.sampled_from(list(KINDS.values())),
    identities,
)


@pytest.mark.parametrize(("letter", "kind"), KINDS.items())
def test_the_letter_in_front_says_what_kind_of_tag_it_is(letter: str, kind: type[Tag]) -> None:
    assert read_code(f"{letter}:TB-17") == kind("TB-17", checked=False)


def test_a_bare_id_is_an_item_that_is_not_checked() -> None:
    assert read_code("BLW-0041") == ItemTag("BLW-0041", checked=False)


def test_lower_case_is_folded_to_upper() -> None:
    assert read_code("blw-0041") == read_code("BLW-0041")
    assert read_code("c:undo") == CommandTag("UNDO", checked=False)


def test_an_item_tag_prints_with_its_check_character() -> None:
    text = printed(ItemTag("BLW-0041", checked=False))
    assert text == "I:BLW-0041.W"
    assert read_code(text) == ItemTag("BLW-0041", checked=True)
    assert read_code("BLW-0041.W") == ItemTag("BLW-0041", checked=True)


@given(tags)
def test_every_printed_tag_is_read_back(tag: Tag) -> None:
    assert read_code(printed(tag)) == tag
    assert read_code(printed(tag).lower()) == tag


@given(tags, st.sampled_from("IBCSP"))
def test_a_tag_read_as_another_kind_is_noticed(tag: Tag, letter: str) -> None:
    own_letter, colon, rest = printed(tag).partition(":")
    answer = read_code(letter + colon + rest)
    assert isinstance(answer, Unreadable) == (letter != own_letter)


@given(tags, st.data())
def test_one_wrong_character_in_a_printed_id_is_noticed(tag: Tag, data: st.DataObject) -> None:
    text = printed(tag)
    places = [place for place in range(2, len(text) - 2) if text[place] != "-"]
    place = data.draw(st.sampled_from(places))
    wrong = data.draw(st.sampled_from(ALPHABET.replace(text[place], "")))
    answer = read_code(text[:place] + wrong + text[place + 1 :])
    assert isinstance(answer, Unreadable)
    assert answer.fault is CodeFault.WRONG_CHECK_CHARACTER


@pytest.mark.parametrize(
    ("scanned", "fault"),
    [
        ("", CodeFault.EMPTY),
        ("A" * 129, CodeFault.TOO_LONG),
        ("A" * 10_000_000, CodeFault.TOO_LONG),
        ("A" * 33, CodeFault.NOT_AN_ID),
        ("BLW-0041\n", CodeFault.CONTROL_CHARACTER),
        ("BLW\x1d0041", CodeFault.CONTROL_CHARACTER),
        ("BLW\x00", CodeFault.CONTROL_CHARACTER),
        ("\x1b[2J", CodeFault.CONTROL_CHARACTER),
        ("\N{CYRILLIC CAPITAL LETTER VE}LW-0041", CodeFault.NOT_ASCII),
        ("\N{FULLWIDTH LATIN CAPITAL LETTER B}LW-0041", CodeFault.NOT_ASCII),
        ("\N{LATIN SMALL LETTER LONG S}:TB-17", CodeFault.NOT_ASCII),
        ("\N{LATIN SMALL LETTER DOTLESS I}:TB-17", CodeFault.NOT_ASCII),
        ("BLW\N{NON-BREAKING HYPHEN}0041", CodeFault.NOT_ASCII),
        ("BLW-0041\N{RIGHT-TO-LEFT OVERRIDE}", CodeFault.NOT_ASCII),
        ("\ud800", CodeFault.NOT_ASCII),
        ("X:BLW-0041", CodeFault.UNKNOWN_KIND),
        (":BLW-0041", CodeFault.UNKNOWN_KIND),
        ("I:I:BLW-0041", CodeFault.UNKNOWN_KIND),
        ("https://example.test/BLW-0041", CodeFault.UNKNOWN_KIND),
        ("I:", CodeFault.NOT_AN_ID),
        ("I:.P", CodeFault.NOT_AN_ID),
        ("BLW 0041", CodeFault.NOT_AN_ID),
        (" BLW-0041", CodeFault.NOT_AN_ID),
        ("BLW--0041", CodeFault.NOT_AN_ID),
        ("-0041", CodeFault.NOT_AN_ID),
        ("BLW-", CodeFault.NOT_AN_ID),
        ("BLW_0041", CodeFault.NOT_AN_ID),
        ("(01)09501101530003", CodeFault.MAKERS_LABEL),
        ("]d20109501101530003\x1d10A", CodeFault.MAKERS_LABEL),
        ("+A123BJC5D6E71G", CodeFault.MAKERS_LABEL),
        ("=/A9999XYZ100T0944", CodeFault.MAKERS_LABEL),
        ("9501101530003", CodeFault.NOT_AN_ID),
        ("20.5", CodeFault.NOT_AN_ID),
        ("'; DROP TABLE entries", CodeFault.NOT_AN_ID),
        ("I:BLW-0041.Q", CodeFault.WRONG_CHECK_CHARACTER),
        ("I:BLW-0041.", CodeFault.WRONG_CHECK_CHARACTER),
        ("I:BLW-0041.WW", CodeFault.WRONG_CHECK_CHARACTER),
        ("I:BLW-0041.W.W", CodeFault.WRONG_CHECK_CHARACTER),
        ("I:BLW-OO41.W", CodeFault.WRONG_CHECK_CHARACTER),
        ("BLW-0041.Q", CodeFault.WRONG_CHECK_CHARACTER),
    ],
    ids=lambda value: ascii(value[:20]) if isinstance(value, str) else None,
)
def test_anything_else_is_unreadable_for_a_reason(scanned: str, fault: CodeFault) -> None:
    answer = read_code(scanned)
    assert isinstance(answer, Unreadable)
    assert answer.fault is fault
    assert answer.reason.endswith(".")


def test_a_number_alone_is_an_item_only_where_the_tag_says_so() -> None:
    assert read_code("I:0041") == ItemTag("0041", checked=False)
    assert isinstance(read_code("0041"), Unreadable)


def test_the_echo_is_short_and_harmless() -> None:
    answer = read_code("\x1b[31mBLW\N{ZERO WIDTH SPACE}-0041" + "A" * 1000)
    assert isinstance(answer, Unreadable)
    assert answer.echo == "?[31mBLW?-0041AAAAAAAAAA"


@given(st.text() | st.text(alphabet="IBCSPX:.-01 \n"))
def test_any_text_has_an_answer_and_an_unreadable_one_can_be_shown(scanned: str) -> None:
    answer = read_code(scanned)
    if isinstance(answer, Unreadable):
        assert answer.echo.isascii()
        assert answer.echo.isprintable()
        assert len(answer.echo) <= 24
        return
    # What is read can be printed and read again; the id is in the closed alphabet.
    assert read_code(printed(answer)) == type(answer)(answer.id, checked=True)
    assert set(answer.id) <= set(ALPHABET + "-")


def test_an_id_that_could_not_be_read_back_is_not_printed() -> None:
    for identity in ("", "blw-0041", "BLW 1", "A" * 33, "A--B"):
        with pytest.raises(ValueError, match="is not an id"):
            printed(ItemTag(identity, checked=False))
