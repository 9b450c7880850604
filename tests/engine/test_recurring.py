"""Steps whose pass counts across cycles until they are due again (M09, B05), and what a faulty instrument undoes."""

from pathlib import Path

from reprocess.definitions.read import digest_of
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Approve, Enrol, Publish
from reprocess.record import words
from reprocess.rules.sequence import next_steps
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import Floor


def faulty(floor: Floor, instrument: str) -> tuple[str, ...]:
    """Says that an instrument was found faulty; returns the items whose results fell.

    Where a lamp or battery was used that nobody had issued, that is a use in doubt as well (H06).
    """
    told = Enrol(f"instrument:{instrument}", words.InstrumentFaulty(finding="sticks"))
    answer = floor.department.station("BENCH", badge="B-CORA").enrol(told)
    assert answer.accepted
    assert answer.rules() in {("H08",), ("H08", "H06")}
    return tuple(answer.reasons[0].facts["items"])  # type: ignore[arg-type]


def test_a_pass_counts_in_the_next_cycle_until_its_days_are_over(floor: Floor) -> None:
    """M09: thirty days of 24 hours; equality is over. Warned from nine tenths."""
    play(
        floor,
        """
        +0        | ben | LMP-2 inspect     | accepted
        +10       | dan | release           | refused M09, key recurring-due
        +20       | ben | safety-test       | accepted
        +30       | dan | release           | accepted
        +40       | ben | used              | accepted
        +50       | ben | inspect           | accepted
        +60       | dan | release           | accepted
        +70       | ben | used              | accepted
        +2332820  | ben | inspect           | accepted
        +2332821  | dan | release           | accepted, warns M09
        +2332900  | ben | used              | accepted
        +2333000  | ben | inspect           | accepted
        +2592019  | dan | release           | accepted, warns M09
        +2592020  | ben | used              | accepted
        +2592021  | ben | inspect           | accepted
        +2592022  | dan | release           | refused M09, key recurring-due
        """,
    )


def test_it_counts_from_service_where_it_never_passed_and_by_charges_too(floor: Floor) -> None:
    """B05"""
    play(
        floor,
        """
        +0  | ben | LMP-1 inspect | accepted
        +10 | dan | release       | accepted
        +20 | ben | note charge 2 | accepted
        +30 | ben | note charge 1 | accepted T12
        +40 | ben | used          | accepted
        +50 | ben | inspect       | accepted
        +60 | dan | release       | refused M09
        +70 | ben | safety-test   | accepted
        +80 | dan | release       | accepted
        """,
    )


def test_a_test_that_failed_is_due_at_once_whatever_the_cycle(floor: Floor) -> None:
    """M09: a new cycle does not forget it."""
    play(
        floor,
        """
        +0  | ben | LMP-1 inspect        | accepted
        +10 | ben | safety-test no holds | refused H01
        +20 | dan | release              | refused M09, key recurring-due
        +30 | ben | used                 | accepted
        +40 | ben | inspect              | accepted
        +50 | dan | release              | refused M09
        +60 | ben | safety-test          | accepted
        +70 | dan | release              | accepted
        """,
    )


def test_a_late_entry_is_no_pass(floor: Floor) -> None:
    """D06: paper does not make a test pass for the next month."""
    play(
        floor,
        """
        +0    | ben       | LMP-2 inspect                   | accepted
        +3600 | ben + dan | safety-test on form P-7 at 1200 | accepted
        +3610 | dan       | release                         | refused M09 G10
        """,
    )


def test_a_pass_taken_back_is_none(floor: Floor) -> None:
    """E14, D01"""
    play(
        floor,
        """
        +0  | ben         | LMP-2 inspect                            | accepted
        +20 | ben         | safety-test                              | accepted
        +30 | ben         | undo                                     | accepted
        +40 | dan         | release                                  | refused M09
        +50 | ben         | safety-test                              | accepted
        +60 | cora + hana | correct 5 no holds because read wrongly  | accepted
        +70 | dan         | release                                  | refused M09
        """,
    )


def test_what_rests_on_a_faulty_instrument_falls_in_every_cycle(floor: Floor) -> None:
    """H08: ready no longer, and the pass of an earlier cycle is void even when the instrument is verified again."""
    play(
        floor,
        """
        +0  | ben | LMP-2 inspect     | accepted
        +20 | ben | safety-test       | accepted
        +30 | dan | release           | accepted
        +40 | ben | LMP-1 inspect     | accepted
        +50 | ben | safety-test       | accepted
        +55 | dan | release           | accepted
        +60 | ben | used              | accepted
        """,
    )
    assert {"LMP-1", "LMP-2"} <= set(faulty(floor, "FI-1"))
    good = words.InstrumentVerified(until_us=floor.clock.now().wall_us + 10**15, reference="C-9")
    assert floor.department.station("BENCH", badge="B-CORA").enrol(Enrol("instrument:FI-1", good)).accepted
    play(
        floor,
        """
        +70  | dan | LMP-2 release | refused M09
        +80  | ben | LMP-1 inspect | accepted
        +90  | dan | release       | refused M09
        +100 | ben | safety-test   | accepted
        +110 | dan | release       | accepted
        """,
    )
    assert faulty(floor, "FI-2") == ("none",)


def test_a_respirator_tested_with_a_faulty_indicator_is_ready_no_longer(floor: Floor) -> None:
    """H08: its parts that were tested with it fall, and it falls with them and for its own test."""
    kit(floor)
    told = faulty(floor, "FI-1")
    assert {"KIT-1", "BLW-3"} <= set(told)
    assert "TUB-3" not in told
    assert (floor.item("KIT-1").stage, floor.item("BLW-3").stage) == ("used", "inspected")
    assert floor.item("TUB-3").stage == "ready"
    floor.assert_kept_whole("KIT-1")


def kit(floor: Floor) -> None:
    """Makes a ready respirator."""
    for part in ("BLW-3", "TUB-3", "HED-3", "FLT-3", "FLT-4", "BAT-3", "BLT-3"):
        floor.bring(part, "ready")
    assert floor.build("KIT-1", "three-port-hepa", "BLW-3 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-3").accepted
    floor.bring("KIT-1", "ready")


def test_a_charge_names_a_bay_that_counts(floor: Floor) -> None:
    """B02, M02: an approved and verified charger bay; one found faulty undoes the charge."""
    play(floor, "+0 | anna | BAT-3 used | accepted")
    floor.bring("BAT-3", "charge")
    play(
        floor,
        """
        +0  | ben | BAT-3 charge start without instrument | refused M02, key instrument-needed
        +1  | ben | charge start with FI-1                | refused M02, key instrument-sort
        +2  | ben | charge start with BAY-2               | refused M09, key instrument-unverified
        +3  | ben | charge start with BAY-1               | accepted
        """,
    )
    assert "BAT-3" in faulty(floor, "BAY-1")
    assert floor.item("BAT-3").dwell is None
    play(floor, "+9 | ben | BAT-3 charge start | refused M02, key instrument-faulty")


def test_a_charge_that_was_good_falls_with_its_bay(floor: Floor) -> None:
    """H08"""
    floor.bring("BAT-3", "ready")
    assert floor.item("BAT-3").satisfied["charge"].instrument == "BAY-1"
    assert "BAT-3" in faulty(floor, "BAY-1")
    assert floor.item("BAT-3").stage == "inspected"
    assert "charge" not in floor.item("BAT-3").satisfied


def test_a_correction_that_changes_nothing_leaves_the_pass(floor: Floor) -> None:
    """D01"""
    play(
        floor,
        """
        +0  | ben         | LMP-2 inspect                           | accepted
        +20 | ben         | safety-test                             | accepted
        +30 | cora + hana | correct 3 because the name was illegible | accepted
        +40 | dan         | release                                 | accepted
        """,
    )


def test_a_correction_reaches_a_pass_of_an_earlier_cycle(floor: Floor) -> None:
    """D01: the item that is ready by it is ready no longer."""
    play(
        floor,
        """
        +0  | ben         | LMP-2 inspect                           | accepted
        +20 | ben         | safety-test                             | accepted
        +30 | dan         | release                                 | accepted
        +40 | ben         | used                                    | accepted
        +50 | ben         | inspect                                 | accepted
        +60 | dan         | release                                 | accepted, stage ready
        +70 | cora + hana | correct 3 no holds because read wrongly | accepted, stage inspected
        +80 | dan         | release                                 | refused M09
        +90 | ben         | safety-test                             | accepted
        +99 | dan         | release                                 | accepted
        """,
    )


def test_what_falls_due_within_the_cycle_is_done_again_in_it(floor: Floor) -> None:
    """B05: no dead end; three charges after the pass of this very cycle."""
    play(
        floor,
        """
        +0  | ben | LMP-2 inspect | accepted
        +10 | ben | safety-test   | accepted
        +20 | ben | safety-test   | refused P01, key already-done
        +30 | ben | note charge 3 | accepted
        +40 | dan | release       | refused M09
        +50 | ben | safety-test   | accepted
        +60 | dan | release       | accepted
        """,
    )


def verified(floor: Floor, instrument: str) -> None:
    """Says that an instrument is good again."""
    good = words.InstrumentVerified(until_us=floor.clock.now().wall_us + 10**15, reference="C-9")
    assert floor.department.station("BENCH", badge="B-CORA").enrol(Enrol(f"instrument:{instrument}", good)).accepted


def test_anybody_may_say_that_an_instrument_is_faulty(floor: Floor) -> None:
    """H08: a fact is not refused."""
    told = Enrol("instrument:FI-3", words.InstrumentFaulty(finding="sticks"))
    assert floor.department.station("BENCH", badge="B-BEN").enrol(told).accepted


def test_a_faulty_instrument_reaches_what_is_in_repair(floor: Floor) -> None:
    """H08"""
    play(
        floor,
        """
        +0 | ben | LMP-1 inspect | accepted
        +1 | ben | safety-test   | accepted
        +2 | ben | repair        | accepted
        """,
    )
    assert "LMP-1" in faulty(floor, "FI-1")


def test_undo_gives_back_nothing_that_a_faulty_instrument_measured(floor: Floor) -> None:
    """H08, E14: verified again or not."""
    floor.bring("BLW-1", "release")
    play(floor, "+20 | ben | BLW-1 touched | accepted")
    assert "BLW-1" not in faulty(floor, "FI-1")
    verified(floor, "FI-1")
    play(
        floor,
        """
        +1  | ben | BLW-1 undo | accepted
        +30 | dan | release    | refused M02
        """,
    )


def test_a_charge_that_began_at_a_bay_found_faulty_does_not_end(floor: Floor) -> None:
    """H08: undo brings the running clock back, and verifying the bay again does not make the charge good."""
    floor.ask(asking.Contaminate("BAT-3", "used"), "anna")
    floor.bring("BAT-3", "charge")
    play(
        floor,
        """
        +1 | ben | BAT-3 charge start | accepted
        +2 | ben | used               | accepted
        """,
    )
    faulty(floor, "BAY-1")
    verified(floor, "BAY-1")
    play(
        floor,
        """
        +3  | ben | BAT-3 undo                   | accepted
        +70 | ben | charge done soc_percent=95   | refused M02, key instrument-faulty
        """,
    )


def test_each_charge_counts(floor: Floor) -> None:
    """B05, T12: whoever notes them."""
    before = floor.item("BAT-3").charge_cycles
    floor.ask(asking.Contaminate("BAT-3", "used"), "anna")
    floor.bring("BAT-3", "ready")
    assert floor.item("BAT-3").charge_cycles == before + 1


def test_after_a_repair_what_was_tested_before_it_is_tested_again(floor: Floor) -> None:
    """M09"""
    play(
        floor,
        """
        +0  | ben | LMP-1 inspect            | accepted
        +10 | ben | safety-test              | accepted
        +20 | ben | repair                   | accepted
        +30 | ben | returned-from-repair     | accepted
        +40 | ben | inspect                  | accepted
        +50 | dan | release                  | refused M09
        +60 | ben | safety-test              | accepted
        +70 | dan | release                  | accepted
        """,
    )


def test_a_finding_does_not_begin_cleaning(floor: Floor) -> None:
    """T11: three days later the blower is late and held, although somebody found it cracked at once."""
    play(
        floor,
        f"""
        +0           | anna | BLW-3 used          | accepted
        +9           | anna | fail clean BLW-FLOW | held H01
        +{80 * 3600} | anna | take-apart          | accepted, warns H04
        """,
    )
    assert "T11" in [hold.rule for hold in floor.item("BLW-3").holds.values()]


def test_what_voids_a_whole_cycle_voids_its_test_too(floor: Floor) -> None:
    """P12: a lamp that was immersed is tested again."""
    play(
        floor,
        """
        +0  | ben         | LMP-1 inspect        | accepted
        +10 | ben         | safety-test          | accepted
        +20 | ben         | method immerse       | held P12
        +30 | ben         | inspect              | accepted, warns H04
        +40 | cora + dan  | lift 1               | accepted
        +50 | dan         | release              | refused M09
        """,
    )


def test_an_assembly_falls_with_a_part_that_was_tested_with_a_faulty_indicator(floor: Floor) -> None:
    """H08: although the assembly itself was tested with another one."""
    for part in ("BLW-3", "TUB-3", "HED-3", "FLT-3", "FLT-4", "BAT-3", "BLT-3"):
        floor.bring(part, "ready")
    assert floor.build("KIT-1", "three-port-hepa", "BLW-3 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-3").accepted
    play(floor, "+60 | ben | KIT-1 functional-test with FI-3 | accepted")
    floor.bring("KIT-1", "ready")
    told = faulty(floor, "FI-1")
    assert "KIT-1" in told
    assert floor.item("KIT-1").stage == "used"


def test_an_older_pass_that_undo_gives_back_counts_only_if_its_instrument_does(floor: Floor) -> None:
    """H08, E14"""
    play(
        floor,
        """
        +0  | ben | LMP-2 inspect         | accepted
        +10 | ben | safety-test           | accepted
        +20 | ben | note charge 3         | accepted
        +30 | ben | safety-test with FI-3 | accepted
        """,
    )
    assert "LMP-2" not in faulty(floor, "FI-1")
    play(
        floor,
        """
        +1  | ben | LMP-2 undo       | accepted
        +10 | dan | release          | refused M02 M09
        """,
    )


def test_a_test_that_is_due_is_named_as_soon_as_it_can_be_done(floor: Floor) -> None:
    """M09: not before the steps that it rests on."""
    item, workflow, now_us = floor.item("LMP-2"), floor.workflow("LMP-2"), floor.clock.now().wall_us
    assert next_steps(workflow, item, now_us) == ("inspect",)
    play(floor, "+0 | ben | LMP-2 inspect | accepted")
    assert next_steps(workflow, floor.item("LMP-2"), now_us) == ("safety-test", "release")


def publish(floor: Floor, old: str, new: str) -> None:
    """Puts the lamp's workflow in force, changed in one place, by two people."""
    text = (Path(__file__).parent / "files" / "lamp.yaml").read_text("utf-8")
    assert old in text
    text = text.replace(old, new)
    digest = digest_of(text)
    bench = floor.department.station
    assert bench("BENCH", badge="B-HANA").enrol(Publish("workflow", "lamp", digest, text)).accepted
    assert bench("BENCH", badge="B-CORA").enrol(Approve("workflow", "lamp", digest)).accepted


RECURS = "recurring:\n  - {step: safety-test, every_days: 30, every_charge_cycles: 3, rule: M09, example: true}\n"


def test_a_new_version_of_the_file_does_not_mend_what_failed(floor: Floor) -> None:
    """M09: the step recurs no longer; its failure stands until it passes."""
    play(
        floor,
        """
        +0  | ben | LMP-1 inspect        | accepted
        +10 | ben | safety-test no holds | refused H01
        """,
    )
    publish(floor, RECURS, "")
    play(
        floor,
        """
        +20 | ben | LMP-1 used  | accepted
        +30 | ben | inspect     | accepted
        +40 | dan | release     | refused M09
        +50 | ben | safety-test | accepted
        +60 | dan | release     | accepted
        """,
    )


def test_a_correction_reaches_a_pass_whose_step_the_new_version_lacks(floor: Floor) -> None:
    """D01: nobody can judge its values any more, so it is no pass."""
    play(
        floor,
        """
        +0  | ben | LMP-1 inspect | accepted
        +10 | ben | safety-test   | accepted
        """,
    )
    publish(floor, "step: safety-test", "step: yearly-test")
    play(
        floor,
        """
        +20 | ben         | LMP-1 used                              | accepted
        +30 | cora + hana | correct 3 no holds because read wrongly | accepted
        +40 | ben         | inspect                                 | accepted
        +50 | dan         | release                                 | refused M09
        """,
    )


def test_a_pass_from_the_future_is_none(floor: Floor) -> None:
    """M09: the wall clock was twenty days ahead when it was made."""
    floor.clock.wall_off_us += 20 * DAY_S * SECOND_US
    floor.ask(asking.DoStep("LMP-1", "inspect"), "ben")
    floor.ask(asking.DoStep("LMP-1", "safety-test", {"holds": True}, {}, {}, "FI-1"), "ben")
    assert floor.item("LMP-1").passes["safety-test"].at_us is not None
    floor.clock.wall_off_us = 0
    play(floor, "+60 | dan | LMP-1 release | refused M09")
