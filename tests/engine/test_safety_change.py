"""A change for safety reaches open cycles; any other one does not. Confirmed sources make a department live."""

from __future__ import annotations

import pytest

from reprocess.definitions.read import digest_of
from reprocess.department import Bench
from reprocess.engine.enrolling import Approve, Publish
from reprocess.engine.live import EXAMPLES, UNCONFIRMED, ConfirmSources
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.shipped import folder
from tests.engine.benches import play
from tests.engine.floor import BADGES, Floor

BLOWER = (folder() / "blower.yaml").read_text(encoding="utf-8")


def office(floor: Floor, who: str) -> Bench:
    return floor.department.station("BENCH", badge=BADGES[who])


def changed(floor: Floor, text: str, *, safety: bool) -> str:
    """Publishes and approves another text of the blower's workflow, and returns its digest."""
    digest = digest_of(text)
    assert office(floor, "hana").enrol(Publish("workflow", "blower", digest, text)).accepted
    answer = office(floor, "cora").enrol(Approve("workflow", "blower", digest, safety=safety))
    assert answer.accepted, answer.reasons
    assert answer.rules() == (("G12",) if safety else ())
    return digest


def longer() -> str:
    """Returns the workflow with five minutes of contact instead of the label's three (E26)."""
    assert BLOWER.count("      greatest_s: 1800\n") == 1
    return BLOWER.replace("      greatest_s: 1800\n", "      greatest_s: 1800\n      least_s: 300\n")


def test_an_open_cycle_keeps_its_version_unless_the_change_is_for_safety(floor: Floor) -> None:
    """E26, D11: three minutes stay three minutes in a cycle that began under them."""
    old = floor.item("BLW-2").digest
    changed(floor, longer(), safety=False)
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted, left 180
        +90  | anna | rewet                          | accepted
        +180 | anna | done                           | accepted, stage disinfected
        """,
    )
    assert floor.item("BLW-2").digest == old


def test_a_change_for_safety_restarts_what_remains_from_the_first_changed_step(floor: Floor) -> None:
    """G12, E26: 3 -> 5 min: what came before stays, the running contact is void, what was ready is ready no longer."""
    play(
        floor,
        """
        +0   | anna | BLW-2 disinfect start in QAW-1 | accepted
        +90  | anna | rewet                          | accepted
        """,
    )
    kit = floor.item("KIT-7")
    assert kit.stage == "ready"
    digest = changed(floor, longer(), safety=True)
    moved = floor.item("BLW-2")
    assert (moved.digest, moved.stage, moved.dwell) == (digest, "cleaned", None)
    assert {"take-apart", "clean"} <= set(moved.satisfied)
    assert (floor.item("BLW-3").stage, floor.item("BLW-3").digest) == ("cleaned", digest)
    assert floor.item("KIT-7").stage != "ready"
    assert floor.item("TUB-7").stage == "ready"
    play(
        floor,
        """
        +100 | anna | BLW-2 disinfect start in QAW-1 | accepted, left 300
        +190 | anna | rewet                          | accepted
        +280 | anna | rewet                          | accepted
        +370 | anna | rewet                          | accepted
        +399 | anna | done                           | refused T01
        +400 | anna | done                           | accepted, stage disinfected
        """,
    )
    for item in ("BLW-2", "BLW-3", "BLW-7", "KIT-7"):
        floor.assert_kept_whole(item)
    floor.bring("BLW-2", "ready")
    assert getattr(floor.entries("item:BLW-2")[-1].body, "digest", "") == digest
    assert not floor.department.verify(full=True).findings


def test_a_change_that_touches_no_step_takes_nothing(floor: Floor) -> None:
    """G12: the cycle goes on under the new version, with all its steps."""
    digest = changed(floor, BLOWER.replace("title: ", "title: New ", 1), safety=True)
    standing = floor.item("BLW-3")
    assert (standing.stage, standing.digest) == ("ready", digest)
    bodies = [one.body for one in floor.entries("item:BLW-3") if isinstance(one.body, words.CycleMoved)]
    assert [one.fell for one in bodies] == [()]


def test_only_a_workflow_is_changed_for_safety(floor: Floor) -> None:
    """G12: what a label's change reaches is found by a recall of its solutions."""
    text = (
        (folder() / "agents" / "quat-alcohol-wipe.yaml").read_text(encoding="utf-8").replace("Wipe with", "A wipe with")
    )
    digest = digest_of(text)
    assert office(floor, "hana").enrol(Publish("agent", "quat-alcohol-wipe", digest, text)).accepted
    with pytest.raises(WrongUseError):
        office(floor, "cora").enrol(Approve("agent", "quat-alcohol-wipe", digest, safety=True))


def test_a_department_is_live_once_every_file_is_confirmed_and_holds_no_example(floor: Floor) -> None:
    """Trade 8.3: a named person, exactly the text in force."""
    missing = floor.department.missing_to_live()
    assert floor.department.rests_on_examples()
    assert {one.why for one in missing} == {UNCONFIRMED, EXAMPLES}
    digest = floor.department.published("workflow", "blower").in_force or ""
    confirm = ConfirmSources("workflow", "blower", digest, "compared with the maker's instructions of 2026-01")
    assert office(floor, "anna").enrol(confirm).rules() == ("A08",)
    wrong = ConfirmSources("workflow", "blower", "0" * 64, "compared")
    assert office(floor, "hana").enrol(wrong).rules() == ("S07",)
    answer = office(floor, "hana").enrol(confirm)
    assert answer.accepted
    assert answer.signature is not None
    assert answer.signature.meaning == "sources confirmed"
    body = floor.entries("workflow:workflow.blower")[-1].body
    assert isinstance(body, words.SourcesConfirmed)
    assert (body.role, body.digest) == ("programme-administrator", digest)
    left = [one.why for one in floor.department.missing_to_live() if (one.sort, one.name) == ("workflow", "blower")]
    assert left == [EXAMPLES]
