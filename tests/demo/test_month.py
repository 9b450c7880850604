"""The month's story, line by line (invented data; what each line must show is the department's own scenario)."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from reprocess.clock import StoryClock
from reprocess.demo.month.agenda import Agenda, Work
from reprocess.demo.month.days import HALIFAX, LONDON, at, local_hour
from reprocess.demo.month.play import MonthTold, play
from reprocess.department import open_department
from reprocess.terms import SECOND_US


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> tuple[MonthTold, Path, list[str]]:
    path = tmp_path_factory.mktemp("month") / "month.db"
    said: list[str] = []
    return play(path, said.append, tick=lambda _: None), path, said


def facts(played: tuple[MonthTold, Path, list[str]], line: str) -> dict[str, Any]:
    return played[0].facts[line]


def test_day_1_nine_kits_wait_with_their_ages(played: tuple[MonthTold, Path, list[str]]) -> None:
    found = facts(played, "nine-dropped")
    assert found["waiting"] == 9
    assert found["ages"] == sorted(found["ages"], reverse=True)


def test_day_2_the_film_dries_and_both_attempts_are_seen(played: tuple[MonthTold, Path, list[str]]) -> None:
    """E31: 2:31 of 3:00, then 3:04."""
    found = facts(played, "film-dried")
    assert found["attempts"] == [("dwell-broken", 151), ("dwell-ended", 184)]
    assert found["accepted"] == (True, True)


def test_day_3_a_third_port_is_empty(played: tuple[MonthTold, Path, list[str]]) -> None:
    assert facts(played, "third-port")["rules"] == ["C05"]


@pytest.mark.parametrize(
    ("line", "began", "ended"),
    [("halifax-clocks", "01:55 -0400", "03:07 -0300"), ("london-clocks", "00:55 +0000", "02:07 +0100")],
)
def test_days_4_and_25_twelve_minutes_are_twelve_minutes(
    played: tuple[MonthTold, Path, list[str]], line: str, began: str, ended: str
) -> None:
    """E11: a second before is refused, over a change of the clocks too."""
    found = facts(played, line)
    assert (found["elapsed_s"], found["early"], found["done"]) == (720, False, True)
    assert (found["began"], found["ended"]) == (began, ended)


def test_day_5_a_lapsed_competency_names_two_who_can(played: tuple[MonthTold, Path, list[str]]) -> None:
    found = facts(played, "lapsed")
    assert (found["rules"], len(found["helpers"])) == (["A02"], 2)


def test_day_6_a_failed_bath_reaches_shelf_and_wearers(played: tuple[MonthTold, Path, list[str]]) -> None:
    """E06: 23 held, nine had been released of which five are ready still, four worn by four people."""
    found = facts(played, "failed-bath")
    assert (found["held"], found["ready"], found["wearers"], found["uses"]) == (23, 5, 4, 4)


def test_day_8_thirty_one_lines_come_in_late_and_two_contradict(played: tuple[MonthTold, Path, list[str]]) -> None:
    """E17, D07"""
    found = facts(played, "network-down")
    assert (found["form"], found["lines"], found["conflicts"]) == (True, 31, 2)


def test_day_9_a_load_fails_after_it_passed(played: tuple[MonthTold, Path, list[str]]) -> None:
    """E19: forty held, eight of them ready, three out to be brought back."""
    found = facts(played, "failed-load")
    assert (found["held"], found["ready"], found["out"]) == (40, 8, 3)


def test_day_12_a_lot_is_recalled(played: tuple[MonthTold, Path, list[str]]) -> None:
    """H03, L12: forty-one kits at three sites, six in use."""
    found = facts(played, "recalled-lot")
    assert (found["kits"], found["sites"], found["out"]) == (41, 3, 6)


def test_day_19_two_kits_are_not_located(played: tuple[MonthTold, Path, list[str]]) -> None:
    """H09"""
    found = facts(played, "recall-after-a-week")
    assert (found["located"], len(found["missing"]), found["closed"]) == (39, 2, False)


def test_day_14_an_indicator_sticks(played: tuple[MonthTold, Path, list[str]]) -> None:
    """H08: 212 passes since its last verification, and what is to be tested again."""
    found = facts(played, "sticking")
    assert found["passes"] == 212
    assert found["items"]


def test_day_20_a_blower_was_immersed(played: tuple[MonthTold, Path, list[str]]) -> None:
    """P12: a fact, and a hold."""
    found = facts(played, "immersed")
    assert (found["verdict"], found["holds"]) == ("held", ["defect"])


def test_day_24_swapped_tags_hold_both(played: tuple[MonthTold, Path, list[str]]) -> None:
    """E22"""
    assert facts(played, "swapped-tags")["holds"]["identity"] == 2


def test_day_30_an_inspector_gets_six_packs(played: tuple[MonthTold, Path, list[str]]) -> None:
    packs = facts(played, "inspector")["packs"]
    assert len(packs) == 6
    assert all(packs.values())


def test_day_33_who_wore_kit_041_and_who_after(played: tuple[MonthTold, Path, list[str]]) -> None:
    """H07: times, places and the full cycles between."""
    uses = facts(played, "who-wore")["uses"]
    assert [one["wearer"] for one in uses] == ["W-LMG-05", "W-LMG-09", "W-LMG-13"]
    assert [one["after"] for one in uses] == [False, False, True]
    assert all(one["cycles_before"] for one in uses[1:])


def test_the_month_is_sound_and_can_be_looked_into(played: tuple[MonthTold, Path, list[str]]) -> None:
    told, path, said = played
    assert told.sound
    assert said
    with open_department(path) as department:
        assert department.clock.now().wall_us >= at(35, 23, 59)
        assert department.lookback("item", "KIT-041").uses


def test_the_same_seed_gives_the_same_ledger_and_another_one_does_not(tmp_path: Path) -> None:
    """I23: every entry's digest, of the first two days."""
    digests = []
    for name, seed in (("one.db", 1), ("two.db", 1), ("three.db", 2)):
        play(tmp_path / name, lambda _: None, seed=seed, days=2, tick=lambda _: None)
        with closing(sqlite3.connect(tmp_path / name)) as raw:
            digests.append(raw.execute("SELECT digest FROM entry ORDER BY feed").fetchall())
    assert digests[0] == digests[1]
    assert digests[0] != digests[2]


def test_works_of_one_instant_go_on_in_their_order() -> None:
    clock, said = StoryClock(0), list[str]()
    agenda = Agenda(clock)

    def work(name: str, wait_s: float) -> Work:
        for count in range(3):
            said.append(f"{name}{count}@{clock.wall_us // SECOND_US}")
            yield wait_s

    agenda.at(0, work("a", 2))
    agenda.at(0, work("b", 1))
    agenda.run(3 * SECOND_US)
    assert said == ["a0@0", "b0@0", "b1@1", "a1@2", "b2@2"]
    assert clock.wall_us == 3 * SECOND_US


def test_days_are_local() -> None:
    assert local_hour(at(4, 1, 55, HALIFAX), HALIFAX) == "01:55 -0400"
    assert local_hour(at(25, 0, 55, LONDON) + 720 * SECOND_US, LONDON) == "02:07 +0100"
