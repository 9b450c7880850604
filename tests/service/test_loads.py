"""Loads, machines and instruments over HTTP."""

from __future__ import annotations

from reprocess.engine import request as asking
from reprocess.service.api.instruments import InstrumentOut
from tests.engine.loading import a_washer, bowls, passes, runs
from tests.service.hall import Hall, floor, hall, prepared  # noqa: F401 - fixtures
from tests.service.staff import token


def test_a_load_is_told_from_its_opening_to_its_pass(hall: Hall) -> None:  # noqa: F811
    """A record of 60 s at 90 degC from 65 degC up is an A0 of 600 s (EN ISO 15883-1, A0 = sum of 10^((T-80)/10) s)."""
    a_washer(hall.floor)
    names = bowls(hall.floor, 3)
    runs(hall.floor, "LD-0", names[:1])
    running = hall.get("/loads/LD-0").json()
    assert (running["state"], running["still_in"], list(running["items"])) == ("running", ["BWL-1"], ["BWL-1"])
    assert hall.get("/instruments/WD-1").json()["running"] == "LD-0"
    assert hall.floor.ask(asking.FailLoad("LD-0", "power", "the power failed")).subject == "load:LD-0"
    passes(hall.floor, "LD-1", names[1:])
    told = hall.get("/loads/LD-1").json()
    assert (told["state"], told["machine"], told["miscounted"], told["still_in"]) == ("passed", "WD-1", False, [])
    assert int(told["doses"][0]["a0_s"].partition(".")[0]) >= 600
    assert told["source"] == "logger"
    assert [one["load"] for one in hall.get("/loads?state=failed").json()["loads"]] == ["LD-0"]
    assert [one["load"] for one in hall.get("/loads?machine=WD-1&limit=1").json()["loads"]] == ["LD-0"]
    assert hall.get("/loads?state=exploded").status_code == 422
    assert hall.get("/loads/LD-9").status_code == 404


def test_an_instrument_has_an_etag(hall: Hall) -> None:  # noqa: F811
    """RFC 9110, 13.1.2; the ETag is the number of the latest entry, so that a change makes a new one."""
    a_washer(hall.floor)
    first = hall.get("/instruments/WD-1")
    assert (first.json()["sort"], first.json()["programmes"]["P90"]["hottest_c"]) == ("washer", "93")
    InstrumentOut.model_validate(first.json())
    again = hall.get("/instruments/WD-1", headers={"If-None-Match": f'"x", W/{first.headers["etag"]}'})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", first.headers["etag"])
    assert hall.floor.ask(asking.SetProgramme("WD-1", "P70", "72", 2400), "cora", second="ben").accepted
    changed = hall.get("/instruments/WD-1", headers={"If-None-Match": first.headers["etag"]})
    assert (changed.status_code, sorted(changed.json()["programmes"])) == (200, ["P70", "P80", "P90"])
    assert hall.get("/instruments?sort=thermometer").json()["instruments"][0]["instrument"] == "TH-1"
    assert hall.get("/instruments/NO-1").status_code == 404


def test_stations_are_told_with_their_zone(hall: Hall) -> None:  # noqa: F811
    told = hall.get("/stations?site=SAL").json()["stations"]
    assert told == [{"station": "SALTGATE", "title": "Bench", "site": "SAL", "side": "any", "zone": "America/Halifax"}]
    assert hall.get("/stations/SINK").json()["side"] == "dirty"
    assert hall.get("/stations/NOWHERE").status_code == 404
    names = [one["station"] for one in hall.get("/stations").json()["stations"]]
    assert names == ["BENCH", "FENHOLLOW", "SALTGATE", "SHELF", "SINK"]


def test_a_limited_token_sees_its_own_site_only(hall: Hall) -> None:  # noqa: F811
    a_washer(hall.floor)
    hall.caller = token("work:read", "places:read", sites=("SAL",))
    assert [one["station"] for one in hall.get("/stations").json()["stations"]] == ["SALTGATE"]
    assert hall.get("/instruments").json()["instruments"] == []
    for path in ("/stations/BENCH", "/instruments/WD-1"):
        assert hall.get(path).status_code == 404, path
    hall.caller = token("items:read")
    for path in ("/stations", "/stations/BENCH", "/instruments", "/instruments/WD-1", "/loads", "/loads/LD-1"):
        assert hall.get(path).status_code == 403, path
