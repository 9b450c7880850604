"""Request bodies that work on the demo, one or more for each noun; the documentation shows them and a test sends them.

The demo is `reprocess serve --demo`: Larkmoor General at the end of its invented day. Where a program with a token may
ask it, the example names a badge and a station, as a token must; what a person signs brings a PIN instead. In their
order the examples follow from each other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final


@dataclass(frozen=True, slots=True)
class Example:
    """Is one request.

    Attributes:
        body: what is sent.
        at: parameters of its address and headers, by name.
        by: who of the demo signs it in a session; None where a program may ask it.
    """

    body: Any = None
    at: Mapping[str, str] = field(default_factory=dict)
    by: str | None = None


_DIRTY: Final = {"station": "LMG-D1", "badge": "B-MT"}
_OFFICE: Final = {"station": "LMG-C2", "badge": "B-HQ"}
_PIN: Final = {"pin": "49271835"}
_BOTH: Final = _PIN | {"second_badge": "B-BO", "second_pin": "49271835"}
_LASTING: Final = "2027-02-28T00:00:00Z"

EXAMPLES: Final[Mapping[str, Example]] = MappingProxyType(
    {
        # Items.
        "commission": Example(
            {"item": "BLW-050", "workflow": "blower", "model": "LB-3", "serial": "L3-050"} | _OFFICE,
        ),
        "contaminate": Example({"cause": "dropped", "station": "LMG-HATCH"}, {"item": "BLW-043"}),
        "do-step": Example(
            {
                "step": "take-apart",
                "checks": {"filters-off": True, "battery-off": True, "tube-off": True, "outlet-capped": True},
                "counts": {"plugs": 3},
            }
            | _DIRTY,
            {"item": "BLW-045"},
        ),
        "note-item": Example({"charge_cycles": 1, "station": "LMG-C2"}, {"item": "BAT-043"}),
        "place-hold": Example(
            {"sort": "administrative", "cause": "a notice came by mail", "owner": "Hedda Quist", "station": "LMG-C2"},
            {"item": "BLW-044"},
        ),
        "scan": Example({"codes": ["I:BLW-046"], "station": "LMG-D1"}),
        "read-scanned-of-any": Example({"code": "I:BLW-046"}),
        # Solutions and lots.
        "make-solution": Example(
            {
                "solution": "LMG-B3",
                "agent": "hypochlorite-50ppm",
                "lot": "C-80",
                "lot_expiry": _LASTING,
                "stock_percent": "5.25",
                "one_in": "1000",
                "water_l": "10",
                "temp_c": "38",
            }
            | _DIRTY,
        ),
        "test-solution": Example(
            {"strip_lot": "S-31", "strip_expiry": _LASTING, "reading": "52", "read_after_s": 80} | _DIRTY,
            {"solution": "LMG-B3"},
        ),
        "start-dwell": Example(
            {"step": "disinfect", "solution": "LMG-B3", "temp_c": "38"} | _DIRTY,
            {"item": "TUB-115"},
        ),
        "receive-lot": Example(
            {
                "lot": "Q-121",
                "quantity": 40,
                "product": "quat-alcohol-wipe",
                "sort": "agent",
                "unit": "wipes",
                "expiry": _LASTING,
            }
            | _OFFICE,
        ),
        # Places.
        "open-place": Example(
            {
                "place": "LMG-ST1",
                "title": "Clean store",
                "sort": "store",
                "zone": "clean",
                "par": 4,
                "limits": {"temp_c": "5..30"},
            }
            | _OFFICE,
        ),
        "read-place": Example(
            {"reading": "temp_c", "value": "21.5", "station": "LMG-C2"},
            {"place": "LMG-ST1"},
        ),
        # Assemblies and custody.
        "tell-signal": Example({"signal": "low-battery", "station": "LMG-HATCH"}, {"item": "KIT-047"}),
        "dedicate-item": Example({"place": "LMG-ST1"} | _OFFICE, {"item": "KIT-048"}),
        # Instruments and loads.
        "instrument-registered": Example(
            {"instrument": "WD-1", "sort": "washer", "site": "LMG", "serial": "L-WD-1"} | _OFFICE,
        ),
        "instrument-verified": Example(
            {"until": _LASTING, "reference": "daily test of 5 March"} | _OFFICE,
            {"instrument": "WD-1", "If-Match": '"1"'},
        ),
        "set-programme": Example(
            {"programme": "P90", "hottest_c": "93", "lasts_s": 2400, "second_badge": "B-BO"} | _OFFICE,
            {"machine": "WD-1", "If-Match": '"2"'},
        ),
        "open-load": Example({"load": "LD-101", "machine": "WD-1", "programme": "P90"} | _DIRTY),
        # Recalls, cases, reviews.
        "preview-recall": Example(
            {"recall": "R-1", "sort": "lot", "name": "C-7F", "cause": "the lot was doubted"}, by="hedda"
        ),
        "review-refusals": Example({"until_feed": 500, "finding": "Talked over at the briefing."} | _PIN, by="hedda"),
        # People, sites, wearers.
        "person-registered": Example(
            {"person": "P-07", "name": "Orla Finch", "sites": ["LMG"], "roles": []} | _PIN, by="hedda"
        ),
        "badge-given": Example({"own_badge": "B-OF"} | _PIN, {"person": "P-07", "If-Match": '"1"'}, by="hedda"),
        "site-opened": Example({"site": "FEN", "title": "Fenhollow", "zone": "Europe/London"} | _PIN, by="hedda"),
        "station-opened": Example(
            {"title": "Bench 1", "site": "FEN", "side": "any"} | _PIN, {"station": "FEN-1"}, by="hedda"
        ),
        "register-wearer": Example(
            {"unit": "ED", "who": {"name": "Ilse Varga", "badge": "W-7041", "contact": "extension 118"}}
            | {"station": "LMG-C2", "badge": "B-BO"},
        ),
        # Files of the department, paper, reminders.
        "check-file": Example({"text": "workflow: torch\n"}),
        "enter-form": Example(
            {"form": "F-001", "lines": 2, "digest": "0" * 64} | _BOTH,
            by="hedda",
        ),
        "see-reminders": Example({"subject": "item:TUB-117"}, by="hedda"),
        # Programs.
        "issue-token": Example(
            {
                "token": "warehouse",
                "label": "Nightly copy",
                "scopes": ["feed:read"],
                "sites": ["LMG"],
                "until": "2026-09-01T00:00:00Z",
            }
            | _PIN,
            by="bram",
        ),
        "enrol-screen": Example(
            {
                "screen": "hatch-left",
                "label": "Left of the hatch",
                "until": "2026-09-01T00:00:00Z",
                "bearer": True,
            }
            | _PIN,
            by="hedda",
        ),
        "withdraw-token": Example({"reason": "the program is gone"}, {"token": "warehouse"}, by="bram"),
        "sign-in": Example({"badge": "B-MT", "station": "LMG-D1", "bearer": True} | _PIN),
    }
)
"""By the operation's id, in an order in which all of them are accepted; a hold is answered with the word `held`."""
