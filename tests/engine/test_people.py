"""Who may do what: badges are identifiers, persons are compared (A01, A02, S01, S02, S08; E09)."""

from reprocess.engine.enrolling import Enrol
from reprocess.record import words
from tests.engine.benches import play
from tests.engine.floor import BADGES, LATER_US, Floor


def test_a_badge_that_means_nobody_here_advances_nothing(floor: Floor) -> None:
    """A01: unknown, none at all, at another site, or of somebody who left."""
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    assert office.enrol(Enrol("person:ERIN", words.PersonLeft(reason="moved away"))).accepted
    play(
        floor,
        """
        +0 | stranger       | BLW-1 take-apart | refused A01, helps Cora Lind
        +1 | -              | take-apart       | refused A01
        +2 | lee            | take-apart       | refused A01, key not-at-this-site
        +3 | erin           | take-apart       | refused A01
        +4 | lee @ SALTGATE | take-apart       | accepted
        """,
    )


def test_a_withdrawn_badge_means_nobody(floor: Floor) -> None:
    """A01"""
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    assert office.enrol(Enrol("person:ANNA", words.BadgeWithdrawn(badge="B-ANNA-SPARE", reason="lost"))).accepted
    play(
        floor,
        """
        +0 | anna's-spare | BLW-1 take-apart | refused A01
        +1 | anna         | take-apart       | accepted
        """,
    )


def test_a_person_without_the_competency_is_told_who_has_it(floor: Floor) -> None:
    """A02, E09: the item is unharmed, the attempt is kept at the station."""
    before = floor.item("BLW-1").number
    play(
        floor,
        """
        +0 | erin    | BLW-1 take-apart | refused A02, key competency-missing, helps Anna Rowe
        +1 | quillon | take-apart       | refused A02, key competency-lapsed, helps Ben Okoro
        """,
    )
    assert floor.item("BLW-1").number == before
    refused = [entry.body for entry in floor.entries("station:BENCH")][-2:]
    assert [(getattr(one, "subject", ""), getattr(one, "rules", ())) for one in refused] == [
        ("item:BLW-1", ("A02",)),
        ("item:BLW-1", ("A02",)),
    ]
    assert getattr(refused[0], "verdict", "") == "refused"


def test_a_competency_for_one_kind_of_item_is_none_for_another(floor: Floor) -> None:
    """A02"""
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    granted = words.CompetencyGranted(
        competency="take-apart", item_kinds=("belt",), from_us=0, until_us=LATER_US, assessor="Cora Lind"
    )
    assert office.enrol(Enrol("person:ERIN", granted)).accepted
    play(
        floor,
        """
        +0 | erin | BLW-1 take-apart | refused A02, key competency-missing
        +1 | erin | BLT-7 used       | accepted
        +2 | erin | BLT-7 take-apart | accepted
        """,
    )


def test_a_withdrawn_competency_is_gone_at_once(floor: Floor) -> None:
    """A02"""
    office = floor.department.station("BENCH", badge=BADGES["cora"])
    gone = words.CompetencyWithdrawn(competency="take-apart", reason="certificate was not hers")
    assert office.enrol(Enrol("person:ANNA", gone)).accepted
    play(floor, "+0 | anna | BLW-1 take-apart | refused A02, key competency-lapsed")


def test_who_cleaned_does_not_inspect_whatever_badge_is_shown(floor: Floor) -> None:
    """S01: of anna's two badges none helps."""
    floor.bring("BLW-2", "inspect")
    play(
        floor,
        """
        +0  | anna         | BLW-2 inspect | refused S01, key own-work, helps Ben Okoro
        +1  | anna's-spare | inspect       | refused S01
        +2  | anna + ben   | inspect       | refused S01
        +45 | ben          | inspect       | accepted, stage inspected
        """,
    )


def test_who_wetted_the_film_once_does_not_inspect(floor: Floor) -> None:
    """S01: a hand in a step is a hand in it, also where the step fell since."""
    play(
        floor,
        """
        +0  | anna | BLW-2 disinfect start in HPW-1 | accepted
        +30 | dan  | rewet                          | accepted
        +60 | anna | done                           | accepted
        """,
    )
    floor.bring("BLW-2", "inspect")
    play(
        floor,
        """
        +0  | dan | BLW-2 inspect | refused S01
        +45 | ben | inspect       | accepted
        """,
    )


def test_a_small_site_may_let_the_cleaner_inspect(floor: Floor) -> None:
    """S01: the switch of the site; an item of another site keeps to its own site's rule as well."""
    floor.bring("BLW-2", "inspect")
    play(
        floor,
        """
        +0 | anna @ BENCH     | BLW-2 inspect | refused S01
        +1 | anna @ FENHOLLOW | inspect       | refused S01
        """,
    )


def test_who_did_everything_alone_does_not_release(floor: Floor) -> None:
    """S02: a second person must have had a hand in the cycle, or must release."""
    play(
        floor,
        """
        +0  | anna @ FENHOLLOW         | ONE-1 inspect | accepted
        +60 | anna @ FENHOLLOW         | release       | refused S02, helps Ben Okoro
        +61 | anna's-spare @ FENHOLLOW | release       | refused S02
        +62 | anna + dan @ FENHOLLOW   | release       | refused S02
        +63 | dan @ FENHOLLOW          | release       | accepted
        """,
    )


def test_two_badges_of_one_person_are_not_two_people(floor: Floor) -> None:
    """S08"""
    play(
        floor,
        """
        +0 | anna | OPA-1 made of opa-055 | accepted
        +1 | anna | OPA-1 tested 0.3      | accepted
        """,
    )
    floor.bring("PRB-2", "inspect", in_="OPA-1")
    play(
        floor,
        """
        +0 | anna                | PRB-2 inspect | refused S08, key second-needed
        +1 | anna + anna's-spare | inspect       | refused S08, key same-person
        +2 | anna + stranger     | inspect       | refused A01
        +3 | anna + lee          | inspect       | refused A01
        +4 | anna + ben          | inspect       | accepted
        """,
    )
    assert floor.item("PRB-2").hands["BEN"][-1] == "inspect"
