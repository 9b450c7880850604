"""Baths, containers and lots over HTTP: their life, their tests, why not now."""

from __future__ import annotations

from reprocess.engine import request as asking
from tests.engine.floor import LATER_US
from tests.service.conftest import Bench
from tests.service.hall import Hall, floor, hall, prepared  # noqa: F401 - fixtures
from tests.service.staff import elsewhere, token


def test_a_bath_that_failed_its_test_says_so(served: Bench) -> None:
    told = served.get("/solutions/W-1").json()
    assert (told["usable"], told["not_usable"][0]["rule"], told["left_s"]) == (False, "L07", 0)
    assert (told["lots"], told["failed"]) == (["Q-1", "Q-2"], "2026-03-05T07:34:20Z")
    (test,) = told["tests"]
    assert (test["passed"], test["by"], test["strip_lot"]) == (False, "P-A", "T-1")
    assert served.get("/solutions/W-2").json()["ended"] == "empty"


def test_a_bath_is_usable_on_the_day_of_its_passing_test(hall: Hall) -> None:  # noqa: F811
    """L03: a bath needs the passing test of its day; L05: yesterday's is over; a container needs no test."""
    yesterday = hall.get("/solutions/HYP-0").json()
    assert (yesterday["usable"], yesterday["not_usable"][0]["rule"], yesterday["left_s"]) == (False, "L05", 0)
    hall.floor.ask(asking.MakeSolution("HYP-1", "hypochlorite-50ppm", "LOT-2", LATER_US))
    untested = hall.get("/solutions/HYP-1").json()
    assert (untested["usable"], untested["not_usable"][0]["key"]) == (False, "never-tested")
    hall.floor.ask(asking.TestSolution("HYP-1", "STRIPS-1", LATER_US, reading="50", read_after_s=80))
    today = hall.get("/solutions/HYP-1").json()
    assert (today["usable"], [one["passed"] for one in today["tests"]]) == (True, [True])
    assert today["tests"][0]["at"] == "2026-03-05T07:00:00Z"
    container = hall.get("/solutions/QAW-1").json()
    assert (container["form"], container["usable"]) == ("container", True)
    assert container["left_s"] > 0


def test_solutions_are_filtered(hall: Hall) -> None:  # noqa: F811
    def names(query: str) -> list[str]:
        return [one["solution"] for one in hall.get(f"/solutions?{query}").json()["solutions"]]

    assert names("") == ["HPW-1", "HYP-0", "QAW-1"]
    assert names("agent=hypochlorite-50ppm") == ["HYP-0"]
    hall.floor.ask(asking.EndSolution("HPW-1", "empty"))
    assert (names("in_use=true"), names("in_use=false"), names("site=SAL")) == (["HYP-0", "QAW-1"], ["HPW-1"], [])
    assert names("limit=1&after=HPW-1") == ["HYP-0"]


def test_lots_are_told_with_what_is_left(hall: Hall) -> None:  # noqa: F811
    for request in (
        asking.ReceiveLot("L-1", 40, "STRIPS", "strips", "strip", LATER_US),
        asking.ReceiveLot("L-2", 5, "STRIPS", "strips", "strip", LATER_US),
        asking.UseLot("L-1", 3, "a test"),
        asking.RecallLot("L-2", "notice 7"),
    ):
        assert hall.floor.ask(request, "cora").accepted
    told = hall.get("/lots/L-1").json()
    assert (told["left"], told["used"], told["good"], told["expiry"]) == (37, 3, True, "2030-01-01T00:00:00Z")
    recalled = hall.get("/lots?recalled=true").json()["lots"]
    assert [(one["lot"], one["good"], one["recalled"]) for one in recalled] == [("L-2", False, "notice 7")]
    assert [one["lot"] for one in hall.get("/lots?product=STRIPS").json()["lots"]] == ["L-1", "L-2"]


def test_only_who_may_see_them_does(served: Bench) -> None:
    served.caller = elsewhere(token("work:read"))
    assert served.get("/solutions").json()["solutions"] == []
    assert (served.get("/solutions/W-1").status_code, served.get("/lots/NO-1").status_code) == (404, 404)
    served.caller = token("items:read")
    for path in ("/solutions", "/solutions/W-1", "/lots", "/lots/Q-1"):
        assert served.get(path).status_code == 403, path
