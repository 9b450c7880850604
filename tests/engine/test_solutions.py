"""What may be used as a disinfectant, and until when (L01-L06, L08, L09, M05, P14, P15; E05, E33)."""

from dataclasses import replace

import pytest

from reprocess.engine import request as asking
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import Floor


def test_a_lot_out_of_date_makes_no_bath(floor: Floor) -> None:
    """L01: at its expiry it is over."""
    play(
        floor,
        """
        +0  | anna | OPA-1 made of opa-055 lot_s=0        | refused L01
        +1  | anna | OPA-1 made of opa-055 lot_s=1        | accepted
        +1  | anna | OPA-1 tested 0.3                     | accepted
        +1  | anna | PRB-2 disinfect start in OPA-1 at 21 | accepted
        +10 | anna | break removed                        | accepted T04
        +11 | anna | disinfect start in OPA-1 at 21       | refused L01 L05 L03
        """,
    )


def test_a_bath_made_of_an_unknown_agent_is_none(floor: Floor) -> None:
    """L02"""
    play(
        floor,
        """
        +0 | anna | PRB-2 disinfect start in BTH-9 at 21 | refused L02
        +1 | anna | BTH-9 tested 0.3                     | accepted L02
        +2 | anna | BTH-9 topped-up                      | accepted L02
        +3 | anna | BTH-9 ended dumped                   | accepted L02
        """,
    )
    kept = [entry.body for entry in floor.entries("site:LMG")][-3:]
    assert [getattr(one, "subject", "") for one in kept] == ["solution:BTH-9"] * 3


def test_one_in_n_is_not_one_plus_n(floor: Floor) -> None:
    """L02: 0.5 % stock, one part in a hundred is 50 ppm; one part to a hundred is less and too weak."""
    play(
        floor,
        """
        +0 | anna | HYP-1 made of hypochlorite-50ppm percent=0.5 water=100 stock=1 | refused L02, key too-weak
        +1 | anna | HYP-1 made of hypochlorite-50ppm percent=0.5 one_in=100        | accepted
        +2 | anna | HYP-1 made of hypochlorite-50ppm                               | refused L02, key still-in-use
        +3 | anna | HYP-2 made of hypochlorite-50ppm percent=0.5 water=99          | accepted
        +4 | anna | HYP-3 made of hypochlorite-50ppm percent=5,5 one_in=100        | refused M08
        +5 | anna | HYP-3 made of hypochlorite-50ppm percent=0.5 one_in=-100       | refused M08
        +6 | anna | HYP-3 made of hypochlorite-50ppm percent=0.5 one_in=0.5        | refused M08
        +7 | anna | HYP-3 made of hypochlorite-50ppm one_in=100                    | accepted
        +8 | anna | OPA-1 made of opa-055 percent=0.55 one_in=2                    | refused L02
        +9 | anna | PER-1 made of peroxide-peracetic percent=5 one_in=2            | accepted
        """,
    )
    body = floor.entries("solution:HYP-1")[0].body
    assert body.model_dump(exclude_none=True)["reading_of_ratio"] == "1 in n"
    assert getattr(body, "strength_ppm", "") == "50.0"
    assert (getattr(body, "stock_parts", ""), getattr(body, "water_parts", "")) == ("1", "99")


def test_a_bath_lasts_no_longer_than_the_shortest_of_its_lives(floor: Floor) -> None:
    """L02, L05: label days, the site's hours, the lot."""
    play(
        floor,
        """
        +0 | anna | HYP-1 made of hypochlorite-50ppm         | accepted
        +0 | anna | HYP-2 made of hypochlorite-50ppm hours=4 | accepted
        +0 | anna | OPA-1 made of opa-055                    | accepted
        +0 | anna | IOD-1 made of iodine-50ppm               | accepted
        """,
    )
    began_us = floor.clock.now().wall_us
    ends = {
        name: floor.department.solution(name).expires_us - began_us for name in ("HYP-1", "HYP-2", "OPA-1", "IOD-1")
    }
    day_us = 86_400_000_000
    assert ends == {"HYP-1": day_us, "HYP-2": day_us // 6, "OPA-1": 14 * day_us, "IOD-1": day_us}


def test_an_agent_without_a_life_of_its_own_lasts_a_day_as_a_bath(floor: Floor) -> None:
    """L02: made fresh daily; a canister lasts as long as its lot."""
    play(
        floor,
        """
        +0 | anna | PLN-1 made of bath-plain lot_s=172800 | accepted
        +0 | anna | PLN-2 made of wipe-plain lot_s=172800 | accepted
        """,
    )
    now_us, day_us = floor.clock.now().wall_us, 86_400_000_000
    assert floor.department.solution("PLN-1").expires_us == now_us + day_us
    assert floor.department.solution("PLN-2").expires_us == now_us + 2 * day_us


def test_a_bath_is_tested_before_each_use_where_its_label_says_so(floor: Floor) -> None:
    """L03"""
    play(
        floor,
        """
        +0 | anna | OPA-1 made of opa-055                | accepted
        +1 | anna | PRB-2 disinfect start in OPA-1 at 21 | refused L03, key never-tested
        +2 | anna | OPA-1 tested 0.3                     | accepted
        +3 | anna | PRB-2 disinfect start in OPA-1 at 21 | accepted
        +4 | anna | break removed                        | accepted T04
        +5 | anna | disinfect start in OPA-1 at 21       | refused L03, key test-before-use
        +6 | anna | OPA-1 tested 0.3                     | accepted
        +7 | anna | PRB-2 disinfect start in OPA-1 at 21 | accepted
        """,
    )


def test_a_bath_is_tested_each_local_day_where_its_label_says_so(floor: Floor) -> None:
    """L03: 7 in the morning; the next local day begins after 17 h, in Halifax four hours later."""
    play(
        floor,
        """
        +0   | anna            | BTH-1 made of bath-half-day          | accepted
        +0   | anna            | BTH-1 tested 0.3                     | accepted
        +16h | anna            | PRB-2 disinfect start in BTH-1 at 21 | accepted
        +16h | anna            | break removed                        | accepted T04
        +17h | anna            | disinfect start in BTH-1 at 21       | refused L03, key test-today
        +17h | anna @ SALTGATE | disinfect start in BTH-1 at 21       | accepted
        """,
    )


def test_a_pass_before_each_use_is_of_today_too(floor: Floor) -> None:
    """L03: at least each day of use; nothing touched the bath since yesterday's test."""
    play(
        floor,
        """
        +0   | anna | OPA-1 made of opa-055                | accepted
        +0   | anna | OPA-1 tested 0.3                     | accepted
        +17h | anna | PRB-2 disinfect start in OPA-1 at 21 | refused L03, key test-today
        +17h | anna | OPA-1 tested 0.3                     | accepted
        +17h | anna | PRB-2 disinfect start in OPA-1 at 21 | accepted
        """,
    )


def test_a_bath_that_needs_no_test_needs_none(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | anna | PER-1 made of peroxide-peracetic     | accepted
        +1 | anna | PRB-2 disinfect start in PER-1 at 21 | accepted, left 900
        """,
    )


def test_a_single_use_bath_is_used_once(floor: Floor) -> None:
    """L05"""
    play(
        floor,
        """
        +0 | anna | IOD-1 made of iodine-50ppm           | accepted
        +1 | anna | TUB-2 disinfect start in IOD-1 at 38 | accepted
        +2 | anna | break removed                        | accepted T04
        +3 | anna | disinfect start in IOD-1 at 38       | refused L05, key single-use
        """,
    )


@pytest.mark.parametrize("text", ["NaN", "sNaN", "1e2", "-1", "warm", "1_0", "٢١"])
def test_what_is_no_number_is_not_kept_as_one(floor: Floor, text: str) -> None:
    """M08, I4: the volume and the temperature of a bath are readings, although no limit is set for them."""
    until_us = floor.clock.now().wall_us + DAY_S * SECOND_US
    made = asking.MakeSolution("OPA-1", "opa-055", "LOT-9", until_us, water_l="8.5", temp_c="21")
    for given in (replace(made, water_l=text), replace(made, temp_c=text)):
        told = floor.ask(given)
        assert [(one.rule, one.key) for one in told.reasons] == [("M08", "not-a-number")], given
    assert floor.ask(made).accepted
    told = floor.ask(asking.TopUpSolution("OPA-1", "LOT-9", until_us, text))
    assert [(one.rule, one.key) for one in told.reasons] == [("M08", "not-a-number")]


def test_topping_up_does_not_make_a_bath_last_longer(floor: Floor) -> None:
    """L04: and a lot that expires earlier ends it earlier (L01)."""
    play(
        floor,
        """
        +0  | anna | OPA-1 made of opa-055                | accepted
        +1  | anna | OPA-1 topped-up                      | accepted, warns L04
        +2  | anna | OPA-1 tested 0.3                     | accepted
        +3  | anna | OPA-1 topped-up lot_s=60             | accepted, warns L04
        +70 | anna | PRB-2 disinfect start in OPA-1 at 21 | refused L01
        +71 | anna | OPA-1 ended dumped                   | accepted
        +72 | anna | OPA-1 topped-up                      | refused L06
        """,
    )
    bath = floor.department.solution("OPA-1")
    assert bath.lots == ("LOT-9", "LOT-8", "LOT-8")
    assert bath.expires_us == bath.made_us + 14 * 86_400_000_000


def test_a_soak_may_finish_in_a_bath_that_expires_meanwhile(floor: Floor) -> None:
    """E05, L05: the label lets it, and the bath passed a test today; nothing new goes into it."""
    play(
        floor,
        """
        +0    | anna | OPA-1 made of opa-055 hours=1        | accepted
        +1    | anna | OPA-1 tested 0.3                     | accepted
        +3300 | anna | PRB-2 disinfect start in OPA-1 at 21 | accepted
        +4020 | anna | done at 21                           | accepted, warns L05, stage disinfected
        +4030 | ben  | rinse                                | accepted
        +4040 | anna | PRB-1 leak-test                      | accepted
        +4110 | anna | clean                                | accepted
        +4120 | anna | disinfect start in OPA-1 at 21       | refused L05 L03
        """,
    )


def test_a_soak_is_void_where_the_label_says_so(floor: Floor) -> None:
    """L05: expiry during the soak, policy `void`; the clock does not bring it back."""
    play(
        floor,
        """
        +0    | anna | BTH-1 made of bath-half-day hours=1  | accepted
        +1    | anna | BTH-1 tested 0.3                     | accepted
        +3300 | anna | PRB-2 disinfect start in BTH-1 at 21 | accepted
        +4020 | anna | done at 21                           | refused L05, key void-mid-soak, stage cleaned
        +4021 | anna | undo                                 | refused E14
        +4022 | anna | done at 21                           | refused P01
        """,
    )


def test_a_soak_may_not_finish_on_a_test_of_the_day_before(floor: Floor) -> None:
    """L05: the pass must be less than a day old."""
    play(
        floor,
        """
        +17h    | anna | GLU-1 made of glutaraldehyde-2 hours=25 | accepted
        +17h    | anna | GLU-1 tested 1.5                        | accepted
        +147000 | anna | PRB-2 disinfect start in GLU-1 at 21    | accepted, left 5400
        +152400 | anna | done at 21                              | refused L05
        """,
    )


def test_a_wipe_is_void_when_its_canister_runs_out_of_date_meanwhile(floor: Floor) -> None:
    """L05, L09"""
    play(
        floor,
        """
        +0    | anna | QAW-2 made of quat-alcohol-wipe hours=1 | accepted
        +3500 | anna | BLW-2 disinfect start in QAW-2          | accepted
        +3590 | anna | rewet                                   | accepted
        +3680 | anna | done                                    | refused L05
        +3690 | anna | disinfect start in QAW-2                | refused L09
        """,
    )


def test_what_is_in_a_bath_when_it_is_dumped_starts_again(floor: Floor) -> None:
    """L06: spilled or dumped in the middle of a soak."""
    play(
        floor,
        """
        +0   | anna | HYP-1 made of hypochlorite-50ppm     | accepted
        +1   | anna | HYP-1 tested 50                      | accepted
        +10  | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +60  | dan  | HYP-1 ended spilled                  | accepted L06
        +61  | dan  | TUB-2 undo                           | refused E14
        +62  | anna | TUB-2 undo                           | refused E14
        +130 | anna | TUB-2 done at 38                     | refused P01
        +140 | anna | TUB-2 disinfect start in HYP-1 at 38 | refused L06
        +150 | anna | HYP-1 ended dumped                   | refused L06
        +160 | anna | HYP-1 made of hypochlorite-50ppm     | accepted
        """,
    )
    assert floor.kinds("TUB-2")[-1] == "dwell-broken"


def test_a_contact_that_is_taken_up_again_does_not_outlive_its_bath(floor: Floor) -> None:
    """L06, E14: the break was a mis-scan, but the bath was dumped meanwhile, or even made anew."""
    play(
        floor,
        """
        +0   | anna | HYP-1 made of hypochlorite-50ppm     | accepted
        +1   | anna | HYP-1 tested 50                      | accepted
        +10  | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +40  | ben  | rinse-again start                    | refused T04 P01
        +50  | dan  | HYP-1 ended dumped                   | accepted
        +60  | ben  | TUB-2 undo                           | accepted
        +130 | anna | TUB-2 done at 38                     | refused L06, stage cleaned
        +131 | anna | TUB-2 done at 38                     | refused P01
        +140 | anna | HYP-1 made of hypochlorite-50ppm     | accepted
        +141 | anna | HYP-1 tested 50                      | accepted
        +150 | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +180 | ben  | rinse-again start                    | refused T04 P01
        +190 | dan  | HYP-1 ended dumped                   | accepted
        +195 | dan  | HYP-1 made of hypochlorite-50ppm     | accepted
        +200 | ben  | TUB-2 undo                           | accepted
        +280 | anna | TUB-2 done at 38                     | refused L06
        """,
    )


def test_a_wall_clock_set_back_does_not_end_a_bath(floor: Floor) -> None:
    """L06: made before or after is a matter of the record's order, not of the clock."""
    play(
        floor,
        """
        +0   | anna  | HYP-1 made of hypochlorite-50ppm     | accepted
        +1   | anna  | HYP-1 tested 50                      | accepted
        +2   | clock | wall -7000                           |
        +10  | anna  | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +130 | anna  | done at 38                           | accepted, stage disinfected
        """,
    )


def test_a_dumped_bath_breaks_no_other_clock(floor: Floor) -> None:
    """L06: the item left the bath long ago, by a report that closed its contact."""
    play(
        floor,
        """
        +0  | anna | HYP-1 made of hypochlorite-50ppm     | accepted
        +1  | anna | HYP-1 tested 50                      | accepted
        +10 | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        +20 | anna | method heat                          | held P12
        +30 | anna | TUB-2 take-apart                     | accepted, warns H04
        +95 | anna | clean                                | accepted, warns H04
        +96 | anna | rinse start                          | accepted, warns H04
        +97 | dan  | HYP-1 ended dumped                   | accepted
        """,
    )
    assert floor.item("TUB-2").dwell is not None


def test_an_empty_bath_ends_without_a_word_about_items(floor: Floor) -> None:
    play(
        floor,
        """
        +0 | anna | HYP-1 made of hypochlorite-50ppm | accepted
        +1 | anna | HYP-1 ended empty                | accepted
        """,
    )


def test_a_strip_is_read_in_its_time_and_its_bottle_is_in_date(floor: Floor) -> None:
    """M05, L08: a test that does not count neither passes nor fails the bath."""
    play(
        floor,
        """
        +0 | anna | HYP-1 made of hypochlorite-50ppm     | accepted
        +1 | anna | HYP-1 tested 50 expired-strips       | accepted L08
        +2 | anna | HYP-1 tested 50 after=74             | accepted L08
        +3 | anna | HYP-1 tested 50 after=91             | accepted L08
        +4 | anna | HYP-1 tested 50 after=?              | accepted L08
        +5 | anna | TUB-2 disinfect start in HYP-1 at 38 | refused L03
        +6 | anna | HYP-1 tested 50 after=75             | accepted
        +7 | anna | HYP-1 tested 50 after=90             | accepted
        +8 | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        """,
    )


def test_a_test_that_does_not_count_but_showed_too_little_is_made_again(floor: Floor) -> None:
    """L08: in doubt the bath is not used, although it passed before."""
    play(
        floor,
        """
        +0 | anna | HYP-1 made of hypochlorite-50ppm     | accepted
        +1 | anna | HYP-1 tested 50                      | accepted
        +2 | anna | HYP-1 tested 20 expired-strips       | accepted L08
        +3 | anna | TUB-2 disinfect start in HYP-1 at 38 | refused L08
        +4 | anna | HYP-1 tested 50                      | accepted
        +5 | anna | TUB-2 disinfect start in HYP-1 at 38 | accepted
        """,
    )


def test_a_test_needs_a_result_that_can_be_read(floor: Floor) -> None:
    """M05, M08"""
    play(
        floor,
        """
        +0 | anna | HYP-1 made of hypochlorite-50ppm | accepted
        +1 | anna | HYP-1 tested                     | refused M05, key result-missing
        +2 | anna | HYP-1 tested 5o                  | refused M08
        +3 | anna | HYP-1 tested failed reading=50   | refused M08, key strip-contradicts
        +4 | anna | HYP-1 tested passed              | accepted
        +5 | anna | HYP-1 tested passed reading=50   | accepted
        +6 | anna | PER-1 made of peroxide-peracetic | accepted
        +7 | anna | PER-1 tested 3                   | refused M05
        +8 | anna | PER-1 tested passed              | accepted
        """,
    )


def test_only_an_agent_of_the_part_s_own_list_touches_it(floor: Floor) -> None:
    """P14"""
    play(
        floor,
        """
        +0 | anna | CHL-1 made of hypochlorite-wipe-1000ppm | accepted
        +1 | anna | BLW-2 disinfect start in CHL-1          | refused P14
        +2 | anna | BLT-1 disinfect start in CHL-1          | accepted, left 180
        """,
    )


def test_an_agent_without_the_claim_does_not_do(floor: Floor) -> None:
    """P14: glutaraldehyde has no claim for what this tube needs, so it is refused as agent and by its label."""
    play(
        floor,
        """
        +0 | anna | GLU-1 made of glutaraldehyde-2       | accepted
        +1 | anna | GLU-1 tested 1.5                     | accepted
        +2 | anna | TUB-2 disinfect start in GLU-1 at 22 | refused P14
        """,
    )
    assert {one.key for one in floor.answers[-1].reasons} == {"not-on-label", "agent-not-allowed"}


def test_chlorine_never_meets_what_was_not_rinsed_off(floor: Floor) -> None:
    """P15: quat and alcohol, broken off, then chlorine: toxic gas. The same agent goes on."""
    play(
        floor,
        """
        +0   | anna | CHL-1 made of hypochlorite-wipe-1000ppm | accepted
        +1   | anna | BLT-1 disinfect start in QAW-1          | accepted
        +2   | anna | break removed                           | accepted T04
        +3   | anna | disinfect start in CHL-1                | refused P15
        +4   | anna | disinfect start in HPW-1                | accepted
        +64  | anna | done                                    | accepted
        +70  | ben  | rinse                                   | accepted
        +80  | ben  | fail rinse RESIDUE                      | accepted H01
        +90  | anna | fail disinfect RESIDUE                  | held H01
        +100 | anna | disinfect start in CHL-1                | refused P15
        +110 | anna | dropped                                 | accepted
        """,
    )
    floor.bring("BLT-1", "disinfect")
    play(floor, "+0 | anna | BLT-1 disinfect start in CHL-1 | accepted, warns H04")


def test_chlorine_may_follow_a_rinse(floor: Floor) -> None:
    """P15: what was rinsed off since does not count."""
    play(
        floor,
        """
        +0   | anna | CHL-1 made of hypochlorite-wipe-1000ppm | accepted
        +1   | anna | BLT-1 disinfect start in QAW-1          | accepted
        +90  | anna | rewet                                   | accepted
        +181 | anna | done                                    | accepted
        +190 | ben  | rinse                                   | accepted
        """,
    )
    standing = floor.item("BLT-1")
    assert list(standing.chemicals) == ["quat-alcohol-wipe"]
    assert standing.chemicals["quat-alcohol-wipe"] < standing.satisfied["rinse"].number


def test_one_bath_at_two_stations_is_one_bath(floor: Floor) -> None:
    """E33"""
    play(
        floor,
        """
        +0 | anna @ SINK  | OPA-1 made of opa-055                | accepted
        +1 | anna @ SINK  | OPA-1 tested 0.3                     | accepted
        +2 | anna @ SINK  | PRB-2 disinfect start in OPA-1 at 21 | accepted
        +3 | anna         | PRB-1 leak-test                      | accepted
        +4 | anna         | PRB-1 clean                          | accepted
        +5 | anna @ BENCH | PRB-1 disinfect start in OPA-1 at 21 | refused L03
        """,
    )
