"""What an adversary tried with loads of a machine; the first line of each test says what."""

from __future__ import annotations

from pathlib import Path

import pytest

from reprocess.definitions.read import digest_of
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Approve, Commission, Publish
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.loads import Load
from tests.engine.benches import play
from tests.engine.floor import BADGES, Floor
from tests.engine.loading import FILES, a_washer, bowls, record_of, runs
from tests.engine.outside import wearers


@pytest.fixture
def washer(floor: Floor) -> Floor:
    a_washer(floor)
    return floor


def load_of(floor: Floor, name: str) -> Load:
    with looking(floor.department.ledger) as read:
        state = read.state(f"load:{name}")
    assert isinstance(state, Load)
    return state


def beads(floor: Floor, *names: str) -> None:
    """Puts counted batches on record whose first step is the load."""
    text = (Path(__file__).parent / "files" / "cup.yaml").read_text("utf-8")
    text = text.replace(": cup\n", ": bead\n").replace("\nsteps:\n", "\ncounted: true\nsteps:\n", 1)
    digest, bench = digest_of(text), floor.department.station
    assert bench("BENCH", badge="B-HANA").enrol(Publish("workflow", "bead", digest, text)).accepted
    assert bench("BENCH", badge="B-CORA").enrol(Approve("workflow", "bead", digest)).accepted
    for name in names:
        assert bench("BENCH", badge="B-CORA").enrol(Commission(name, "bead", "LB-5", quantity=10)).accepted


def test_parts_that_join_a_batch_in_the_machine_are_not_done_by_its_load(washer: Floor) -> None:
    """W03: new beads, never used, were counted to a batch whose load was running, and passed with it."""
    beads(washer, "BED-1", "BED-2")
    runs(washer, "LD-1", ["BED-1"], programme="P80", for_s=60)
    play(
        washer,
        """
        +0  | anna | BED-2 move 4 to BED-1     | accepted P02
        +1h | anna | LD-1 load-end held 80 120 | accepted, warns W03
        """,
    )
    assert (washer.item("BED-1").stage, washer.item("BED-1").satisfied) == ("used", {})


def test_counted_parts_done_by_a_strip_charts_load_are_within_its_reach(washer: Floor) -> None:
    """W06: no logger was named; ready parts went into another ready batch, and the load failed later."""
    beads(washer, "BED-1", "BED-2")
    for load, item, seconds in (("LD-1", "BED-1", 120), ("LD-2", "BED-2", 130)):
        runs(washer, load, [item], programme="P80")
        chart = record_of(("80", seconds))
        ended = asking.EndLoad(load, chart, None, {"wash_min": "5"}, {"cycle-whole": True}, by_hand=True)
        assert washer.ask(ended, "anna", second="dan").accepted
        assert washer.ask(asking.UnloadLoad(load, (item,))).accepted
        washer.bring(item, "ready")
    play(washer, "+0 | anna | BED-1 move 4 to BED-2 | accepted P02")
    assert washer.item("BED-2").stage == "used"


def test_a_step_that_failed_for_one_item_is_not_done_by_its_load(washer: Floor) -> None:
    """H01, W06: somebody said that the step failed for this cup; the load passed it all the same."""
    names = bowls(washer, 2, "cup", "CUP")
    runs(washer, "LD-1", names, programme="P80")
    play(
        washer,
        """
        +0 | anna | CUP-1 fail heat CYCLE-FAILED | accepted H01
        +1 | anna | LD-1 load-end held 80 120    | accepted, warns W03
        +2 | anna | LD-1 load-out CUP-1 CUP-2    | accepted
        +3 | ben  | CUP-1 inspect                | refused P01
        """,
    )
    assert ["heat" in washer.item(name).satisfied for name in names] == [False, True]
    assert not washer.department.verify(full=True).findings


def test_what_waits_for_its_load_travels_nowhere(washer: Floor) -> None:
    """E15, W05: it was sent away out of a running load, and the load passed it on its way."""
    names = bowls(washer, 1, "cup", "CUP")
    runs(washer, "LD-1", names, programme="P80")
    play(
        washer,
        """
        +0 | anna | CUP-1 send SAL in BOX-1  | refused W05
        +1 | anna | LD-1 load-end no-record  | accepted W07
        +2 | anna | LD-1 load-out CUP-1      | accepted
        +3 | anna | CUP-1 send SAL in BOX-1  | refused W05
        +4 | anna | LD-1 load-fail other off | accepted W06
        +5 | anna | CUP-1 send SAL in BOX-1  | accepted
        """,
    )


@pytest.mark.parametrize(
    ("who", "said"),
    [
        ("anna", "file JUNK bad cleaning"),
        ("stranger", "held 90 60 bad cleaning"),
        ("stranger", "held 90 60 no cycle-whole"),
        ("anna", "held 90 3000 bad cleaning"),
        ("anna", "held 90 60 bad cleaning foo_x=3"),
    ],
)
def test_an_indicator_that_was_seen_to_fail_fails_the_load_whatever_else_was_said(
    washer: Floor, who: str, said: str
) -> None:
    """W06, G11: it was refused for another reason, forgotten, and read as good the second time."""
    FILES["JUNK"] = "not a record"
    runs(washer, "LD-1", bowls(washer, 1))
    play(
        washer,
        f"""
        +0 | {who} | LD-1 load-end {said}     | accepted W06
        +1 | anna  | LD-1 load-end held 90 60 | refused W07, key load-not-running
        """,
    )
    assert load_of(washer, "LD-1").record is None


def test_an_interruption_that_is_told_later_is_on_record(washer: Floor) -> None:
    """W08: the load ended first, and the power cut was told with its record; nothing of it was kept."""
    runs(washer, "LD-1", bowls(washer, 1))
    play(washer, "+0 | anna | LD-1 load-end no-record | accepted W07")
    ended = load_of(washer, "LD-1").ended
    play(washer, "+2h | anna | LD-1 load-end held 90 60 interrupted resumed ST-7 | accepted")
    load = load_of(washer, "LD-1")
    assert (load.state, load.resumed, load.ended) == ("passed", "ST-7", ended)
    told = [entry.body for entry in washer.entries("load:LD-1") if isinstance(entry.body, words.LoadEnded)]
    assert [(one.interrupted, one.resumed) for one in told] == [(False, None), (True, "ST-7")]
    assert not washer.department.verify(full=True).findings


def test_a_wall_clock_set_ahead_makes_no_cycle_longer(washer: Floor) -> None:
    """W07, I3: the machine ran ten seconds, the clock was set ahead, and the record of a longer cycle was taken."""
    runs(washer, "LD-1", bowls(washer, 1), for_s=10)
    play(
        washer,
        """
        +0 | clock | wall +4000                 |
        +1 | anna  | LD-1 load-end held 90 3000 | refused W07, key record-too-long
        """,
    )


def test_a_computer_that_slept_beside_the_machine_shortens_no_cycle(washer: Floor) -> None:
    runs(washer, "LD-1", bowls(washer, 1), for_s=10)
    play(
        washer,
        """
        +0  | clock | sleep 3100                 |
        +1h | anna  | LD-1 load-end held 90 3000 | accepted
        """,
    )


def test_a_mistyped_load_is_no_load(washer: Floor) -> None:
    """W01: scanning items out of a load that nobody opened made one, which nobody could open then."""
    washer.bring("BLT-1", "ready")
    play(
        washer,
        """
        +0 | anna       | LD-9 load-out BLT-1     | accepted W01, key load-unknown
        +1 | anna + ben | LD-9 load-recount BLT-1 | refused W01, key load-unknown
        +2 | anna       | LD-9 load-out NO-7      | accepted W01
        +3 | anna       | LD-9 load-open WD-1 P90 | accepted
        """,
    )
    assert washer.item("BLT-1").stage == "used"
    assert load_of(washer, "LD-9").strange == ()


def test_the_uses_of_a_failed_load_are_all_there(washer: Floor) -> None:
    """H06, H07: issued and used up, issued to nobody and dropped, lent, lost on the ward: each is a use in the case."""
    wearers(washer, "W-1", "W-2")
    names = bowls(washer, 4)
    runs(washer, "LD-1", names)
    assert washer.ask(
        asking.EndLoad(
            "LD-1", record_of(("90", 60)), "LG-1", {"wash_min": "5"}, {"cycle-whole": True}, {"cleaning": True}
        )
    ).accepted
    assert washer.ask(asking.UnloadLoad("LD-1", tuple(names))).accepted
    for name in names:
        washer.bring(name, "ready")
    play(
        washer,
        """
        +1h | gus  | BWL-1 issue W-1 ward-7                  | accepted
        +1h | gus  | BWL-2 issue nobody ward-7 for emergency | accepted, warns U01
        +1h | cora | BWL-3 lend harbour-crew 3               | accepted
        +1h | gus  | BWL-4 issue W-2 ward-7                  | accepted
        +2h | gus  | BWL-1 used                              | accepted
        +2h | gus  | BWL-2 dropped                           | accepted
        +2h | gus  | BWL-4 lost                              | accepted
        +3h | anna | LD-1 load-fail calibration off          | held W06 H05 H06
        +4h | gus  | BWL-2 identify W-2                      | accepted
        """,
    )
    with looking(washer.department.ledger) as read:
        uses = [use for case in read.states_of("case") for use in getattr(case, "uses", ())]
    assert {(use.item, use.wearer) for use in uses} == {
        ("BWL-1", "W-1"), ("BWL-2", "W-2"), ("BWL-3", "not-identified"), ("BWL-4", "W-2"),
    }  # fmt: skip
    assert all(washer.item(name).held for name in names)
    assert not washer.department.verify(full=True).findings


def test_nobody_acts_alone_where_two_must_count(washer: Floor) -> None:
    """W03, S08: the second badge was the same person's spare one."""
    names = bowls(washer, 2)
    runs(washer, "LD-1", names)
    play(
        washer,
        """
        +0 | anna                | LD-1 load-end held 90 60             | accepted
        +1 | anna                | LD-1 load-out BWL-1                  | held W04
        +2 | anna + anna's-spare | LD-1 load-absent BWL-2 counted=1     | refused S08
        +3 | anna + anna's-spare | LD-1 load-recount BWL-1 BWL-2        | refused S08
        +4 | anna + stranger     | LD-1 load-recount BWL-1 BWL-2        | refused A01
        """,
    )
    assert BADGES["anna's-spare"] != BADGES["anna"]
