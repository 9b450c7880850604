"""The words of a table line about lots, places and repair.

received 12 of quat-alcohol-wipe sort=agent days=30 reorder=3     about a lot, such as LOT-7
taken 2 · counted 4 · barred · cleared                            ... used, counted, recalled, no longer recalled
set-up store par=2 months=1 grade=filtered zone=dirty seal=S-1 temp_c=5..30       about a place, such as ST-1
put-in ST-1 · take-out                                            about an item
reads temp_c=31 · alarms vapour_aldehyde_ppm                      about a place
looked-at good none flow_l_per_min=180 · looked-at unsaid gone · looked-at seal-broken opened · looked-at crack failed
broken-open S-1 of KIT-7 · sealed S-2 of KIT-7                    about a cabinet; `of` names the units in it
repaired by bme passed · repaired by bme failed valve=LOT-7       about an item
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.terms import DAY_S, SECOND_US

if TYPE_CHECKING:
    from tests.engine.floor import Floor
    from tests.engine.scans import Words

SET_UP = ("par", "months", "grade", "zone", "seal", "ask")


def _days_us(floor: Floor, days: str | None) -> int | None:
    return None if days is None else floor.clock.now().wall_us + int(days) * DAY_S * SECOND_US


def _received(floor: Floor, lot: str, words: Words) -> Request:
    reorder = words.pairs.get("reorder")
    return asking.ReceiveLot(
        lot,
        int(words.plain[0]),
        product=words.one("of"),
        sort=words.pairs.get("sort"),
        unit=words.pairs.get("unit"),
        expiry_us=_days_us(floor, words.pairs.get("days")),
        reorder_at=None if reorder is None else int(reorder),
        device=words.pairs.get("device"),
    )


def _set_up(_: Floor, place: str, words: Words) -> Request:
    pairs = words.pairs
    return asking.OpenPlace(
        place,
        f"Place {place}",
        words.plain[0],
        pairs.get("zone", "clean"),
        par=int(pairs["par"]) if "par" in pairs else None,
        limits={name: value for name, value in pairs.items() if name not in SET_UP},
        seal=pairs.get("seal"),
        every_months=int(pairs["months"]) if "months" in pairs else None,
        asks=tuple(pairs["ask"].split("+")) if "ask" in pairs else (),
        grade=pairs.get("grade"),
    )


def _reads(_: Floor, place: str, words: Words) -> Request:
    ((name, value),) = words.pairs.items()
    return asking.ReadPlace(place, name, value)


def _looked_at(_: Floor, item: str, words: Words) -> Request:
    said = [one for one in words.plain if one not in {"failed", "gone", "seal-broken", "done"}]
    found, *action = said
    return asking.InspectUnit(
        item,
        findings=None if found == "unsaid" else found,
        action=action[0] if action else None,
        passed="failed" not in words.plain,
        missing="gone" in words.plain,
        seal_broken="seal-broken" in words.plain,
        readings=dict(words.pairs),
    )


def _repaired(_: Floor, item: str, words: Words) -> Request:
    return asking.FinishRepair(
        item, "new valve", "leak test", passed="failed" not in words.plain, returned_by="bme", lots=dict(words.pairs)
    )


STOCK: dict[str, Callable[[Floor, str, Words], Request]] = {
    "received": _received,
    "taken": lambda _, lot, words: asking.UseLot(lot, int(words.plain[0]), "the bench"),
    "counted": lambda _, lot, words: asking.CountLot(lot, int(words.plain[0])),
    "barred": lambda _, lot, __: asking.RecallLot(lot, "notice N-1"),
    "cleared": lambda _, lot, __: asking.ClearLot(lot, "the notice was withdrawn"),
    "set-up": _set_up,
    "put-in": lambda _, item, words: asking.PutAway(item, words.plain[0]),
    "take-out": lambda _, item, __: asking.TakeOut(item),
    "reads": _reads,
    "alarms": lambda _, place, words: asking.AlarmVapour(place, words.plain[0]),
    "looked-at": _looked_at,
    "broken-open": lambda _, place, words: asking.OpenCabinet(place, words.plain[0], tuple(words.after["of"])),
    "sealed": lambda _, place, words: asking.SealCabinet(place, words.plain[0], tuple(words.after["of"])),
    "repaired": _repaired,
}
