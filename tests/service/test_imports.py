"""Master data as CSV over HTTP: every fault with its line, all of a table or nothing, and never a ready item."""

from __future__ import annotations

from typing import Any

import pytest

from tests.service.conftest import Bench, anna
from tests.service.staff import PIN, elsewhere, joined, with_pins

ITEMS = "id,site,model,workflow\nS-21,LMG,M-1,shell\nS-22,LMG,M-1,shell\n"
BROKEN = "id,site,model,workflow\nS-21,XXX,M-1,shell\nS-22,LMG,M-1,shelf\nS-22,LMG,M-1,shell\n"


def put(bench: Bench, table: str, text: str | bytes, headers: dict[str, str] | None = None, **params: Any) -> Any:
    sent = {"Content-Type": "text/csv"} | (headers or {})
    return bench.client.post(f"/v1/imports/{table}", content=text, headers=sent, params=params)


def test_a_table_is_only_looked_at_unless_it_is_said_otherwise(served: Bench) -> None:
    before = served.department.last_feed()
    told = put(served, "items", ITEMS)
    assert told.status_code == 200, told.text
    assert (told.json()["dry_run"], told.json()["new"], told.json()["taken"]) == (True, 2, 0)
    assert served.department.last_feed() == before


def test_every_fault_is_told_with_its_line_and_nothing_is_taken(served: Bench) -> None:
    before = served.department.last_feed()
    told = put(served, "items", BROKEN, dry_run=False).json()
    assert [(one["line"], one["column"]) for one in told["faults"]] == [(2, "site"), (3, "workflow"), (4, "id")]
    assert (told["faults_total"], told["taken"]) == (3, 0)
    assert served.department.last_feed() == before


def test_a_table_is_taken_whole_and_a_second_time_changes_nothing(served: Bench) -> None:
    told = put(served, "items", ITEMS, dry_run=False).json()
    assert told["taken"] == 2
    assert [str(served.department.item(one).stage) for one in ("S-21", "S-22")] == ["used", "used"]
    last = served.department.history("item:S-22")[-1].envelope
    assert (last.actor, last.identity) == ("P-A", "signed-in")
    before = served.department.last_feed()
    again = put(served, "items", ITEMS, dry_run=False).json()
    assert (again["known"], again["taken"], served.department.last_feed()) == (2, 0, before)


def test_people_with_roles_take_two_signatures(served: Bench) -> None:
    with_pins(served, "P-A", "P-B")
    text = "id,name,sites,roles,badges\nP-31,Orla Finch,LMG,supervisor,B-31\n"
    assert put(served, "people", text, dry_run=False).status_code == 401
    one = {"X-Pin": PIN}
    assert put(served, "people", text, one, dry_run=False).status_code == 401
    both = put(served, "people", text, one | {"X-Second-Pin": PIN}, dry_run=False, second_badge="B-B")
    assert both.json()["taken"] == 1, both.text
    last = served.department.history("person:P-31")[0].envelope
    assert (last.actor, last.second, last.identity) == ("P-A", "P-B", "signed")


def test_names_of_wearers_are_in_no_answer(served: Bench) -> None:
    served.caller = joined(served, "HANA", "Hana Reed", "programme-administrator")
    text = "id,unit,name,contact\nW-41,ED,Ilse Varga,extension 118\nW-42,,Ilse Varga,extension 118\n"
    told = put(served, "wearers", text, dry_run=False)
    assert (told.json()["faults_total"], "Varga" in told.text) == (1, False)
    good = put(served, "wearers", text.replace("W-42,,", "W-42,ED,"), dry_run=False)
    assert (good.json()["taken"], "Varga" in good.text) == (2, False)


@pytest.mark.parametrize("table", ["configurations", "entries", "..%2fitems"])
def test_no_other_table_comes_in(served: Bench, table: str) -> None:
    assert put(served, table, ITEMS).status_code in (404, 422)


def test_only_csv_comes_in(served: Bench) -> None:
    told = put(served, "items", ITEMS, {"Content-Type": "application/json"})
    assert (told.status_code, told.json()["type"]) == (415, "/v1/problems/media-type")
    assert put(served, "items", b"id,site\xff\n\xfe").json()["faults_total"] >= 1


def test_a_line_about_another_site_is_not_taken(served: Bench) -> None:
    served.caller = elsewhere(anna())
    assert put(served, "items", ITEMS, dry_run=False).status_code == 403
