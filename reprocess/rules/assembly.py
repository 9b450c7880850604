"""What may be put together: C01-C05, C09, M07. Ports = filters + plugs and gaskets = filters, always."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from reprocess.definitions.configuration import Configuration, Slot
from reprocess.record.standing import Standing
from reprocess.rules import custody_out, hold, life
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Part, Scene
from reprocess.terms import DAY_S, SECOND_US, Stage


@dataclass(frozen=True, slots=True)
class Placed:
    """Is where each part goes: slot (numbered where it holds several) to item id, with every reason why not."""

    members: dict[str, str]
    reasons: tuple[Reason, ...]


def place(scene: Scene, asked: tuple[str, ...]) -> Placed:
    """Returns where the parts go under the configuration, and every reason why they do not."""
    configuration = scene.configuration
    if configuration is None:
        return Placed({}, (Reason("C01", "no-configuration", {}, role="programme-administrator"),))
    reasons = [Reason("C09", "scanned-twice", {"item": item}) for item, times in Counter(asked).items() if times > 1]
    members: dict[str, str] = {}
    for item in dict.fromkeys(asked):
        part = scene.parts.get(item)
        if part is None or not part.standing.known:
            reasons.append(Reason("P05", "unknown-item", {"item": item}))
            continue
        slot = _free_slot(configuration, part.standing, members)
        if slot is None:
            reasons.append(_no_slot(configuration, part.standing))
        else:
            members[slot] = item
        reasons += fit(part, scene)
    return Placed(members, (*reasons, *_arithmetic(configuration, members)))


PAIR_DAYS = 30
"""Days by which the opening of two filters of one assembly may differ (our choice)."""


def pair(members: Mapping[str, str], parts: Mapping[str, Part]) -> list[Reason]:
    """Returns what is told about filters that were opened more than a month apart (C06)."""
    filters = [parts[item].standing for slot, item in members.items() if slot.startswith("filter") and item in parts]
    opened = [one.opened_us for one in filters if one.opened_us is not None]
    apart_us = max(opened, default=0) - min(opened, default=0)
    if apart_us <= PAIR_DAYS * DAY_S * SECOND_US:
        return []
    days = apart_us // (DAY_S * SECOND_US)
    return [Reason("C06", "filters-apart", {"items": sorted(one.item for one in filters), "days": days})]


def names_of(slot: Slot) -> tuple[str, ...]:
    """Returns the names of a slot's places: the slot itself, or numbered from 1 where it holds several."""
    if slot.quantity == 1:
        return (slot.slot,)
    return tuple(f"{slot.slot}-{number}" for number in range(1, slot.quantity + 1))


def _free_slot(configuration: Configuration, item: Standing, taken: Mapping[str, str]) -> str | None:
    for slot in configuration.slots:
        if slot.item_kind == item.item_kind and item.model in slot.models:
            for name in names_of(slot):
                if name not in taken:
                    return name
    return None


def _no_slot(configuration: Configuration, item: Standing) -> Reason:
    of_kind = [slot for slot in configuration.slots if slot.item_kind == item.item_kind]
    facts: dict[str, str | int | list[str]] = {
        "item": item.item,
        "item_kind": item.item_kind,
        "model": item.model,
        "configuration": configuration.title,
    }
    if any(item.model in slot.models for slot in of_kind):
        return Reason("C02", "one-too-many", facts)
    return Reason("C01", "not-in-configuration", facts, role="programme-administrator")


def _arithmetic(configuration: Configuration, members: Mapping[str, str]) -> list[Reason]:
    reasons = []
    for slot in configuration.slots:
        have = [name for name in names_of(slot) if name in members]
        if len(have) < slot.quantity:
            rule = "C03" if slot.slot == "filter" else "C02"
            reasons.append(
                Reason(
                    rule,
                    "slot-empty",
                    {"slot": slot.slot, "have": len(have), "wanted": slot.quantity},
                )
            )
    return reasons


def ports(configuration: Configuration, filters: int, plugs: int, gaskets: int) -> list[Reason]:
    """Returns why the ports are not closed as the configuration says: C03, C04, C05, M07."""
    reasons = []
    if filters + plugs != configuration.ports:
        reasons.append(
            Reason(
                "C05",
                "ports-open" if filters + plugs < configuration.ports else "ports-over",
                {
                    "ports": configuration.ports,
                    "filters": filters,
                    "plugs": plugs,
                    "wanted_plugs": configuration.plugs,
                },
            )
        )
    elif plugs != configuration.plugs:
        reasons.append(Reason("C03", "plugs-wrong", {"plugs": plugs, "wanted_plugs": configuration.plugs}))
    if gaskets != configuration.gaskets:
        reasons.append(Reason("M07", "gaskets-wrong", {"gaskets": gaskets, "wanted": configuration.gaskets}))
    return reasons


def fit(part: Part, scene: Scene) -> list[Reason]:
    """Returns why a part may not go into this assembly: stage, holds, limits, site, another assembly."""
    item = part.standing
    reasons = []
    if item.stage != Stage.READY:
        reasons.append(Reason("C02", "part-not-ready", {"item": item.item, "stage": str(item.stage)}))
    if part.workflow.item_class == "assembly":
        reasons.append(Reason("C01", "assembly-in-assembly", {"item": item.item}))
    if item.assembly is not None and item.assembly != scene.item.item:
        reasons.append(Reason("C09", "in-another", {"item": item.item, "assembly": item.assembly}))
    if item.site != scene.item.site:
        reasons.append(Reason("C12", "other-site", {"item": item.item, "site": item.site}))
    if not custody_out.same_hands(item, scene.item):
        reasons += custody_out.still_out(item, scene)
    return reasons + part_gates(part, scene.bench.now_us)


def part_gates(part: Part, now_us: int) -> list[Reason]:
    """Returns why a part may not be in a ready assembly: holds (G02), limits (T12), shelf life (T13)."""
    item = part.standing
    reasons = hold.part_holds(item)
    reasons += life.in_life(part.workflow, item, now_us)[0]
    if item.ready_until_us is not None and item.ready_until_us <= now_us:
        reasons.append(Reason("T13", "shelf-over", {"item": item.item, "at_us": item.ready_until_us}))
    return reasons
