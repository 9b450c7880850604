"""The record goes on under a new key over HTTP: an administrator signs, and a second person (D10)."""

from __future__ import annotations

from tests.service.conftest import Bench
from tests.service.staff import BOTH, PIN, SIGNED, joined, token, with_pins


def test_an_administrator_and_a_second_person_rotate_the_key(served: Bench) -> None:
    with_pins(served, "P-A", "P-B")
    ring = served.department.ledger.ring
    for nobody in (joined(served, "P-V", "Vera Holm", "supervisor"), token("people:read")):
        served.caller = nobody
        assert served.post("/keys", BOTH).status_code == 403
    served.caller = joined(served, "P-S", "Sam Hale", "system-administrator")
    for lacking in ({}, SIGNED, BOTH | {"second_pin": "00000000"}, BOTH | {"second_badge": "B-P-S", "second_pin": PIN}):
        assert not served.post("/keys", lacking).is_success, lacking
    assert ring.place.stat().st_size == 32
    answer = served.post("/keys", BOTH)
    assert answer.status_code == 200, answer.text
    assert answer.json()["subject"] == "key:record"
    assert ring.place.stat().st_size == 64
    begun = served.department.history("key:record")[-1]
    assert (begun.kind, begun.envelope.actor, begun.envelope.second) == ("key-rotated", "P-S", "P-B")
    assert begun.envelope.identity == "signed"
    assert served.department.verify(full=True).sound
