"""Clocks that are stepped, sleep or stop: none of it can satisfy a dwell or destroy one (D04; E07, E10-E13)."""

from datetime import UTC, datetime

from reprocess.record.words import ClockAnomaly
from reprocess.terms import SECOND_US
from tests.engine.benches import play
from tests.engine.floor import Floor


def go_to(floor: Floor, text: str) -> None:
    """Moves all clocks on to an instant."""
    there_us = int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()) * SECOND_US
    floor.clock.push((there_us - floor.clock.now().wall_us) / SECOND_US)


def opened_bath(floor: Floor, agent: str, reading: str = "0.3") -> None:
    play(
        floor,
        f"""
        +0  | anna | BTH-1 made of {agent}  | accepted
        +60 | anna | BTH-1 tested {reading} | accepted
        """,
    )


def anomalies(floor: Floor, item: str) -> list[ClockAnomaly]:
    bodies = [entry.body for entry in floor.entries(f"item:{item}")]
    return [body for body in bodies if isinstance(body, ClockAnomaly)]


def test_a_wall_clock_set_forward_gives_nothing(floor: Floor) -> None:
    """The hour that the wall clock jumped proves no second; the anomaly is in the history once."""
    play(
        floor,
        """
        +0  | anna  | BLW-2 disinfect start in HPW-1 | accepted, left 60
        +30 | clock | wall +3600                     |
        +30 | anna  | disinfect start in HPW-1       | refused P01, left 30
        +50 | anna  | done                           | refused T01, left 10
        +55 | anna  | done                           | refused T01, left 5
        """,
    )
    (anomaly,) = anomalies(floor, "BLW-2")
    assert (anomaly.wall_ms, anomaly.running_ms) == (3_650_000, 50_000)


def test_a_film_may_have_dried_while_the_wall_clock_jumped(floor: Floor) -> None:
    """A pause of the computer looks the same as a step of the clock, so a film that was not safe yet starts again."""
    play(
        floor,
        """
        +0   | anna  | BLW-2 disinfect start in QAW-1 | accepted, left 180
        +60  | clock | wall +3600                     |
        +100 | anna  | rewet                          | refused T03
        +110 | anna  | disinfect start in QAW-1       | accepted, left 180
        +200 | anna  | rewet                          | accepted
        +290 | anna  | done                           | accepted
        """,
    )
    assert len(anomalies(floor, "BLW-2")) == 1


def test_a_wall_clock_set_back_takes_nothing_away(floor: Floor) -> None:
    play(
        floor,
        """
        +0   | anna  | BLW-2 disinfect start in QAW-1 | accepted
        +60  | clock | wall -3600                     |
        +80  | anna  | rewet                          | accepted, left 100
        +160 | anna  | rewet                          | accepted, left 20
        +179 | anna  | done                           | refused T01, left 1
        +180 | anna  | done                           | accepted, warns D04, stage disinfected
        """,
    )
    assert len(anomalies(floor, "BLW-2")) == 1


def test_clocks_that_differ_by_less_than_two_seconds_are_no_anomaly(floor: Floor) -> None:
    """Running time alone counts towards a least time, whichever way the wall clock was moved."""
    play(
        floor,
        """
        +0  | anna  | BLW-2 disinfect start in HPW-1 | accepted
        +20 | clock | wall +1.9                      |
        +59 | anna  | done                           | refused T01, left 1
        +60 | anna  | done                           | accepted
        """,
    )
    assert anomalies(floor, "BLW-2") == []


def test_an_anomaly_is_noted_once_for_each_start(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna  | BLW-2 disinfect start in HPW-1 | accepted
        +10 | clock | wall -90                       |
        +20 | anna  | break removed                  | accepted T04
        +30 | anna  | disinfect start in HPW-1       | accepted
        +40 | clock | wall -90                       |
        +50 | anna  | rewet                          | accepted
        +89 | anna  | done                           | refused T01
        +90 | anna  | done                           | accepted, warns D04
        """,
    )
    starts = [entry.number for entry in floor.entries("item:BLW-2") if entry.kind == "dwell-started"]
    assert [one.since_number for one in anomalies(floor, "BLW-2")] == starts[-2:]


def test_a_wipe_through_which_the_computer_slept_starts_again(floor: Floor) -> None:
    play(
        floor,
        """
        +0   | anna  | BLW-2 disinfect start in HPW-1 | accepted
        +10  | clock | sleep 30                       |
        +75  | anna  | done                           | refused E07
        +80  | anna  | disinfect start in HPW-1       | accepted
        +90  | clock | sleep 60                       |
        +155 | anna  | rewet                          | refused E07
        """,
    )


def test_a_wipe_that_may_have_dried_in_the_sleep_is_dry(floor: Floor) -> None:
    play(
        floor,
        """
        +0   | anna  | BLW-2 disinfect start in QAW-1 | accepted
        +10  | clock | sleep 600                      |
        +615 | anna  | done                           | refused T03
        """,
    )


def test_of_a_soak_only_the_time_that_the_computer_was_awake_counts(floor: Floor) -> None:
    opened_bath(floor, "opa-055")
    play(
        floor,
        """
        +0    | anna  | PRB-2 disinfect start in BTH-1 at 21 | accepted, left 720
        +100  | clock | sleep 600                            |
        +720  | anna  | done at 21                           | refused T01, left 600
        +1319 | anna  | done at 21                           | refused T01, left 1
        +1320 | anna  | done at 21                           | accepted, stage disinfected
        """,
    )
    assert floor.item("PRB-2").satisfied["disinfect"].sort == "measured"


def test_two_people_may_speak_for_a_soak_that_slept(floor: Floor) -> None:
    """E07: what nobody saw is attested, and release asks for more than that unless two people confirmed it."""
    opened_bath(floor, "opa-055")
    play(
        floor,
        """
        +0   | anna       | PRB-2 disinfect start in BTH-1 at 21 | accepted
        +100 | clock      | sleep 600                            |
        +719 | anna + ben | done undisturbed at 21               | refused T01, wait 1
        +720 | anna       | done undisturbed at 21               | refused E07
        +720 | anna + ben | done undisturbed at 21               | accepted, stage disinfected
        """,
    )
    assert floor.item("PRB-2").satisfied["disinfect"].sort == "attested"


def test_a_wipe_is_void_after_a_power_cut(floor: Floor) -> None:
    """E07: 09:10 to 09:25, clocks were running."""
    play(
        floor,
        """
        +0   | anna       | BLW-2 disinfect start in HPW-1 | accepted
        +20  | clock      | off 900                        |
        +930 | anna + ben | done undisturbed               | refused E07, next disinfect
        +931 | anna       | disinfect start in HPW-1       | accepted, left 60, attempt 2
        """,
    )


def test_a_bath_left_alone_in_a_power_cut_takes_two_people(floor: Floor) -> None:
    """E07: an immersion may be confirmed; without that it starts again."""
    opened_bath(floor, "opa-055")
    play(
        floor,
        """
        +0   | anna        | PRB-2 disinfect start in BTH-1 at 21 | accepted
        +60  | clock       | off 900                              |
        +970 | anna        | done undisturbed at 21               | refused E07, key two-must-confirm
        +975 | anna + erin | done undisturbed at 21               | refused A02, key competency-missing
        +980 | anna + ben  | done undisturbed at 21               | accepted, stage disinfected
        """,
    )
    body = floor.entries("item:PRB-2")[-1].body
    assert (body.kind, getattr(body, "evidence", ""), getattr(body, "proven_s", "")) == ("dwell-ended", "attested", 0)


def test_a_bath_left_too_shortly_cannot_be_confirmed(floor: Floor) -> None:
    """E07, T01: the wall clock alone is the most that two people can speak for."""
    opened_bath(floor, "opa-055")
    play(
        floor,
        """
        +0   | anna       | PRB-2 disinfect start in BTH-1 at 21 | accepted
        +60  | clock      | off 300                              |
        +400 | anna + ben | done undisturbed at 21               | refused T01, wait 320
        +410 | anna       | done at 21                           | refused E07, key unobserved
        +411 | anna       | done at 21                           | refused P01
        """,
    )


def test_a_wall_clock_behind_after_a_power_cut_proves_nothing(floor: Floor) -> None:
    opened_bath(floor, "opa-055")
    play(
        floor,
        """
        +0   | anna       | PRB-2 disinfect start in BTH-1 at 21 | accepted
        +60  | clock      | off 900                              |
        +970 | clock      | wall -3600                           |
        +980 | anna + ben | done undisturbed at 21               | refused T01, wait 720
        """,
    )


def test_a_line_answered_no_is_never_confirmed_away(floor: Floor) -> None:
    """E07, T01: two people confirm the bath, but the tube held air."""
    play(
        floor,
        """
        +0    | anna       | HYP-1 made of hypochlorite-50ppm       | accepted
        +60   | anna       | HYP-1 tested 50                        | accepted
        +100  | anna       | TUB-2 disinfect start in HYP-1 at 38   | accepted
        +160  | clock      | off 900                                |
        +1100 | anna + ben | done undisturbed no lumen-filled at 38 | refused T01, found AIR-POCKET
        """,
    )
    assert floor.item("TUB-2").stage == "cleaned"
    assert floor.item("TUB-2").dwell is None


def test_another_node_has_seen_nothing_of_the_contact(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna  | BLW-2 disinfect start in HPW-1 | accepted
        +30 | clock | node bench-2                   |
        +70 | anna  | done                           | refused E07
        """,
    )


def test_a_computer_without_a_boot_time_clock_is_judged_by_the_two_it_has(floor: Floor) -> None:
    """The wall clock ran on through the sleep, so that it looks like a step; nothing is credited for it."""
    floor.clock.boot_time_clock = False
    play(
        floor,
        """
        +0   | anna  | BLW-2 disinfect start in HPW-1 | accepted
        +10  | clock | sleep 40                       |
        +65  | anna  | done                           | refused T01, left 35
        +100 | anna  | done                           | accepted, warns D04
        """,
    )
    assert len(anomalies(floor, "BLW-2")) == 1


def test_twelve_minutes_are_twelve_minutes_in_the_night_the_clocks_go_forward(floor: Floor) -> None:
    """E11: Halifax, 8 March 2026, 01:55 local; the soak ends at 03:07 local."""
    go_to(floor, "2026-03-08T05:50:00")
    opened_bath(floor, "peroxide-peracetic", "passed")
    go_to(floor, "2026-03-08T05:55:00")
    play(
        floor,
        """
        +0   | anna @ SALTGATE | PRB-2 disinfect start in BTH-1 at 21 | accepted, left 900
        +899 | anna @ SALTGATE | done at 21                           | refused T01, left 1
        +900 | anna @ SALTGATE | done at 21                           | accepted
        """,
    )
    assert offsets(floor, "PRB-2")[-2:] == [-240, -180]


def test_the_same_in_london_three_weeks_later(floor: Floor) -> None:
    """E11: London, 29 March 2026, 00:55 local; a twelve-minute soak ends at 02:07 local."""
    go_to(floor, "2026-03-29T00:50:00")
    opened_bath(floor, "opa-055")
    go_to(floor, "2026-03-29T00:55:00")
    play(
        floor,
        """
        +0   | anna | PRB-2 disinfect start in BTH-1 at 21 | accepted, left 720
        +719 | anna | done at 21                           | refused T01, left 1
        +720 | anna | done at 21                           | accepted
        """,
    )
    assert offsets(floor, "PRB-2")[-2:] == [0, 60]


def test_twelve_minutes_are_twelve_minutes_in_the_hour_that_comes_twice(floor: Floor) -> None:
    """E12: London, 25 October 2026, 01:55 summer time; the soak ends at 01:07 local, an hour "before" it began."""
    go_to(floor, "2026-10-25T00:50:00")
    opened_bath(floor, "opa-055")
    go_to(floor, "2026-10-25T00:55:00")
    play(
        floor,
        """
        +0   | anna | PRB-2 disinfect start in BTH-1 at 21 | accepted, left 720
        +719 | anna | done at 21                           | refused T01, left 1
        +720 | anna | done at 21                           | accepted
        """,
    )
    assert offsets(floor, "PRB-2")[-2:] == [60, 0]


def test_the_hour_that_comes_twice_in_halifax(floor: Floor) -> None:
    """E12: Halifax, 1 November 2026, 01:55 daylight time; the bath tested "today" stays tested through both hours."""
    go_to(floor, "2026-11-01T04:30:00")
    opened_bath(floor, "bath-half-day")
    go_to(floor, "2026-11-01T04:55:00")
    play(
        floor,
        """
        +0   | anna @ SALTGATE | PRB-2 disinfect start in BTH-1 at 21 | accepted, left 720
        +719 | anna @ SALTGATE | done at 21                           | refused T01, left 1
        +720 | anna @ SALTGATE | done at 21                           | accepted
        """,
    )
    assert offsets(floor, "PRB-2")[-2:] == [-180, -240]


def offsets(floor: Floor, item: str) -> list[int]:
    """Returns the local offset, in minutes, that each entry of an item shows."""
    return [entry.envelope.offset_min for entry in floor.entries(f"item:{item}")]


def test_who_began_a_contact_may_end_it_although_the_competency_ran_out(floor: Floor) -> None:
    """A05, E10: at local midnight; the next step is for somebody else."""
    go_to(floor, "2026-03-05T23:59:00")
    play(
        floor,
        """
        +0   | nell | BLW-2 disinfect start in QAW-1 | accepted
        +70  | nell | rewet                          | accepted
        +140 | nell | rewet                          | accepted
        +180 | nell | done                           | accepted, stage disinfected
        +190 | nell | rinse                          | refused A02, key competency-lapsed, helps Anna Rowe
        """,
    )


def test_who_did_not_begin_a_contact_needs_the_competency_now(floor: Floor) -> None:
    """A05: the grace is for the open step of the same person."""
    go_to(floor, "2026-03-05T23:59:00")
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in HPW-1 | accepted
        +61 | nell | done                           | refused A02
        +62 | anna | done                           | accepted
        """,
    )
