"""The record as EPCIS 2.0 events: every one as the standard's schema asks (tests/exchange/epcis_rules.py)."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import orjson
import pytest

from reprocess.department import Department
from reprocess.exchange import epcis
from reprocess.ledger.append import Transaction, looking
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.words import Body
from tests.exchange.epcis_rules import faults
from tests.exchange.telling import NOON, stream_of


@pytest.fixture
def read(a_department: Department) -> Iterator[Transaction]:
    with looking(a_department.ledger) as found:
        yield found


def told(*streams: list[Entry]) -> list[dict[str, Any]]:
    """Returns the events of streams, as whoever receives them reads them; each is as the schema asks."""
    by_name = {stream[0].stream: stream for stream in streams if stream}
    entries = [entry for stream in streams for entry in stream]
    document = b"".join(epcis.document(epcis.events(entries, lambda name: by_name.get(name, [])), NOON))
    found: list[dict[str, Any]] = orjson.loads(document)["epcisBody"]["eventList"]
    assert [fault for one in found for fault in faults(one)] == []
    return found


def test_the_whole_day_is_as_the_schema_asks(read: Transaction) -> None:
    document = orjson.loads(b"".join(epcis.document(epcis.events(read.each_entry(), read.entries_of), NOON)))
    assert set(document) == {"@context", "type", "schemaVersion", "creationDate", "epcisBody"}
    assert (document["type"], document["schemaVersion"]) == ("EPCISDocument", "2.0")
    events = document["epcisBody"]["eventList"]
    assert [fault for one in events for fault in faults(one)] == []
    assert {one["type"] for one in events} == {"ObjectEvent", "AssociationEvent"}
    ids = [one["eventID"] for one in events]
    assert len(ids) == len(set(ids))


def test_every_step_of_the_day_is_an_event(read: Transaction) -> None:
    """Counted from the entries themselves: each says one thing that happened to an item."""
    steps = ("step-done", "step-failed", "dwell-started", "dwell-ended", "dwell-broken", "item-released")
    entries = [one.id for one in read.each_entry() if one.kind in steps]
    events = epcis.events(read.each_entry(), read.entries_of)
    assert [one["eventID"] for one in events if one["reprocess:entry"] in steps] == [
        f"urn:uuid:{one}" for one in entries
    ]


def test_the_ids_stay_and_are_uuids(read: Transaction) -> None:
    """RFC 9562."""
    first = [one["eventID"] for one in epcis.events(read.each_entry(), read.entries_of)]
    assert first == [one["eventID"] for one in epcis.events(read.each_entry(), read.entries_of)]
    assert all(uuid.UUID(one.removeprefix("urn:uuid:")).version == 7 for one in first)


def test_nobody_who_wears_is_named(read: Transaction) -> None:
    issued = words.ItemIssued(cycle=2, wearer="W-1", place="WARD-3", purpose="care")
    text = orjson.dumps(
        [*told(stream_of("item:KIT-1", issued)), *epcis.events(read.each_entry(), read.entries_of)], default=str
    )
    assert b"W-1" not in text.replace(b"LMG-W1", b"")
    assert b"P-BO" not in text


@pytest.mark.parametrize(
    ("body", "action", "step", "disposition"),
    [
        (
            words.ItemCommissioned(item_kind="blower", model="LB-3", site="LMG", workflow="b", digest="d",
                                   in_service_us=NOON),
            "ADD", "commissioning", "active",
        ),
        (words.ItemReceived(site="LMG", came_from="SAL", intact=True), "OBSERVE", "receiving", "in_progress"),
        (words.ItemSent(to="SAL", clean=True), "OBSERVE", "shipping", "in_transit"),
        (words.ItemReturned(place="HATCH"), "OBSERVE", "receiving", "returned"),
        (words.ItemCondemned(reason="worn"), "DELETE", "decommissioning", "inactive"),
        (words.ItemSentToRepair(fault="cracked"), "OBSERVE", "repairing", "damaged"),
        (words.StepDone(step="inspect", stage="inspected", evidence="measured"), "OBSERVE", "inspecting",
         "in_progress"),
        (words.StepDone(step="clean-check", stage="cleaned", evidence="measured"), "OBSERVE", "inspecting",
         "in_progress"),
        (words.StepDone(step="clean", stage="cleaned", evidence="measured"), "OBSERVE", "other", "in_progress"),
        (
            words.StepFailed(step="inspect", stage="used", defects=("SOIL",), fell=(), route="reclean"),
            "OBSERVE", "inspecting", "non_conformant",
        ),
        (
            words.ItemReleased(step="release", stage="ready", digest="d", cycle=2, evidence={}),
            "OBSERVE", "other", "available",
        ),
    ],
    ids=lambda one: getattr(one, "kind", None),
)  # fmt: skip
def test_what_happened_to_an_item_is_an_object_event(body: Body, action: str, step: str, disposition: str) -> None:
    (event,) = told(stream_of("item:4012345BLW1", body))
    assert (event["type"], event["action"], event["bizStep"], event["disposition"]) == (
        "ObjectEvent", action, step, disposition,
    )  # fmt: skip
    # GS1 Digital Link Standard, URI Syntax: (8004) GIAI.
    assert event["epcList"] == ["https://id.gs1.org/8004/4012345BLW1"]


def test_when_it_happened_has_the_offset_of_its_place() -> None:
    (entry,) = stream_of("item:BLW-1", words.ItemLost(note="not found"))
    late = replace(entry, occurred_us=NOON - 3_600_000_000, envelope=replace(entry.envelope, offset_min=-210))
    (event,) = told([late])
    assert (event["eventTime"], event["recordTime"]) == ("2026-03-05T11:00:00Z", "2026-03-05T12:00:00Z")
    assert event["eventTimeZoneOffset"] == "-03:30"


def test_an_assembly_and_its_parts_are_associated_once() -> None:
    """EPCIS 2.0 (from memory): an association stays until it is deleted."""
    built = words.AssemblyBuilt(
        configuration="three-port", digest="d", members={"blower": "BLW-1", "tube": "TUB-1"},
        counts={"gaskets": 2, "plugs": 0},
    )  # fmt: skip
    whole = stream_of("item:KIT-1", built, words.AssemblyDissolved(cause="used", members={"blower": "BLW-1"}))
    part = stream_of("item:BLW-1", words.MemberJoined(assembly="KIT-1", slot="blower"))
    added, deleted = told(whole, part)
    assert (added["action"], added["bizStep"], added["parentID"]) == ("ADD", "assembling", "urn:reprocess:item:KIT-1")
    assert added["childEPCs"] == ["urn:reprocess:item:BLW-1", "urn:reprocess:item:TUB-1"]
    assert added["childQuantityList"] == [{"epcClass": "urn:reprocess:class:gaskets", "quantity": 2}]
    assert (deleted["action"], deleted["bizStep"]) == ("DELETE", "disassembling")


def test_a_part_that_is_changed_in_use_is_associated_by_itself() -> None:
    out = stream_of("item:BAT-1", words.MemberLeft(assembly="KIT-1", cause="swapped"))
    into = stream_of("item:BAT-2", words.MemberJoined(assembly="KIT-1", slot="battery"))
    assert [(one["action"], one["childEPCs"]) for one in told(out, into)] == [
        ("DELETE", ["urn:reprocess:item:BAT-1"]),
        ("ADD", ["urn:reprocess:item:BAT-2"]),
    ]


def test_a_load_is_an_aggregation_with_its_temperatures_and_its_lethality() -> None:
    record = words.LoadRecorded(
        source="logger", record="d" * 64, samples=9, lasted_s=700, lowest_c="79.50", hottest_c="93.1", gap_s_max=10,
        doses=(words.Dose("3000", "65", "last"),), logger="LOG-1",
    )  # fmt: skip
    load = stream_of(
        "load:L-1", words.LoadAdded(items={"TUB-2": 1, "TUB-1": 1}), record, words.LoadPassed(items=("TUB-1",)),
        words.LoadUnloaded(items=("TUB-1",), finished=False),
    )  # fmt: skip
    added, recorded, passed, removed = told(load)
    assert (added["type"], added["action"], added["bizStep"]) == ("AggregationEvent", "ADD", "loading")
    assert added["childEPCs"] == ["urn:reprocess:item:TUB-1", "urn:reprocess:item:TUB-2"]
    reports = {
        one["sensorMetadata"]["reprocess:reading"]: one["sensorReport"][0] for one in recorded["sensorElementList"]
    }
    assert reports["lowest_c"] == {"type": "Temperature", "value": 79.5, "uom": "CEL"}
    assert reports["a0_s"] == {"type": "urn:reprocess:reading:a0_s", "value": 3000, "uom": "SEC"}
    assert recorded["sensorElementList"][0]["sensorMetadata"]["deviceID"] == "urn:reprocess:instrument:LOG-1"
    assert (passed["disposition"], removed["action"]) == ("conformant", "DELETE")


def test_a_place_tells_its_temperature() -> None:
    (event,) = told(stream_of("place:STORE 1", words.PlaceRead(reading="temp_c", value="21", good=True, limit="5..30")))
    assert event["readPoint"] == {"id": "urn:reprocess:place:STORE%201"}
    assert event["sensorElementList"][0]["sensorReport"][0]["value"] == 21


def held(hold: str, sort: str) -> words.HoldPlaced:
    return words.HoldPlaced(
        hold=hold, sort=sort, rule="H01", cause="a notice", owner="supervisor", lift_roles=("supervisor",),
        lift_two_people=True, lift_requires="the reason settled",
    )  # fmt: skip


def test_a_hold_lasts_until_the_last_of_its_sort_is_lifted() -> None:
    """EPCIS 2.0 (from memory): a persistent disposition stands until it is unset."""
    first, second = held("defect-1", "defect"), held("identity-2", "identity")
    lifted = [words.HoldLifted(hold=one, disposition="settled") for one in ("defect-1", "identity-2")]
    found = told(stream_of("item:BLW-1", first, second, held("recall-3", "recall"), *lifted))
    assert [one.get("persistentDisposition") for one in found] == [
        {"set": ["unavailable"]}, {"set": ["unavailable"]}, {"set": ["recalled"]}, None, {"unset": ["unavailable"]},
    ]  # fmt: skip


STEP = words.StepDone(
    step="functional-test", stage="dried", evidence="measured", readings={"flow_l_per_min": "171"}, instrument="FI-09"
)


@pytest.mark.parametrize(
    "void",
    [
        words.EntryUndone(number=1, undone_kind="step-done", numbers=(1,)),
        words.EntryCorrected(number=1, reason="another item", stage="used", mistaken=True),
        words.HistorySplit(other="BLW-2", numbers=(1,), reason="one tag twice", stage="used", fell=()),
    ],
)
def test_a_mistake_is_told_again_as_one_that_did_not_occur(void: Body) -> None:
    """EPCIS 2.0 (from memory): the same event, with the same id, and an error declaration."""
    first, again = told(stream_of("item:BLW-1", STEP, void))
    declared = again.pop("errorDeclaration")
    assert again == first
    assert declared == {"declarationTime": "2026-03-05T12:01:00Z", "reason": "did_not_occur"}


def test_a_correction_is_an_event_of_its_own_that_the_wrong_one_names() -> None:
    better = words.EntryCorrected(number=1, reason="the other gauge", readings={"flow_l_per_min": "172"}, stage="dried")
    first, again, corrective = told(stream_of("item:BLW-1", STEP, better))
    assert again["eventID"] == first["eventID"]
    assert again["errorDeclaration"]["reason"] == "incorrect_data"
    assert again["errorDeclaration"]["correctiveEventIDs"] == [corrective["eventID"]]
    assert corrective["eventTime"] == first["eventTime"]
    assert corrective["sensorElementList"][0]["sensorReport"][0]["value"] == 172
    assert "errorDeclaration" not in corrective


def test_the_rules_of_this_folder_would_find_a_wrong_event() -> None:
    (event,) = told(stream_of("item:BLW-1", STEP))
    for name, wrong in (
        ("bizStep", "cleaning"), ("disposition", "ready"), ("eventTimeZoneOffset", "+15:00"), ("epcList", ["BLW 1"]),
        ("stage", "dried"), ("errorDeclaration", {"declarationTime": "", "reason": "oops"}),
    ):  # fmt: skip
        assert faults(event | {name: wrong}), name
