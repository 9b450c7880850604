"""The network of the month: three sites, their people, places and parts, as the text of a department's file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import orjson

LOT: Final = "7F"
"""The lot of filters that is recalled on the twelfth day."""
TRAY: Final = 40
"""Bowls in the load that fails on the ninth day."""
BATH_TUBES: Final = 23
"""Tubes that go through the bath that fails on the sixth day."""
FROM: Final = "2026-01-01"
UNTIL: Final = "2027-01-01"
LAPSED: Final = "2026-03-09"
DIRTY_SKILLS: Final = ("take-apart", "clean", "disinfect", "dry", "launder", "point-of-use")
CLEAN_SKILLS: Final = (
    "disinfect", "dry", "inspect", "functional-test", "charge", "assemble", "release", "leak-test",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Staff:
    """Is who does what at one site: badges by the side of the bench, and of whoever may do more."""

    site: str
    dirty: tuple[str, ...]
    clean: str
    releases: str
    supervisor: str


STAFF: Final = {
    "LMG": Staff("LMG", ("B-MT", "B-OL"), "B-PV", "B-JA", "B-HQ"),
    "FEN": Staff("FEN", ("B-RF",), "B-LC", "B-EN", "B-TW"),
    "SAL": Staff("SAL", ("B-AV",), "B-GM", "B-DS", "B-IK"),
}
PEOPLE: Final = (
    ("P-MT", "Mirela Tandy", "LMG", DIRTY_SKILLS, ()),
    ("P-OL", "Oskar Lunn", "LMG", DIRTY_SKILLS, ()),
    ("P-QD", "Quillon Dray", "LMG", DIRTY_SKILLS, ()),
    ("P-PV", "Petra Vail", "LMG", CLEAN_SKILLS, ()),
    ("P-JA", "Joss Arden", "LMG", CLEAN_SKILLS, ()),
    ("P-HQ", "Hedda Quist", "LMG", CLEAN_SKILLS, ("supervisor",)),
    ("P-BO", "Bram Oakes", "", (), ("programme-administrator",)),
    ("P-YS", "Ysolde Stroud", "", (), ("infection-prevention",)),
    ("P-KM", "Kester Moyle", "", (), ("clinical-engineer",)),
    ("P-OH", "Odile Harrow", "", (), ("occupational-health",)),
    ("P-RF", "Rona Fells", "FEN", DIRTY_SKILLS, ()),
    ("P-LC", "Lowen Carrick", "FEN", CLEAN_SKILLS, ()),
    ("P-EN", "Esme Nairn", "FEN", CLEAN_SKILLS, ()),
    ("P-TW", "Tavish Wren", "FEN", (*DIRTY_SKILLS, *CLEAN_SKILLS), ("supervisor",)),
    ("P-AV", "Ansel Voss", "SAL", DIRTY_SKILLS, ()),
    ("P-GM", "Greer Maddox", "SAL", CLEAN_SKILLS, ()),
    ("P-DS", "Della Strand", "SAL", CLEAN_SKILLS, ()),
    ("P-IK", "Ivo Kestrel", "SAL", (*DIRTY_SKILLS, *CLEAN_SKILLS), ("supervisor",)),
)
ZONES: Final = {"LMG": "Europe/London", "FEN": "Europe/London", "SAL": "America/Halifax"}
TITLES: Final = {"LMG": "Larkmoor General", "FEN": "Fenhollow Community", "SAL": "Saltgate Women and Children"}
KITS: Final[dict[str, tuple[int, ...]]] = {
    "LMG": (31, *range(41, 54), *range(70, 80)),
    "FEN": tuple(range(101, 113)),
    "SAL": tuple(range(121, 129)),
}
"""The kits of each site, by number."""
WITH_LOT: Final[dict[str, int]] = {"LMG": 24, "FEN": 10, "SAL": 7}
"""How many of a site's kits have filters of the lot: forty-one."""


def parts_of(number: int) -> tuple[str, ...]:
    """Returns the parts of a kit, in the order in which they are put together."""
    return tuple(name for name, _, _ in _parts(number))


def _parts(number: int) -> Iterator[tuple[str, str, str]]:
    yield f"BLW-{number:03d}", "blower", "LB-3"
    yield f"TUB-{number + 70:03d}", "breathing-tube-wipe", "LT-1"
    yield f"HCV-{number:03d}", "head-cover", "LH-1"
    yield f"FLT-{number:03d}-1", "hepa-cartridge", "LF-H"
    yield f"FLT-{number:03d}-2", "hepa-cartridge", "LF-H"
    yield f"BAT-{number:03d}", "battery-pack", "LP-1"
    yield f"BLT-{number:03d}", "belt-wipe-down", "LW-W"


def lot_of(site: str, number: int) -> str:
    """Returns the lot of a kit's filters."""
    return LOT if KITS[site].index(number) < WITH_LOT[site] else "7G"


def text() -> str:
    """Returns the department's file, as the JSON that is YAML too."""
    return orjson.dumps(_file(), option=orjson.OPT_INDENT_2).decode()


def _file() -> dict[str, Any]:
    return {
        "network": "Larkmoor Health Network",
        "demo": True,
        "sites": [{"site": site, "title": TITLES[site], "zone": zone} for site, zone in ZONES.items()],
        "stations": [
            {"station": f"{site}-{name}", "title": f"{title} of {TITLES[site]}", "site": site, "side": side}
            for site in ZONES
            for name, title, side in (
                ("D1", "Dirty bench", "dirty"),
                ("C1", "Clean bench", "clean"),
                ("HATCH", "Hatch", "any"),
            )
        ],
        "people": [_person(*row) for row in PEOPLE],
        "instruments": list(_instruments()),
        "files": {"published_by": "P-BO", "approved_by": "P-HQ"},
        "items": list(_items()),
    }


def _person(person: str, name: str, site: str, skills: tuple[str, ...], roles: tuple[str, ...]) -> dict[str, Any]:
    until = LAPSED if person == "P-QD" else UNTIL
    held = [{"competency": one, "since": FROM, "until": until, "assessor": "Hedda Quist"} for one in skills]
    return {
        "person": person,
        "name": name,
        "sites": [site] if site else [],
        "roles": list(roles),
        "badges": [f"B-{person[2:]}"],
        "competencies": held,
    }


def _instruments() -> Iterator[dict[str, Any]]:
    for site, first in (("LMG", 9), ("FEN", 11), ("SAL", 13)):
        for number in (first, first + 1):
            yield _instrument(f"FI-{number:02d}", "flow-indicator", site)
        yield _instrument(f"BAY-{site}", "charger-bay", site)
        yield _instrument(f"LK-{site}", "leak-tester", site)
    yield _instrument("WD-2", "washer", "LMG")
    yield _instrument("TL-2", "temperature-logger", "LMG")


def _instrument(name: str, sort: str, site: str) -> dict[str, Any]:
    return {"instrument": name, "sort": sort, "site": site, "serial": f"L-{name}", "verified_until": "2026-12-31"}


def _items() -> Iterator[dict[str, Any]]:
    for site, numbers in KITS.items():
        for number in numbers:
            yield _item(f"KIT-{number:03d}", "respirator", "LR-1", site)
            for name, workflow, model in _parts(number):
                if workflow != "hepa-cartridge":
                    serial = {"serial": f"L3-{number:03d}"} if workflow == "blower" else {}
                    yield {**_item(name, workflow, model, site), **serial}
    for number in range(BATH_TUBES):
        yield _item(f"TUB-{310 + number}", "breathing-tube-immersion", "LT-1", "LMG")
    for number in range(1, TRAY + 1):
        yield _item(f"BWL-{number:02d}", "washer-load", "LB-W", "LMG")
    for site in ("LMG", "SAL"):
        yield _item(f"SCP-{site}", "channelled-device", "LC-1", site)


def _item(item: str, workflow: str, model: str, site: str) -> dict[str, Any]:
    return {"item": item, "workflow": workflow, "model": model, "site": site, "in_service": "2025-12-01"}
