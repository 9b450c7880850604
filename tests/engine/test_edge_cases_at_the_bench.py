"""Edge cases of contacts, baths and clocks, each with its whole answer (E01-E08, E11-E13, E24, E31, E33, E35).

Each docstring states the case and what must come of it; the cases are those of the trade, in our words.
"""

from __future__ import annotations

from datetime import UTC, datetime

from reprocess.commandline.say import local_in
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.record.cases import Case
from reprocess.rules.words import next_action, sentence
from reprocess.terms import SECOND_US
from tests.engine.benches import play
from tests.engine.floor import BADGES, OPENING_US, Floor
from tests.engine.loading import a_washer, bowls, runs
from tests.engine.outside import dues, hold_rules, wearers

HOUR_US = 3600 * SECOND_US


def go_to(floor: Floor, text: str) -> None:
    """Moves all clocks on to an instant of UTC."""
    there_us = int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()) * SECOND_US
    floor.clock.push((there_us - floor.clock.now().wall_us) / SECOND_US)


def a_bath(floor: Floor, name: str = "OPA-1", agent: str = "opa-055", reading: str = "0.3") -> None:
    """Makes up a bath and lets it pass its test."""
    play(floor, f"+0 | anna | {name} made of {agent} | accepted\n+1 | anna | {name} tested {reading} | accepted")


def offsets(floor: Floor, item: str) -> list[int]:
    """Returns the local offset, in minutes, of each entry of an item."""
    return [entry.envelope.offset_min for entry in floor.entries(f"item:{item}")]


def test_e01_a_contact_interrupted_ten_seconds_early_counts_for_nothing(floor: Floor) -> None:
    """E01, T04: void at 2:50 of 3:00; it starts again at 0:00, and both attempts stay in the history."""
    before = floor.item("BLW-2").number
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted, attempt 1, left 180
        +90  | anna | rewet                          | accepted
        +170 | anna | break removed                  | accepted T04, stage cleaned
        +171 | anna | done                           | refused P01
        +180 | anna | disinfect start in QAW-1       | accepted, attempt 2, left 180
        +270 | anna | rewet                          | accepted, left 90
        +359 | anna | done                           | refused T01, left 1
        +360 | anna | done                           | accepted, stage disinfected
        """,
    )
    assert floor.kinds("BLW-2", before) == [
        "dwell-started", "dwell-wetted", "dwell-broken", "dwell-started", "dwell-wetted", "dwell-ended",
    ]  # fmt: skip
    broken = next(one.body for one in floor.entries("item:BLW-2") if isinstance(one.body, words.DwellBroken))
    assert (broken.cause, broken.wet_s, broken.least_s) == ("removed", 170, 180)


def test_e02_a_contact_that_nobody_ended_in_time_is_met_and_the_item_held(floor: Floor) -> None:
    """E02, T06: 40 min of at most 30: the contact is met, the item over-exposed, and a look at the material a must."""
    play(
        floor,
        """
        +0    | anna | BLW-2 disinfect start in QAW-1 | accepted
        +75   | anna | rewet                          | accepted
        +1800 | ben  | inspect                        | refused T17 P01
        +2400 | anna | done                           | held T06, stage disinfected
        +2430 | ben  | rinse                          | accepted, warns H04
        """,
    )
    (hold,) = floor.item("BLW-2").holds.values()
    assert (hold.sort, hold.rule, hold.cause) == ("over-exposed", "T06", "disinfect ran 2400 s, longest 1800 s")
    assert floor.item("BLW-2").satisfied["disinfect"].sort == "measured"
    floor.bring("BLW-2", "inspect")
    play(
        floor,
        """
        +1    | cora | BLW-2 lift 1                  | refused H10, key inspect-first
        +60   | ben  | inspect without housing-whole | refused P01, key check-missing
        +60   | ben  | inspect                       | accepted, warns H04
        +61   | dan  | release                       | held G01 G02
        +62   | cora | lift 1                        | accepted
        """,
    )
    assert not floor.item("BLW-2").held


def test_e03_one_gesture_is_one_entry_and_a_later_scan_says_what_is_left(floor: Floor) -> None:
    """E03, D03: twice in 2 s is once; the third scan says that it runs, with 2:10 left, and changes nothing."""
    before = floor.item("BLW-2").number
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted, left 180, repeated False
        +2   | same |                                | accepted, left 180, repeated True
        +50  | anna | disinfect start in QAW-1       | refused P01, left 130, key clock-runs, stage cleaned
        """,
    )
    assert floor.kinds("BLW-2", before) == ["dwell-started"]
    said = sentence(floor.answers[-1].reasons[0], str)
    assert said == "The clock of disinfect runs already, 130 s left."
    play(floor, "+40 | anna | BLW-2 rewet | accepted\n+130 | anna | done | accepted, stage disinfected")


def test_e04_a_scan_at_the_rinse_breaks_the_contact_and_asks_whether_it_was_removed(floor: Floor) -> None:
    """E04, T04, E14: at 60 % it breaks; if it was not removed, whoever mis-scanned takes the scan back."""
    answers = play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted
        +80  | anna | rewet                          | accepted
        +108 | ben  | rinse                          | refused T04 P01, next disinfect
        +110 | anna | done                           | refused P01, key no-open-clock
        +111 | anna | undo                           | refused E14
        +120 | ben  | undo                           | accepted
        +150 | anna | rewet                          | accepted, left 30
        +180 | anna | done                           | accepted, stage disinfected
        """,
    )
    asked = next_action(answers[2].reasons[0], str)
    assert asked == "If it was removed, start again; if not, undo this scan within 60 s."


def test_e05_a_soak_finishes_in_a_bath_whose_calendar_ran_out_and_nothing_new_goes_in(floor: Floor) -> None:
    """E05, L05: in at 55 min, 12 min long, expiry at 60 min: told, met, and the bath closed for new items."""
    play(
        floor,
        """
        +0    | anna | OPA-1 made of opa-055 hours=1        | accepted
        +1    | anna | OPA-1 tested 0.3                     | accepted
        +3300 | anna | PRB-2 disinfect start in OPA-1 at 21 | accepted, left 720
        +4020 | anna | done at 21                           | accepted, warns L05, stage disinfected
        """,
    )
    floor.bring("PRB-1", "disinfect")
    play(floor, "+0 | anna | PRB-1 disinfect start in OPA-1 at 21 | refused L05 L03")
    assert not floor.item("PRB-2").held


def test_e05_a_failed_test_voids_the_soak_instead(floor: Floor) -> None:
    """E05, L05: where not the calendar but a test ends the bath, nothing is finished in it."""
    a_bath(floor)
    play(
        floor,
        """
        +1   | anna | PRB-2 disinfect start in OPA-1 at 21 | accepted
        +300 | anna | OPA-1 tested 0.2                     | held L07
        +721 | anna | PRB-2 done at 21                     | refused P01, next disinfect
        """,
    )


def test_e06_a_failed_strip_reaches_every_item_since_the_last_pass(floor: Floor) -> None:
    """E06, L07, H06, H07: last pass 08:10, failed 16:00, 23 items since, nine released, four of those worn.

    All 23 are held, five of them were ready, one case names four wearers; a new bath, then all 23 from cleaning.
    """
    go_to(floor, "2026-03-05T08:09:59")
    a_bath(floor, "HYP-1", "hypochlorite-50ppm", "50")
    assert floor.clock.now().wall_us == OPENING_US + 70 * 60 * SECOND_US
    names = [f"TUB-{number}" for number in range(100, 123)]
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    for name in names:
        assert office.enrol(Commission(name, "breathing-tube-immersion", "LT-1")).accepted
        floor.bring(name, "dry", in_="HYP-1")
    for name in names[:9]:
        floor.bring(name, "ready")
    worn = names[:4]
    wearers(floor, *(f"W-{number}" for number in range(4)))
    for number, name in enumerate(worn):
        floor.ask(asking.IssueItem(name, f"W-{number}", "ward-7"), "gus")
        floor.clock.push(600)
        floor.ask(asking.ReturnItem(name))
    go_to(floor, "2026-03-05T16:00:00")
    (answer,) = play(floor, "+0 | anna | HYP-1 tested 49.9 | held L07 H06")
    facts = {one.key: one.facts for one in answer.reasons}
    assert (facts["bath-failed"]["held"], facts["bath-failed"]["ready"]) == (23, 5)
    assert (facts["case-opened"]["uses"], facts["case-opened"]["wearers"], facts["case-opened"]["out"]) == (4, 4, 0)
    assert next_action(answer.reasons[0], str).startswith("Dump the bath, make a new one, clean these items again")
    with looking(floor.department.ledger) as read:
        (case,) = [one for one in read.states_of("case") if isinstance(one, Case)]
    assert [(use.item, use.wearer) for use in case.uses] == [(name, f"W-{at}") for at, name in enumerate(worn)]
    for name in names:
        one = floor.item(name)
        assert ([hold.sort for hold in one.holds.values()], one.stage) == (["solution"], "used")
        assert set(one.satisfied) <= {"take-apart"}, name
    kept = names[5]
    play(
        floor,
        f"""
        +1 | anna | {kept} disinfect start in HYP-1 at 38 | refused L07 T02, next clean
        +2 | anna | HYP-1 tested 60                       | accepted
        +3 | anna | {kept} disinfect start in HYP-1 at 38 | refused L07 T02
        +4 | anna | HYP-1 made of hypochlorite-50ppm      | accepted
        +5 | anna | HYP-1 tested 50                       | accepted
        """,
    )
    for name in (kept, worn[0]):
        floor.bring(name, "disinfected", in_="HYP-1")


def test_e07_a_wipe_through_a_power_cut_starts_again_and_the_time_unseen_is_told(floor: Floor) -> None:
    """E07: dark from 09:10 to 09:25 while the clock ran; its start is on record, the time is told as unseen."""
    go_to(floor, "2026-03-05T09:09:40")
    answers = play(
        floor,
        """
        +0   | anna       | BLW-2 disinfect start in HPW-1 | accepted
        +20  | clock      | off 900                        |
        +925 | anna + ben | done undisturbed               | refused E07, next disinfect
        +931 | anna       | disinfect start in HPW-1       | accepted, left 60, attempt 2
        """,
    )
    assert sentence(answers[1].reasons[0], str) == "Nobody saw the clock of disinfect for 925 of 925 s."


def test_e07_a_soak_through_a_power_cut_stands_on_the_word_of_its_starter_and_another(floor: Floor) -> None:
    """E07: accepted where whoever put it in and a second person say that the bath was left alone."""
    a_bath(floor)
    play(
        floor,
        """
        +1   | anna       | PRB-2 disinfect start in OPA-1 at 21 | accepted
        +60  | clock      | off 900                              |
        +970 | anna       | done undisturbed at 21               | refused E07, key two-must-confirm
        +971 | ben + dan  | done undisturbed at 21               | refused E07, key starter-must-confirm
        +980 | anna + ben | done undisturbed at 21               | accepted, stage disinfected
        """,
    )
    assert floor.item("PRB-2").satisfied["disinfect"].sort == "attested"
    ended = floor.entries("item:PRB-2")[-1].body
    assert isinstance(ended, words.DwellEnded)
    assert (ended.proven_s, ended.greatest_seen_s) == (0, 979)


def test_e07_a_soak_that_nobody_speaks_for_starts_again(floor: Floor) -> None:
    """E07: without that word the time that nobody saw counts for nothing."""
    a_bath(floor)
    play(
        floor,
        """
        +1   | anna | PRB-2 disinfect start in OPA-1 at 21 | accepted
        +60  | clock | off 900                             |
        +970 | anna | done at 21                           | refused E07, key unobserved, next disinfect
        """,
    )


def test_e08_a_power_cut_voids_a_load_unless_its_resuming_is_proven(floor: Floor) -> None:
    """E08, W08: void, its items start again; the record of a validated resume lets a second one stand."""
    a_washer(floor)
    names = bowls(floor, 2)
    runs(floor, "LD-1", names[:1])
    play(floor, "+0 | anna | LD-1 load-end held 90 60 interrupted | accepted W08")
    assert (floor.item("BWL-1").stage, floor.item("BWL-1").satisfied) == ("used", {})
    runs(floor, "LD-2", names[1:])
    play(floor, "+0 | anna | LD-2 load-end held 90 70 interrupted resumed ST-7 | accepted")
    assert floor.item("BWL-2").stage == "disinfected"


def test_e11_twelve_minutes_last_twelve_minutes_where_the_clocks_go_forward(floor: Floor) -> None:
    """E11: Halifax 8 March 01:55 to 03:07, London 29 March 00:55 to 02:07; each end shows its own offset."""
    for probe, began, station, shown, zone in (
        ("PRB-1", "2026-03-08T05", "SALTGATE", ("01:55:00 -0400", "03:07:00 -0300"), "America/Halifax"),
        ("PRB-2", "2026-03-29T00", "BENCH", ("00:55:00 +0000", "02:07:00 +0100"), "Europe/London"),
    ):
        floor.bring(probe, "disinfect")
        go_to(floor, f"{began}:50:00")
        a_bath(floor, f"O{probe}")
        go_to(floor, f"{began}:55:00")
        play(
            floor,
            f"""
            +0   | anna @ {station} | {probe} disinfect start in O{probe} at 21 | accepted, left 720
            +719 | anna @ {station} | done at 21                           | refused T01, left 1
            +720 | anna @ {station} | done at 21                           | accepted, stage disinfected
            """,
        )
        show = local_in(zone)
        start, end = floor.entries(f"item:{probe}")[-2:]
        assert (show(start.at_us)[-14:], show(end.at_us)[-14:]) == shown
        assert end.envelope.offset_min - start.envelope.offset_min == 60


def test_e12_the_hour_that_comes_twice_keeps_its_order_and_one_monthly_day(floor: Floor) -> None:
    """E12: London 25 October, Halifax 1 November: ordered by UTC, each with its offset; due once, by local day."""
    for probe, began, station, shown in (
        ("PRB-1", "2026-10-25T00", "BENCH", [60, 0]),
        ("PRB-2", "2026-11-01T04", "SALTGATE", [-180, -240]),
    ):
        floor.bring(probe, "disinfect")
        go_to(floor, f"{began}:30:00")
        a_bath(floor, f"O{probe}")
        go_to(floor, f"{began}:55:00")
        play(
            floor,
            f"""
            +0   | anna @ {station} | {probe} disinfect start in O{probe} at 21 | accepted, left 720
            +719 | anna @ {station} | done at 21                           | refused T01, left 1
            +720 | anna @ {station} | done at 21                           | accepted
            """,
        )
        assert offsets(floor, probe)[-2:] == shown
        times = [entry.at_us for entry in floor.entries(f"item:{probe}")]
        assert times == sorted(times)


def test_e12_a_monthly_inspection_is_due_once_on_the_day_of_two_half_past_ones(floor: Floor) -> None:
    """E12, Q03: done on 25 September, due to the end of 25 October by London's date, which has 25 hours."""
    go_to(floor, "2026-09-25T09:00:00")
    play(floor, "+0 | ben | KIT-7 note looked-at | accepted")
    ends = [one.due_us for one in dues(floor, "KIT-7", "Q03") if one.words["say"] == "inspection-over"]
    assert [datetime.fromtimestamp(one // SECOND_US, UTC).isoformat() for one in ends] == ["2026-10-26T00:00:00+00:00"]


def test_e13_a_clock_set_back_by_its_server_changes_nothing_and_is_told(floor: Floor) -> None:
    """E13, D04: -90 s; running time counts, the end warns, and the step stands in the history and the review."""
    play(
        floor,
        """
        +0  | anna  | BLW-2 disinfect start in HPW-1 | accepted
        +20 | clock | wall -90                       |
        +59 | anna  | done                           | refused T01, left 1
        +60 | anna  | done                           | accepted, warns D04, stage disinfected
        """,
    )
    (noted,) = [one.body for one in floor.entries("item:BLW-2") if isinstance(one.body, words.ClockAnomaly)]
    assert (noted.wall_ms, noted.running_ms) == (-31_000, 59_000)
    said = sentence(floor.answers[-1].warnings[0], str)
    assert said == "The wall clock was moved by -90 s meanwhile; disinfect counts running time."
    waiting = [one for one in floor.department.waiting_for_review()[0] if one.stream == "item:BLW-2"]
    assert [(one.sort, one.rules) for one in waiting] == [("clock", ("D04",))]


def test_e24_a_recall_during_a_contact_lets_the_step_end_and_nothing_out(floor: Floor) -> None:
    """E24, H03: the lot is recalled while the clock runs: held at once, the step ends, no release."""
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in HPW-1 | accepted
        +10 | hana | R-1 recalled lot LOT-1         | accepted H03
        +11 | hana | R-1 commit                     | held H03
        +60 | anna | BLW-2 done                     | accepted, stage disinfected
        +70 | ben  | rinse                          | held H04
        +80 | ben  | release                        | held G02 G01
        """,
    )
    assert hold_rules(floor, "BLW-2") == {"H03"}


def test_e31_whoever_says_that_it_dried_is_thanked_and_starts_again(floor: Floor) -> None:
    """E31, T04: the clock said done; the film had dried at 2:30. No blame, at zero, before the end or after it."""
    answers = play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted
        +90  | anna | rewet                          | accepted
        +185 | anna | break dried                    | accepted T04, stage cleaned
        +186 | anna | done                           | refused P01
        +190 | anna | disinfect start in QAW-1       | accepted, left 180
        +280 | anna | rewet                          | accepted
        +370 | anna | done                           | accepted, stage disinfected
        +400 | anna | break dried                    | accepted T04, stage cleaned, next disinfect
        """,
    )
    for answer in (answers[2], answers[-1]):
        text = f"{sentence(answer.reasons[0], str)} {next_action(answer.reasons[0], str)}"
        assert text.endswith("Start the contact again. Thank you for saying so.")
        assert not {"wrong", "fault", "failed", "error", "must"} & set(text.lower().replace(".", "").split())


def test_e33_a_bath_at_two_stations_is_one_bath(floor: Floor) -> None:
    """E33: a pass at one station opens it at the other, a use there closes it here, a failure reaches both."""
    play(
        floor,
        """
        +0   | anna @ BENCH | OPA-1 made of opa-055                | accepted
        +1   | anna @ BENCH | OPA-1 tested 0.3                     | accepted
        +2   | anna @ SINK  | PRB-2 disinfect start in OPA-1 at 21 | accepted
        +722 | anna @ SINK  | done at 21                           | accepted
        """,
    )
    floor.bring("PRB-1", "disinfect")
    play(
        floor,
        """
        +0   | anna @ BENCH | PRB-1 disinfect start in OPA-1 at 21 | refused L03, key test-before-use
        +1   | anna @ SINK  | OPA-1 tested 0.3                     | accepted
        +2   | anna @ BENCH | PRB-1 disinfect start in OPA-1 at 21 | accepted
        +9   | anna @ BENCH | OPA-1 tested 0.2                     | held L07
        +10  | anna @ SINK  | PRB-1 done at 21                     | refused P01
        +11  | anna @ SINK  | OPA-1 topped-up                      | refused L06
        """,
    )
    assert hold_rules(floor, "PRB-1") == {"L07"}


def test_e33_a_failure_reaches_what_was_wiped_at_either_station(floor: Floor) -> None:
    """E33, L07: one wipe canister, two stations, one test that fails."""
    play(
        floor,
        """
        +0  | anna @ BENCH | BLW-2 disinfect start in HPW-1 | accepted
        +1  | anna @ SINK  | TUB-5 disinfect start in HPW-1 | accepted
        +2  | dan @ SINK   | HPW-1 tested failed            | held L07
        """,
    )
    assert hold_rules(floor, "BLW-2") == hold_rules(floor, "TUB-5") == {"L07"}


def test_e35_a_leap_second_or_its_smearing_does_nothing(floor: Floor) -> None:
    """E35: one second too many, one too few, or a part of it: running time counts, nothing is noted or told."""
    for step in ("-1", "+1", "-0.5"):
        play(
            floor,
            f"""
            +0  | anna  | BLW-2 disinfect start in HPW-1 | accepted, left 60
            +30 | clock | wall {step}                    |
            +59 | anna  | done                           | refused T01, left 1
            +60 | anna  | done                           | accepted, stage disinfected
            +61 | anna  | break dried                    | accepted T04, stage cleaned
            """,
        )
    assert "clock-anomaly" not in floor.kinds("BLW-2")
