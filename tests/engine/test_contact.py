"""Time in contact: a wipe that must stay wet, a soak, and what breaks them (T01-T06, T17; E31)."""

from tests.engine.benches import play
from tests.engine.floor import Floor


def test_a_contact_ends_only_when_its_time_is_over(floor: Floor) -> None:
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted, left 180, rewet 84, most 1800
        +70  | anna | rewet                          | accepted, left 110
        +140 | anna | rewet                          | accepted, left 40
        +179 | anna | done                           | refused T01, wait 1, left 1, stage cleaned
        +180 | anna | done                           | accepted, stage disinfected, next rinse
        """,
    )


def test_a_film_that_dried_before_the_time_was_over_starts_again(floor: Floor) -> None:
    """T03: 2:31 after the last wetting of a film that lasts 1:45."""
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted
        +106 | anna | rewet                          | refused T03
        +110 | anna | disinfect start in QAW-1       | accepted, attempt 2, left 180
        +215 | anna | rewet                          | accepted
        +290 | anna | done                           | accepted, stage disinfected
        """,
    )


def test_a_film_may_dry_once_the_time_is_covered(floor: Floor) -> None:
    """T03, T17: wet to the third minute is enough; the end is confirmed by a scan, however late."""
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted
        +75  | anna | rewet                          | accepted
        +500 | anna | done                           | accepted, stage disinfected
        """,
    )


def test_a_film_one_second_short_of_the_time_is_too_short(floor: Floor) -> None:
    """T03: wetted at 74 s it lasts to 179 s."""
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted
        +74  | anna | rewet                          | accepted
        +180 | anna | done                           | refused T03, key dried-out
        """,
    )


def test_a_short_contact_needs_no_wetting_at_all(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in HPW-1 | accepted, left 60, rewet 84
        +59 | anna | done                           | refused T01, left 1
        +60 | anna | done                           | accepted
        """,
    )


def test_the_site_floor_is_never_undercut(floor: Floor) -> None:
    """T01: the largest of label, item and site floor governs."""
    play(
        floor,
        """
        +0   | anna @ FENHOLLOW | BLW-2 disinfect start in HPW-1 | accepted, left 240
        +90  | anna @ FENHOLLOW | rewet                          | accepted
        +180 | anna @ FENHOLLOW | rewet                          | accepted
        +239 | anna @ FENHOLLOW | done                           | refused T01, left 1
        +240 | anna @ FENHOLLOW | done                           | accepted
        """,
    )


def test_equality_is_not_yet_over_exposure(floor: Floor) -> None:
    play(
        floor,
        """
        +0    | anna | BLW-2 disinfect start in QAW-1 | accepted
        +75   | anna | rewet                          | accepted
        +1800 | anna | done                           | accepted, stage disinfected
        """,
    )


def test_twice_the_longest_time_is_a_defect(floor: Floor) -> None:
    """T06: more than an hour of a contact of at most half an hour."""
    play(
        floor,
        """
        +0    | anna | BLW-2 disinfect start in QAW-1 | accepted
        +75   | anna | rewet                          | accepted
        +3601 | anna | done                           | held T06
        """,
    )
    assert [hold.sort for hold in floor.item("BLW-2").holds.values()] == ["defect"]


def test_starting_another_clock_breaks_a_running_contact_too(floor: Floor) -> None:
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in QAW-1 | accepted
        +60 | ben  | dry start                      | refused T04 P01
        +61 | anna | done                           | refused P01
        """,
    )


def test_who_admits_that_a_film_had_dried_starts_again(floor: Floor) -> None:
    """E31: the clock would have said done."""
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted
        +90  | anna | rewet                          | accepted
        +185 | anna | break dried                    | accepted T04
        +186 | anna | done                           | refused P01
        +190 | anna | disinfect start in QAW-1       | accepted, left 180
        """,
    )


def test_who_admits_it_after_the_end_takes_the_contact_back(floor: Floor) -> None:
    """E31: a fact is never refused, and what rests on the contact falls with it, ready or not."""
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted
        +90  | anna | rewet                          | accepted
        +180 | anna | done                           | accepted, stage disinfected
        +200 | ben  | rinse                          | accepted
        +300 | anna | break dried                    | accepted T04, stage cleaned, next disinfect
        +301 | anna | break dried                    | refused T04
        +302 | anna | break removed                  | refused T04, key no-clock
        +310 | anna | KIT-7 undo                     | refused E14
        +320 | anna | BLW-7 break dried              | accepted T04, stage cleaned
        """,
    )
    assert floor.item("KIT-7").stage == "used"


def test_wetting_needs_a_film_that_is_wet(floor: Floor) -> None:
    """T03: no clock runs; a drying item that is wetted does not get drier."""
    play(
        floor,
        """
        +0   | anna         | BLW-2 rewet              | refused T03, key no-clock
        +1   | anna         | disinfect start in QAW-1 | accepted
        +10  | -            | rewet                    | refused A01
        +20  | erin         | rewet                    | refused A02
        +30  | anna @ SHELF | rewet                    | refused P09
        +90  | anna         | rewet                    | accepted
        +181 | anna         | done                     | accepted
        +190 | ben          | rinse                    | accepted
        +200 | ben          | dry start                | accepted
        +300 | ben          | rewet                    | refused T03, key no-film
        """,
    )


def test_a_third_restart_is_told_to_a_supervisor(floor: Floor) -> None:
    """T05: more than two restarts in one cycle."""
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in QAW-1 | accepted
        +10 | anna | break dried                    | accepted T04
        +20 | anna | disinfect start in QAW-1       | accepted
        +30 | anna | break dried                    | accepted T04
        +40 | anna | disinfect start in QAW-1       | accepted
        +50 | anna | break dried                    | accepted T04
        +60 | anna | disinfect start in QAW-1       | accepted, warns T05, attempt 4
        """,
    )


def test_a_contact_starts_only_on_what_is_clean(floor: Floor) -> None:
    """T02"""
    play(
        floor,
        """
        +0 | anna | BLW-1 disinfect start in QAW-1 | refused T02, next take-apart
        """,
    )


def test_a_contact_needs_a_solution(floor: Floor) -> None:
    """L02: nothing named, or something that nobody made up."""
    play(
        floor,
        """
        +0 | anna | BLW-2 disinfect start     | refused L02
        +1 | anna | disinfect start in HYP-77 | refused L02
        """,
    )


def test_a_dwell_that_does_not_run_cannot_end(floor: Floor) -> None:
    """P01: none at all, or another one than named."""
    play(
        floor,
        """
        +0 | anna | BLW-2 done               | refused P01
        +1 | anna | disinfect start in QAW-1 | accepted
        +2 | anna | dry done                 | refused P01
        """,
    )


def test_a_charging_clock_runs_beside_other_steps(floor: Floor) -> None:
    """P01: but not beside another clock."""
    play(floor, "+0 | ben | BAT-3 used | accepted")
    floor.bring("BAT-3", "charge")
    play(
        floor,
        """
        +0   | ben | BAT-3 charge start  | accepted
        +10  | ben | charge start        | refused P01, left 50
        +50  | ben | inspect             | accepted
        +55  | ben | done soc_percent=95 | refused T01, left 5
        +56  | dan | release             | refused T17 G01
        +60  | ben | done soc_percent=95 | accepted
        +120 | dan | release             | accepted, stage ready
        """,
    )


def test_a_second_clock_waits_for_the_one_that_runs_beside_the_steps(floor: Floor) -> None:
    play(floor, "+0 | ben | BAT-3 used | accepted")
    floor.bring("BAT-3", "charge")
    play(
        floor,
        """
        +0  | ben | BAT-3 charge start       | accepted
        +10 | ben | disinfect start in QAW-1 | refused P01, left 50
        """,
    )
