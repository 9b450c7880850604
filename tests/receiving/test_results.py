"""Results of machines: what they become, what they cannot say, and that evidence alone passes a load."""

from __future__ import annotations

import json
from base64 import b64encode
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
from standardwebhooks import Webhook

from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.errors import KeyReusedError
from reprocess.receiving.results import UnfitResultError, key_of, request_of
from reprocess.receiving.sources import Source
from reprocess.record import words
from reprocess.record.words import DwellEnded
from reprocess.reminders.signing import TOLERANCE_S, signed, verified
from reprocess.rules.answer import Answer, Verdict
from reprocess.station import Call
from reprocess.terms import Stage
from tests.engine.floor import Floor
from tests.engine.loading import a_washer, bowls, record_of, runs

SECRET = b"w" * 32
OTHER = b"o" * 32
WASHER = Source("wd-1", "washer", "WD-1", "BENCH", (SECRET,), frozenset({"cycle-whole"}), "LG-1")
CYCLE = {
    "load": "LD-1",
    "record": record_of(("80", 60)),
    "readings": {"wash_min": "5"},
    "checks": {"cycle-whole": True},
}
NOW_S = 1_772_694_000


def sent(floor: Floor, request: Request, *, source: Source = WASHER, message: str = "m-1") -> Answer:
    """Returns the answer to a result, as the address that takes it asks for it."""
    key = key_of(source, message)
    call = Call(request, source.station, None, None, key, identity="machine", sender=source.instrument)
    return floor.department.desk.take(call)


def body(**more: Any) -> bytes:
    return json.dumps(CYCLE | more).encode()


@pytest.fixture
def washing(floor: Floor) -> Floor:
    """A floor on which load LD-1 of two cups has run."""
    a_washer(floor)
    runs(floor, "LD-1", bowls(floor, 2, "cup", "CUP"), programme="P80")
    return floor


def test_a_record_that_proves_it_passes_the_load_as_imported_evidence_of_nobody(washing: Floor) -> None:
    answer = sent(washing, request_of(WASHER, body()))
    assert answer.accepted, [(one.rule, one.key, one.facts) for one in answer.reasons]
    last = next(one for one in washing.entries("item:CUP-1") if isinstance(one.body, DwellEnded))
    assert isinstance(last.body, DwellEnded)
    assert last.body.evidence == "imported"
    assert (last.envelope.actor, last.envelope.identity) == (None, "machine")
    assert washing.item("CUP-1").stage == Stage.DISINFECTED


def test_whoever_loaded_it_still_has_had_a_hand_in_it(washing: Floor) -> None:
    """S01: the machine's word makes nobody's earlier work another one's."""
    sent(washing, request_of(WASHER, body()))
    hands = washing.item("CUP-1").hands
    assert any("heat" in steps for steps in hands.values())
    assert "" not in hands


@pytest.mark.parametrize(
    ("more", "verdict", "key"),
    [
        ({"record": None}, Verdict.ACCEPTED, "awaiting-record"),
        ({"record": record_of(("66", 60))}, Verdict.ACCEPTED, "dose-short"),
        ({"record": "no record"}, Verdict.REFUSED, "trace-unreadable"),
        ({"checks": {}}, Verdict.ACCEPTED, "check-missing"),
        ({"interrupted": True}, Verdict.ACCEPTED, "load-failed"),
        ({"checks": {"cycle-whole": False}}, Verdict.ACCEPTED, "check-failed"),
    ],
)
def test_a_result_passes_nothing_that_its_record_does_not_carry(
    washing: Floor, more: dict[str, Any], verdict: Verdict, key: str
) -> None:
    answer = sent(washing, request_of(WASHER, body(**more)))
    assert answer.verdict is verdict
    assert key in {one.key for one in answer.reasons}
    assert "load-passed" not in [one.kind for one in washing.entries("load:LD-1")]
    assert washing.item("CUP-1").stage == Stage.USED


def test_a_person_brings_what_the_machine_could_not_say(washing: Floor) -> None:
    sent(washing, request_of(WASHER, body(checks={})))
    answer = washing.ask(asking.EndLoad("LD-1", checks={"cycle-whole": True}))
    assert answer.accepted, answer.reasons
    assert washing.item("CUP-1").stage == Stage.DISINFECTED


def test_a_logger_that_is_not_verified_is_not_believed(washing: Floor) -> None:
    strange = replace(WASHER, logger="LG-9")
    answer = sent(washing, request_of(strange, body()), source=strange)
    assert "M02" in answer.rules()
    assert washing.item("CUP-1").stage == Stage.USED


def test_another_machines_load_is_not_touched(washing: Floor) -> None:
    other = replace(WASHER, source="wd-2", instrument="WD-2")
    answer = sent(washing, request_of(other, body()), source=other)
    assert [(one.rule, one.key) for one in answer.reasons] == [("W01", "not-its-load")]
    kinds = [one.kind for one in washing.entries("load:LD-1")]
    assert "load-ended" not in kinds


def test_nobody_without_a_badge_ends_a_load_by_hand(washing: Floor) -> None:
    """A01: a request without a badge is no machine's result."""
    answer = washing.ask(asking.EndLoad("LD-1", CYCLE["record"], "LG-1"), "-")  # type: ignore[arg-type]
    assert "A01" in answer.rules()


def test_the_same_message_is_answered_the_same_for_ever_and_written_once(washing: Floor) -> None:
    first = sent(washing, request_of(WASHER, body()))
    count = washing.department.last_feed()
    washing.clock.push(86_400 * 30)
    again = sent(washing, request_of(WASHER, body()))
    assert replace(again, repeated=False) == first
    assert washing.department.last_feed() == count


def test_another_body_under_the_same_id_is_refused(washing: Floor) -> None:
    sent(washing, request_of(WASHER, body()))
    with pytest.raises(KeyReusedError):
        sent(washing, request_of(WASHER, body(interrupted=True)))


def test_the_same_id_of_another_source_is_another_message() -> None:
    assert key_of(WASHER, "m-1") != key_of(replace(WASHER, source="wd-2"), "m-1")


def test_a_charger_notes_charges_and_a_sensor_reads_its_place(floor: Floor) -> None:
    charger = Source("bay", "charger", "BAY-1", "BENCH", (SECRET,))
    assert request_of(charger, b'{"item":"BAT-1","charge_cycles":2}') == asking.NoteItem("BAT-1", charge_cycles=2)
    sensor = Source("fridge", "sensor", "TH-1", "BENCH", (SECRET,))
    reading = request_of(sensor, b'{"place":"STORE-1","reading":"temp_c","value":"21.5"}')
    assert reading == asking.ReadPlace("STORE-1", "temp_c", "21.5", "TH-1")
    shelf = asking.OpenPlace("STORE-1", "Clean store", "store", "clean", limits={"temp_c": "5..30"})
    assert floor.ask(shelf, "cora").accepted
    assert sent(floor, reading, source=sensor).accepted
    last = floor.entries("place:STORE-1")[-1].body
    assert isinstance(last, words.PlaceRead)
    assert (last.good, last.instrument) == (True, "TH-1")


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"[]",
        b"{}",
        b'{"load":7}',
        b'{"load":"LD-1","more":1}',
        b'{"load":"LD-1","readings":{"wash_min":5}}',
        b'{"load":"LD-1","readings":{"wash_min":"five"}}',
        b'{"load":"LD-1","indicators":{"cleaning":true}}',
        b'{"load":"LD-1","by_hand":true}',
        b'{"load":"LD-1","resumed":"ST-7"}',
        b'{"load":"LD-1","logger":"LG-2"}',
        b'{"load":"LD-1","interrupted":"no"}',
        b'{"load":"LD 1"}',
        b'{"load":"LD-1","checks":{"looks-clean":true}}',
        b'{"sort":"charger","load":"LD-1"}',
    ],
)
def test_what_does_not_fit_is_refused_before_anything_is_asked(text: bytes) -> None:
    with pytest.raises(UnfitResultError):
        request_of(WASHER, text)


@pytest.mark.parametrize(
    "text",
    [
        b'{"load": "LD-1", "checks": {"cycle-whole": false, "cycle-whole": true}}',
        b'{"load": "LD-1", "interrupted": true, "interrupted": false}',
        b'{"load": "LD-1", "load": "LD-2"}',
    ],
)
def test_a_member_that_stands_there_twice_is_not_the_last_word(text: bytes) -> None:
    """RFC 8259, section 4: which of two members of one name counts is open, so neither does."""
    with pytest.raises(UnfitResultError, match="twice"):
        request_of(WASHER, text)


def test_a_check_is_a_persons_to_answer_unless_the_department_says_otherwise() -> None:
    plain = replace(WASHER, checks=frozenset())
    with pytest.raises(UnfitResultError, match="A person answers cycle-whole"):
        request_of(plain, body())


# Standard Webhooks 1.0.0: what its reference library signs is what we verify.
def test_we_verify_what_the_reference_library_signs() -> None:
    text = body().decode()
    signature = Webhook("whsec_" + b64encode(SECRET).decode()).sign("m-1", datetime.fromtimestamp(NOW_S, UTC), text)
    headers = {"webhook-id": "m-1", "webhook-timestamp": str(NOW_S), "webhook-signature": signature}
    assert verified((SECRET,), headers, text.encode(), NOW_S) == "m-1"
    assert verified((OTHER, SECRET), headers, text.encode(), NOW_S) == "m-1"


@pytest.mark.parametrize(
    "change",
    [
        {"webhook-id": "m-2"},
        {"webhook-id": ""},
        {"webhook-id": "m.1"},
        {"webhook-timestamp": str(NOW_S + 1)},
        {"webhook-timestamp": "soon"},
        {"webhook-timestamp": "-5"},
        {"webhook-timestamp": "9" * 40},
        {"webhook-signature": ""},
        {"webhook-signature": "v1,"},
        {"webhook-signature": "v2,AAAA"},
        {"webhook-signature": "v1,é"},
    ],
)
def test_whatever_is_changed_is_verified_no_more(change: dict[str, str]) -> None:
    headers = signed([SECRET], "m-1", NOW_S, b"{}")
    assert verified((SECRET,), headers, b"{}", NOW_S) == "m-1"
    assert verified((SECRET,), headers | change, b"{}", NOW_S) is None


def test_another_body_another_secret_or_none_verifies_nothing() -> None:
    headers = signed([SECRET], "m-1", NOW_S, b"{}")
    assert verified((SECRET,), headers, b"{} ", NOW_S) is None
    assert verified((OTHER,), headers, b"{}", NOW_S) is None
    assert verified((), headers, b"{}", NOW_S) is None


@pytest.mark.parametrize("off_s", [TOLERANCE_S, -TOLERANCE_S])
def test_a_message_counts_within_five_minutes_of_its_time(off_s: int) -> None:
    headers = signed([SECRET], "m-1", NOW_S, b"{}")
    beyond = 1 if off_s > 0 else -1
    assert verified((SECRET,), headers, b"{}", NOW_S + off_s) == "m-1"
    assert verified((SECRET,), headers, b"{}", NOW_S + off_s + beyond) is None
