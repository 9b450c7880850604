"""Every writing operation over HTTP: schema, keys, answers and refusals."""

from __future__ import annotations

from dataclasses import replace

from reprocess.receiving.results import key_of
from reprocess.receiving.sources import Source
from tests.service.conftest import Bench
from tests.signing_in.people import ANNA


def test_a_step_is_on_record_and_its_repetition_is_not_written_again(served: Bench) -> None:
    first = served.post("/items/S-4/contaminations", {"cause": "used"}, key="once-more")
    assert first.status_code == 200, first.text
    second = served.post("/items/S-4/contaminations", {"cause": "used"}, key="once-more")
    assert second.status_code == 200
    assert second.json() == first.json() | {"repeated": True}


def test_a_key_of_another_request_is_refused(served: Bench) -> None:
    served.post("/items/S-4/contaminations", {"cause": "used"}, key="once-more")
    other = served.post("/items/S-4/contaminations", {"cause": "dropped"}, key="once-more")
    assert (other.status_code, other.json()["type"]) == (422, "/v1/problems/key-reused")


def test_a_refusal_carries_the_whole_answer(served: Bench) -> None:
    served.post("/items/S-4/contaminations", {"cause": "used"})
    told = served.post("/items/S-4/release", {"pin": ANNA.pin})
    problem = told.json()
    assert (told.status_code, problem["type"], problem["answer"]["verdict"]) == (409, "/v1/problems/refused", "refused")
    assert all(one["sentence"] and one["next_action"] for one in problem["answer"]["reasons"])


def test_without_a_key_nothing_is_asked(served: Bench) -> None:
    told = served.client.post("/v1/items/S-4/undo", json={})
    assert (told.status_code, told.json()["type"]) == (400, "/v1/problems/key-missing")


def test_nobody_takes_a_key_of_the_departments_own(served: Bench) -> None:
    """I9, I14: a reminder whose key was taken would never ring on record, and a machine's result would be refused."""
    washer = Source("washer-1", "washer", "WD-1", "LMG-1", ())
    reminder = "R05/item:S-4/17/most"
    for key in (f"rang:{reminder}", f"escalated:{reminder}", f"seen:{reminder}", key_of(washer, "msg-1")):
        told = served.post("/items/S-4/contaminations", {"cause": "used"}, key=key)
        assert (told.status_code, told.json()["type"]) == (400, "/v1/problems/key-missing"), key


FIRST, SECOND = "t-1", "t-2"


def test_a_token_of_another_site_writes_nothing_about_what_it_cannot_see(served: Bench) -> None:
    elsewhere = replace(served.caller, kind="token", token=SECOND, sites=frozenset({"SAL"}), identity="token:t-2")
    before = len(served.department.history("item:S-4"))
    served.caller = elsewhere
    told = served.post("/items/S-4/contaminations", {"cause": "dropped", "station": "LMG-1"})
    assert told.status_code in {403, 404}
    assert "stage" not in told.text
    assert len(served.department.history("item:S-4")) == before


def test_two_programs_with_one_key_are_two_requests_and_each_entry_says_whose_it_is(served: Bench) -> None:
    one = replace(served.caller, kind="token", person=None, badge=None, token=FIRST, identity="token:t-1")
    body = {"cause": "dropped", "station": "LMG-1"}
    served.caller = one
    assert served.post("/items/S-4/contaminations", body, key="same").status_code == 200
    assert served.department.history("item:S-4")[-1].envelope.identity == "token:t-1"
    served.caller = replace(one, token=SECOND, identity="token:t-2")
    assert served.post("/items/S-4/contaminations", body, key="same").json()["type"] == "/v1/problems/key-reused"
