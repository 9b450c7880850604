"""The story of what was in doubt: a bath, a load, a lot of filters, a flow indicator."""

from __future__ import annotations

from typing import Final

from reprocess.demo.month.agenda import Work
from reprocess.demo.month.days import at
from reprocess.demo.month.network import BATH_TUBES, KITS, LOT, STAFF, TRAY, lot_of
from reprocess.demo.month.stage import Stage, site_of
from reprocess.demo.month.wipes import bath, new_filters, strip
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Enrol
from reprocess.record.words import InstrumentFaulty, InstrumentVerified
from reprocess.terms import SECOND_US
from reprocess.terms import Stage as ItemStage

RELEASED: Final = 9
"""Tubes of the failed bath that had been released."""
LMG: Final = STAFF["LMG"]
LOAD_RELEASED: Final = 11
"""Bowls of the failed load that had been released."""
LOAD_ISSUED: Final = 3
"""And of those, how many were issued."""
IN_USE: Final = 6
"""Kits with the recalled lot that are out when it is recalled."""
NEVER_FOUND: Final = frozenset({109, 110})
"""Kits with the recalled lot that are not found within a week."""


def failed_bath(stage: Stage) -> Work:
    """Day 6 16:00: bath LMG-B2 fails its strip; its last pass was at 08:10."""
    hands, who = stage.hands, LMG.dirty[0]
    worn = KITS["LMG"][-8:-4]
    stage.background.reserved |= set(worn)
    hands.good(bath(hands, "LMG", "LMG-B2"))
    yield max(0.0, (at(6, 8, 10) - stage.now()) / SECOND_US)
    hands.good(hands.scan(who, strip("LMG-B2", "52"), station="LMG-D1"))
    tubes = [f"TUB-{310 + number}" for number in range(BATH_TUBES)]
    for count, tube in enumerate(tubes):
        until = ItemStage.READY if count < RELEASED else "dry"
        stage.agenda.soon(hands.through(tube, until, solution="LMG-B2"))
        yield 120
    yield max(0.0, (at(6, 11, 30) - stage.now()) / SECOND_US)
    for number, tube in zip(worn, tubes, strict=False):
        stage.agenda.soon(_rebuilt(stage, number, tube))
    yield max(0.0, (at(6, 16, 0) - stage.now()) / SECOND_US)
    failed = hands.scan(who, strip("LMG-B2", "35"), station="LMG-D1")
    facts = next(one.facts for one in failed.reasons if one.rule == "L07")
    case = next((one.facts for one in failed.reasons if one.key == "case-opened"), {})
    stage.scenes.scene(
        "failed-bath",
        "Bath LMG-B2 fails at 35 ppm; its last pass was at 08:10. What it touched is held, on the shelf and off it.",
        held=facts["held"],
        ready=facts["ready"],
        wearers=case.get("wearers", 0),
        uses=case.get("uses", 0),
        case=case.get("case"),
    )
    stage.scenes.answer("strip test of LMG-B2 reads 35 ppm", failed)
    stage.background.reserved -= set(worn)


def _rebuilt(stage: Stage, number: int, tube: str) -> Work:
    """Puts a tube of the bath into a kit in place of its own, lets somebody wear it and bring it back."""
    hands, kit = stage.hands, f"KIT-{number:03d}"
    hands.good(hands.scan(LMG.clean, asking.Contaminate(kit, "opened"), station="LMG-HATCH"))
    for item in hands.parts(number):
        stage.agenda.soon(hands.through(item, ItemStage.READY))
    yield 7800
    yield from hands.through(kit, "assemble")
    parts = tuple(tube if item.startswith("TUB") else item for item in hands.parts(number))
    yield 120
    hands.good(hands.build(number, "LMG", parts=parts))
    yield from hands.through(kit, ItemStage.READY)
    hands.good(hands.issue(number, "LMG", f"W-LMG-{20 + number % 4:02d}", "intensive-care"))
    yield 1500
    hands.return_(kit, "LMG")


def failed_load(stage: Stage) -> Work:
    """Day 9 11:30: load W2-0417 fails after eleven of its forty bowls were released and three of them issued."""
    hands, load = stage.hands, "W2-0417"
    bowls = [f"BWL-{number:02d}" for number in range(1, TRAY + 1)]
    bench = hands.department.station("LMG-D1", badge="B-HQ", second="B-BO")
    verified = Enrol("instrument:WD-2", InstrumentVerified(until_us=at(300, 0), reference="daily test of 13 March"))
    hands.good(bench.enrol(verified))
    hands.good(bench.ask(asking.SetProgramme("WD-2", "P90", "90", 2700)))
    for count, bowl in enumerate(bowls):
        stage.agenda.at(stage.now() + count * 45 * SECOND_US, hands.through(bowl, "wash-and-heat"))
    yield 45 * len(bowls) + 300
    who = LMG.dirty[0]
    for request in (asking.OpenLoad(load, "WD-2", "P90"), asking.AddToLoad(load, tuple(bowls)), asking.StartLoad(load)):
        hands.good(hands.scan(who, request, station="LMG-D1"))
    yield 2700
    ended = asking.EndLoad(
        load,
        _logger_record(),
        "TL-2",
        {"wash_min": "10", "detergent_ml": "60"},
        {"cycle-whole": True},
        {"cleaning": True},
    )
    hands.good(hands.scan(who, ended, station="LMG-D1"))
    hands.good(hands.scan(LMG.clean, asking.UnloadLoad(load, tuple(bowls)), station="LMG-C1"))
    for bowl in bowls:
        until = ItemStage.READY if bowl in bowls[:LOAD_RELEASED] else "inspect"
        stage.agenda.soon(hands.through(bowl, until))
    yield max(0.0, (at(9, 11, 10) - stage.now()) / SECOND_US)
    for count, bowl in enumerate(bowls[:LOAD_ISSUED]):
        out = asking.IssueItem(bowl, f"W-LMG-{count + 1:02d}", "ward-3")
        hands.good(hands.scan(LMG.clean, out, station="LMG-HATCH"))
    yield max(0.0, (at(9, 11, 30) - stage.now()) / SECOND_US)
    failed = hands.scan(LMG.clean, asking.FailLoad(load, "indicator", "the indicator was misread"), station="LMG-C1")
    facts = next(one.facts for one in failed.reasons if one.key == "load-failed-later")
    stage.scenes.scene(
        "failed-load",
        f"Load {load} fails although it had passed: its {TRAY} bowls are held, on the shelf and on the wards.",
        held=facts["held"],
        ready=facts["ready"],
        out=facts["out"],
    )
    stage.scenes.answer(f"load {load} fails", failed)


def _logger_record() -> str:
    """Returns a logger's file: a minute and a half at 90 degC, a sample every ten seconds (A0 above 600)."""
    return "\n".join(["seconds,degC", *(f"{second},90" for second in range(0, 100, 10))]) + "\n"


def recalled_lot(stage: Stage) -> Work:
    """Day 12 14:20: filters of lot 7F are recalled; six of their kits are in use, two are never found."""
    hands = stage.hands
    yield max(0.0, (at(12, 14, 19) - stage.now()) / SECOND_US)
    _six_out(stage)
    yield 60
    preview = asking.PreviewRecall("R-7F", "lot", LOT, f"maker's notice about filters of lot {LOT}", notice="LN-26-07")
    shown = hands.scan("B-BO", preview, station="LMG-C1")
    committed = hands.scan("B-BO", asking.CommitRecall("R-7F"), second="B-HQ", station="LMG-C1")
    kits = sorted({int(one.item[4:7]) for one in hands.department.recalled("R-7F")})
    out = [number for number in kits if hands.department.item(f"KIT-{number:03d}").custody is not None]
    stage.scenes.scene(
        "recalled-lot",
        f"Lot {LOT} is recalled: {len(kits)} kits at three sites hold filters of it, {len(out)} of them are in use.",
        kits=len(kits),
        sites=len({site for site, numbers in KITS.items() for number in numbers if number in kits}),
        out=len(out),
        accepted=(shown.accepted or bool(shown.reasons), bool(committed.reasons)),
    )
    stage.scenes.answer("recall of lot 7F", committed)
    yield 3600
    for number in out:
        hands.return_(f"KIT-{number:03d}", site_of(number))
        yield 120
    for number in kits:
        if number not in NEVER_FOUND:
            stage.agenda.soon(_refitted(stage, number))
            yield 200
    yield 7 * 24 * 3600
    found = hands.department.recalled("R-7F")
    missing = sorted({int(one.item[4:7]) for one in found if one.located_us is None})
    closed = hands.scan("B-BO", asking.CloseRecall("R-7F", "all found"), second="B-HQ", station="LMG-C1")
    stage.scenes.scene(
        "recall-after-a-week",
        f"A week later {len(kits) - len(missing)} of {len(kits)} kits are located; the recall cannot be closed.",
        located=len(kits) - len(missing),
        missing=missing,
        closed=closed.accepted,
    )
    stage.scenes.answer("close the recall", closed)


def _six_out(stage: Stage) -> None:
    """Sees to it that exactly six kits with the lot are out: takes some back, or issues some more."""
    hands, background = stage.hands, stage.background
    with_lot = [number for site, numbers in KITS.items() for number in numbers if lot_of(site, number) == LOT]
    background.reserved |= set(with_lot)
    out = [one for one in with_lot if hands.department.item(f"KIT-{one:03d}").custody is not None]
    for number in out[IN_USE:]:
        hands.return_(f"KIT-{number:03d}", site_of(number))
    for number in with_lot:
        if len(out) >= IN_USE:
            break
        wearer = f"W-{site_of(number)}-{len(out) + 3:02d}"
        if number not in {*out, *NEVER_FOUND} and hands.issue(number, site_of(number), wearer, "ward-3").accepted:
            out.append(number)


def _refitted(stage: Stage, number: int) -> Work:
    """Puts the recalled filters of a kit in quarantine, fits new ones and takes the kit through to ready again."""
    hands, site, kit = stage.hands, site_of(number), f"KIT-{number:03d}"
    where = f"{site}-C1"
    old = [item for item in hands.parts(number) if item.startswith("FLT")]
    for item in old:
        hands.scan(STAFF[site].clean, asking.PutInQuarantine(item, f"{site}-QUARANTINE"), station=where)
    if hands.department.item(kit).members:
        hands.scan(STAFF[site].clean, asking.Contaminate(kit, "opened"), station=f"{site}-HATCH")
    yield 300
    for one in tuple(hands.department.item(kit).holds):
        lift = asking.LiftHold(kit, one, "filters of the recalled lot are out of the kit")
        hands.scan(STAFF[site].supervisor, lift, second="B-BO", station=where)
    hands.filters[number] = new_filters(hands, site, number)
    yield from hands.kit(number, site)
    stage.background.reserved.discard(number)


def sticking(stage: Stage) -> Work:
    """Day 14: flow indicator FI-09 is found sticking."""
    yield 1
    hands = stage.hands
    bench = hands.department.station("LMG-C1", badge=LMG.clean)
    answer = bench.enrol(Enrol("instrument:FI-09", InstrumentFaulty(finding="the float sticks")))
    found = next((one.facts for one in answer.reasons if one.rule == "H08"), {})
    stage.scenes.scene(
        "sticking",
        f"Indicator FI-09 sticks: {hands.passes['FI-09']} passes since its last verification are in doubt.",
        passes=hands.passes["FI-09"],
        items=found.get("items", []),
    )
    stage.scenes.answer("FI-09 is faulty", answer)
    for number in KITS["LMG"]:
        kit = hands.department.item(f"KIT-{number:03d}")
        if kit.custody is None and kit.stage != ItemStage.READY and number not in stage.background.out:
            stage.agenda.soon(hands.kit(number, "LMG"))
            yield 300
