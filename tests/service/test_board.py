"""The board over HTTP: stages in the order of the trade, the shortest clock first, what is overdue and what is held."""

from __future__ import annotations

from reprocess.engine import request as asking
from tests.engine.benches import play
from tests.engine.test_places import STORE
from tests.service.conftest import Bench
from tests.service.hall import Hall, floor, hall, prepared  # noqa: F401 - fixtures


def test_stages_stand_in_the_order_of_the_trade(served: Bench) -> None:
    board = served.get("/board").json()
    assert [one["stage"] for one in board["groups"]] == ["used", "in repair", "condemned"]
    assert board["counts"] == {
        "used": 3, "cleaned": 0, "disinfected": 0, "dried": 0, "inspected": 0, "ready": 0,
        "in repair": 1, "condemned": 1, "lost": 0,
    }  # fmt: skip
    assert board["held"] == 3


def test_the_shortest_clock_stands_first_and_runs_on(hall: Hall) -> None:  # noqa: F811
    hall.floor.ask(asking.StartDwell("BLW-2", "disinfect", "QAW-1"))
    hall.floor.clock.push(30)
    hall.floor.ask(asking.StartDwell("TUB-5", "disinfect", "QAW-1"))
    hall.floor.clock.push(10)
    cleaned = next(one for one in hall.get("/board").json()["groups"] if one["stage"] == "cleaned")
    first, second = cleaned["items"][:2]
    assert (first["item"], second["item"]) == ("BLW-2", "TUB-5")
    assert (first["clock"]["left_s"], second["clock"]["left_s"]) == (140, 170)
    assert first["clock"]["rewet_s"] < second["clock"]["rewet_s"]


def test_what_is_past_due_is_marked(hall: Hall) -> None:  # noqa: F811
    """A contact whose longest time is over has rung long before."""
    hall.floor.ask(asking.StartDwell("BLW-2", "disinfect", "QAW-1"))
    late = [one["item"] for group in hall.get("/board").json()["groups"] for one in group["items"] if one["overdue"]]
    assert "BLW-2" not in late
    hall.floor.clock.push(3600)
    late = [one["item"] for group in hall.get("/board").json()["groups"] for one in group["items"] if one["overdue"]]
    assert "BLW-2" in late


def test_what_is_ready_is_counted_by_place(hall: Hall) -> None:  # noqa: F811
    play(
        hall.floor,
        STORE
        + """
        +1 | ben | BLW-3 put-in ST-1 | accepted
        +2 | ben | KIT-7 put-in ST-1 | accepted
        """,
    )
    board = hall.get("/board").json()
    assert board["ready"]["ST-1"] == 2
    ready = {one["place"]: one for one in board["groups"] if one["stage"] == "ready"}
    assert (ready["ST-1"]["count"], [one["item"] for one in ready["ST-1"]["items"]]) == (2, ["BLW-3", "KIT-7"])
    hall.floor.ask(asking.PlaceHold("BLW-3", "administrative", "paper lost", "supervisor"))
    assert hall.get("/board").json()["ready"]["ST-1"] == 1
    assert hall.get("/board?place=ST-1&held=true").json()["groups"][0]["items"][0]["item"] == "BLW-3"
