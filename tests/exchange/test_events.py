"""The catalogue of entries and their shape outside: schemas, topics, CloudEvents; checked by strangers' libraries."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema  # type: ignore[import-untyped]
import pytest
from cloudevents.core.bindings.http import HTTPMessage, from_structured_event
from cloudevents.core.formats.json import JSONFormat

from reprocess.department import Department
from reprocess.exchange.events import Sight, event, local_text, rfc3339, told
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.catalogue import ALL, SCHEMA, kind_of, topic_of
from reprocess.record.form import body_text
from reprocess.record.words import BODIES
from tests.exchange.feeding import EVERYTHING, fed, write


@pytest.fixture
def department(tmp_path: Path) -> Any:
    with fed(tmp_path / "feed.db") as made:
        yield made


def given(department: Department, sight: Sight) -> list[dict[str, Any]]:
    with looking(department.ledger) as read:
        found = [told(read, one, sight) for one in read.feed.after(0, 10_000)]
    return [one for one in found if one is not None]


def test_every_stored_kind_has_one_event_type_of_its_own_a_noun_and_what_happened() -> None:
    assert set(ALL) == set(BODIES)
    types = [one.type for one in ALL.values()]
    assert len(set(types)) == len(types)
    for one in ALL.values():
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*\.[a-z]+(-[a-z]+)*", one.type), one
        assert one.says.endswith("."), one


# JSON Schema draft 2020-12: each schema is checked against the meta-schema by the reference library.
@pytest.mark.parametrize("key", sorted(ALL), ids=lambda key: f"{key[0]}-{key[1]}")
def test_every_schema_is_one(key: tuple[str, int]) -> None:
    schema = ALL[key].schema
    assert schema["$schema"] == SCHEMA == jsonschema.Draft202012Validator.META_SCHEMA["$id"]
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["additionalProperties"] is False


def test_every_body_on_record_fits_its_schema(department: Department) -> None:
    for sealed in department.entries_after(0, 10_000):
        body = sealed.entry.body
        jsonschema.Draft202012Validator(kind_of(body).schema).validate(json.loads(body_text(body)))


def test_what_is_about_wearers_cases_and_badges_is_not_open() -> None:
    topics = {one.kind: one.topic for one in ALL.values()}
    assert all(topics[kind] == "cases" for kind in topics if kind.startswith("case-"))
    wearers = {kind for kind in topics if kind.startswith("wearer-")} - {"wearer-identified"}
    assert {topics[kind] for kind in wearers} == {"wearers"}
    assert topics["badge-given"] == topics["person-registered"] == "security"
    assert topic_of("wearer:W-1", ALL["fact-noted", 1]) == "wearers"
    assert topic_of("case:C-1", ALL["fact-noted", 1]) == "cases"


def test_a_reader_without_rights_gets_every_number_and_learns_nothing(department: Department) -> None:
    seen = given(department, Sight())
    assert [one["feed"] for one in seen] == list(range(1, department.last_feed() + 1))
    text = json.dumps(seen)
    for secret in ("W-0123456789ABCDEF", "B-01", "Tilda Marsh", "case:"):
        assert secret not in text
    withheld = [one for one in seen if one.get("withheld")]
    assert all(set(one) == {"feed", "withheld", "family"} for one in withheld)
    assert {one["family"] for one in withheld} >= {"wearers", "cases", "department"}


def test_a_reader_with_every_right_gets_everything(department: Department) -> None:
    seen = given(department, EVERYTHING)
    assert not any(one.get("withheld") or one["without"] for one in seen)
    assert "W-0123456789ABCDEF" in json.dumps(seen)


def test_an_open_entry_that_names_a_wearer_leaves_the_name_out(department: Department) -> None:
    issued = next(one for one in given(department, Sight()) if one.get("kind") == "item-issued")
    assert issued["without"] == ["wearer"]
    assert "wearer" not in issued["body"]


def test_who_wears_is_not_told_by_who_acts(department: Department) -> None:
    worn = next(one for one in given(department, Sight()) if one.get("kind") == "wear-step-done")
    assert (worn["actor"], worn["second"]) == (None, None)
    assert {"actor", "second"} <= set(worn["without"])


def test_a_reader_of_one_site_gets_the_other_ones_numbers_only(department: Department) -> None:
    elsewhere = given(department, Sight(scopes=EVERYTHING.scopes, cases=True, limits=frozenset({"FEN"})))
    assert [one["feed"] for one in elsewhere] == list(range(1, department.last_feed() + 1))
    assert not any(one.get("site") == "LMG" for one in elsewhere)
    assert any(one.get("kind") == "person-registered" for one in elsewhere)


def test_filters_leave_out_what_was_not_asked_for(department: Department) -> None:
    kinds = given(department, Sight(kinds=frozenset({"site-opened", "item-commissioned"})))
    assert {one["kind"] for one in kinds} == {"site-opened", "item-commissioned"}
    sites = given(department, Sight(sites=frozenset({"FEN"})))
    assert not any(one.get("site") == "LMG" for one in sites)


def test_an_entry_says_when_in_utc_and_in_the_sites_time(department: Department) -> None:
    write(department, "item:BLW-0001", words.ItemOpened())
    last = given(department, EVERYTHING)[-1]
    assert last["occurred_at"].endswith("Z")
    assert last["station"] == "LMG-C1"
    assert last["digest"] != last["prev"]
    assert len(bytes.fromhex(last["digest"])) == 32


# RFC 3339, section 5.8: its second example, 1996-12-19T16:39:57-08:00, "is equivalent to 1996-12-20T00:39:57Z in UTC".
def test_instants_are_written_as_rfc_3339_has_them() -> None:
    at_us = 851_042_397_000_000
    assert rfc3339(at_us) == "1996-12-20T00:39:57.000000Z"
    assert local_text(at_us, -480) == "1996-12-19T16:39:57-08:00"


# CloudEvents 1.0.2: the reference library reads what we write and finds the same attributes.
def test_the_reference_library_reads_our_events(department: Department) -> None:
    with looking(department.ledger) as read:
        ledger = read.feed.ledger()
    for one in given(department, EVERYTHING):
        body = event(ledger, one)
        message = HTTPMessage({"content-type": "application/cloudevents+json"}, body)
        got = from_structured_event(message, JSONFormat())
        assert (got.get_specversion(), got.get_id(), got.get_type()) == ("1.0", one["id"], one["type"])
        assert (got.get_source(), got.get_subject()) == (f"/ledgers/{ledger}", one["stream"])
        assert str(got.get_time()).replace(" ", "T") == one["occurred_at"].replace(".000000", "").replace("Z", "+00:00")
        assert got.get_data() == one
        assert int(got.get_extension("sequence")) == one["feed"]


def test_sequences_sort_as_text_as_numbers_do(department: Department) -> None:
    made = [json.loads(event("x", one))["sequence"] for one in given(department, EVERYTHING)]
    assert made == sorted(made)
    assert made[8:10] == ["00000000000000000009", "00000000000000000010"]


def test_the_same_entry_gives_the_same_bytes(department: Department) -> None:
    first = [event("x", one) for one in given(department, EVERYTHING)]
    assert first == [event("x", one) for one in given(department, EVERYTHING)]
