"""The story outside the department: no network, an immersed blower, swapped tags, and who wore kit 041."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Final

from reprocess.definitions.model import Workflow
from reprocess.demo.crew import all_good, counted, in_limits
from reprocess.demo.month.agenda import Work
from reprocess.demo.month.days import at, local_hour
from reprocess.demo.month.hands import Hands
from reprocess.demo.month.network import STAFF
from reprocess.demo.month.stage import Stage
from reprocess.engine import request as asking
from reprocess.rules.answer import Answer
from reprocess.terms import SECOND_US
from reprocess.terms import Stage as ItemStage

LMG: Final = STAFF["LMG"]
TRIES: Final = 48
"""Hours for which the story waits for a kit to be ready."""
CUT_OFF: Final = (108, 109, 110, 111, 112)
"""Kits at Fenhollow that are worked on while the network is away."""
LATE_LINES: Final = 31
"""Lines of paper from six hours without a network."""


def network_down(stage: Stage) -> Work:
    """Day 8: the network at Fenhollow is down for six hours; thirty-one lines come in late, two against the record."""
    hands, site, kits = stage.hands, "FEN", CUT_OFF
    for number in kits:
        hands.good(hands.issue(number, site, f"W-FEN-{number - 100:02d}", "ward-2"))
    yield 3600
    for number in kits:
        hands.good(hands.return_(f"KIT-{number:03d}", site))
    down_us = at(8, 9)
    yield max(0.0, (at(8, 15, 10) - stage.now()) / SECOND_US)
    lines = list(_on_paper(hands, [item for number in kits for item in hands.parts(number)], down_us))
    ready = next(item for item in hands.parts(101) if item.startswith("BLT"))
    good = lines[: LATE_LINES - 2]
    against = [
        asking.EnterLine("F-0801", len(good) + count, work, "B-RF", down_us + 5 * 3600 * SECOND_US)
        for count, work in enumerate((asking.DoStep(ready, "clean"), good[0].work), start=1)
    ]
    told = [*good, *against]
    calls: list[asking.Request] = [asking.EnterForm("F-0801", len(told), "0" * 64), *told]
    bench = hands.department.station(f"{site}-D1", badge="B-RF", second="B-TW")
    answers = [bench.ask(one) for one in calls]
    hands.scans += len(calls)
    conflicts = [one for one in answers[1:] if not one.accepted]
    stage.scenes.scene(
        "network-down",
        f"Fenhollow was cut off for six hours: {len(told)} lines come in from paper, "
        f"{len(conflicts)} of them against the record. What was on paper only is done again on the clock (G10).",
        lines=len(told),
        conflicts=len(conflicts),
        form=answers[0].accepted,
    )
    for one in conflicts:
        stage.scenes.answer("a line of form F-0801", one)
    for number in kits:
        for item in hands.parts(number):
            hands.scan("B-RF", asking.Contaminate(item, "other", note="paper only"), station=f"{site}-D1")
        stage.agenda.soon(hands.kit(number, site))
    stage.background.reserved -= set(kits)


def _on_paper(hands: Hands, items: list[str], from_us: int) -> Iterator[asking.EnterLine]:
    """Yields what was written down while the network was away: the plain steps of the dirty side, in their order."""
    line, at_us = 0, from_us
    for item in items:
        for step in hands.part(item).workflow.steps:
            if step.dwell is not None or step.zone != "dirty" or step.for_classes:
                break
            line, at_us = line + 1, at_us + 400 * SECOND_US
            work = asking.DoStep(item, step.step, all_good(step), in_limits(step), counted(step))
            yield asking.EnterLine("F-0801", line, work, "B-RF", at_us)


def immersed(stage: Stage) -> Work:
    """Day 20: blower 031 is reported immersed."""
    yield 1
    answer = stage.hands.scan(LMG.dirty[1], asking.ReportMethod("BLW-031", "immerse"), station="LMG-D1")
    item = stage.hands.department.item("BLW-031")
    stage.scenes.scene(
        "immersed",
        "Blower 031 was soaked. Whoever says so is thanked; the blower is held and goes to clinical engineering.",
        verdict=str(answer.verdict),
        holds=[one.sort for one in item.holds.values()],
    )
    stage.scenes.answer("BLW-031 method immerse", answer)


def swapped_tags(stage: Stage) -> Work:
    """Day 24: the tags of blowers 077 and 078 were swapped."""
    hands = stage.hands
    for number, wearer in ((77, "W-LMG-14"), (78, "W-LMG-15")):
        hands.good(hands.issue(number, "LMG", wearer, "theatres"))
    yield 7200
    answers: list[Answer] = []
    for number, other in ((77, 78), (78, 77)):
        parts = tuple(f"BLW-{other:03d}" if one.startswith("BLW") else one for one in hands.parts(number))
        back = asking.ReturnItem(f"KIT-{number:03d}", parts=parts)
        answers.append(hands.scan(LMG.dirty[0], back, station="LMG-HATCH"))
        yield 60
    held = Counter(one.sort for item in ("BLW-077", "BLW-078") for one in hands.department.item(item).holds.values())
    stage.scenes.scene(
        "swapped-tags", "Kits 077 and 078 came back with each other's blower.", holds=dict(held),
        rules=sorted({rule for one in answers for rule in one.rules()}),
    )  # fmt: skip


def inspector(stage: Stage) -> Work:
    """Day 30: an inspector asks six things, and each is answered from the record while the inspector waits."""
    yield 1
    department = stage.hands.department
    packs = {
        "one respirator's history": len(department.history("item:KIT-041")),
        "who wore it": len(department.lookback("item", "KIT-041").uses),
        "the bath that failed": len(department.history("solution:LMG-B2")),
        "the recall and what is not located": len(department.recalled("R-7F")),
        "the exposure cases": len(department.cases()),
        "the workflows in force": len(department.in_force(Workflow)),
    }
    told = ", ".join(f"{name}: {count}" for name, count in packs.items())
    stage.scenes.scene("inspector", f"An inspector asks for six packs and gets them at once ({told}).", packs=packs)


def kit_041(stage: Stage) -> Work:
    """Days 27 to 30: kit 041 goes out three times, with a full cycle between each."""
    hands, kit = stage.hands, "KIT-041"
    for _ in range(TRIES):
        item = hands.department.item(kit)
        if item.custody is None and item.stage == ItemStage.READY and not item.held:
            break
        yield 3600
    for day, hour, wearer, ward in ((27, 19, "05", "ward-7"), (28, 9, "09", "emergency"), (30, 8, "13", "ward-5")):
        yield max(0.0, (at(day, hour) - stage.now()) / SECOND_US)
        hands.good(hands.issue(41, "LMG", f"W-LMG-{wearer}", ward))
        yield 4 * 3600
        hands.good(hands.return_(kit, "LMG"))
        yield 600
        yield from hands.kit(41, "LMG")
    stage.background.reserved.discard(41)


def keep_041(stage: Stage) -> Work:
    """Day 26: kit 041 is kept for the story."""
    yield 1
    stage.background.reserved.add(41)
    stage.agenda.soon(kit_041(stage))


def who_wore(stage: Stage) -> Work:
    """Day 33: occupational health asks who wore kit 041 between day 27 18:00 and day 29 06:00, and who after."""
    yield 1
    trace = stage.hands.department.lookback("item", "KIT-041", from_us=at(27, 18), until_us=at(29, 6))
    uses = [
        {
            "wearer": use.wearer,
            "place": use.place,
            "from_us": use.from_us,
            "until_us": use.until_us,
            "after": use.from_us > at(29, 6),
            "cycles_before": [one.cycle for one in use.between if one.valid],
        }
        for use in trace.uses
    ]
    stage.scenes.scene(
        "who-wore",
        f"Occupational health asks who wore kit 041 in 36 hours, and who after: {len(uses)} uses, by pseudonym.",
        uses=uses,
    )
    for use in trace.uses:
        cycles = ", ".join(str(one.cycle) for one in use.between if one.valid) or "none"
        until = local_hour(use.until_us) if use.until_us is not None else "now"
        stage.scenes.line(
            f"{use.wearer} in {use.place}, {local_hour(use.from_us)} to {until}; full cycles before it: {cycles}"
        )
