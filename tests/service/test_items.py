"""Items over HTTP: standings now and then, histories a page at a time, and who may see which."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import Any

from reprocess.engine import request as asking
from reprocess.rules.custody import look_of
from tests.engine.floor import good_checks, good_readings
from tests.engine.outside import wearers
from tests.ledger.day import DAY
from tests.service.conftest import Bench
from tests.service.hall import Hall, floor, hall, prepared  # noqa: F401 - fixtures
from tests.service.staff import elsewhere, token


def names(told: Any) -> list[str]:
    """Returns the ids of a list of items."""
    return [one["item"] for one in told.json()["items"]]


def test_items_are_listed_by_id_a_page_at_a_time(served: Bench) -> None:
    """RFC 8288: the link to the next page is a header, and the cursor stands in the body."""
    first = served.get("/items?limit=2")
    assert (names(first), first.json()["next"]) == (["S-1", "S-2"], "S-2")
    assert first.headers["link"] == '</v1/items?limit=2&after=S-2>; rel="next"'
    second = served.get("/items?limit=2&after=S-2")
    third = served.get("/items?limit=2&after=S-4")
    assert (names(second), names(third), third.json()["next"]) == (["S-3", "S-4"], ["SET-1"], None)
    assert "link" not in third.headers


def test_filters_hold_together(served: Bench) -> None:
    wanted = {
        "stage=used": ["S-1", "S-4", "SET-1"],
        "held=true": ["S-1", "S-2", "S-3"],
        "held=false&stage=used": ["S-4", "SET-1"],
        "kind=set": ["SET-1"],
        "site=SAL": [],
        "place=ST-1": [],
    }
    assert {query: names(served.get(f"/items?{query}")) for query in wanted} == wanted


def test_what_no_filter_is_is_refused(served: Bench) -> None:
    for query in ("stage=sparkling", "limit=0", "limit=201", "after=", "held=perhaps", "site=%0a"):
        told = served.get(f"/items?{query}")
        assert (told.status_code, told.json()["type"]) == (422, "/v1/problems/invalid"), query


def test_an_item_is_told_with_its_evidence_and_its_clock(hall: Hall) -> None:  # noqa: F811
    """The contact of an invented wipe of 180 s, of which 60 have passed."""
    hall.floor.ask(asking.StartDwell("BLW-2", "disinfect", "QAW-1"))
    hall.floor.clock.push(60)
    told = hall.get("/items/BLW-2").json()
    assert (told["stage"], told["next_steps"]) == ("cleaned", ["disinfect"])
    assert (told["clock"]["step"], told["clock"]["left_s"]) == ("disinfect", 120)
    assert told["dwell"]["started"] == "2026-03-05T07:00:00Z"
    evidence = told["satisfied"]["clean"]
    assert (evidence["actor"], evidence["sort"]) == ("ANNA", "measured")
    assert (told["zone"], told["as_of"]) == ("Europe/London", "2026-03-05T07:01:00Z")
    assert told["since_local"].endswith("+00:00")
    assert told["workflow"] == "blower"
    assert len(told["digest"]) == len(told["in_force"]) == 64


def test_an_item_as_of_a_past_instant_is_what_was_on_record_then(served: Bench) -> None:
    """The day's own times: released at 07:19:10 (the 15th request), assembled two minutes later."""
    keys = [one.key for one in DAY]
    spent_s = sum(one.after_s for one in DAY[: keys.index("release-again") + 1])
    assert spent_s == 850
    then = served.get("/items/S-1?as_of=2026-03-05T07:19:10Z").json()
    before = served.get("/items/S-1?as_of=2026-03-05T08:18:59%2B01:00").json()
    now = served.get("/items/S-1").json()
    assert (then["stage"], before["stage"], now["stage"]) == ("ready", "inspected", "used")
    assert (then["as_of"], then["assembly"], sorted(then["satisfied"])[-1]) == ("2026-03-05T07:19:10Z", None, "release")


def test_an_instant_at_which_nothing_can_be_told_is_a_problem(served: Bench) -> None:
    wanted = {
        "2026-03-05T07:00:00Z": "unknown-subject",
        "2031-01-01T00:00:00Z": "wrong-use",
        "2026-03-05T07:20:00": "invalid",
        "yesterday": "invalid",
        "0001-01-01T00:00:00Z": "invalid",
    }
    for as_of, kind in wanted.items():
        assert served.get("/items/S-1", params={"as_of": as_of}).json()["type"] == f"/v1/problems/{kind}", as_of


def test_a_history_is_whole_over_its_pages(served: Bench) -> None:
    after, seen = 0, []
    for _ in range(10):
        page = served.get(f"/items/S-1/entries?limit=5&after={after}").json()
        seen += page["entries"]
        if page["next"] is None:
            break
        after = page["next"]
    kept = served.department.history("item:S-1")
    assert [(one["number"], one["kind"], one["id"]) for one in seen] == [(one.number, one.kind, one.id) for one in kept]
    assert "key" not in seen[0]


def test_a_tag_means_its_item(hall: Hall) -> None:  # noqa: F811
    hall.floor.ask(asking.GiveTag("BLW-1", "BLW-1-N2"), "cora", second="ben")
    assert hall.get("/items/BLW-1-N2").json()["item"] == "BLW-1"


def test_who_wears_it_is_withheld_without_the_scope(hall: Hall) -> None:  # noqa: F811
    """D13: a token reads items, and no pseudonym, neither in the standing nor in the history."""
    wearers(hall.floor, "W-1")
    issued = hall.floor.ask(asking.IssueItem("KIT-7", None, "ward-7", purpose="emergency", **_looked_over(hall)), "gus")
    assert issued.accepted, issued.reasons
    assert hall.floor.ask(asking.IdentifyWearer("KIT-7", "W-1"), "gus").accepted
    hall.caller = token("items:read", "wearers:read")
    assert hall.get("/items/KIT-7").json()["custody"]["wearer"] == "W-1"
    assert "W-1" in hall.get("/items/KIT-7/entries?limit=200").text
    hall.caller = token("items:read")
    told = hall.get("/items/KIT-7")
    assert told.json()["custody"]["wearer"] == "withheld"
    for path in ("/items/KIT-7", "/items/KIT-7/entries?limit=200", "/items", "/board", "/custody", "/custody/KIT-7"):
        assert '"W-1"' not in hall.get(path).text, path


def _looked_over(hall: Hall) -> dict[str, Any]:  # noqa: F811
    look = look_of(hall.floor.workflow("KIT-7"))
    assert look is not None
    counts = {"gaskets": 2, "plugs": 1}
    readings = good_readings(look) | {"soc_percent": "90"}
    return {"checks": good_checks(look), "readings": readings, "counts": counts, "instrument": "FI-1"}


def test_another_sites_item_is_not_on_record_for_a_limited_caller(served: Bench) -> None:
    served.caller = elsewhere(token("items:read"))
    assert names(served.get("/items")) == []
    for path in ("/items/S-1", "/items/S-1/entries", "/items/S-1?as_of=2026-03-05T07:20:00Z", "/custody/S-1"):
        unknown, foreign = served.get(path.replace("S-1", "NO-1")), served.get(path)
        assert (foreign.status_code, foreign.json()["type"]) == (404, "/v1/problems/unknown-subject")
        assert foreign.json() | {"detail": ""} | {"instance": ""} == unknown.json() | {"detail": ""} | {"instance": ""}


def test_a_token_without_the_scope_reads_nothing(served: Bench) -> None:
    served.caller = replace(token("lots:write"))
    for path in ("/items", "/items/S-1", "/items/S-1/entries", "/items/S-1/next", "/board"):
        assert served.get(path).status_code == 403, path


def test_what_a_signature_is_bound_to_can_be_looked_at_and_changes_with_the_item(served: Bench) -> None:
    """I22: SHA-256 by the standard library is the referee; that a stale one is refused, tests/engine shows."""
    told = served.get("/items/S-4/shown").json()
    assert (told["text"], told["shown"]) == served.department.shown("item:S-4")
    assert hashlib.sha256(told["text"].encode()).hexdigest() == told["shown"]
    served.post("/items/S-4/contaminations", {"cause": "used"})
    assert served.get("/items/S-4/shown").json()["shown"] != told["shown"]
