"""Places, assemblies and custody over HTTP: what lies where, what may be worn, what is out and with whom."""

from __future__ import annotations

import pytest

from reprocess.engine import request as asking
from reprocess.service.api.places import PlaceOut
from tests.engine.benches import play
from tests.engine.outside import wearers
from tests.engine.test_places import STORE
from tests.service.hall import Hall, floor, hall, prepared  # noqa: F401 - fixtures
from tests.service.staff import token


@pytest.fixture
def stored(hall: Hall) -> Hall:  # noqa: F811
    """Returns the department with a blower and an assembly in its store."""
    play(
        hall.floor,
        STORE
        + """
        +1 | ben | BLW-3 put-in ST-1 | accepted
        +2 | ben | KIT-7 put-in ST-1 | accepted
        """,
    )
    return hall


def test_a_place_tells_what_it_is_and_what_lies_there(stored: Hall) -> None:
    place = stored.get("/places/ST-1")
    assert (place.json()["sort"], place.json()["par"], place.json()["zone"]) == ("store", 2, "clean")
    PlaceOut.model_validate(place.json())
    stock = stored.get("/places/ST-1/items").json()
    assert [one["item"] for one in stock["items"]] == ["KIT-7", "BLW-3"]  # one of its filters ends first
    assert (stock["ready"], stock["par"], stock["short"]) == (2, 2, 0)
    stored.floor.ask(asking.PlaceHold("BLW-3", "administrative", "paper lost", "supervisor"))
    stock = stored.get("/places/ST-1/items").json()
    assert (stock["ready"], stock["short"]) == (1, 1)


def test_a_places_etag_changes_with_what_is_told_of_it(stored: Hall) -> None:
    first = stored.get("/places/ST-1")
    assert stored.get("/places/ST-1", headers={"If-None-Match": first.headers["etag"]}).status_code == 304
    play(stored.floor, "+9 | cora | ST-1 set-up store par=3 | accepted")
    changed = stored.get("/places/ST-1", headers={"If-None-Match": first.headers["etag"]})
    assert (changed.status_code, changed.json()["par"]) == (200, 3)


def test_places_are_listed_and_another_sites_are_not(stored: Hall) -> None:
    names = [one["place"] for one in stored.get("/places").json()["places"]]
    assert names == ["BIN-1", "CAB-1", "Q-1", "ST-1"]
    assert [one["place"] for one in stored.get("/places?sort=cabinet").json()["places"]] == ["CAB-1"]
    stored.caller = token("places:read", "items:read", sites=("SAL",))
    assert stored.get("/places").json()["places"] == []
    for path in ("/places/ST-1", "/places/ST-1/items", "/assemblies/KIT-7", "/custody/KIT-7"):
        assert stored.get(path).status_code == 404, path
    assert stored.get("/assemblies").json()["assemblies"] == []


def test_an_assembly_tells_its_parts_and_may_be_worn(stored: Hall) -> None:
    told = stored.get("/assemblies/KIT-7").json()
    assert (told["usable"], told["reasons"], told["configuration"]) == (True, [], "three-port-hepa")
    assert (told["members"]["blower"], told["counts"]["gaskets"]) == ("BLW-7", 2)
    assert {one["slot"]: one["item"] for one in told["parts"]} == told["members"]
    stored.floor.ask(asking.PlaceHold("TUB-7", "administrative", "paper lost", "supervisor"))
    held = stored.get("/assemblies/KIT-7").json()
    assert held["usable"] is False
    assert next(one for one in held["parts"] if one["item"] == "TUB-7")["reasons"]
    listed = {one["item"]: one["usable"] for one in stored.get("/assemblies").json()["assemblies"]}
    assert listed == {"KIT-1": False, "KIT-7": False}
    assert stored.get("/assemblies?usable=true").json()["assemblies"] == []
    assert stored.get("/assemblies/BLW-7").status_code == 404


def test_an_assembly_that_may_be_worn_is_one_that_may_be_issued(stored: Hall) -> None:
    """The list and the hatch agree: what is usable here is not refused there for its state."""
    wearers(stored.floor, "W-1")
    play(stored.floor, "+9 | gus | KIT-7 issue W-1 ward-7 for training minutes=120 | accepted, stage ready")


def test_what_is_ready_is_counted_by_place(stored: Hall) -> None:
    (row,) = stored.get("/assemblies/ready").json()["places"]
    assert (row["place"], row["ready"], row["not_usable"], row["par"]) == ("ST-1", 1, 0, 2)
    stored.floor.ask(asking.PlaceHold("KIT-7", "administrative", "paper lost", "supervisor"))
    (row,) = stored.get("/assemblies/ready").json()["places"]
    assert (row["ready"], row["not_usable"]) == (0, 1)


def test_custody_tells_where_and_only_some_with_whom(stored: Hall) -> None:
    """U10: expected after two hours, overdue after four more of grace (site parameters with these defaults)."""
    wearers(stored.floor, "W-1")
    play(stored.floor, "+9 | gus | KIT-7 issue W-1 ward-7 for training minutes=120 | accepted, stage ready")
    stored.caller = token("items:read", "wearers:read")
    (out,) = stored.get("/custody?place=ward-7&sort=issued&overdue=false").json()["custody"]
    assert (out["item"], out["wearer"], out["overdue"]) == ("KIT-7", "W-1", False)
    assert [one["item"] for one in stored.get("/custody?wearer=W-1").json()["custody"]] == ["KIT-7"]
    stored.caller = token("items:read")
    assert stored.get("/custody?wearer=W-1").status_code == 403
    where = stored.get("/custody/KIT-7").json()
    assert (where["custody"]["wearer"], where["custody"]["place"]) == ("withheld", "ward-7")
    stored.floor.clock.push(6 * 3600 - 1)
    assert stored.get("/custody?overdue=true").json()["custody"] == []
    stored.floor.clock.push(1)
    assert [one["item"] for one in stored.get("/custody?overdue=true").json()["custody"]] == ["KIT-7"]
    assert stored.get("/custody/BLW-1").json()["custody"] is None
