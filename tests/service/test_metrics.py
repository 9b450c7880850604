"""The metrics, read back with the reference library's own parser."""

from __future__ import annotations

from fastapi.testclient import TestClient
from prometheus_client import CollectorRegistry, Histogram
from prometheus_client.parser import text_string_to_metric_families

from reprocess.service.metrics import SECONDS, Counts, Spread
from reprocess.service.who import Caller
from reprocess.settings import ServiceSettings, Settings
from tests.service.conftest import Bench


def read(text: str) -> dict[str, dict[tuple[str, ...], float]]:
    """The samples by name, each by the values of its labels."""
    found: dict[str, dict[tuple[str, ...], float]] = {}
    for family in text_string_to_metric_families(text):
        for one in family.samples:
            found.setdefault(one.name, {})[tuple(one.labels.values())] = one.value
    return found


def test_requests_are_counted_by_template_and_status(served: Bench) -> None:
    for item in ("SH-1", "SH-2", "NONE"):
        served.post(f"/items/{item}/contaminations", {"cause": "used"})
    served.get("/nowhere/SH-1")
    told = served.get("/metrics")
    assert told.headers["Content-Type"].startswith("text/plain; version=0.0.4")
    found = read(told.text)["reprocess_requests_total"]
    template = "/v1/items/{item}/contaminations"
    assert sum(count for labels, count in found.items() if template in labels) == 3
    assert found["GET", "none", "404"] == 1


def test_no_label_names_a_person_an_item_or_a_badge(served: Bench) -> None:
    served.post("/items/SH-1/contaminations", {"cause": "used"})
    served.get("/items/SH-1?x=anna")
    text = served.get("/metrics").text
    for word in ("SH-1", "anna", "B-A", "LMG-1"):
        assert word not in text


def test_what_is_on_record_is_counted(served: Bench) -> None:
    found = read(served.get("/metrics").text)
    items = [one for one in served.department.items() if one.known]
    assert sum(found["reprocess_items"].values()) == len(items)
    assert sum(found["reprocess_items_on_hold"].values()) == sum(one.held for one in items)
    assert found["reprocess_entries"] == {(): served.department.last_feed()}
    assert found["reprocess_build_info"]


def test_a_refusal_is_counted_by_its_rules_and_a_transaction_by_its_size(served: Bench) -> None:
    served.post("/items/SH-1/contaminations", {"cause": "used"})
    told = served.post("/items/SH-1/dwells/rewet")
    assert told.status_code == 409
    rules = {(one["rule"],) for one in told.json()["answer"]["reasons"]}
    found = read(served.get("/metrics").text)
    assert set(found["reprocess_refusals_total"]) == rules
    assert found["reprocess_batch_calls_count"] == {(): 2}


def test_a_spread_counts_as_the_reference_library_does() -> None:
    registry = CollectorRegistry()
    reference = Histogram("x", "x", buckets=SECONDS, registry=registry)
    spread = Spread(SECONDS)
    for value in (0.0, 0.005, 0.0051, 0.1, 0.3, 10.0, 11.0, 600.0):
        reference.observe(value)
        spread.add(value)
    buckets = [one.value for one in next(iter(reference.collect())).samples if one.name == "x_bucket"]
    assert [count for _, count in spread.told()] == buckets
    assert spread.told()[-1][0] == "+Inf"


def test_labels_stay_bounded() -> None:
    counts = Counts()
    for number in range(100):
        counts.answered(f"METHOD{number}", "none", 405, 0.1)
    assert list(counts.answers) == [("other", "none", 405)]


def test_the_metrics_need_their_scope(served: Bench) -> None:
    served.caller = Caller("token", token="meter", scopes=frozenset({"items:read"}), identity="token")  # noqa: S106
    assert served.get("/metrics").status_code == 403
    served.caller = Caller("token", token="meter", scopes=frozenset({"metrics:read"}), identity="token")  # noqa: S106
    assert served.get("/metrics").status_code == 200


def test_this_computer_reads_them_without_a_token_where_the_settings_say_so(served: Bench) -> None:
    here = TestClient(served.app, base_url="https://testserver", client=("127.0.0.1", 50_000))
    there = TestClient(served.app, base_url="https://testserver", client=("192.0.2.7", 50_000))
    assert here.get("/metrics").status_code == 404
    served.app.state.served.settings = Settings(service=ServiceSettings(metrics_on_loopback=True))
    assert here.get("/metrics").status_code == 200
    assert there.get("/metrics").status_code == 404
    assert here.get("/metrics", headers={"X-Forwarded-For": "192.0.2.7"}).status_code == 404
