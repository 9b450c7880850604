"""What the desk says of wearers: pseudonyms to whoever may know them, names to nobody, and who looked is on record."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from reprocess.engine import request as asking
from reprocess.engine.request import RegisterWearer
from reprocess.ledger.names import Name
from reprocess.rules.permissions import ROLES, may_person, scopes_of
from reprocess.service.who import Caller
from reprocess.station import Call
from tests.ledger.conftest import day_over  # noqa: F401 - a fixture
from tests.service.conftest import Bench, anna
from tests.service.pages_seen import Seen, Visitor
from tests.service.staff import HEALTH, PROGRAMME, elsewhere, joined, worn

WEARER, NAME = "W-0000000000000001", "Ilse Varga"
PAGES = (
    "/desk",
    "/desk/reviews",
    "/desk/holds",
    "/desk/recalls",
    "/desk/recalls/R-1",
    "/desk/lookback",
    "/desk/lookback?sort=item&name=S-1",
    "/desk/lookback?sort=solution&name=W-1",
    "/desk/reminders",
    "/desk/solutions",
    "/desk/items/S-1?cycle=all",
    "/desk/people",
    "/desk/workflows",
    "/desk/screens",
    "/board",
    "/board/handover",
    "/hatch",
    "/hatch/item/S-1",
)


@pytest.fixture
def worn_once(served: Bench) -> Bench:
    """Returns the bench after a registered wearer had the part for an hour, and it came on a hold and a recall."""
    joined(served, "HANA", "Hana Reed", PROGRAMME, HEALTH)
    call = Call(RegisterWearer(WEARER, "ED"), "LMG-1", "B-HANA", None, "ilse", Name(NAME))
    assert served.department.desk.take(call).accepted
    worn(served, WEARER, "S-1")
    office = served.department.station("LMG-1", badge="B-A")
    office.ask(asking.PlaceHold("S-1", "identity", "two labels", "supervisor", None))
    assert office.ask(asking.PreviewRecall("R-1", "items", "", "odour", "supervisor", items=("S-1",))).accepted
    return served


def of(role: str) -> Caller:
    """Returns Anna as if she had one role only."""
    return replace(anna(), roles=frozenset({role}), scopes=scopes_of((role,)))


@pytest.mark.parametrize("role", sorted(ROLES))
def test_pseudonyms_are_for_whoever_reads_wearers_and_names_for_nobody(worn_once: Bench, role: str) -> None:
    worn_once.caller = of(role)
    shown = 0
    for page in PAGES:
        told = worn_once.client.get(page)
        assert told.status_code in (200, 303, 403), (page, told.status_code)
        assert NAME not in told.text
        assert "Varga" not in told.text
        if not worn_once.caller.names_wearers:
            assert WEARER not in told.text, page
        shown += WEARER in told.text
    if worn_once.caller.names_wearers and may_person((role,), "read-lookback") is None:
        assert shown, "whoever may know them sees them in the look-back"


def test_what_belongs_to_another_site_is_not_on_record_for_whoever_is_limited_to_one(worn_once: Bench) -> None:
    worn_once.caller = elsewhere(replace(anna(), kind="person"))
    for page in ("/desk/items/S-1", "/hatch/item/S-1", "/desk/items/NONE-1"):
        assert worn_once.client.get(page).status_code == 404, page
    assert "S-1" not in Seen(worn_once.client.get("/desk/holds").text).words
    told = worn_once.client.get("/desk/lookback?sort=solution&name=W-1").text
    assert "Items of sites you may not see" in told
    assert "/desk/items/S-1" not in told
    assert "/desk/items/S-1" not in worn_once.client.get("/desk/recalls/R-1").text
    assert WEARER not in told


@pytest.fixture
def looking(worn_once: Bench) -> Bench:
    """Returns the bench, at which somebody is who may trace wearers."""
    worn_once.caller = replace(anna(), person="HANA", badge="B-HANA")
    return worn_once


def ask(bench: Bench, key: str, sort: str = "wearer", name: str = WEARER) -> Any:
    """Returns the answer to a guarded question."""
    return Visitor(bench.client).post("/desk/lookback", {"key": key, "sort": sort, "name": name})


def test_who_looked_at_a_wearer_is_on_record_before_anything_is_shown(looking: Bench) -> None:
    before = looking.department.last_feed()
    told = ask(looking, "look-1")
    assert told.status_code == 200
    assert "/desk/items/S-1" in told.text
    (entry,) = [one for one in looking.department.history(f"wearer:{WEARER}") if one.feed > before]
    assert entry.envelope.actor == "HANA"


def test_a_question_that_is_sent_again_shows_nothing(looking: Bench) -> None:
    ask(looking, "look-1")
    before = looking.department.last_feed()
    told = ask(looking, "look-1")
    assert told.status_code == 200
    assert "/desk/items/S-1" not in told.text
    assert "This was shown once." in told.text
    assert looking.department.last_feed() == before


def test_nothing_guarded_is_read_from_an_address(looking: Bench) -> None:
    before = looking.department.last_feed()
    for sort in ("wearer", "case"):
        told = looking.client.get(f"/desk/lookback?sort={sort}&name={WEARER}")
        assert told.status_code == 200
        assert "/desk/items/S-1" not in told.text
    assert looking.department.last_feed() == before


def test_a_question_of_another_sort_is_not_put_on_record_as_a_look_at_a_wearer(looking: Bench) -> None:
    before = looking.department.last_feed()
    assert ask(looking, "look-2", sort="item", name="S-1").status_code == 422
    assert ask(looking, "look-3", sort="<script>").status_code == 422
    assert looking.department.last_feed() == before


def test_a_wearer_nobody_knows_is_told_without_a_fault(looking: Bench) -> None:
    told = ask(looking, "look-4", name="W-0000000000009999")
    assert told.status_code in (200, 404, 409)
    assert "look-4" not in told.text, "the question has a new key"
    assert Seen(told.text).headings == 1
