"""From site to site: sent, on its way, received; what the journey voids (E15, C11, C12, P11)."""

from __future__ import annotations

import pytest

from reprocess.record import words
from reprocess.rules.custody import HOUR_US
from tests.engine.benches import play
from tests.engine.floor import OPENING_US, Floor
from tests.engine.outside import dues, hold_rules, wearers


def test_what_is_on_its_way_is_nowhere_used(floor: Floor) -> None:
    """C12: not worked on, not issued, not built in, not put on, until it is received where it goes."""
    wearers(floor, "W-1")
    play(
        floor,
        """
        +0  | anna           | KIT-7 send SAL clean in BOX-1   | accepted
        +1  | gus            | KIT-7 issue W-1 ward-7          | refused C12, key on-its-way
        +2  | gus            | KIT-7 put-on look-over          | refused C12
        +3  | anna           | KIT-7 send SAL                  | refused C12
        +4  | anna           | BLW-3 send SAL clean in BOX-2   | accepted
        +5  | ben            | KIT-7 receive                   | refused C12, key for-another-site
        """,
    )
    assert "C12" in floor.build("KIT-1", "three-port-hepa", "BLW-3 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-3").rules()
    assert [due.due_us for due in dues(floor, "KIT-7", "C12")] == [OPENING_US + 24 * HOUR_US]
    play(
        floor,
        """
        +9  | lee @ SALTGATE | KIT-7 receive                   | accepted, stage ready
        +10 | lee @ SALTGATE | KIT-7 receive                   | refused C12, key here-already
        +11 | lee @ SALTGATE | BLW-3 receive                   | accepted, stage ready
        """,
    )
    assert {floor.item(name).site for name in ("KIT-7", "TUB-7", "BLW-3")} == {"SAL"}
    assert dues(floor, "KIT-7", "C12") == []


def test_a_kit_of_two_sites_is_built_once_its_part_has_arrived(floor: Floor) -> None:
    """C12"""
    floor.bring("BLW-8", "ready")
    others = "TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-3"
    assert "C12" in floor.build("KIT-1", "three-port-hepa", f"BLW-8 {others}").rules()
    play(
        floor,
        """
        +1h | lee @ SALTGATE | BLW-8 send LMG clean in BOX-1 | accepted
        +2h | anna           | BLW-8 receive                 | accepted, stage ready
        """,
    )
    assert floor.build("KIT-1", "three-port-hepa", f"BLW-8 {others}").accepted


@pytest.mark.parametrize(
    ("until", "how", "answer"),
    [
        ("disinfected", "clean in BOX-1", "accepted E15, stage cleaned, key steps-void"),
        ("inspected", "clean in BOX-1", "accepted E15, stage cleaned, key steps-void"),
        ("cleaned", "clean in BOX-1", "accepted, stage cleaned"),
        ("disinfected", "in BOX-1", "accepted E15, stage used, key starts-again"),
        ("ready", "in BOX-1", "accepted E15, stage used, key starts-again"),
        ("ready", "clean in BOX-1", "accepted, stage ready"),
    ],
)
def test_what_the_journey_leaves_of_a_cycle(floor: Floor, until: str, how: str, answer: str) -> None:
    """E15: the cleaning only, and that only in clean closed packaging; else it starts again."""
    floor.bring("BLW-2", until)
    play(
        floor,
        f"""
        +1h | anna           | BLW-2 send SAL {how} | accepted
        +2h | lee @ SALTGATE | BLW-2 receive        | {answer}
        """,
    )
    assert floor.item("BLW-2").site == "SAL"


def test_packaging_that_was_opened_is_not_clean(floor: Floor) -> None:
    """E15: with every part of the kit."""
    play(
        floor,
        """
        +0 | anna           | KIT-7 send SAL clean in BOX-1 | accepted
        +1 | lee @ SALTGATE | KIT-7 receive opened          | accepted E15, stage used
        """,
    )
    assert (floor.item("BLW-7").stage, floor.item("BLW-7").site, floor.item("BLW-7").assembly) == ("used", "SAL", None)


def test_a_contact_does_not_go_on_in_a_van(floor: Floor) -> None:
    """E15, T04: contact and drying are void when it leaves."""
    play(
        floor,
        """
        +0   | anna           | BLW-2 disinfect start in QAW-1 | accepted
        +10  | anna           | BLW-2 send SAL clean in BOX-1  | accepted
        +200 | lee @ SALTGATE | BLW-2 receive                  | accepted, stage cleaned
        +210 | lee @ SALTGATE | BLW-2 disinfect done           | refused P01
        """,
    )
    broken = next(one.body for one in floor.entries("item:BLW-2") if isinstance(one.body, words.DwellBroken))
    assert (broken.rule, broken.cause) == ("E15", "moved")


def test_what_is_used_travels_closed(floor: Floor) -> None:
    """P11: told for a respirator's part, refused for what touches mucosa; used is never sent as clean."""
    play(
        floor,
        """
        +0 | anna | BLW-1 send SAL                | accepted, warns P11
        +1 | anna | PRB-1 send SAL                | refused P11, key container-needed
        +2 | anna | PRB-1 send SAL in BOX-1       | accepted
        +3 | anna | TUB-1 send SAL clean in BOX-1 | refused P11, key not-clean-yet
        +4 | anna | TUB-2 send SAL clean          | refused P11, key container-needed
        """,
    )


def test_where_it_may_go(floor: Floor) -> None:
    """C09, C11, C12, P08, P01: not from a whole, not out of its unit, not to nowhere, not while somebody has it."""
    wearers(floor, "W-1")
    play(
        floor,
        """
        +0 | anna        | TUB-7 send SAL           | refused C09
        +1 | anna        | TUB-1 send NIX           | refused C12, key no-such-site
        +2 | anna        | TUB-1 send LMG           | refused C12
        +3 | anna        | BLW-8 send LMG           | refused C12, key other-site
        +4 | cora        | TUB-1 keep isolation-3   | accepted
        +5 | anna        | TUB-1 send SAL in BOX-1  | refused C11
        +6 | anna + cora | TUB-1 send SAL in BOX-1  | accepted
        +7 | gus         | BLW-3 issue W-1 ward-7   | accepted
        +8 | anna        | BLW-3 send SAL in BOX-1  | refused P08
        +9 | stranger    | BLW-1 send SAL in BOX-1  | refused A01
        +10 | anna       | BLT-1 lost               | accepted
        +11 | anna       | BLT-1 send SAL in BOX-1  | refused P01
        +12 | anna       | NIX-9 send SAL           | refused P05
        """,
    )


def test_what_nobody_had_sent_arrives_under_a_hold(floor: Floor) -> None:
    """P07, E15: it starts again; and what nobody knows is kept on record."""
    play(
        floor,
        """
        +0 | lee @ SALTGATE | BLW-3 receive | held E15 P07, stage used
        +1 | lee @ SALTGATE | NIX-9 receive | accepted P05
        """,
    )
    assert (floor.item("BLW-3").site, hold_rules(floor, "BLW-3")) == ("SAL", {"P07"})
