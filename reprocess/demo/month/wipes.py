"""What is used up in the month: containers of wipes, baths, and lots of filters."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from reprocess.demo.month.days import at
from reprocess.demo.month.hands import Hands
from reprocess.demo.month.network import STAFF
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Commission
from reprocess.rules.answer import Answer


def open_wipes(hands: Hands, site: str, *numbers: int) -> None:
    """Opens two containers of wipes at a site; they last thirty days (the label record of the shipped files)."""
    who, where = STAFF[site].dirty[0], f"{site}-D1"
    for number, agent in zip(numbers, ("quat-alcohol-wipe", "hydrogen-peroxide-wipe"), strict=True):
        made = asking.MakeSolution(f"{site}-W{number}", agent, f"W-11{number}", at(200, 0))
        hands.good(hands.scan(who, made, station=where))
    hands.wipes[site] = (f"{site}-W{numbers[0]}", f"{site}-W{numbers[1]}")


def replacement_filters(hands: Hands, site: str, numbers: Iterable[int], lot_of: Callable[[str, int], str]) -> None:
    """Makes the filters of kits known, two for each, with their lot."""
    for number in numbers:
        for side in (1, 2):
            new = Commission(
                f"FLT-{number:03d}-{side}", "hepa-cartridge", "LF-H",
                opened_us=hands.agenda.clock.wall_us, lot=lot_of(site, number),
            )  # fmt: skip
            bench = hands.department.station(f"{site}-C1", badge="B-BO")
            hands.good(bench.enrol(new))


def new_filters(hands: Hands, site: str, number: int) -> tuple[str, str]:
    """Makes two new filters of another lot known for a kit, and returns them."""
    names = (f"FLT-{number:03d}-3", f"FLT-{number:03d}-4")
    for name in names:
        new = Commission(name, "hepa-cartridge", "LF-H", opened_us=hands.agenda.clock.wall_us, lot="7H")
        hands.good(hands.department.station(f"{site}-C1", badge="B-BO").enrol(new))
    return names


def strip(solution: str, reading: str) -> asking.TestSolution:
    """Returns a strip test of a bath."""
    return asking.TestSolution(solution, "S-31", at(100, 0), reading=reading, read_after_s=80)


def bath(hands: Hands, site: str, name: str) -> Answer:
    """Returns the answer to making up a bath of 50 ppm, 1 in 1000 of a 5.25 % stock."""
    made = asking.MakeSolution(
        name, "hypochlorite-50ppm", "C-7", at(100, 0), stock_percent="5.25", one_in="1000", water_l="10", temp_c="38",
    )  # fmt: skip
    return hands.scan(STAFF[site].dirty[0], made, station=f"{site}-D1")
