"""The record as FHIR R5: every resource is one to the public model library, and every code is in its value set.

Sources: HL7 FHIR R5 (5.0.0), https://hl7.org/fhir/R5/; the models are those of `fhir.resources`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Any

import orjson
import pytest
from fhir.resources import get_fhir_model_class
from fhir.resources.device import Device

from reprocess.definitions.configuration import Configuration
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission
from reprocess.errors import WrongUseError
from reprocess.exchange.fhir import bundles, devices
from reprocess.exchange.fhir.asking import COUNT_MAX, search_of
from reprocess.exchange.fhir.audit import audit_event
from reprocess.exchange.fhir.observations import observations
from reprocess.exchange.fhir.searching import Facade
from reprocess.exchange.fhir.terms import GIAI, Json, Seeing, as_json, is_giai, unit_of
from reprocess.exchange.fhir.work import dispenses, tasks
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.custody import Custody
from reprocess.record.entry import Entry
from reprocess.record.places import Instrument
from reprocess.record.standing import Hold, Standing
from reprocess.record.words import BODIES, Body
from reprocess.shipped import files_in, folder
from reprocess.terms import Stage
from tests.exchange.desk import Desk
from tests.exchange.fhir_codes import UCUM, wrong_codes
from tests.exchange.telling import NOON, stream_of

SEEING, BLIND = Seeing(wearers=True), Seeing()
READY = Standing("BLW-1", "blower", "LB-3", "LMG", stage=Stage.READY, number=9, workflow="blower", digest="d" * 64)


def proven(resource: Json) -> dict[str, Any]:
    """Returns a resource as whoever receives it reads it, once library and value sets found nothing wrong."""
    text = as_json(resource)
    model = get_fhir_model_class(resource["resourceType"])
    model.model_validate_json(text)
    assert wrong_codes(resource) == []
    read: dict[str, Any] = orjson.loads(text)
    return read


@pytest.fixture
def facade(a_department: Department) -> Iterator[Facade]:
    with looking(a_department.ledger) as read:
        yield Facade(read, a_department.library, SEEING, a_department.clock.now().wall_us)


def test_the_model_library_alone_would_not_find_a_wrong_code() -> None:
    """Why this folder has value sets of its own; goes once the library checks bindings."""
    wrong = {"resourceType": "Device", "status": "nonsense"}
    assert Device.model_validate_json(as_json(wrong)).status == "nonsense"
    assert wrong_codes(wrong) == ["Device.status is nonsense"]


@pytest.mark.parametrize("kind", sorted(bundles.SEARCHES))
def test_everything_of_the_demos_day_is_a_resource(kind: str, facade: Facade) -> None:
    found = [proven(one) for one in facade.everything(kind)]
    names = [one["id"] for one in found]
    assert len(names) == len(set(names))
    assert found or kind == "DeviceDispense"


def test_every_item_and_every_entry_of_the_demos_day_is_told(facade: Facade) -> None:
    items = {item.item for item in facade.read.items()}
    told = {one["id"] for one in facade.everything("Device")}
    assert items <= told
    assert {one["id"].partition(".")[0] for one in facade.everything("Device")} - items == {"instrument"}
    entries = [str(entry.feed) for entry in facade.read.each_entry()]
    assert [one["id"] for one in facade.everything("AuditEvent")] == entries


def test_every_step_of_the_demos_day_is_a_task(facade: Facade) -> None:
    """Independently counted: what begins or makes up a step, less the ends of dwells."""
    kinds = ("step-done", "step-failed", "dwell-started", "item-released", "wear-step-done", "item-loaded")
    begun = [entry for entry in facade.read.each_entry() if entry.kind in kinds]
    assert len(list(facade.everything("Task"))) == len(begun)


@pytest.mark.parametrize("body", [one for _, one in sorted(BODIES.items())], ids=lambda one: one.kind)
def test_every_kind_of_entry_is_an_audit_event(body: type[Body]) -> None:
    (entry,) = stream_of("item:BLW-1", body.model_construct())
    told = proven(audit_event(entry, BLIND).resource)
    assert told["code"]["coding"][0]["code"] == body.kind


@pytest.mark.parametrize(
    ("stage", "status", "available"),
    [
        (Stage.USED, "active", None),
        (Stage.INSPECTED, "active", None),
        (Stage.READY, "active", "available"),
        (Stage.IN_REPAIR, "active", "damaged"),
        (Stage.LOST, "active", "lost"),
        (Stage.CONDEMNED, "inactive", "destroyed"),
    ],
)
def test_a_stage_is_told_as_what_fhir_has_and_as_itself(stage: Stage, status: str, available: str | None) -> None:
    told = proven(devices.device(replace(READY, stage=stage), NOON))
    assert told["status"] == status
    assert told.get("availabilityStatus", {"coding": [{"code": None}]})["coding"][0]["code"] == available
    (own,) = (one for one in told["property"] if one["type"]["coding"][0]["code"] == "stage")
    assert own["valueCodeableConcept"]["coding"] == [{"system": "urn:reprocess:stage", "code": str(stage)}]


HELD = Hold(
    "defect-3", "defect", "H01", "cracked", "supervisor", "P-1", NOON, 3, ("supervisor",), lift_two_people=True,
    lift_requires="repair",
)  # fmt: skip


@pytest.mark.parametrize(
    "changed",
    [
        {"holds": {"defect-3": HELD}},
        {"custody": Custody("issued", 9, NOON, "WARD-3")},
        {"assembly": "KIT-1"},
        {"ready_until_us": NOON},
    ],
)
def test_ready_is_available_only_where_nothing_speaks_against_it(changed: dict[str, Any]) -> None:
    assert "availabilityStatus" not in devices.device(replace(READY, **changed), NOON)


def test_an_item_entered_by_mistake_says_so() -> None:
    assert proven(devices.device(Standing("BLW-1", number=2), NOON))["status"] == "entered-in-error"


# GS1 General Specifications, "GIAI (8004)": a company prefix and an asset reference, at most 30 characters; its address
# is that of the GS1 Digital Link Standard, URI Syntax: https://id.gs1.org/8004/...
@pytest.mark.parametrize(
    ("item", "known"),
    [("4012345BLW1", True), ("BLW-0041", False), ("04012345678901-17", False), ("4" * 31, False), ("401234-7", False)],
)
def test_an_individual_asset_is_named_as_gs1_does(item: str, *, known: bool) -> None:
    assert is_giai(item) is known
    (told,) = proven(devices.device(replace(READY, item=item), NOON))["identifier"]
    assert told == {"system": GIAI if known else "urn:reprocess:item", "value": item}


# US FDA, UDI formats by FDA-accredited issuing agency, 2017: the example of GS1; the issuer's address is that of
# HL7 FHIR R5, page "device", Device.udiCarrier.issuer.
LABEL = "(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234"


def test_the_label_of_its_lot_is_carried(desk: Desk) -> None:
    bench = desk.department.station("LMG-C1", badge="B-01", second="B-02")
    received = asking.ReceiveLot("A213B1", 9, "LB-3", "part", "pieces", device="51022222233336", label=LABEL)
    assert bench.ask(received).verdict == "accepted"
    assert bench.enrol(Commission("BLW-1", "blower", "LB-3", "S-1", lot="A213B1")).verdict == "accepted"
    with looking(desk.department.ledger) as read:
        one = Facade(read, desk.department.library, BLIND, NOON).one("Device", "BLW-1")
    assert one is not None
    told = proven(one)
    (carrier,) = told["udiCarrier"]
    assert carrier == {
        "deviceIdentifier": "51022222233336", "issuer": "http://hl7.org/fhir/NamingSystem/gs1-di",
        "carrierHRF": LABEL, "entryType": "unknown",
    }  # fmt: skip
    assert (told["lotNumber"], told["serialNumber"]) == ("A213B1", "S-1")


def test_an_instrument_found_faulty_is_damaged_and_names_what_it_is_part_of() -> None:
    bay = Instrument("BAY-1", "charger-bay", "LMG", faulty=True, part_of="CHG 1", verified_until_us=NOON, number=3)
    told = proven(devices.instrument(bay))
    assert told["availabilityStatus"]["coding"][0]["code"] == "damaged"
    assert told["parent"]["reference"].startswith("Device/instrument.")


def test_where_it_is_and_what_it_is_part_of_are_told() -> None:
    held = replace(
        READY, assembly="KIT-1", slot="blower", place="STORE-1", ready_until_us=NOON, sealed_expiry_us=NOON,
        holds={"defect-3": HELD}, configuration="three-port-hepa",
    )  # fmt: skip
    told = proven(devices.device(held, NOON))
    assert (told["parent"]["reference"], told["location"]["identifier"]["value"]) == ("Device/KIT-1", "STORE-1")
    names = [one["type"]["coding"][0]["code"] for one in told["property"]]
    assert names[-4:] == ["hold", "ready-until", "slot", "configuration"]


def test_a_configuration_names_its_parts_and_a_kind_where_several_models_may_stand() -> None:
    held = next(one.holds for one in files_in(folder()) if one.path.name == "three-port-hepa.yaml")
    assert isinstance(held, Configuration)
    told = proven(devices.configuration(held))
    parts = {one["reference"]["reference"]: one["count"] for one in told["hasPart"]}
    assert parts["DeviceDefinition/model.LF-H"] == 2
    assert parts["DeviceDefinition/kind.head-cover"] == 1


def test_ids_that_fhir_does_not_take_become_digests() -> None:
    """HL7 FHIR R5, page "datatypes": an id is 1 to 64 of A-Z, a-z, 0-9, hyphen and full stop."""
    told = devices.definition_id("model", "Größe M / 3")
    assert told.startswith("model.")
    assert proven(devices.model("Größe M / 3", "hood"))["id"] == told


def dwell(*rest: Body) -> list[Entry]:
    start = words.DwellStarted(step="disinfect", cycle=2, dwell="contact", attempt=1, least_s=60, temp_c="20.50")
    return stream_of("item:BLW-1", start, *rest)


ENDED = words.DwellEnded(
    step="disinfect", stage="disinfected", evidence="measured", proven_s=60, least_s=60, greatest_seen_s=60
)
BROKEN = words.DwellBroken(step="disinfect", cause="dried", rule="T04", wet_s=30, least_s=60)
USED = words.ItemContaminated(cause="dropped", contamination_class="routine", cycle=3, workflow="blower", digest="d")
UNDONE = words.EntryUndone(number=1, undone_kind="dwell-started", numbers=(1,))


@pytest.mark.parametrize(
    ("rest", "status"),
    [
        ((), "in-progress"),
        ((ENDED,), "completed"),
        ((BROKEN,), "failed"),
        ((USED,), "cancelled"),
        ((UNDONE,), "entered-in-error"),
    ],
)
def test_a_dwell_is_one_task_from_its_beginning_to_its_end(rest: tuple[Body, ...], status: str) -> None:
    entries = dwell(*rest)
    (made,) = tasks(entries, SEEING)
    told = proven(made.resource)
    assert (told["status"], told["id"], made.feed) == (status, "100", entries[-1].feed)
    assert told["executionPeriod"]["start"] == "2026-03-05T12:00:00Z"


@pytest.mark.parametrize(
    ("last", "status"),
    [
        (ENDED.model_copy(update={"load": "L-1"}), "completed"),
        (words.StepsFell(rule="W06", stage="used", fell=("disinfect",), because="failed", load="L-1"), "failed"),
        (words.ItemUnloaded(load="L-1", cause="removed"), "cancelled"),
        (words.ItemUnloaded(load="L-1", cause="unloaded"), "in-progress"),
    ],
)
def test_a_step_that_a_load_does_is_one_task(last: Body, status: str) -> None:
    loaded = words.ItemLoaded(load="L-1", cycle=2, step="disinfect")
    (made,) = tasks(stream_of("item:BLW-1", loaded, last), SEEING)
    told = proven(made.resource)
    assert told["status"] == status
    assert told["input"][0]["valueIdentifier"] == {"system": "urn:reprocess:load", "value": "L-1"}


def test_another_load_ends_no_task_of_this_one() -> None:
    fell = words.StepsFell(rule="W06", stage="used", fell=("disinfect",), because="failed", load="L-1")
    (made,) = tasks(stream_of("item:BLW-1", words.ItemLoaded(load="L-2", cycle=2, step="disinfect"), fell), SEEING)
    assert made.resource["status"] == "in-progress"


TESTED = words.StepDone(
    step="functional-test",
    stage="dried",
    evidence="measured",
    readings={"flow_l_per_min": "171.50", "temp_c": "20"},
    limits={"flow_l_per_min": "170.."},
    instrument="FI-09",
)


def test_a_reading_keeps_its_number_its_unit_and_its_limits() -> None:
    entries = stream_of("item:BLW-1", TESTED)
    flow, temperature = (proven(one.resource) for one in observations(entries, SEEING))
    assert b'"value":171.50' in as_json(observations(entries, SEEING)[0].resource)
    assert flow["valueQuantity"] == {
        "value": 171.5, "unit": "L/min", "system": "http://unitsofmeasure.org", "code": "L/min",
    }  # fmt: skip
    assert flow["referenceRange"][0]["low"]["value"] == 170
    assert flow["device"]["reference"] == "Device/instrument.FI-09"
    assert temperature["valueQuantity"]["code"] == "Cel"
    (task,) = tasks(entries, SEEING)
    told = [one["valueReference"]["reference"] for one in proven(task.resource)["output"]]
    assert told == [f"Observation/{one['id']}" for one in (flow, temperature)]


def test_a_corrected_reading_says_what_it_was() -> None:
    better = words.EntryCorrected(number=1, reason="the other gauge", readings={"temp_c": "21"}, stage="dried")
    flow, temperature = observations(stream_of("item:BLW-1", TESTED, better), SEEING)
    assert proven(flow.resource)["status"] == "final"
    told = proven(temperature.resource)
    assert (told["status"], told["valueQuantity"]["value"], temperature.feed) == ("corrected", 21, 101)
    assert "20" in told["note"][0]["text"]


@pytest.mark.parametrize(
    "void",
    [
        words.EntryUndone(number=1, undone_kind="step-done", numbers=(1,)),
        words.EntryCorrected(number=1, reason="another item", stage="used", mistaken=True),
        words.HistorySplit(other="BLW-2", numbers=(1,), reason="one tag twice", stage="used", fell=()),
    ],
)
def test_what_was_told_by_mistake_is_entered_in_error(void: Body) -> None:
    entries = stream_of("item:BLW-1", TESTED, void)
    made = [*observations(entries, SEEING), *tasks(entries, SEEING)]
    assert {proven(one.resource)["status"] for one in made} == {"entered-in-error"}
    assert {one.feed for one in made} == {101}


def test_an_invalid_strip_test_has_no_value() -> None:
    test = words.SolutionTested(
        valid=False, passed=False, void_because="expired", reading="52", limit="50", unit="ppm", strip_lot="S-1",
        strip_expiry_us=NOON, control_run=False,
    )  # fmt: skip
    (made,) = observations(stream_of("solution:B-1", test), SEEING)
    told = proven(made.resource)
    assert (told["status"], "valueQuantity" in told) == ("cancelled", False)
    assert told["dataAbsentReason"]["coding"][0]["code"] == "error"


def test_the_record_of_a_load_is_its_heat_and_its_lethality() -> None:
    record = words.LoadRecorded(
        source="logger", record="d" * 64, samples=9, lasted_s=700, lowest_c="79.5", hottest_c="93.1", gap_s_max=10,
        doses=(words.Dose("3000", "65", "last"),),
    )  # fmt: skip
    told = [proven(one.resource) for one in observations(stream_of("load:L-1", record), SEEING)]
    assert [one["code"]["coding"][0]["code"] for one in told] == ["hottest_c", "lowest_c", "a0_s"]
    assert told[2]["valueQuantity"] == {"value": 3000, "unit": "s", "system": "http://unitsofmeasure.org", "code": "s"}


# UCUM 2.1: a code is one of these, or it is not sent.
@pytest.mark.parametrize("key", ["temp_c", "soc_percent", "atp_rlu", "gap_mm", "wash_min", "odd_things"])
def test_units_are_of_ucum(key: str) -> None:
    unit = unit_of(key)
    assert (unit is None) == (key == "odd_things")
    assert unit is None or unit[0] in UCUM


ISSUED = words.ItemIssued(cycle=2, wearer="W-1", place="WARD-3", purpose="care")
NOBODY = ISSUED.model_copy(update={"wearer": None})
NAMED = words.WearerIdentified(number=1, wearer="W-9")
BACK = words.ItemReturned(place="HATCH", wearer="W-1")


def test_an_issue_is_a_dispense_to_a_pseudonym() -> None:
    (made,) = dispenses(stream_of("item:KIT-1", ISSUED, BACK), SEEING)
    told = proven(made.resource)
    assert told["subject"] == {
        "type": "Practitioner", "identifier": {"system": "urn:reprocess:wearer", "value": "W-1"},
    }  # fmt: skip
    assert told["extension"] == [{"url": "urn:reprocess:returned", "valueDateTime": "2026-03-05T12:01:00Z"}]


@pytest.mark.parametrize(("seeing", "why"), [(BLIND, "masked"), (SEEING, "unknown")])
def test_whoever_is_not_told_is_absent_with_the_reason(seeing: Seeing, why: str) -> None:
    """HL7 FHIR R5, page "extension-data-absent-reason"."""
    body = ISSUED if seeing is BLIND else NOBODY
    (made,) = dispenses(stream_of("item:KIT-1", body), seeing)
    told = proven(made.resource)
    expected = {"url": "http://hl7.org/fhir/StructureDefinition/data-absent-reason", "valueCode": why}
    assert told["subject"]["extension"] == told["receiver"]["extension"] == [expected]


def test_a_wearer_who_is_named_later_is_told() -> None:
    (made,) = dispenses(stream_of("item:KIT-1", NOBODY, NAMED), SEEING)
    assert proven(made.resource)["subject"]["identifier"]["value"] == "W-9"


def test_pseudonyms_stand_nowhere_without_the_scope() -> None:
    """D13: of issues, of wearing, of entries about wearers and of their cases."""
    worn = words.WearStepDone(phase="put-on", step="look-over", done=True, readings={"seal_pa": "25"})
    issues = stream_of("item:KIT-1", ISSUED, NAMED, BACK)
    wearing = stream_of("item:KIT-1", worn, actor="W-5")
    made = [*dispenses(issues, BLIND), *tasks(wearing, BLIND), *observations(wearing, BLIND)]
    made += [audit_event(one, BLIND) for one in (*issues, *wearing)]
    made += [audit_event(one, BLIND) for one in stream_of("wearer:W-7", words.WearerLeft())]
    made += [audit_event(one, BLIND) for one in stream_of("case:BATH-7", words.CaseRead())]
    text = b"".join(as_json(proven(one.resource)) for one in made)
    assert text.count(b"masked") == 7
    assert b"W-" not in text
    assert b"BATH-7" not in text


def test_names_of_people_stand_nowhere(facade: Facade) -> None:
    names = [person.name for person in facade.read.people()]
    told = b"".join(as_json(one) for kind in bundles.SEARCHES for one in facade.everything(kind))
    assert names
    assert not [name for name in names if name.encode() in told]


def page_through(facade: Facade, kind: str, **asked: str) -> list[Json]:
    found: list[Json] = []
    after: str | None = None
    for _ in range(1_000):
        parameters = [*asked.items(), *([("_after", after)] if after is not None else [])]
        page = facade.page(search_of(kind, parameters, facade.seeing))
        found += page.found
        if page.more is None:
            return found
        after = page.more
    pytest.fail("the pages never end")


@pytest.mark.parametrize("kind", sorted(bundles.SEARCHES))
def test_pages_together_are_everything_once(kind: str, facade: Facade) -> None:
    by_page = [one["id"] for one in page_through(facade, kind, _count="7")]
    assert sorted(by_page) == sorted(one["id"] for one in facade.everything(kind))


@pytest.mark.parametrize("kind", sorted(bundles.SEARCHES))
def test_what_a_search_finds_can_be_read_by_its_id(kind: str, facade: Facade) -> None:
    for one in page_through(facade, kind)[:5]:
        assert facade.one(kind, one["id"]) == one
    assert facade.one(kind, "0") is None
    assert facade.one(kind, "9" * 40) is None


def test_searches_find_what_they_say(facade: Facade) -> None:
    whole = page_through(facade, "Task")
    failed = page_through(facade, "Task", status="failed")
    assert failed == [one for one in whole if one["status"] == "failed"] != []
    own = page_through(facade, "Task", focus="Device/TUB-117")
    assert own == [one for one in whole if one["focus"]["reference"] == "Device/TUB-117"] != []
    read = page_through(facade, "Observation", subject="Device/BLW-041")
    assert read == [one for one in page_through(facade, "Observation") if "BLW-041" in str(one["subject"])] != []
    audited = page_through(facade, "AuditEvent", entity="Device/TUB-117")
    assert len(audited) == len(facade.read.entries_of("item:TUB-117"))
    (device,) = page_through(facade, "Device", identifier="urn:reprocess:item|TUB-117")
    assert device["id"] == "TUB-117"
    assert page_through(facade, "Device", identifier="urn:other|TUB-117") == []
    (meter,) = page_through(facade, "Device", identifier="urn:reprocess:instrument|FI-09")
    assert meter["id"] == "instrument.FI-09"
    assert page_through(facade, "Device", status="inactive") == []


def test_what_changed_since_is_found_in_either_direction(facade: Facade) -> None:
    whole = page_through(facade, "Task")
    split = "2026-03-05T10:00:00Z"
    later = page_through(facade, "Task", _lastUpdated=f"ge{split}")
    earlier = page_through(facade, "Task", _lastUpdated=f"lt{split}")
    assert later == [one for one in whole if one["meta"]["lastUpdated"] >= split] != []
    assert earlier == [one for one in whole if one["meta"]["lastUpdated"] < split] != []
    assert page_through(facade, "Task", _lastUpdated="2026-03-05") == whole
    assert page_through(facade, "Task", _lastUpdated="gt2026-03-05") == []


@pytest.mark.parametrize(
    ("kind", "asked"),
    [
        ("Device", [("name", "x")]),
        ("Device", [("status", "active"), ("status", "active")]),
        ("Device", [("_count", "0")]),
        ("Device", [("_count", "\u0661")]),
        ("Device", [("_lastUpdated", "yesterday")]),
        ("Device", [("_lastUpdated", "ge2026-02-30")]),
        ("Device", [("_lastUpdated", "ge2026-03-05T10:00:00")]),
        ("Device", [("_lastUpdated", "ge2026-03-05"), ("_lastUpdated", "gt2026-03-05")]),
        ("Device", [("_format", "xml")]),
        ("Task", [("focus", "Location/WARD-3")]),
        ("DeviceDispense", [("subject", "Practitioner/W-1")]),
    ],
)
def test_a_search_that_is_not_served_is_refused(kind: str, asked: list[tuple[str, str]]) -> None:
    with pytest.raises(WrongUseError):
        search_of(kind, asked, BLIND)


def test_a_page_is_never_longer_than_the_most() -> None:
    assert search_of("Device", [("_count", "999999")], BLIND).count == COUNT_MAX


def test_issues_to_one_wearer_are_found_with_the_scope(desk: Desk) -> None:
    assert search_of("DeviceDispense", [("subject", "Practitioner/W-1")], SEEING).about == "W-1"
    with looking(desk.department.ledger) as read:
        none = Facade(read, desk.department.library, SEEING, NOON)
        assert page_through(none, "DeviceDispense", subject="W-1") == []


def test_the_entries_about_an_instrument_are_found(facade: Facade) -> None:
    audited = page_through(facade, "AuditEvent", entity="Device/instrument.FI-09")
    assert len(audited) == len(facade.read.entries_of("instrument:FI-09")) > 0


def test_another_site_is_not_read(facade: Facade) -> None:
    elsewhere = replace_sites(facade, "SAL")
    assert page_through(elsewhere, "Task") == []
    assert elsewhere.one("Device", "TUB-117") is None
    assert page_through(replace_sites(facade, "LMG"), "Task") == page_through(facade, "Task")


def replace_sites(facade: Facade, site: str) -> Facade:
    return Facade(facade.read, facade.library, facade.seeing, facade.now_us, frozenset({site}))


def test_a_page_is_a_bundle_with_its_links(facade: Facade) -> None:
    asked = [("_count", "3"), ("status", "active")]
    page = facade.page(search_of("Device", asked, SEEING))
    told = proven(bundles.searchset("https://example.org/v1/fhir/Device", asked, page.found, page.more, total=None))
    assert len(told["entry"]) == 3
    links = {one["relation"]: one["url"] for one in told["link"]}
    assert links["self"] == "https://example.org/v1/fhir/Device?_count=3&status=active"
    assert links["next"] == f"{links['self']}&_after={page.more}"
    assert told["entry"][0]["fullUrl"].startswith("https://example.org/v1/fhir/Device/")


def test_an_empty_page_and_an_outcome_are_resources() -> None:
    """HL7 FHIR R5, page "json": an array is never empty."""
    told = proven(bundles.searchset("https://example.org/Task", [], [], None, total=0))
    assert ("entry" in told, told["total"]) == (False, 0)
    assert proven(bundles.outcome("not-found", "There is none."))["issue"][0]["severity"] == "error"


def test_the_statement_lists_exactly_what_is_served() -> None:
    told = proven(bundles.capabilities("https://example.org/v1/fhir", "1.0", NOON))
    listed = {one["type"]: {each["name"] for each in one["searchParam"]} for one in told["rest"][0]["resource"]}
    assert listed == {kind: {name for name, _ in known} for kind, known in bundles.SEARCHES.items()}
    assert {kind: " ".join(sorted(names)) for kind, names in listed.items()} == SERVED


SERVED = {
    "AuditEvent": "_id _lastUpdated entity",
    "Device": "_id _lastUpdated identifier status",
    "DeviceDefinition": "_id identifier",
    "DeviceDispense": "_id _lastUpdated status subject",
    "Observation": "_id _lastUpdated status subject",
    "Task": "_id _lastUpdated focus status",
}
"""Every search that a test of this file makes; a parameter that is only listed would find too much."""


def test_numbers_stay_as_they_were_read() -> None:
    assert as_json({"value": Decimal("0.10")}) == b'{"value":0.10}'
    with pytest.raises(TypeError):
        as_json({"value": object()})
