"""The queue of reviews over HTTP."""

from __future__ import annotations

from reprocess.rules import signing
from tests.service.conftest import Bench, anna
from tests.service.staff import SIGNED, elsewhere, joined, with_pins


def test_the_queue_is_what_the_record_says_waits(served: Bench) -> None:
    waiting, refusals = served.department.waiting_for_review()
    told = served.get("/reviews").json()
    assert [one["feed"] for one in told["waiting"]] == [one.feed for one in waiting]
    assert [one["times"] for one in told["refusals"]] == [one.times for one in refusals]
    assert told["refusals_until"] == max(one.last_feed for one in refusals)
    assert all(one["says"] for one in told["refusals"])


def test_an_entry_is_shown_as_it_is_signed_and_then_waits_no_more(served: Bench) -> None:
    with_pins(served, "P-A", "P-B")
    feed = served.get("/reviews").json()["waiting"][0]["feed"]
    shown = served.get(f"/reviews/{feed}").json()
    assert shown["shown"] == signing.digest_of(shown["text"])
    body = {"finding": "looked at it", "shown": shown["shown"]}
    own = served.post(f"/reviews/{feed}", body | SIGNED)
    assert (own.status_code, own.json()["answer"]["reasons"][0]["key"]) == (409, "own-entry")
    served.caller = joined(served, "CORA", "Cora Lind", "supervisor")
    told = served.post(f"/reviews/{feed}", body | SIGNED)
    assert told.status_code == 200, told.text
    assert feed not in [one["feed"] for one in served.get("/reviews").json()["waiting"]]
    assert served.get(f"/reviews/{feed}").json()["reviewed_by_feed"] == served.department.last_feed()


def test_what_is_not_in_the_queue_is_not_shown(served: Bench) -> None:
    """An entry's number opens no entry: the first is that of a site."""
    assert served.get("/reviews/1").status_code == 404


def test_another_site_sees_none_of_it(served: Bench) -> None:
    feed = served.get("/reviews").json()["waiting"][0]["feed"]
    served.caller = elsewhere(anna())
    told = served.get("/reviews").json()
    assert (told["waiting"], told["refusals"]) == ([], [])
    assert served.get(f"/reviews/{feed}").status_code == 404
