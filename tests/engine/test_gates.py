"""The release gates that a workflow file carries: G04 to G06, G08 and G09."""

from reprocess.engine import request as asking
from tests.engine.benches import play
from tests.engine.floor import Floor

PARTS = "BLW-3 TUB-3 HED-3 FLT-3 FLT-4 BAT-3 BLT-3"


def missing(floor: Floor) -> list[str]:
    """Returns the steps that the latest refusal said are missing."""
    told = [one.facts["missing"] for one in floor.answers[-1].reasons if one.key == "steps-missing"]
    return [step for steps in told if isinstance(steps, list) for step in steps]


def test_what_is_wet_is_not_ready(floor: Floor) -> None:
    """G04: a tube found wet inside goes back to drying, and drying is among what is missing."""
    floor.ask(asking.Contaminate("TUB-5", "used"))
    floor.bring("TUB-5", "dry")
    play(floor, "+0 | dan | TUB-5 release | refused G01")
    assert "dry" in missing(floor)


def test_function_is_tested_after_the_last_reassembly(floor: Floor) -> None:
    """G05: putting other parts in makes the test of the whole fall."""
    floor.bring("KIT-1", "assemble")
    assert floor.build("KIT-1", "three-port-hepa", PARTS).accepted
    floor.bring("KIT-1", "release")
    assert "functional-test" in floor.item("KIT-1").satisfied
    floor.clock.push(60)
    play(floor, "+0 | anna | BLW-3 dropped | accepted")
    assert "functional-test" not in floor.item("KIT-1").satisfied
    play(floor, "+0 | dan | KIT-1 release | refused C02 C09 G01")
    assert "functional-test" in missing(floor)


def test_a_battery_below_its_release_level_is_not_charged(floor: Floor) -> None:
    """G06: 89 percent is not 90; the charge goes on."""
    floor.ask(asking.Contaminate("BAT-3", "used"))
    floor.bring("BAT-3", "charge")
    play(
        floor,
        """
        +0     | ben | BAT-3 charge start with BAY-1   | accepted
        +40000 | ben | done soc_percent=89          | refused G06
        """,
    )
    assert "charge" not in floor.item("BAT-3").satisfied


def test_no_configuration_is_no_assembly(floor: Floor) -> None:
    """G08: what no approved configuration names is not put together, and what is not together is not released."""
    floor.bring("KIT-1", "assemble")
    play(
        floor,
        f"""
        +0 | ben | KIT-1 assemble never-approved of {PARTS} gaskets=2 plugs=1 | refused C01
        +0 | dan | KIT-1 release                                             | refused C02 G01 S02
        """,
    )


def test_whoever_releases_may_and_did_not_do_all(floor: Floor) -> None:
    """G09: judged by competency (A02) and by who worked on the item (S02)."""
    floor.ask(asking.Contaminate("TUB-5", "used"))
    floor.bring("TUB-5", "release")
    play(
        floor,
        """
        +60 | erin     | TUB-5 release | refused A02
        +61 | stranger | TUB-5 release | refused A01
        +62 | dan      | TUB-5 release | accepted
        """,
    )
