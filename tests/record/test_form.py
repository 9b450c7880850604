"""The canonical bytes of an entry, its digest and its MAC: fixed vectors, and a second way to make them.

The vectors are for ever: an entry written by any release must give these bytes. The second way uses nothing of ours but
the row itself: `json`, `hashlib` and `hmac` of the standard library.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

import pytest

from reprocess.errors import DamagedEntryError
from reprocess.record import words
from reprocess.record.chain import START, digest_of, mac_of
from reprocess.record.entry import Entry, Envelope
from reprocess.record.form import COLUMNS, Row, body_text, canonical, read_body, read_row, row_of
from reprocess.record.moment import Moment
from reprocess.record.words import BODIES, Body

KEY = bytes(range(32))
PREV = bytes.fromhex("00ff" * 16)

PLAIN = Entry(
    feed=7,
    id="019cbccb-d180-7000-8000-000000000001",
    stream="item:BLW-0041",
    number=3,
    body=words.StepDone(step="clean", stage="used", evidence="measured"),
    occurred_us=1_772_694_060_000_000,
    envelope=Envelope(
        moment=Moment(1_772_694_060_000_001, 42_000_000, None, "boot-1", "bench-1"),
        offset_min=-240,
        actor=None,
        second=None,
        station=None,
        key="k-1",
        request="0123456789abcdef0123456789abcdef",
    ),
    part=1,
    answer=None,
)
PLAIN_BYTES = (
    '[7,"019cbccb-d180-7000-8000-000000000001","item:BLW-0041",3,"step-done",1,1772694060000000,1772694060000001,-240,'
    '42000000,null,"boot-1","bench-1",null,null,"claimed",null,"k-1",1,"0123456789abcdef0123456789abcdef",'
    '"{\\"checks\\":{},\\"counts\\":{},\\"evidence\\":\\"measured\\",\\"limits\\":{},\\"readings\\":{},\\"stage\\":\\"used\\",'
    '\\"step\\":\\"clean\\",\\"warned\\":[]}",null,'
    '"0000000000000000000000000000000000000000000000000000000000000000"]'
)
PLAIN_DIGEST = "7c9c18d839a365f9fe60b2afa59d18d6ca6d57455ae59d882341a6349a966ced"
PLAIN_MAC = "3452b52c05c9b97227dfc83d920bd53880cf5ac4424c5829b6308723e7545638"

FULL = Entry(
    feed=9_007_199_254_740_993,
    id="019cbccb-d180-7000-8000-000000000002",
    stream="item:BLW-0041",
    number=4,
    body=words.StepDone(
        step="functional-test",
        stage="inspected",
        evidence="attested",
        checks={"zeta": True, "Alpha": False, "alpha": True},
        readings={"flow_l_per_min": "170.0"},
        counts={"plugs": 3},
        limits={"flow_l_per_min": "170.. L/min"},
        instrument="FI-1",
        warned=("T12", "H04"),
        reason='quote " backslash \\ tab \t newline \n bell \x07 delete \x7f slash / é 中 😀 \u2028',
        paper="P-7",
    ),
    occurred_us=1_772_694_000_000_000,
    envelope=Envelope(
        moment=Moment(1_772_694_061_000_000, 43_000_000, 44_000_000, "boot-1", "bench-1"),
        offset_min=60,
        actor="ANNA",
        second="BEN",
        station="LMG-C1",
        key="k-2",
        request="fedcba9876543210fedcba9876543210",
        identity="signed-in",
    ),
    part=0,
    answer='{"verdict":"accepted"}',
)
FULL_DIGEST = "49bf65fb297e7a716588c7200d1905b5eb23b2aec28eba2e93601e2553fd62b1"
FULL_MAC = "20913b581e6668bbd1ded59140736b8a027159a32e05ee8c3003f829c144d120"


def by_the_standard_library(row: Row) -> tuple[bytes, str, str]:
    """Returns (bytes, digest, MAC) of a row, made without anything of ours; both in lower-case hex."""
    columns = [*row[:-1], row[-1].hex()]
    text = json.dumps(columns, ensure_ascii=False, separators=(",", ":")).encode("utf-8")
    digest = hashlib.sha256(b"\x00" + text).digest()
    return text, digest.hex(), hmac.new(KEY, digest, hashlib.sha256).hexdigest()


def body_by_the_standard_library(body: Body) -> str:
    """Returns the canonical JSON of a body: keys sorted by code point, absent fields left out, no spaces."""
    fields = {name: value for name, value in body.model_dump().items() if value is not None}
    return json.dumps(fields, ensure_ascii=False, separators=(",", ":"), sort_keys=True)


def test_a_plain_entry_gives_these_bytes() -> None:
    row = row_of(PLAIN, START)
    assert canonical(row) == PLAIN_BYTES.encode()
    assert digest_of(row).hex() == PLAIN_DIGEST
    assert mac_of(digest_of(row), KEY).hex() == PLAIN_MAC


def test_a_full_entry_with_every_sort_of_letter_gives_this_digest() -> None:
    row = row_of(FULL, PREV)
    assert digest_of(row).hex() == FULL_DIGEST
    assert mac_of(digest_of(row), KEY).hex() == FULL_MAC


@pytest.mark.parametrize(("entry", "prev"), [(PLAIN, START), (FULL, PREV)])
def test_a_stranger_gets_the_same_bytes_digest_and_seal(entry: Entry, prev: bytes) -> None:
    row = row_of(entry, prev)
    assert (canonical(row), digest_of(row).hex(), mac_of(digest_of(row), KEY).hex()) == by_the_standard_library(row)


def test_a_row_is_hashed_in_the_order_of_its_columns() -> None:
    named = dict(zip(COLUMNS, json.loads(canonical(row_of(FULL, PREV))), strict=True))
    assert (named["feed"], named["kind"], named["version"]) == (9_007_199_254_740_993, "step-done", 1)
    assert (named["recorded_us"], named["occurred_us"]) == (1_772_694_061_000_000, 1_772_694_000_000_000)
    assert (named["actor"], named["second"], named["identity"]) == ("ANNA", "BEN", "signed-in")
    assert named["prev"] == PREV.hex()


def test_no_column_can_change_without_another_digest() -> None:
    row = row_of(FULL, PREV)
    for number, held in enumerate(row):
        other: Any = (
            held + 1 if isinstance(held, int) else (held or b"")[:-1] if isinstance(held, bytes) else f"{held}x"
        )
        changed = (*row[:number], other, *row[number + 1 :])
        assert digest_of(changed) != digest_of(row), COLUMNS[number]


def test_columns_cannot_lend_each_other_letters() -> None:
    """A quotation mark or a comma inside a text stays inside it."""
    row = row_of(PLAIN, START)
    one = (*row[:1], 'a","b', *row[2:])
    two = (*row[:1], "a", *row[2:])
    assert digest_of(one) != digest_of(two)
    assert json.loads(canonical(one))[1] == 'a","b'


def test_a_leaf_is_no_inner_node() -> None:
    """RFC 6962, section 2.1: leaves are hashed behind a zero byte, so that no tree can pass for an entry."""
    row = row_of(PLAIN, START)
    assert digest_of(row) != hashlib.sha256(canonical(row)).digest()
    assert digest_of(row) != hashlib.sha256(b"\x01" + canonical(row)).digest()


def test_another_key_gives_another_seal() -> None:
    digest = digest_of(row_of(PLAIN, START))
    assert mac_of(digest, KEY) != mac_of(digest, bytes(32))


@pytest.mark.parametrize(("entry", "prev"), [(PLAIN, START), (FULL, PREV)])
def test_an_entry_comes_back_from_its_row_as_it_was(entry: Entry, prev: bytes) -> None:
    """D02: when it happened, when it was recorded and the local offset among the rest."""
    assert read_row(row_of(entry, prev)) == entry


def example(kind: Any) -> Any:
    """Returns a value of an annotated type."""
    origin, inner = get_origin(kind), get_args(kind)
    if origin is Literal:
        return inner[0]
    if origin in (Annotated, Union, UnionType):
        return example(inner[0])
    if origin is tuple:
        return (example(inner[0]),)
    if origin is dict:
        return {"b": example(inner[1]), "B": example(inner[1])}
    if isinstance(kind, type) and is_dataclass(kind):
        hints = get_type_hints(kind)
        return kind(**{one.name: example(hints[one.name]) for one in fields(kind)})
    return {str: "é", int: 3, bool: True}[kind]


@pytest.mark.parametrize("word", sorted(BODIES), ids=lambda word: f"{word[0]}-{word[1]}")
def test_every_body_is_kept_and_read_back(word: tuple[str, int]) -> None:
    model = BODIES[word]
    body = model(**{name: example(field.annotation) for name, field in model.model_fields.items()})
    text = body_text(body)
    assert text == body_by_the_standard_library(body)
    assert read_body(*word, text, at=1) == body


def test_stored_words_are_for_ever() -> None:
    """Kinds may be added, with their version; none of those in the file may change or go."""
    stored = (Path(__file__).parent / "stored-words.txt").read_text(encoding="ascii").split()
    assert {f"{kind}/{version}" for kind, version in BODIES} == set(stored)


def test_no_two_bodies_share_a_word() -> None:
    models = [model for model in Body.__subclasses__() if model.__module__ == words.__name__]
    assert len({(model.kind, model.version) for model in models}) == len(models)


@pytest.mark.parametrize(
    ("kind", "version", "text"),
    [
        ("step-dreamt", 1, "{}"),
        ("step-done", 99, "{}"),
        ("badge-given", 1, "{}"),
        ("badge-given", 1, '{"badge":7}'),
        ("badge-given", 1, '{"badge":"B-1","more":1}'),
        ("badge-given", 1, "no json"),
    ],
)
def test_an_entry_that_cannot_be_read_says_which(kind: str, version: int, text: str) -> None:
    with pytest.raises(DamagedEntryError, match="Entry 12 ") as told:
        read_body(kind, version, text, at=12)
    assert told.value.fields["feed"] == 12


def test_a_number_with_a_point_is_in_no_body() -> None:
    """Decimals are text, so that they come back as they were typed."""
    for model in BODIES.values():
        assert "float" not in str([field.annotation for field in model.model_fields.values()]), model.kind


def test_part_zero_alone_keeps_the_answer() -> None:
    assert replace(FULL, part=1, answer=None).answer is None
    assert (FULL.kind, FULL.at_us) == ("step-done", 1_772_694_061_000_000)
