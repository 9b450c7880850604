"""Every writing operation about things, once with a body that works and once with one that is refused."""

from __future__ import annotations

import inspect
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from reprocess.definitions.wearing import WearStep
from reprocess.engine import enrolling, live
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission
from reprocess.rules.custody import look_of
from reprocess.service import who
from reprocess.service.app import create_app
from reprocess.service.operations import BY_HAND, WRITES
from tests.engine.floor import INSTRUMENTS, Floor, good_checks, good_counts, good_readings, opened
from tests.engine.loading import a_washer, bowls, record_of
from tests.engine.outside import NEW, wearers
from tests.service.hall import Hall, person, prepared, with_pins  # noqa: F401 - a fixture
from tests.service.staff import PIN

THINGS = {
    "items",
    "places",
    "solutions",
    "lots",
    "loads",
    "machines",
    "assemblies",
    "custody",
    "instruments",
}  # fmt: skip
"""The nouns whose operations are tried here."""
LATER = "2030-01-01T00:00:00Z"
SIGNED = {"pin": PIN}
WITH_BEN = {"second_badge": "B-BEN", "second_pin": PIN}
BOTH = SIGNED | WITH_BEN
ADMINISTRATIVE = {"sort": "administrative", "cause": "a notice", "owner": "supervisor"}

Body = dict[str, Any]


@dataclass(frozen=True)
class Row:
    """Is one operation with two requests.

    Attributes:
        asked: the operation.
        path: where it is asked; `{hold}` is the latest hold of the item in it, `{number}` its latest entry.
        body: what works.
        bad: what is refused, and the status with which; asked first, at `bad_path` where that is another address.
        by: who asks, at `station`.
        verdict: what the good one is answered; a fact that holds an item is `held`, which is 409.
        before: what must have happened.
    """

    asked: str
    path: str
    body: Body | Callable[[Floor], Body]
    bad: Body
    status: int
    bad_path: str | None = None
    by: str = "cora"
    station: str = "BENCH"
    verdict: str = "accepted"
    before: Callable[[Floor], object] | None = None


def _checks(item: str, step: str) -> Callable[[Floor], Body]:
    """Returns the body of a step with every line good."""

    def body(floor: Floor) -> Body:
        found = floor.workflow(item).step_named(step)
        assert found is not None
        told: Body = {"step": step, "checks": good_checks(found), "readings": good_readings(found)}
        return told | {"counts": good_counts(found)}

    return body


def _release(item: str) -> Callable[[Floor], Body]:
    return lambda floor: {"checks": good_checks(floor.workflow(item).release_step), **SIGNED}


def _looked_over(floor: Floor) -> Body:
    look = look_of(floor.workflow("KIT-7"))
    assert look is not None
    readings = good_readings(look) | {"soc_percent": "90"}
    counts = {"gaskets": 2, "plugs": 1}
    told = {"checks": good_checks(look), "readings": readings, "counts": counts, "instrument": "FI-1"}
    return told | {"wearer": "W-1", "place": "ward-7"}


def _contact(floor: Floor) -> None:
    """Begins a contact and keeps it wet for 200 s."""
    floor.ask(asking.StartDwell("TUB-5", "disinfect", "QAW-1"))
    for _ in range(2):
        floor.clock.push(100)
        floor.ask(asking.Rewet("TUB-5"))


def _second_kit(floor: Floor) -> None:
    for part in NEW.split():
        floor.bring(part, "ready")


def _assembly(floor: Floor) -> Body:
    step = next(one for one in floor.workflow("KIT-1").steps if one.assembles)
    counts = {"gaskets": 2, "plugs": 1}
    told = {"configuration": "three-port-hepa", "members": NEW.split(), "counts": counts}
    return {"item": "KIT-1", "checks": good_checks(step), **told}


def _wearing_step(place: str, number: int = 0) -> Callable[[Floor], Body]:
    """Returns the body of one step of putting on or taking off."""

    def body(floor: Floor) -> Body:
        wearing = floor.workflow("KIT-7").wearing
        assert wearing is not None
        step: WearStep = getattr(wearing, place)[number]
        told: Body = {"step": step.step, "checks": good_checks(step)}
        if place == "put_on":
            told |= {"readings": good_readings(step), "counts": {one.count: 0 for one in step.counts}}
        return told

    return body


def _swap(floor: Floor) -> Body:
    wearing = floor.workflow("KIT-7").wearing
    assert wearing is not None
    return {"slot": "battery", "part": "BAT-901", "checks": {one.check: True for one in wearing.swaps[0].checks}}


def _worn(floor: Floor) -> None:
    """Puts the respirator on to the last step, and has a charged battery ready."""
    wearing = floor.workflow("KIT-7").wearing
    assert wearing is not None
    for step in wearing.put_on[1:]:
        readings = {name: "90" if name == "soc_percent" else value for name, value in good_readings(step).items()}
        counts = {one.count: {"gaskets": 2, "plugs": 1}[one.count] for one in step.counts}
        tool = INSTRUMENTS.get(step.instrument or "")
        put = floor.ask(
            asking.PutOn("KIT-7", step.step, good_checks(step), readings, counts, tool), "gus", second="ben"
        )
        assert put.accepted, (step.step, put.reasons)
    office = floor.department.station("BENCH", badge="B-CORA")
    assert office.enrol(Commission("BAT-901", "battery-pack", "LP-1")).accepted
    floor.bring("BAT-901", "ready")


def _in_an_emergency(floor: Floor) -> None:
    """Issues the second respirator to nobody on record."""
    floor.bring("KIT-1", "ready")
    told = _looked_over(floor) | {"wearer": None, "purpose": "emergency"}
    issued = floor.ask(asking.IssueItem("KIT-1", **told), "gus")
    assert issued.accepted, issued.reasons


def _held(item: str) -> Callable[[Floor], object]:
    return lambda floor: floor.ask(asking.PlaceHold(item, "administrative", "a notice", "supervisor"), "ben")


NO = "/items/NO-1"
ROWS: tuple[Row, ...] = (
    # Items through their cycle.
    Row(
        "commission",
        "/items",
        {"item": "BLW-901", "workflow": "blower", "model": "LB-3"},
        {"item": "BLW-902", "workflow": "nothing", "model": "LB-3"},
        409,
    ),
    Row("do-step", "/items/BLW-1/steps", _checks("BLW-1", "take-apart"), {"step": "inspect"}, 409),
    Row("fail-step", "/items/BLW-901/failures", {"step": "inspect", "defects": ["SOIL"]}, {"step": "inspect"}, 422),
    Row("start-dwell", "/items/BLW-2/dwells", {"step": "disinfect", "solution": "QAW-1"}, {"step": "disinfect"}, 409),
    Row("rewet", "/items/BLW-2/dwells/rewet", {}, {}, 409, "/items/TUB-3/dwells/rewet"),
    Row("break-dwell", "/items/BLW-2/dwells/broken", {"cause": "dried"}, {"cause": "eaten"}, 422),
    Row(
        "end-dwell",
        "/items/TUB-5/dwells/ended",
        {"step": "disinfect"},
        {"step": "disinfect"},
        409,
        "/items/BLW-2/dwells/ended",
        before=_contact,
    ),
    Row(
        "release",
        "/items/TUB-5/release",
        _release("TUB-5"),
        SIGNED,
        409,
        "/items/BLW-1/release",
        "dan",
        before=lambda floor: floor.bring("TUB-5", "release"),
    ),
    Row(
        "undo",
        "/items/TUB-1/undo",
        {},
        {},
        409,
        "/items/TUB-3/undo",
        "anna",
        before=lambda floor: floor.do("TUB-1", floor.workflow("TUB-1").steps[0], in_="", temp=""),
    ),
    Row(
        "correct",
        "/items/BLW-1/corrections",
        lambda floor: {"number": floor.item("BLW-1").number, "reason": "the other blower", "mistaken": True, **BOTH},
        {"number": 9999, "reason": "no such entry", **BOTH},
        409,
    ),
    Row("contaminate", "/items/BLW-3/contaminations", {"cause": "dropped"}, {"cause": "eaten"}, 422),
    Row("report-method", "/items/BLX-3/methods", {"method": "immerse"}, {"method": 7}, 422, verdict="held"),
    Row(
        "place-hold",
        "/items/CAN-1/holds",
        ADMINISTRATIVE,
        {"sort": "grudge", "cause": "x", "owner": "y"},
        422,
        verdict="held",
    ),
    Row(
        "lift-hold",
        "/items/CAN-1/holds/{hold}/lift",
        {"disposition": "notice withdrawn", **BOTH},
        {"disposition": "x", **BOTH},
        409,
        "/items/CAN-1/holds/none-1/lift",
    ),
    Row("condemn", "/items/CAN-2/condemn", {"reason": "worn", **BOTH}, {"reason": "worn", **SIGNED}, 409),
    Row(
        "set-aside",
        "/items/BLT-3/aside",
        {"to": "repair", "note": "strap", "statement": "none"},
        {"to": "moon", "note": "strap"},
        422,
    ),
    Row(
        "finish-repair",
        "/items/BLT-3/repaired",
        {"work": "new strap", "test": "pulled", "passed": True, "returned_by": "workshop"},
        {"work": "new strap"},
        422,
        by="gus",
    ),
    Row("note-item", "/items/BAT-7/notes", {"charge_cycles": 1}, {"charge_cycles": -1}, 422),
    Row(
        "move-counted", "/items/CLP-1/moved", {"other": "CLP-2", "quantity": 2}, {"other": "CLP-2", "quantity": 0}, 422
    ),
    # Which thing it is.
    Row("type-code", "/items/BLW-8/typed", {"again": "BLW-8"}, {}, 409),
    Row("give-tag", "/items/BLW-8/tags", {"tag": "BLW-8-N2", **WITH_BEN}, {"tag": "BLW-8-N3"}, 409),
    Row("withdraw-tag", "/items/BLW-8/tags/BLW-8-N2/withdraw", {"reason": "torn"}, {"reason": 7}, 422),
    Row("doubt-identity", "/items/PLG-1/doubts", {"cause": "two bear one code"}, {}, 422, verdict="held"),
    Row(
        "split-history",
        "/items/PLG-1/split",
        lambda floor: {"other": "PLG-2", "numbers": [floor.item("PLG-1").number], "reason": "the other box", **BOTH},
        {"other": "PLG-9", "numbers": [2], "reason": "x", **BOTH},
        409,
        before=lambda floor: floor.ask(asking.Contaminate("PLG-1", "dropped")),
    ),
    Row(
        "recommission",
        "/items/PLG-1/rename",
        {"new": "PLG-901", "reason": "nobody knows", **BOTH},
        {"new": "PLG-2", "reason": "x", **BOTH},
        409,
    ),
    # Places, and what lies there.
    Row(
        "open-place",
        "/places",
        {"place": "ST-1", "title": "Store", "sort": "store", "zone": "clean"},
        {"place": "ST-9", "title": "Store", "sort": "moon", "zone": "clean"},
        422,
    ),
    Row("put-away", "/items/CAN-1/put-away", {"place": "ST-1"}, {"place": "ST-9"}, 409),
    Row("take-out", "/items/CAN-1/take-out", {}, {}, 409, "/items/BLW-1/take-out"),
    Row(
        "inspect-unit",
        "/items/CAN-3/inspections",
        {"findings": "nothing found", "action": "none"},
        {"findings": "nothing found", "readings": {"temp_c": 7}},
        422,
    ),
    Row(
        "put-in-quarantine",
        "/items/CAN-1/quarantine",
        {"place": "Q-1"},
        {"place": 9},
        422,
        before=lambda floor: (_place(floor, "Q-1", "quarantine", "dirty"), _held("CAN-1")(floor)),
    ),
    Row(
        "read-place",
        "/places/ST-2/readings",
        {"reading": "temp_c", "value": "20"},
        {"reading": "temp_c", "value": "warm"},
        409,
        before=lambda floor: _place(floor, "ST-2", "store", "clean", limits={"temp_c": "5..30"}),
    ),
    Row("alarm-vapour", "/places/ST-2/vapours", {"vapour": "vapour_aldehyde_ppm"}, {}, 422),
    Row(
        "seal-cabinet",
        "/places/CAB-1/sealed",
        {"seal": "S-2", "units": ["KIT-7"]},
        {"seal": "S-2", "units": ["NO-1"]},
        409,
        before=lambda floor: (
            _place(floor, "CAB-1", "cabinet", "clean"),
            floor.ask(asking.PutAway("KIT-7", "CAB-1"), "ben"),
        ),
    ),
    Row("open-cabinet", "/places/CAB-1/opened", {"seal": "S-2", "present": ["KIT-7"]}, {}, 422),
    # Solutions and lots.
    Row(
        "make-solution",
        "/solutions",
        {"solution": "HYP-1", "agent": "hypochlorite-50ppm", "lot": "LOT-2", "lot_expiry": LATER},
        {"solution": "HYP-2", "agent": "water", "lot": "LOT-2", "lot_expiry": LATER},
        422,
    ),
    Row(
        "test-solution",
        "/solutions/HYP-1/tests",
        {"strip_lot": "T-1", "strip_expiry": LATER, "reading": "50", "read_after_s": 80},
        {"strip_lot": "T-1", "strip_expiry": "soon"},
        422,
    ),
    Row(
        "top-up-solution",
        "/solutions/HYP-1/top-ups",
        {"lot": "LOT-2", "lot_expiry": LATER, "volume_l": "1"},
        {"lot": "LOT-2", "lot_expiry": LATER, "volume_l": 1},
        422,
    ),
    Row("end-solution", "/solutions/HYP-1/end", {"cause": "dumped"}, {"cause": "drunk"}, 422),
    Row(
        "receive-lot",
        "/lots",
        {"lot": "L-1", "quantity": 40, "product": "STRIPS", "sort": "strips", "unit": "strip"},
        {"lot": "L-2", "quantity": 40},
        422,
    ),
    Row("use-lot", "/lots/L-1/used", {"quantity": 3, "used_for": "a test"}, {"quantity": -3, "used_for": "x"}, 422),
    Row("count-lot", "/lots/L-1/counted", {"left": 30}, {"left": "many"}, 422),
    Row("recall-lot", "/lots/L-1/recall", {"reference": "notice 7"}, {}, 422),
    Row(
        "clear-lot",
        "/lots/L-1/clear",
        {"disposition": "the notice was withdrawn", **BOTH},
        {"disposition": "x", **BOTH},
        409,
        "/lots/L-2/clear",
    ),
    # Loads.
    Row(
        "set-programme",
        "/machines/WD-1/programmes",
        {"programme": "P70", "hottest_c": "72", "lasts_s": 2400, **WITH_BEN},
        {"programme": "P70", "hottest_c": "hot", "lasts_s": 2400, **WITH_BEN},
        409,
    ),
    Row(
        "open-load",
        "/loads",
        {"load": "LD-1", "machine": "WD-1", "programme": "P90"},
        {"load": "LD-2", "machine": "WD-1", "programme": "P1000"},
        409,
    ),
    Row("add-to-load", "/loads/LD-1/items", {"items": ["BWL-1", "BWL-2"]}, {"items": ["BLW-2"]}, 409),
    Row("remove-from-load", "/loads/LD-1/items/removed", {"items": ["BWL-2"]}, {"items": ["BLW-2"]}, 409),
    Row("start-load", "/loads/LD-1/start", {}, {}, 409, "/loads/NO-1/start"),
    Row(
        "end-load",
        "/loads/LD-1/end",
        {
            "record": record_of(("90", 60)),
            "logger": "LG-1",
            "readings": {"wash_min": "5"},
            "checks": {"cycle-whole": True},
            "indicators": {"cleaning": True},
        },
        {"record": 7},
        422,
        before=lambda floor: floor.clock.push(2400),
    ),
    Row("unload-load", "/loads/LD-1/unload", {"items": ["BWL-1"]}, {"items": "BWL-1"}, 422),
    Row(
        "fail-load",
        "/loads/LD-1/fail",
        {"cause": "calibration", "note": "the logger was off"},
        {"cause": "boredom", "note": "x"},
        422,
        verdict="held",
    ),
    # Assemblies and custody.
    Row(
        "assemble",
        "/assemblies",
        _assembly,
        {"item": "KIT-1", "configuration": "none", "members": []},
        409,
        by="ben",
        before=_second_kit,
    ),
    Row("dedicate-item", "/custody/KIT-7/dedicate", {"place": "ward-7"}, {"place": 7}, 422),
    Row("issue-item", "/custody/KIT-7/issue", _looked_over, {"wearer": "W-1", "place": "ward-7"}, 409, by="gus"),
    Row("put-on", "/assemblies/KIT-7/wear/put-on", _wearing_step("put_on"), {"step": "dance"}, 422, by="gus"),
    Row(
        "tell-signal", "/assemblies/KIT-7/wear/signals", {"signal": "low-battery"}, {"signal": "a song"}, 422, by="gus"
    ),
    Row(
        "swap-part",
        "/assemblies/KIT-7/parts",
        _swap,
        {"slot": "moon", "part": "BAT-901"},
        409,
        by="gus",
        before=_worn,
    ),
    Row("hand-on", "/custody/KIT-7/hand-on", {"wearer": "W-1"}, {"wearer": "W-2"}, 409, by="gus"),
    Row(
        "identify-wearer",
        "/custody/KIT-1/wearer",
        {"wearer": "W-2"},
        {"wearer": "W-2"},
        409,
        "/custody/KIT-7/wearer",
        by="gus",
        before=_in_an_emergency,
    ),
    Row("take-off", "/assemblies/KIT-7/wear/take-off", _wearing_step("take_off"), {"step": "dance"}, 422, by="gus"),
    Row("return-item", "/custody/KIT-7/return", {"place": "SINK"}, {"used": "perhaps"}, 422, by="gus"),
    Row(
        "lend-item",
        "/custody/TUB-5/lend",
        {"to": "a neighbour", "due": LATER},
        {"to": "x", "due": "2020-01-01T00:00:00Z"},
        422,
    ),
    Row("send-item", "/custody/FLT-2/send", {"to": "SAL", "container": "BOX-1"}, {"to": "MOON"}, 409),
    Row(
        "receive-item",
        "/custody/FLT-2/receive",
        {"intact": True},
        {"intact": "perhaps"},
        422,
        by="lee",
        station="SALTGATE",
    ),
    # Instruments.
    Row(
        "instrument-registered",
        "/instruments",
        {"instrument": "TH-9", "sort": "thermometer", "site": "LMG", **SIGNED},
        {"instrument": "TH-9"},
        422,
    ),
    Row(
        "instrument-verified",
        "/instruments/TH-9/verified",
        {"until": LATER, "reference": "C-1", **SIGNED},
        {"until": "soon", **SIGNED},
        422,
    ),
    Row("instrument-faulty", "/instruments/TH-9/faulty", {"finding": "broken"}, {}, 422),
)


def _place(floor: Floor, place: str, sort: str, zone: str, limits: dict[str, str] | None = None) -> object:
    return floor.ask(asking.OpenPlace(place, place, sort, zone, limits=limits or {}), "cora")


@pytest.fixture(scope="module")
def answered(prepared: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Any, Any]]:  # noqa: F811
    """Returns the responses to the bad and the good request of each row, asked in the order of the table."""
    floor = opened(prepared, tmp_path_factory.mktemp("operations"))
    with floor.department:
        with_pins(floor)
        app = create_app(floor.department)
        with TestClient(app, base_url="https://testserver") as client:
            hall = Hall(floor, client, person("cora"))
            app.dependency_overrides[who.caller] = lambda: hall.caller
            a_washer(floor)
            bowls(floor, 2)
            wearers(floor, "W-1", "W-2")
            return {row.asked: _both(hall, row) for row in ROWS}


def _both(hall: Hall, row: Row) -> tuple[Any, Any]:
    floor = hall.floor
    floor.clock.push(60)
    hall.caller = person(row.by, row.station)
    if row.before is not None:
        row.before(floor)
    bad = hall.post(_filled(floor, row.bad_path or row.path), row.bad, headers=_if_match(hall, row))
    body = row.body(floor) if callable(row.body) else row.body
    good = hall.post(_filled(floor, row.path), body, headers=_if_match(hall, row))
    return bad, good


def _filled(floor: Floor, path: str) -> str:
    """Returns an address with the latest hold of its item."""
    if "{hold}" not in path:
        return path
    holds = floor.item(path.split("/")[2]).holds
    return path.replace("{hold}", next(reversed(holds)))


def _if_match(hall: Hall, row: Row) -> dict[str, str]:
    """Returns the version that was read, where the operation changes master data."""
    if row.asked not in ALWAYS:
        return {}
    name = row.path.split("/")[2]
    return {"If-Match": hall.get(f"/instruments/{name}").headers["etag"]}


ALWAYS = {one.asked for one in WRITES if one.if_match == "always"}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.asked)
def test_an_operation_is_answered(answered: dict[str, tuple[Any, Any]], row: Row) -> None:
    bad, good = answered[row.asked]
    answer = good.json() if good.status_code == 200 else good.json().get("answer", {})
    assert (good.status_code, answer.get("verdict")) == (200 if row.verdict == "accepted" else 409, row.verdict), (
        good.text
    )
    assert answer["asked"] in {row.asked, "enrol"}
    assert bad.status_code == row.status, bad.text
    assert bad.json()["detail"]


def test_every_operation_about_things_is_tried() -> None:
    wanted = {one.asked for one in WRITES if one.tag in THINGS}
    assert {row.asked for row in ROWS} == wanted


def test_every_request_has_an_operation_or_is_written_by_hand() -> None:
    """A new request without an address over HTTP is an omission, until somebody says that it has one by hand."""
    modules = [import_module(f"{asking.__name__}.{one.name}") for one in pkgutil.iter_modules(asking.__path__)]
    found: set[Any] = {
        kind
        for module in (*modules, enrolling, live)
        for kind in vars(module).values()
        if inspect.isclass(kind)
        and kind.__module__ == module.__name__
        and isinstance(getattr(kind, "asked", None), str)
    }
    have = {one.request for one in WRITES}
    assert sorted(kind.__name__ for kind in found - have if kind.asked not in BY_HAND) == ["Enrol"]
    assert not {one.asked for one in WRITES} & BY_HAND
