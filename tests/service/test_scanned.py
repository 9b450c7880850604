"""Scanned strings over HTTP: what each is, which subject it means, and that hostile ones stay text."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from reprocess.ledger.append import transaction
from reprocess.ledger.names import Name
from reprocess.scan.code import ECHO_CHARACTERS_MAX, BadgeTag, ItemTag, SolutionTag, StationTag, printed
from reprocess.scan.command import COMMANDS, tag_of
from reprocess.service import who
from tests.ledger.conftest import day_over  # noqa: F401 - a fixture of both rooms
from tests.service.conftest import Bench, anna
from tests.service.standards import limit, standards_of

GS = "\x1d"


@pytest.fixture(scope="module")
def once(day_over: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:  # noqa: F811
    with standards_of(day_over, tmp_path_factory.mktemp("standards")) as made:
        yield made


@pytest.fixture
def bench(once: Bench) -> Bench:
    once.caller = anna()
    once.app.dependency_overrides[who.caller] = lambda: once.caller
    return once


def told(bench: Bench, code: str) -> dict[str, Any]:
    """Returns the answer to a scan; both ways of asking give the same."""
    body = json.dumps({"code": code})
    found = bench.client.post("/v1/scanned", content=body, headers={"Content-Type": "application/json"})
    assert found.status_code == 200, found.text
    answer: dict[str, Any] = found.json()
    assert answer["shown"].isascii()
    assert answer["shown"].isprintable() or not answer["shown"]
    assert len(answer["shown"]) <= ECHO_CHARACTERS_MAX
    if code.isascii() and code.isprintable() and len(code) < 200:
        assert bench.get("/scanned", params={"code": code}).json() == answer
    return answer


def test_our_own_tags_name_their_subjects(bench: Bench) -> None:
    one = told(bench, printed(ItemTag("S-1", checked=True)))
    assert (one["sort"], one["id"], one["checked"], one["subject"]) == ("item", "S-1", True, "item:S-1")
    assert told(bench, "s-1")["subject"] == "item:S-1"
    assert told(bench, "NO-SUCH-1")["subject"] is None
    assert told(bench, printed(SolutionTag("W-1", checked=True)))["subject"] == "solution:W-1"
    assert told(bench, printed(StationTag("LMG-1", checked=True)))["subject"] == "station:LMG-1"
    assert told(bench, printed(BadgeTag("B-A", checked=True)))["subject"] == "person:P-A"


def test_a_command_says_its_word(bench: Bench) -> None:
    answer = told(bench, printed(tag_of(COMMANDS["CLEAN-DONE"])))
    assert (answer["sort"], answer["command"]) == ("command", "Clean done")


# US FDA, UDI formats by FDA-accredited issuing agency, 2017: the example of GS1, as people read it and as a scanner
# sends it; the separator is GS, 0x1D (GS1 General Specifications).
@pytest.mark.parametrize(
    "code",
    [
        "(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234",
        f"]d20151022222233336111412311715070710A213B1{GS}211234",
    ],
)
def test_a_label_of_gs1_is_read(code: str, bench: Bench) -> None:
    answer = told(bench, code)
    assert answer["sort"] == "label"
    assert answer["label"] == {
        "standard": "gs1", "device": "51022222233336", "lot": "A213B1", "serial": "1234",
        "manufactured": "2014-12-31", "expires": "2015-07-07",
    }  # fmt: skip
    assert answer["id"] == "51022222233336-1234"


# ANSI/HIBC 2.6, worked example.
def test_a_label_of_hibc_is_read(bench: Bench) -> None:
    answer = told(bench, "+A99912345/$$52001510X3/16D20111212/S77DEFG457")
    assert (answer["sort"], answer["label"]["standard"], answer["label"]["lot"]) == ("label", "hibc", "10X3")


# GS1 General Specifications: (8004) is a global individual asset identifier.
def test_an_individual_asset_is_an_item(bench: Bench) -> None:
    answer = told(bench, "(8004)4012345BLW1")
    assert (answer["sort"], answer["id"], answer["subject"]) == ("item", "4012345BLW1", None)


@pytest.mark.parametrize(
    ("code", "fault"),
    [
        ("", "empty"),
        ("I:S-1.0", "wrong-check-character"),
        ("X:S-1", "unknown-kind"),
        ("S-1\x00", "control-character"),
        ("\x1b[2JS-1", "control-character"),
        ("S-1\r\nSet-Cookie: a=b", "control-character"),
        ("\u202eS-1", "not-ascii"),
        ("\u200fS-1", "not-ascii"),
        ("\ufeffS-1", "not-ascii"),
        ("\ud800", "not-ascii"),
        ("\U0001f600", "not-ascii"),
        ("S-1'; DROP TABLE entry; --", "not-an-id"),
        ("<script>alert(1)</script>", "not-an-id"),
        ("=cmd|' /C calc'!A0", "malformed"),
        ("(01)51022222233337", "wrong-check-character"),
        ("(01)", "malformed"),
        ("]d2", "empty"),
        ("../../etc/passwd", "not-an-id"),
        ("A" * 1_000, "too-long"),
        ("(8004)" + "9" * 1_000, "too-long"),
        ("{{7*7}}", "not-an-id"),
        ("%s%n%x", "not-an-id"),
    ],
)
def test_what_cannot_be_read_says_why(code: str, fault: str, bench: Bench) -> None:
    before = bench.department.history("item:S-1")
    answer = told(bench, code)
    assert (answer["sort"], answer["fault"], answer["subject"]) == ("unreadable", fault, None)
    assert answer["reason"].endswith(".")
    assert bench.department.history("item:S-1") == before


def test_ten_megabytes_are_refused_or_told_as_too_long(bench: Bench) -> None:
    body = json.dumps({"code": "A" * 10_000_000})
    found = bench.client.post("/v1/scanned", content=body, headers={"Content-Type": "application/json"})
    assert found.status_code == 413 or found.json()["fault"] == "too-long"
    assert len(found.content) < 2_000


def test_bytes_that_are_no_text_are_refused(bench: Bench) -> None:
    for body in (b'{"code": "\xff\xfe"}', b'{"code": 7}', b"{}", b'{"code": "S-1", "code": "S-2"}', b"[" * 100_000):
        found = bench.client.post("/v1/scanned", content=body, headers={"Content-Type": "application/json"})
        assert found.status_code in {400, 413, 422}
        assert found.headers["content-type"] == "application/problem+json"


def test_a_wearers_badge_leads_nobody_to_the_pseudonym(bench: Bench) -> None:
    """I21: who is behind a pseudonym is read on record or not at all, whatever scopes one has."""
    with transaction(bench.department.ledger) as work:
        work.names.keep("W-1", Name("Ilse Varga", badge="WB-7"))
    answer = told(bench, printed(BadgeTag("WB-7", checked=True)))
    assert (answer["sort"], answer["subject"]) == ("badge", None)


def test_who_may_not_see_gets_no_subject(bench: Bench) -> None:
    limit(bench, without=frozenset({"people:read", "wearers:read"}))
    assert told(bench, printed(BadgeTag("B-A", checked=True)))["subject"] is None
    limit(bench, sites=frozenset({"ELSEWHERE"}))
    assert told(bench, "S-1")["subject"] is None
    limit(bench, without=frozenset({"items:read"}))
    assert bench.get("/scanned", params={"code": "S-1"}).status_code == 403
