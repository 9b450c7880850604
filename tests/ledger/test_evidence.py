"""A release must name evidence that exists, of this cycle, not undone, not fallen, for every mandated step.

The entries here are written past the engine, with the ledger's own key: what is tried is whether verification would
notice an engine that called something ready which is not (I1).
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from reprocess.definitions.read import digest_of
from reprocess.department import Department
from reprocess.ledger.append import transaction
from reprocess.ledger.verify import verify
from reprocess.record import words
from reprocess.record.entry import Draft, Envelope
from reprocess.record.words import Body
from tests.ledger.small import SHELL, WIPE

ITEM = "item:S-9"
SHELL_DIGEST = digest_of(SHELL)
ANSWER = '{"verdict":"accepted","subject":"item:S-9","asked":"test"}'


def commissioned(digest: str = SHELL_DIGEST) -> Body:
    return words.ItemCommissioned(
        item_kind="filter", model="M-1", site="LMG", workflow="shell", digest=digest, in_service_us=1
    )


def done(step: str, stage: str = "used") -> Body:
    return words.StepDone(step=step, stage=stage, evidence="measured")


def started() -> Body:
    return words.DwellStarted(step="disinfect", cycle=1, dwell="wet-contact", attempt=1, least_s=180)


def met(stage: str = "disinfected") -> Body:
    return words.DwellEnded(
        step="disinfect", stage=stage, evidence="measured", proven_s=181, least_s=180, greatest_seen_s=181
    )


def again(cycle: int) -> Body:
    return words.ItemContaminated(
        cause="used", contamination_class="routine", cycle=cycle, workflow="shell", digest=SHELL_DIGEST
    )


def released(evidence: dict[str, int], cycle: int = 1, *, digest: str = SHELL_DIGEST) -> Body:
    return words.ItemReleased(step="release", stage="ready", digest=digest, cycle=cycle, evidence=evidence)


def undone(*numbers: int) -> Body:
    return words.EntryUndone(number=numbers[0], undone_kind="step-done", numbers=numbers)


def failed(*fell: str) -> Body:
    return words.StepFailed(step=fell[0], stage="used", defects=("CRACK",), fell=fell, route="repair")


def fallen(*fell: str) -> Body:
    return words.StepsFell(rule="L07", stage="used", fell=fell, because="the bath failed")


def held() -> Body:
    return words.HoldPlaced(
        hold="h-1",
        sort="defect",
        rule="H01",
        cause="x",
        owner="y",
        lift_roles=(),
        lift_two_people=False,
        lift_requires="",
    )


ALL_DONE = (commissioned(), done("clean"), started(), met(), done("inspect"))
PROPER = {"clean": 2, "disinfect": 4, "inspect": 5}
REFUSED: dict[str, tuple[tuple[Body, ...], str]] = {
    "nothing at all": ((commissioned(), released({})), "it names no evidence for clean"),
    "one step missing": ((*ALL_DONE, released({"clean": 2, "inspect": 5})), "it names no evidence for disinfect"),
    "an entry that was never there": (
        (*ALL_DONE, released({"clean": 2, "disinfect": 77, "inspect": 5})),
        "entry 77 is no evidence for disinfect",
    ),
    "an entry of another step": (
        (*ALL_DONE, released({"clean": 2, "disinfect": 5, "inspect": 5})),
        "entry 5 is no evidence for disinfect",
    ),
    "a start without its end": (
        (
            commissioned(),
            done("clean"),
            started(),
            done("inspect"),
            released({"clean": 2, "disinfect": 3, "inspect": 4}),
        ),
        "entry 3 is no evidence for disinfect",
    ),
    "an earlier cycle": (
        (*ALL_DONE, released(PROPER), again(2), released(PROPER, 2)),
        "entry 2 is no evidence for clean",
    ),
    "the name of an earlier cycle": (
        (
            *ALL_DONE,
            again(2),
            done("clean"),
            started(),
            met(),
            done("inspect"),
            released({"clean": 7, "disinfect": 9, "inspect": 10}, 1),
        ),
        "it names cycle 1, and this is cycle 2",
    ),
    "a step undone": ((*ALL_DONE, undone(5), released(PROPER)), "entry 5 is no evidence for inspect"),
    "a step failed later": ((*ALL_DONE, failed("inspect"), released(PROPER)), "entry 5 is no evidence for inspect"),
    "steps fallen later": (
        (*ALL_DONE, fallen("disinfect", "inspect"), released(PROPER)),
        "entry 4 is no evidence for disinfect",
    ),
    "a correction that takes a step away": (
        (
            *ALL_DONE,
            words.EntryCorrected(number=5, reason="x", stage="disinfected", fell=("inspect",)),
            released(PROPER),
        ),
        "entry 5 is no evidence for inspect",
    ),
    "back from repair": (
        (*ALL_DONE, words.ItemSentToRepair(fault="x"), released(PROPER)),
        "entry 2 is no evidence for clean",
    ),
    "condemned": (
        (*ALL_DONE, words.ItemCondemned(reason="x"), released(PROPER)),
        "entry 2 is no evidence for clean",
    ),
    "an open hold": ((*ALL_DONE, held(), released(PROPER)), "these holds were open: h-1"),
    "a running clock": ((*ALL_DONE, started(), released(PROPER)), "the clock of disinfect was still running"),
    "another order": (
        (
            commissioned(),
            started(),
            met(),
            done("clean"),
            done("inspect"),
            released({"clean": 4, "disinfect": 3, "inspect": 5}),
        ),
        "clean does not stand before disinfect",
    ),
    "a workflow that was never published": (
        (*ALL_DONE, released(PROPER, digest="0" * 64)),
        "its workflow 000000000000 was never published",
    ),
    "a text that is no workflow": (
        (*ALL_DONE, released(PROPER, digest=digest_of(WIPE))),
        "was never published",
    ),
    "never commissioned": ((released(PROPER),), "it names cycle 1, and this is cycle 0"),
}
PROPERLY: dict[str, tuple[Body, ...]] = {
    "in one go": (*ALL_DONE, released(PROPER)),
    "after a failure and again": (
        *ALL_DONE,
        failed("inspect"),
        done("inspect"),
        released({"clean": 2, "disinfect": 4, "inspect": 7}),
    ),
    "a release undone and given again": (*ALL_DONE, released(PROPER), undone(6), released(PROPER)),
    "a wrong contamination undone": (*ALL_DONE, again(2), undone(6), released(PROPER)),
    "a hold lifted": (
        *ALL_DONE,
        held(),
        words.HoldLifted(hold="h-1", disposition="fit"),
        released(PROPER),
    ),
    "in a second cycle": (
        *ALL_DONE,
        released(PROPER),
        again(2),
        done("clean"),
        started(),
        met(),
        done("inspect"),
        released({"clean": 8, "disinfect": 10, "inspect": 11}, 2),
    ),
    "held and fallen only afterwards": (
        *ALL_DONE,
        released(PROPER),
        held(),
        fallen("disinfect", "inspect", "release"),
    ),
}


LATE = SHELL.replace("workflow: shell", "workflow: late").replace(
    "steps:",
    """steps:
  - {step: soak, title: Lay a damp cloth on it, for_classes: [late], dwell: {kind: rest, least_s: 300, example: true}}
  - {step: polish, title: Polish it, after: [clean], mandated: false}""",
)
PUBLISHED = words.WorkflowPublished(sort="workflow", name="late", digest=digest_of(LATE), text=LATE)
LATE_DONE = (commissioned(digest_of(LATE)), words.DelayFound(delay_s=90_000, contamination_class="late"), *ALL_DONE[1:])


@pytest.mark.parametrize(
    ("steps", "told"),
    [
        ((done("soak"), released({"clean": 3, "disinfect": 5, "inspect": 6, "soak": 7}, digest=digest_of(LATE))), None),
        ((released({"clean": 3, "disinfect": 5, "inspect": 6}, digest=digest_of(LATE)),), "no evidence for soak"),
    ],
    ids=["with the extended path", "without it"],
)
def test_what_a_late_start_asks_for_is_asked_for(
    morning: Department, steps: tuple[Body, ...], told: str | None
) -> None:
    write(morning, (PUBLISHED,), "workflow:workflow.late")
    write(morning, (*LATE_DONE, *steps))
    findings = morning.verify(full=True).findings
    assert findings == () if told is None else told in findings[0].sentence


def write(department: Department, bodies: tuple[Body, ...], stream: str = ITEM) -> None:
    ids = _ids(department)
    with transaction(department.ledger) as work:
        for number, body in enumerate(bodies):
            envelope = Envelope(department.clock.now(), 0, "P-A", None, "LMG-1", f"{stream} {number}", "0" * 32)
            work.write(work.prepare([Draft(stream, body)], envelope, ids), ANSWER)


def _ids(department: Department) -> Iterator[str]:
    while True:
        yield department.clock.new_id()


@pytest.mark.parametrize(("bodies", "told"), REFUSED.values(), ids=REFUSED.keys())
def test_a_release_is_found_out_that_rests_on(morning: Department, bodies: tuple[Body, ...], told: str) -> None:
    write(morning, bodies)
    assert morning.verify().sound
    report = morning.verify(full=True)
    first = report.findings[0]
    assert first.sentence.startswith("item:S-9/")
    assert "calls the item ready, but " in first.sentence
    assert any(told in one.sentence for one in report.findings), report.findings
    last = [number for number, body in enumerate(bodies, 1) if isinstance(body, words.ItemReleased)][-1]
    assert first.feed == report.entries - len(bodies) + last


@pytest.mark.parametrize("bodies", PROPERLY.values(), ids=PROPERLY.keys())
def test_a_release_is_not_blamed_when_it_was_given(morning: Department, bodies: tuple[Body, ...]) -> None:
    write(morning, bodies)
    assert verify(morning.ledger, full=True).findings == ()
