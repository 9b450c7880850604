"""FHIR over HTTP: resources of the public model library, pages that lead on, and outcomes instead of problems.

Sources: HL7 FHIR R5 (5.0.0), pages "http", "search", "operationoutcome"; the models are those of `fhir.resources`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fhir.resources import get_fhir_model_class

from reprocess.exchange.fhir.bundles import SEARCHES
from reprocess.service import who
from tests.exchange.fhir_codes import wrong_codes
from tests.ledger.conftest import day_over  # noqa: F401 - a fixture of both rooms
from tests.service.conftest import Bench, anna
from tests.service.standards import limit, standards_of

MEDIA_TYPE = "application/fhir+json"


@pytest.fixture(scope="module")
def once(day_over: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:  # noqa: F811
    with standards_of(day_over, tmp_path_factory.mktemp("standards")) as made:
        yield made


@pytest.fixture
def bench(once: Bench) -> Bench:
    once.caller = anna()
    once.app.dependency_overrides[who.caller] = lambda: once.caller
    return once


def got(bench: Bench, path: str, status: int = 200) -> dict[str, Any]:
    """Returns a resource that is one to the model library, with codes of its value sets only."""
    told = bench.get(f"/fhir{path}")
    assert (told.status_code, told.headers["content-type"]) == (status, MEDIA_TYPE), told.text
    resource: dict[str, Any] = told.json()
    get_fhir_model_class(resource["resourceType"]).model_validate_json(told.content)
    assert wrong_codes(resource) == []
    return resource


@pytest.mark.parametrize("kind", sorted(SEARCHES))
def test_what_a_search_finds_is_read_at_its_address(kind: str, bench: Bench) -> None:
    page = got(bench, f"/{kind}?_count=4")
    assert (page["resourceType"], page["type"]) == ("Bundle", "searchset")
    for one in page.get("entry", []):
        assert one["fullUrl"].startswith(f"https://testserver/v1/fhir/{kind}/")
        assert bench.client.get(one["fullUrl"]).json() == one["resource"]


def test_the_links_lead_through_all_pages(bench: Bench) -> None:
    whole = [one["resource"]["id"] for one in got(bench, "/Task?_count=200")["entry"]]
    seen: list[str] = []
    address = "/Task?_count=3"
    for _ in range(100):
        page = got(bench, address)
        seen += [one["resource"]["id"] for one in page.get("entry", [])]
        links = {one["relation"]: one["url"] for one in page["link"]}
        if "next" not in links:
            break
        address = links["next"].removeprefix("https://testserver/v1/fhir")
    assert seen == whole
    assert len(whole) > 6


def test_the_statement_is_for_everybody_and_names_what_is_served(bench: Bench) -> None:
    bench.app.dependency_overrides.clear()
    told = got(bench, "/metadata")
    served = [one["type"] for one in told["rest"][0]["resource"]]
    assert served == sorted(SEARCHES)
    for kind in served:
        assert got(bench, f"/{kind}", 401)["issue"][0]["code"] == "login"


@pytest.mark.parametrize(
    ("path", "status", "code"),
    [
        ("/Device/NO-1", 404, "not-found"),
        ("/Patient", 404, "not-found"),
        ("/Patient/1", 404, "not-found"),
        ("/Task/0", 404, "not-found"),
        ("/Device?colour=red", 400, "invalid"),
        ("/Device?_count=-1", 400, "invalid"),
        ("/Device?_lastUpdated=ge2026-02-30", 400, "invalid"),
        ("/Device?_format=xml", 400, "invalid"),
        ("/Device/%00%0a", 400, "invalid"),
        ("/Device/" + "X" * 200, 400, "invalid"),
    ],
)
def test_what_goes_wrong_is_an_outcome(path: str, status: int, code: str, bench: Bench) -> None:
    told = got(bench, path, status)
    assert told["resourceType"] == "OperationOutcome"
    assert told["issue"][0]["code"] == code


def test_nothing_can_be_written(bench: Bench) -> None:
    for method in ("POST", "PUT", "PATCH", "DELETE"):
        told = bench.client.request(method, "/v1/fhir/Device/S-1", json={})
        assert told.status_code == 405


def test_wearers_are_masked_without_the_scope(bench: Bench) -> None:
    limit(bench, without=frozenset({"wearers:read"}))
    assert got(bench, "/DeviceDispense?subject=Practitioner/W-1", 400)["issue"][0]["code"] == "invalid"
    for kind in SEARCHES:
        assert "urn:reprocess:wearer" not in str(got(bench, f"/{kind}?_count=200"))


@pytest.mark.parametrize(
    ("kind", "scope"),
    [("AuditEvent", "entries:read"), ("Device", "items:read"), ("Task", "items:read"),
     ("DeviceDefinition", "definitions:read")],
)  # fmt: skip
def test_every_kind_needs_its_scope(kind: str, scope: str, bench: Bench) -> None:
    limit(bench, without=frozenset({scope}))
    told = bench.get(f"/fhir/{kind}")
    assert told.status_code == 403, told.text
    assert told.json()["issue"][0]["code"] == "forbidden"


def test_readings_of_baths_need_the_scope_for_baths(bench: Bench) -> None:
    def subjects() -> set[str]:
        page = got(bench, "/Observation?_count=200")
        return {one["resource"]["subject"].get("type", "") for one in page.get("entry", [])}

    assert "Device" in subjects()
    bench.get("/fhir/Observation")
    limit(bench, without=frozenset({"work:read"}))
    assert "Substance" not in subjects()


def test_another_site_is_not_seen(bench: Bench) -> None:
    limit(bench, sites=frozenset({"ELSEWHERE"}))
    assert "entry" not in got(bench, "/Device")
    assert got(bench, "/Device/S-1", 404)["issue"][0]["code"] == "not-found"
    assert "entry" not in got(bench, "/Task")
