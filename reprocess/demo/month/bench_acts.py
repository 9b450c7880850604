"""The story at the bench: a film that dries, an empty port, a lapsed competency, two changes of the clocks."""

from __future__ import annotations

from typing import Final

from reprocess.demo.crew import all_good
from reprocess.demo.month.agenda import Work
from reprocess.demo.month.days import HALIFAX, LONDON, at, local_hour
from reprocess.demo.month.network import STAFF
from reprocess.demo.month.stage import Stage
from reprocess.demo.month.wipes import strip
from reprocess.engine import request as asking
from reprocess.terms import SECOND_US
from reprocess.terms import Stage as ItemStage

LMG: Final = STAFF["LMG"]
SOAK_S: Final = 12 * 60
"""OPA 0.55 %, manual, 20 degC: 12 minutes (the label record of the shipped file)."""
FIRST_NINE: Final = (41, 42, 43, 44, 45, 46, 48, 49, 50)


def dropped(stage: Stage) -> Work:
    """Day 1 07:05: nine kits are dropped dirty at the change of shift."""
    hands = stage.hands
    for count, number in enumerate(FIRST_NINE, start=1):
        hands.good(hands.issue(number, "LMG", f"W-LMG-{count:02d}", "ward-7"))
        yield 60
    yield (at(1, 7, 5) - stage.now()) / SECOND_US
    for number in FIRST_NINE:
        hands.return_(f"KIT-{number:03d}", "LMG")
        yield 25
    ages = [(stage.now() - hands.department.item(f"KIT-{one:03d}").since_us) // SECOND_US for one in FIRST_NINE]
    stage.scenes.scene(
        "nine-dropped",
        f"Change of shift: {len(FIRST_NINE)} kits are dropped dirty; the oldest has waited {max(ages)} s.",
        waiting=len(FIRST_NINE),
        ages=ages,
    )
    for number in FIRST_NINE:
        stage.agenda.soon(hands.kit(number, "LMG"))
        yield 240
    stage.background.reserved -= set(FIRST_NINE)


def film(stage: Stage) -> Work:
    """Day 2 10:12: the film on tube 117 dries at 2:31 of 3:00."""
    hands, who = stage.hands, LMG.dirty[0]
    hands.good(hands.issue(47, "LMG", "W-LMG-11", "ward-5"))
    yield 1800
    hands.return_("KIT-047", "LMG")
    yield 300
    yield from hands.through("TUB-117", "disinfect")
    yield (at(2, 10, 12) - stage.now()) / SECOND_US - 151
    start = asking.StartDwell("TUB-117", "disinfect", hands.wipes["LMG"][0])
    hands.good(hands.scan(who, start, station="LMG-D1"))
    yield 80
    hands.good(hands.scan(who, asking.Rewet("TUB-117"), station="LMG-D1"))
    yield 71
    dried = hands.scan(who, asking.BreakDwell("TUB-117", "dried"), station="LMG-D1")
    yield 5
    hands.good(hands.scan(who, start, station="LMG-D1"))
    for wait in (80, 80):
        yield wait
        hands.good(hands.scan(who, asking.Rewet("TUB-117"), station="LMG-D1"))
    yield 24
    done = hands.scan(who, asking.EndDwell("TUB-117", "disinfect"), station="LMG-D1")
    attempts = [
        (entry.kind, getattr(entry.body, "wet_s", None) or getattr(entry.body, "proven_s", None))
        for entry in hands.department.history("item:TUB-117")
        if entry.kind in {"dwell-broken", "dwell-ended"}
    ][-2:]
    stage.scenes.scene(
        "film-dried",
        "Tube 117 dried at 2:31 of 3:00. The second attempt ran 3:04; both stand in its history.",
        attempts=attempts,
        accepted=(dried.accepted, done.accepted),
    )
    yield 60
    yield from hands.kit(47, "LMG")


def third_port(stage: Stage) -> Work:
    """Day 3 09:40: kit 052 at assembly with an empty third port."""
    hands = stage.hands
    hands.good(hands.issue(52, "LMG", "W-LMG-12", "ward-3"))
    yield 1800
    hands.return_("KIT-052", "LMG")
    for item in hands.parts(52):
        stage.agenda.soon(hands.through(item, ItemStage.READY))
    yield (at(3, 9, 30) - stage.now()) / SECOND_US
    yield from hands.through("KIT-052", "assemble")
    yield max(0.0, (at(3, 9, 40) - stage.now()) / SECOND_US)
    refused = hands.build(52, "LMG", plugs=0)
    stage.scenes.scene(
        "third-port", "Kit 052 at assembly: two filters are on, the third port is empty.", rules=list(refused.rules())
    )
    stage.scenes.answer("assemble KIT-052 without a plug", refused)
    yield 300
    hands.good(hands.build(52, "LMG"))
    yield from hands.through("KIT-052", ItemStage.READY)
    stage.background.reserved -= {52}


def _soak(stage: Stage, site: str, when_us: int, zone: str, name: str) -> Work:
    """Soaks a device for twelve minutes over a change of the clocks."""
    hands, staff, item, opa = stage.hands, STAFF[site], f"SCP-{site}", f"{site}-OPA"
    made = asking.MakeSolution(opa, "opa-055", "O-77", at(100, 0), temp_c="21")
    hands.good(hands.scan(staff.dirty[0], made, station=f"{site}-D1"))
    hands.good(hands.scan(staff.dirty[0], strip(opa, "0.5"), station=f"{site}-D1"))
    yield from hands.through(item, "disinfect")
    yield max(0.0, (when_us - stage.now()) / SECOND_US)
    hands.good(hands.scan(staff.dirty[0], strip(opa, "0.5"), station=f"{site}-D1"))
    began = stage.now()
    start = asking.StartDwell(item, "disinfect", opa, None, "21")
    hands.good(hands.scan(staff.dirty[0], start, station=f"{site}-D1"))
    yield SOAK_S - 1
    early = hands.scan(staff.dirty[0], asking.EndDwell(item, "disinfect", "21"), station=f"{site}-D1")
    yield 1
    step = hands.part(item).workflow.step_named("disinfect")
    checks = all_good(step) if step is not None else {}
    done = hands.scan(staff.dirty[0], asking.EndDwell(item, "disinfect", "21", checks), station=f"{site}-D1")
    stage.scenes.scene(
        name,
        f"The clocks change at {site} during a soak of twelve minutes: {local_hour(began, zone)} to "
        f"{local_hour(stage.now(), zone)}, {(stage.now() - began) // SECOND_US} s have passed.",
        zone,
        elapsed_s=(stage.now() - began) // SECOND_US,
        began=local_hour(began, zone),
        ended=local_hour(stage.now(), zone),
        early=early.accepted,
        done=done.accepted,
    )


def halifax(stage: Stage) -> Work:
    """Day 4 01:55 at Saltgate: the clocks jump from 02:00 to 03:00 during a soak."""
    yield from _soak(stage, "SAL", at(4, 1, 55, HALIFAX), HALIFAX, "halifax-clocks")


def london(stage: Stage) -> Work:
    """Day 25 00:55 at Larkmoor: the clocks jump from 01:00 to 02:00 during a soak."""
    yield from _soak(stage, "LMG", at(25, 0, 55), LONDON, "london-clocks")


def lapsed(stage: Stage) -> Work:
    """Day 5 08:15: Quillon Dray's competency lapsed at midnight."""
    hands = stage.hands
    hands.good(hands.issue(47, "LMG", "W-LMG-11", "ward-5"))
    yield 1200
    hands.return_("KIT-047", "LMG")
    yield from hands.through("BLW-047", "clean")
    yield max(0.0, (at(5, 8, 15) - stage.now()) / SECOND_US)
    refused = hands.scan("B-QD", asking.DoStep("BLW-047", "clean"), station="LMG-D1")
    helpers = [name for one in refused.reasons for name in one.helpers]
    stage.scenes.scene(
        "lapsed", "Quillon's competencies ended at midnight.", rules=list(refused.rules()), helpers=helpers
    )
    stage.scenes.answer("BLW-047 clean", refused)
    yield 120
    yield from hands.kit(47, "LMG")
    stage.background.reserved -= {47}
