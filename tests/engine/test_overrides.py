"""One rule passed over for one item, once, by who may, and never for physics (OV1, OV2, A08, C20)."""

from __future__ import annotations

import pytest

from reprocess.engine import request as asking
from reprocess.engine.enrolling import Enrol
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.rules.asked import Override
from reprocess.rules.override import OVERRIDABLE
from reprocess.station import Call, fingerprint
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import BADGES, LATER_US, Floor
from tests.engine.outside import wearers
from tests.engine.worn import write

NEVER = {
    "T01", "T03", "T04", "T09", "T10", "M01", "M03", "M04", "M07", "G01", "G02", "G04", "G05", "G10", "B01", "B03",
    "H03", "H04", "L06", "L07", "C01", "C02", "C03", "C04", "C05", "P02", "P12", "P13", "P15", "S01", "S02", "S08",
}  # fmt: skip


def entries(floor: Floor, item: str) -> list[words.OverrideUsed]:
    return [one.body for one in floor.entries(f"item:{item}") if isinstance(one.body, words.OverrideUsed)]


def test_physics_is_in_no_table() -> None:
    """Trade section 3, principle 4: contact time, missing parts, failed airflow, damaged battery, recall, and C20."""
    assert not NEVER & set(OVERRIDABLE)


def test_a_bay_past_its_verification_is_excused_once(floor: Floor) -> None:
    """M09, OV1: a supervisor passes over it the first time; after that only a verification helps."""
    floor.ask(asking.Contaminate("BAT-3", "used"))
    floor.bring("BAT-3", "charge")
    play(
        floor,
        """
        +0  | ben        | BAT-3 charge start with BAY-2                              | refused M09, helps Cora Lind
        +1  | ben        | charge start with BAY-2 passing over M09 instrument-away   | refused M09 A08
        +2  | ben + cora | charge start with BAY-2 passing over M09 instrument-away   | accepted, warns M09
        """,
    )
    used = entries(floor, "BAT-3")
    assert [(one.rule, one.authorised, one.instrument, one.because) for one in used] == [
        ("M09", ("CORA",), "BAY-2", "instrument-away")
    ]
    play(
        floor,
        """
        +0   | ben        | BAT-3 break removed                                              | accepted T04
        +1   | ben + cora | charge start with BAY-2 passing over M09 instrument-away         | refused M09 A08
        """,
    )


def test_a_substitute_takes_the_administrator_and_infection_prevention_and_an_end(floor: Floor) -> None:
    """P14, OV2: both agree at their own stations; without an end, or with a far one, nothing goes on."""
    floor.ask(asking.MakeSolution("HCW-1", "hypochlorite-wipe-1000ppm", "LOT-3", LATER_US))
    over = "disinfect start in HCW-1 passing over P14 supply-shortage"
    play(
        floor,
        f"""
        +0   | anna       | BLW-2 disinfect start in HCW-1 | refused P14
        +1   | anna       | {over} until 7                 | refused P14 A08
        +2   | hana       | agree override P14             | accepted
        +3   | anna       | {over} until 7                 | refused P14 A08
        +4   | fay        | agree override P14             | accepted
        +5   | anna       | {over}                         | refused P14 A08
        +6   | anna       | {over} until 31                | refused P14 A08
        +7   | anna       | {over} until 7                 | accepted, warns P14
        +100 | anna       | rewet                          | accepted
        +186 | anna       | done                           | refused T01
        +187 | anna       | done                           | accepted, stage disinfected
        """,
    )
    used = entries(floor, "BLW-2")
    assert [(one.rule, set(one.authorised)) for one in used] == [("P14", {"HANA", "FAY"})]
    assert used[0].until_us == floor.entries("item:BLW-2")[-4].at_us + 7 * DAY_S * SECOND_US
    play(floor, f"+0 | anna | TUB-5 {over} until 7 | refused P14 A08")  # the consents were for the other part


def test_an_override_leaves_every_other_rule_in_force(floor: Floor) -> None:
    """C20: one gate; where another rule speaks against it too, nothing goes on."""
    play(
        floor,
        """
        +0 | quillon + cora | BLW-2 functional-test with FI-2 passing over M09 instrument-away | refused A02 P01 M02 A08
        """,
    )
    assert entries(floor, "BLW-2") == []


@pytest.mark.parametrize("rule", ["T01", "G01", "L07", "no-rule"])
def test_what_is_not_in_the_table_is_never_passed_over(floor: Floor, rule: str) -> None:
    """T01, G01, L07"""
    play(
        floor,
        f"""
        +0  | anna        | BLW-2 disinfect start in QAW-1                     | accepted
        +60 | anna + cora | done passing over {rule} other until 7 ref S-1     | refused T01 A08
        """,
    )


def test_a_life_that_is_over_takes_two_people_and_a_statement(floor: Floor) -> None:
    """T12, OV2: a part past its limit is released once, on the maker's statement."""
    floor.bring("FLT-6", "release")
    over = "release passing over T12 manufacturer-statement"
    play(
        floor,
        f"""
        +60 | dan         | FLT-6 release        | refused T12
        +61 | dan         | {over} ref M-1       | refused T12 A08
        +62 | hana        | agree override T12   | accepted
        +63 | cora        | agree override T12   | accepted
        +64 | dan         | {over}               | refused T12 A08
        +65 | dan         | {over} ref M-1       | accepted, warns T12, stage ready
        """,
    )
    used = entries(floor, "FLT-6")
    assert [(one.rule, set(one.authorised), one.reference) for one in used] == [("T12", {"HANA", "CORA"}, "M-1")]
    assert floor.entries("consent:item:FLT-6")[-1].kind == "consent-used"
    feed = next(one.feed for one in floor.department.waiting_for_review()[0] if one.sort == "override")
    play(
        floor,
        f"""
        +1 | cora | FLT-6 review {feed} | refused A08, key own-entry
        +2 | fay  | review {feed}       | accepted
        """,
    )


def test_nobody_passes_over_a_rule_for_themselves_twice_within_a_quarter_of_an_hour(floor: Floor) -> None:
    """A08: a supervisor may once; after that another person with the role decides."""
    office = floor.department.station("BENCH", badge=BADGES["hana"])
    for name in ("BAY-7", "BAY-8"):
        registered = words.InstrumentRegistered(sort="charger-bay", site="LMG")
        assert office.enrol(Enrol(f"instrument:{name}", registered)).accepted
    for item in ("BAT-3", "BAT-7"):
        floor.ask(asking.Contaminate(item, "used"))
        floor.bring(item, "charge")
    over = "passing over M09 instrument-away"
    play(
        floor,
        f"""
        +0   | cora | BAT-3 charge start with BAY-7 {over} | accepted, warns M09
        +60  | cora | BAT-7 charge start with BAY-8 {over} | refused M09 A08
        +16m | cora | charge start with BAY-8 {over}       | accepted, warns M09
        """,
    )


def test_three_of_a_kind_within_a_week_are_looked_into(floor: Floor) -> None:
    """C20: the third one says so to the supervisor's queue."""
    office = floor.department.station("BENCH", badge=BADGES["hana"])
    for name in ("BAY-6", "BAY-7", "BAY-8"):
        registered = words.InstrumentRegistered(sort="charger-bay", site="LMG")
        assert office.enrol(Enrol(f"instrument:{name}", registered)).accepted
    floor.ask(asking.Contaminate("BAT-3", "used"))
    floor.bring("BAT-3", "charge")
    lines = []
    for number, bay in enumerate(("BAY-6", "BAY-7", "BAY-8")):
        at = number * 1200
        lines.append(
            f"+{at} | ben + cora | BAT-3 charge start with {bay} passing over M09 instrument-away | accepted, warns M09"
        )
        lines.append(f"+{at + 5} | ben | break removed | accepted T04")
    play(floor, "\n".join(lines))
    many = [one.body for one in floor.entries("site:LMG") if isinstance(one.body, words.OverridesMany)]
    assert [(one.rule, one.times) for one in many] == [("M09", 3)]


def test_an_override_that_was_not_needed_is_not_used(floor: Floor) -> None:
    """C20"""
    play(floor, "+0 | anna + cora | BLW-1 take-apart passing over M09 other | accepted, warns A08")
    assert entries(floor, "BLW-1") == []


def test_an_override_says_why_by_code_and_in_words(floor: Floor) -> None:
    """OV1: a reason code and free text."""
    request = asking.DoStep("BLW-1", "inspect")
    for override in (Override("M09", "because", "so"), Override("M09", "other", "  ")):
        with pytest.raises(WrongUseError):
            floor.ask(request, override=override)


def test_an_emergency_policy_lets_two_people_issue_to_a_wearer_who_is_not_cleared(floor: Floor) -> None:
    """A09, OV2: only while the policy is in force; a wearer whom nobody knows stays unknown."""
    wearers(floor, "W-1")
    write(floor, Draft("wearer:W-1", words.WearerCleared(cleared=False)))
    cora, hana = (floor.department.station("BENCH", badge=BADGES[who]) for who in ("cora", "hana"))
    hired = words.PersonRegistered(name="Una Coll", sites=("LMG",), roles=("unit-coordinator",))
    assert cora.enrol(Enrol("person:UNA", hired)).accepted
    assert cora.enrol(Enrol("person:UNA", words.BadgeGiven(badge=BADGES["stranger"]))).accepted
    over = "issue W-1 ward-7 passing over A09 written-emergency-policy"
    play(floor, f"+0 | stranger + hana | KIT-7 {over} | refused A09 A08, key wearer-not-cleared")
    until_us = floor.clock.now().wall_us + 3600 * SECOND_US
    declared = words.EmergencyDeclared(until_us=until_us, reference="EP-7")
    assert hana.enrol(Enrol("site:LMG", declared)).accepted
    play(
        floor,
        f"""
        +1    | stranger        | KIT-7 {over}                                                        | refused A09 A08
        +2    | stranger + hana | issue W-9 ward-7 passing over A09 written-emergency-policy          | refused A09 A08
        +1h   | stranger + hana | {over}                                                              | refused A09 A08
        """,
    )
    again = words.EmergencyDeclared(until_us=until_us + 3600 * SECOND_US, reference="EP-8")
    assert hana.enrol(Enrol("site:LMG", again)).accepted
    play(floor, f"+1 | stranger + hana | KIT-7 {over} | accepted, warns A09")
    assert [set(one.authorised) for one in entries(floor, "KIT-7")] == [{"UNA", "HANA"}]


def test_the_key_of_a_plain_request_keeps_its_digest() -> None:
    """I9: a request without an override or a digest has the fingerprint that it had before either existed."""
    call = Call(asking.Undo("BLW-1"), "BENCH", "B-ANNA", None, "k-1")
    # SHA-256 over ["undo",{"item":"BLW-1"},"BENCH","B-ANNA",null], made with sha256sum.
    assert fingerprint(call) == "50744ed9ada315485e130cf3e35b18ed"
    other = Call(asking.Undo("BLW-1"), "BENCH", "B-ANNA", None, "k-1", override=Override("M09", "other", "x"))
    shown = Call(asking.Undo("BLW-1"), "BENCH", "B-ANNA", None, "k-1", shown="ab" * 32)
    assert len({fingerprint(one) for one in (call, other, shown)}) == 3
    assert Override("P14", "other", "x", until_us=DAY_S * SECOND_US).until_us
