"""Where an item stands: the fold of its entries in the order of its stream, and nothing else (I6, I12)."""

from __future__ import annotations

from dataclasses import replace

from reprocess.record import words
from reprocess.record.folding import fold, must_refold
from reprocess.record.standing import Standing
from reprocess.record.words import Body
from tests.record.entries import AT_US, entry, stream_of

COMMISSIONED = words.ItemCommissioned(
    item_kind="blower", model="LB-3", site="LMG", workflow="blower", digest="d1", in_service_us=AT_US
)
USED = words.ItemContaminated(cause="used", contamination_class="blood", cycle=2, workflow="blower", digest="d2")
CLEANED = words.StepDone(step="clean", stage="cleaned", evidence="measured")
STARTED = words.DwellStarted(step="disinfect", cycle=2, dwell="wet-contact", attempt=1, least_s=180, agent="quat")
ENDED = words.DwellEnded(
    step="disinfect", stage="disinfected", evidence="measured", proven_s=180, least_s=180, greatest_seen_s=181
)
RELEASED = words.ItemReleased(step="release", stage="ready", digest="d2", cycle=2, evidence={}, ready_until_us=AT_US)


def held(hold: str, sort: str = "defect") -> words.HoldPlaced:
    return words.HoldPlaced(
        hold=hold,
        sort=sort,
        rule="H01",
        cause="cracked",
        owner="cora",
        lift_roles=("supervisor",),
        lift_two_people=True,
        lift_requires="repair",
    )


def standing(*bodies: Body) -> Standing:
    return fold("BLW-0041", stream_of(COMMISSIONED, *bodies))


def test_an_item_without_entries_is_not_known() -> None:
    assert not fold("BLW-0041", []).known
    assert standing().known
    assert (standing().stage, standing().cycle, standing().item) == ("used", 1, "BLW-0041")


def test_a_new_cycle_forgets_the_steps_and_keeps_the_holds() -> None:
    before = standing(CLEANED, STARTED, held("defect-4"), words.MemberJoined(assembly="KIT-1", slot="blower"))
    after = standing(CLEANED, STARTED, held("defect-4"), words.MemberJoined(assembly="KIT-1", slot="blower"), USED)
    assert before.satisfied
    assert before.dwell is not None
    assert before.chemicals == {"quat": 3}
    assert (after.satisfied, after.hands, after.dwell, after.chemicals) == ({}, {}, None, {})
    assert (after.stage, after.cycle, after.digest, after.used, after.contamination_class) == (
        "used", 2, "d2", True, "blood",
    )  # fmt: skip
    assert list(after.holds) == ["defect-4"]
    assert after.held
    assert after.assembly == "KIT-1"


def test_evidence_names_its_entry_its_people_and_its_solution() -> None:
    started = STARTED.model_copy(update={"solution": "QAW-1"})
    evidence = standing(started, ENDED).satisfied["disinfect"]
    assert (evidence.number, evidence.actor, evidence.sort, evidence.solution) == (3, "P-01", "measured", "QAW-1")
    assert evidence.paper is None


def test_a_paper_end_is_known_as_such() -> None:
    late = replace(entry(ENDED.model_copy(update={"paper": "P-7"}), 2), occurred_us=5)
    evidence = fold("BLW-0041", [entry(COMMISSIONED, 1), late]).satisfied["disinfect"]
    assert (evidence.paper, evidence.occurred_us) == ("P-7", 5)


def test_what_is_claimed_to_have_happened_earlier_orders_nothing() -> None:
    """I6"""
    entries = stream_of(COMMISSIONED, USED, CLEANED, STARTED, ENDED)
    claimed = [replace(one, occurred_us=(7919 * one.number) % 13) for one in entries]
    one, two = fold("BLW-0041", entries), fold("BLW-0041", claimed)
    assert (one.stage, one.dwell, set(one.satisfied), one.cycle) == (
        two.stage,
        two.dwell,
        set(two.satisfied),
        two.cycle,
    )


def test_an_undone_entry_is_left_out_and_counted() -> None:
    undone = words.EntryUndone(number=2, undone_kind="step-done", numbers=(2,))
    assert must_refold(entry(undone))
    assert not must_refold(entry(CLEANED))
    after = standing(CLEANED, undone)
    assert (after.satisfied, after.number) == ({}, 3)
    assert after.change is not None
    assert after.change.kind == "entry-undone"


def test_a_dwell_closes_with_the_step_it_rests_on() -> None:
    fell = words.StepsFell(rule="P12", stage="used", fell=("clean", "disinfect"), because="soaked")
    assert standing(CLEANED, STARTED, fell).dwell is None
    other = words.StepsFell(rule="D01", stage="used", fell=("label",), because="wrong")
    assert standing(CLEANED, STARTED, other).dwell is not None


def test_a_wetting_without_a_dwell_moves_nothing() -> None:
    wetted = words.DwellWetted(step="disinfect", wet_s=1)
    assert standing(wetted).dwell is None
    after = standing(STARTED, wetted).dwell
    assert after is not None
    assert after.wetted.wall_us - after.started.wall_us == 1_000_000


def test_ready_has_an_end_until_it_falls() -> None:
    assert standing(RELEASED).ready_until_us == AT_US
    assert standing(RELEASED).cycles_done == 1
    stays = words.EntryCorrected(number=2, reason="misread", stage="ready")
    assert standing(RELEASED, stays).ready_until_us == AT_US
    falls = words.EntryCorrected(number=2, reason="misread", stage="inspected", fell=("release",))
    assert standing(RELEASED, falls).ready_until_us is None


def test_holds_come_and_go_one_by_one() -> None:
    after = standing(held("defect-2"), held("recall-3", "recall"), words.HoldLifted(hold="defect-2", disposition="x"))
    assert list(after.holds) == ["recall-3"]
    assert (after.holds["recall-3"].number, after.holds["recall-3"].placed_by) == (3, "P-01")


def test_counters_add_up_and_a_package_is_opened_once() -> None:
    after = standing(
        words.ItemWorked(charge_cycles=2, minutes=30),
        words.ItemWorked(charge_cycles=1),
        words.ItemOpened(),
        words.ItemOpened(),
        words.ItemSplit(other="GSK-2", quantity=-4),
        words.ItemInspectedInStore(findings="none", action="none", passed=True, anchor_day=31),
    )
    assert (after.charge_cycles, after.used_minutes, after.quantity) == (3, 30, 5)
    assert after.opened_us == AT_US + 4_000_000
    assert after.anchor_day == 31


def test_a_part_leaves_the_assembly_that_is_named_and_no_other() -> None:
    joined = words.MemberJoined(assembly="KIT-1", slot="blower")
    assert standing(joined, words.MemberLeft(assembly="KIT-1", cause="used")).assembly is None
    assert standing(joined, words.MemberLeft(assembly="KIT-9", cause="replaced")).assembly == "KIT-1"


def test_an_assembly_is_built_and_dissolved() -> None:
    built = words.AssemblyBuilt(configuration="c", digest="d", members={"blower": "BLW-1"}, counts={"plugs": 1})
    assert standing(built).members == {"blower": "BLW-1"}
    gone = words.AssemblyDissolved(cause="used", members={"blower": "BLW-1"})
    assert (standing(built, gone).members, standing(built, gone).configuration) == ({}, None)


def test_a_note_of_the_clocks_is_no_change_of_the_item() -> None:
    noted = words.ClockAnomaly(since_number=2, wall_ms=1, running_ms=2)
    after = standing(CLEANED, noted, words.HeldSighted(holds=("defect-1",)))
    assert after.change is not None
    assert (after.change.kind, after.number, after.anomaly_of) == ("step-done", 4, 2)


def test_the_stage_has_an_age() -> None:
    after = standing(CLEANED, STARTED)
    assert after.since_us == AT_US + 2_000_000


def test_a_restart_is_counted_in_its_cycle() -> None:
    broken = words.DwellBroken(step="disinfect", cause="dried", rule="T04", wet_s=1, least_s=180)
    assert standing(STARTED, broken, STARTED, broken).restarts == 2
    assert standing(STARTED, broken, USED).restarts == 0


def test_an_item_aside_keeps_nothing_of_its_cycle() -> None:
    for body, stage in (
        (words.ItemSentToRepair(fault="rattles"), "in repair"),
        (words.ItemLost(note="gone"), "lost"),
        (words.ItemCondemned(reason="old"), "condemned"),
    ):
        after = standing(CLEANED, STARTED, body)
        assert (after.stage, after.satisfied, after.dwell) == (stage, {}, None)


def test_people_with_a_hand_in_a_step_are_named_once() -> None:
    first = entry(CLEANED, 2, second="P-02")
    after = fold("BLW-0041", [entry(COMMISSIONED, 1), first, replace(first, number=3)])
    assert after.hands == {"P-01": ("clean",), "P-02": ("clean",)}


def test_what_the_program_did_has_no_hands() -> None:
    after = fold("BLW-0041", [entry(COMMISSIONED, 1), entry(CLEANED, 2, actor=None)])
    assert after.hands == {}
