"""Ways around who may do what that an adversary found, each of them shut; each test says what was tried."""

from __future__ import annotations

import re

from reprocess.definitions.read import digest_of
from reprocess.department import Bench
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Approve, Commission, Enrol, Publish
from reprocess.record import words
from reprocess.rules.answer import Answer
from reprocess.shipped import folder
from tests.engine.benches import play
from tests.engine.floor import BADGES, HERE, LATER_US, OPENING_US, Floor
from tests.engine.loading import a_washer, bowls, runs

BLOWER = (folder() / "blower.yaml").read_text(encoding="utf-8")


def office(floor: Floor, who: str = "cora", second: str | None = None, station: str = "BENCH") -> Bench:
    other = BADGES[second] if second is not None else None
    return floor.department.station(station, badge=BADGES[who], second=other)


def grant(floor: Floor, person: str, competency: str, by: Bench | None = None, **more: object) -> Answer:
    told = {"item_kinds": (), "from_us": 0, "until_us": LATER_US, "assessor": "Cora Lind", **more}
    body = words.CompetencyGranted.model_validate({"competency": competency, **told})
    return (by or office(floor)).enrol(Enrol(f"person:{person}", body))


def proposed(floor: Floor, who: str, text: str) -> str:
    digest = digest_of(text)
    assert office(floor, who).enrol(Publish("workflow", "blower", digest, text)).accepted
    return digest


def test_who_wrote_a_file_does_not_approve_it_as_the_second_person_either(floor: Floor) -> None:
    """S07: a colleague without a role lends the first badge, the author's role is the second one."""
    digest = proposed(floor, "hana", BLOWER.replace("title: ", "title: New ", 1))
    answer = office(floor, "ben", "hana").enrol(Approve("workflow", "blower", digest))
    assert answer.rules() == ("S07",)
    assert office(floor, "ben", "cora").enrol(Approve("workflow", "blower", digest)).accepted


def test_nobody_grants_themselves_a_competency_as_the_second_person(floor: Floor) -> None:
    """A08: a colleague without a role lends the first badge."""
    assert grant(floor, "CORA", "charge", office(floor, "ben", "cora")).rules() == ("A08",)
    assert grant(floor, "CORA", "charge", office(floor, "cora", "hana")).accepted is False
    assert grant(floor, "CORA", "charge", office(floor, "hana", "cora")).accepted


def test_a_verifier_is_somebody_who_is_known(floor: Floor) -> None:
    """E39: flags settled on the word of a name that nobody bears."""
    floor.bring("BLW-1", "cleaned")
    gone = words.CompetencyWithdrawn(competency="clean", reason="no certificate", from_us=OPENING_US)
    assert office(floor).enrol(Enrol("person:ANNA", gone)).rules() == ("A06",)
    answer = grant(floor, "ANNA", "clean", from_us=OPENING_US, verifier="NOBODY-1")
    assert not answer.accepted
    assert len(floor.department.waiting_for_review()[0]) == 2


def test_a_preceptor_does_not_inspect_their_own_cleaning_through_a_trainee(floor: Floor) -> None:
    """S01, A03: the only competent eyes are the cleaner's."""
    assert grant(floor, "ERIN", "inspect", level="trainee").accepted
    floor.bring("BLW-2", "inspect")
    floor.clock.push(100)
    play(
        floor,
        """
        +0   | erin + anna | BLW-2 inspect | refused S01
        +100 | erin + ben  | BLW-2 inspect | accepted
        """,
    )


def test_a_review_needs_the_role_of_somebody_who_was_not_there(floor: Floor) -> None:
    """A08, D14: the supervisor who allowed it lends the role to a colleague's badge."""
    floor.ask(asking.Contaminate("BAT-3", "used"))
    floor.bring("BAT-3", "charge")
    play(
        floor, "+0 | anna + cora | BAT-3 charge start with BAY-2 passing over M09 instrument-away | accepted, warns M09"
    )
    feed = next(one.feed for one in floor.department.waiting_for_review()[0] if one.sort == "override")
    play(
        floor,
        f"""
        +1 | ben + cora  | BAT-3 review {feed} | refused A08, key own-entry
        +2 | ben + fay   | review {feed}       | accepted
        """,
    )


def test_refusals_to_come_are_not_reviewed_ahead(floor: Floor) -> None:
    """D14: a review up to an entry that does not exist yet."""
    play(floor, "+0 | erin | BLW-1 take-apart | refused A02")
    ahead = asking.ReviewRefusals(10**9, "looked at")
    assert floor.ask(ahead, "cora", key="k-1").accepted
    assert floor.ask(ahead, "cora", key="k-1").repeated
    play(floor, "+5 | erin | BLW-1 take-apart | refused A02")
    assert sum(one.times for one in floor.department.waiting_for_review()[1]) == 1
    assert floor.department.verify(full=True).sound


def test_the_consent_of_somebody_who_left_counts_no_more(floor: Floor) -> None:
    """A01, S08: agreed, left, used within five minutes."""
    floor.bring("FLT-6", "release")
    over = "release passing over T12 manufacturer-statement ref M-1"
    play(
        floor,
        """
        +60 | hana | FLT-6 agree override T12 | accepted
        +61 | cora | agree override T12       | accepted
        """,
    )
    assert office(floor, "hana").enrol(Enrol("person:CORA", words.PersonLeft(reason="moved on"))).accepted
    play(floor, f"+1 | dan | FLT-6 {over} | refused T12 A08")


def test_a_consent_to_one_tag_is_none_to_another(floor: Floor) -> None:
    """S08, E22: about this very tag, this very other item, this very new id."""
    play(
        floor,
        """
        +0 | anna | BLW-1 agree give-tag N-77 | accepted
        +1 | cora | BLW-1 tag N-78            | refused S03
        +2 | cora | BLW-1 tag N-77            | accepted
        """,
    )


def test_a_second_badge_that_was_just_used_at_another_site_is_refused(floor: Floor) -> None:
    """E37: the copy is shown as the second one."""
    play(
        floor,
        """
        +0   | cora @ BENCH            | BLW-1 take-apart         | accepted
        +200 | anna + cora @ FENHOLLOW | BLW-1 tag N-77           | refused E37
        +210 | cora @ FENHOLLOW        | ONE-1 fail inspect SOIL  | held H01
        +220 | cora @ FENHOLLOW        | BLW-2 disinfect start in QAW-1 | refused E37, key badge-elsewhere
        """,
    )


def test_a_life_passed_over_is_passed_over_at_assembly_and_at_issue_too(floor: Floor) -> None:
    """T12, OV2: each once, each with its statement; nothing else of the part is passed over."""
    for part in ["BLW-3", "TUB-3", "HED-3", "FLT-4", "BAT-3", "BLT-3"]:
        floor.bring(part, "ready")
    floor.bring("FLT-6", "release")
    floor.clock.push(60)
    over = "passing over T12 manufacturer-statement ref M-1"
    parts = "BLW-3 TUB-3 HED-3 FLT-6 FLT-4 BAT-3 BLT-3"
    play(
        floor,
        f"""
        +0  | hana       | FLT-6 agree override T12 | accepted
        +1  | dan + cora | FLT-6 release {over}     | accepted, warns T12, stage ready
        """,
    )
    play(
        floor,
        f"""
        +5  | hana       | KIT-1 agree override T12 | accepted
        +6  | ben        | KIT-1 assemble three-port-hepa of {parts} gaskets=2 plugs=1 | refused T12
        +7  | ben + cora | KIT-1 assemble three-port-hepa of {parts} gaskets=2 plugs=1 {over} | accepted, warns T12
        """,
    )
    floor.bring("KIT-1", "release")
    floor.clock.push(60)
    give = "issue nobody ward-7 for emergency"
    play(
        floor,
        f"""
        +0  | hana       | KIT-1 agree override T12 | accepted
        +1  | dan + cora | release {over}           | accepted, warns T12, stage ready
        +5  | gus        | {give}                   | refused T12, key life-over
        +6  | hana       | agree override T12       | accepted
        +7  | gus + cora | {give} {over}            | accepted, warns Q08 T12 U01
        """,
    )


def test_what_a_supervisor_lets_go_by_telephone_is_an_override_with_its_reason(floor: Floor) -> None:
    """C11, U14: the two rules that only a role opens, passed over from another station."""
    floor.bring("BLW-3", "ready")
    play(
        floor,
        """
        +0 | cora | BLW-3 keep ward-7                                  | accepted
        +1 | gus  | lend ward-9 3                                      | refused C11 U14
        +2 | gus  | KIT-7 lend brackwater 3                            | refused U14
        +3 | cora | agree override U14                                 | accepted
        +4 | gus  | lend brackwater 3 passing over U14 loan-agreed     | accepted, warns U14
        """,
    )


def test_a_condemned_item_does_not_come_back_under_a_new_id(floor: Floor) -> None:
    """E22, S03: condemned, then doubted, then begun anew."""
    play(
        floor,
        """
        +0 | cora + gus  | BLW-3 condemn         | accepted
        +1 | anna        | BLW-3 doubt           | held E21
        +2 | anna + cora | BLW-3 renamed BLW-900 | refused P01, key aside
        """,
    )


def test_a_condemned_item_does_not_come_back_by_another_ones_history(floor: Floor) -> None:
    """E21: the other item of a split history was condemned."""
    cleaned = floor.item("BLW-2").satisfied["clean"].number
    play(
        floor,
        f"""
        +0 | cora + gus  | BLW-3 condemn                 | accepted
        +1 | anna        | BLW-2 doubt BLW-3             | held E21
        +2 | anna + cora | BLW-2 split BLW-3 : {cleaned} | accepted
        """,
    )
    assert floor.item("BLW-3").stage == "condemned"
    floor.assert_kept_whole("BLW-3")


def test_the_parts_of_an_assembly_start_again_with_it_when_histories_are_split(floor: Floor) -> None:
    """E21, U11: entries of one kit were about another one, whose parts nobody can answer for."""
    floor.bring("BLW-2", "ready")
    number = floor.item("BLW-2").satisfied["clean"].number
    play(
        floor,
        f"""
        +0 | anna        | BLW-2 doubt KIT-7            | held E21
        +1 | anna + cora | BLW-2 split KIT-7 : {number} | accepted
        """,
    )
    assert (floor.item("KIT-7").stage, floor.item("KIT-7").members) == ("used", {})
    assert {(floor.item(one).stage, floor.item(one).assembly) for one in ("BLW-7", "TUB-7", "FLT-7")} == {
        ("used", None)
    }
    for one in ("KIT-7", "BLW-7", "TUB-7"):
        floor.assert_kept_whole(one)


def test_a_new_id_takes_every_hold_along_but_that_of_the_identity(floor: Floor) -> None:
    """E22, H02: a recall, a defect and a failed bath are not left behind with the old name."""
    play(
        floor,
        """
        +0 | cora        | BLW-3 hold recall field notice 7  | held H04
        +1 | cora        | BLW-3 hold exposure worn by a case | held H04
        +2 | anna        | BLW-3 doubt                        | held E21
        +3 | anna + cora | BLW-3 renamed BLW-900              | accepted
        """,
    )
    new = floor.item("BLW-900").holds.values()
    assert sorted(one.sort for one in new) == ["exposure", "recall"]
    assert all("field notice 7" in one.cause or "worn by a case" in one.cause for one in new)
    floor.assert_kept_whole("BLW-900")


def test_a_new_id_does_not_make_a_one_wearer_part_new(floor: Floor) -> None:
    """U09, F17: used once, its identity doubted, begun anew as unused."""
    play(
        floor,
        """
        +0 | anna        | ONE-1 used            | accepted
        +1 | anna        | ONE-1 doubt           | held E21
        +2 | anna + cora | ONE-1 renamed ONE-900 | accepted
        +3 | cora + dan  | ONE-900 inspect       | refused U09
        """,
    )


def test_a_new_id_keeps_the_stricter_path(floor: Floor) -> None:
    """P16: what an item carries it keeps until it is ready."""
    play(
        floor,
        """
        +0 | anna        | BLW-3 used class blood | accepted
        +1 | anna        | BLW-3 doubt            | held E21
        +2 | anna + cora | BLW-3 renamed BLW-900  | accepted
        """,
    )
    assert floor.item("BLW-900").contamination_class == floor.item("BLW-3").contamination_class != "routine"
    floor.assert_kept_whole("BLW-900")


def test_a_new_item_is_not_commissioned_under_a_tag_in_use(floor: Floor) -> None:
    """E22: a scan of the tag would then mean another item, whatever it hangs on."""
    play(floor, "+0 | anna + cora | BLW-1 tag N-77 | accepted")
    assert office(floor).enrol(Commission("N-77", "blower", "LB-3")).rules() == ("E22",)


def test_an_unreadable_tag_is_typed_twice_like_an_id(floor: Floor) -> None:
    """E20: a tag names the item as well as its id does."""
    play(floor, "+0 | anna + cora | BLW-1 tag N-77 | accepted")
    assert floor.ask(asking.TypeCode("N-77", "N-77")).accepted


def test_an_item_doubted_beside_itself_is_one_item(floor: Floor) -> None:
    """E21"""
    play(floor, "+0 | anna | BLW-1 doubt BLW-1 | held E21")
    assert len(floor.item("BLW-1").holds) == 1
    assert floor.department.verify(full=True).sound


def test_a_change_for_safety_of_what_is_no_step_takes_ready_away_too(floor: Floor) -> None:
    """G12: the shelf life was shortened; what is ready was promised the old one."""
    old = (folder() / "respirator.yaml").read_text(encoding="utf-8")
    text = re.sub(r"days_most: \d+", "days_most: 7", old, count=1)
    assert text != old
    digest = digest_of(text)
    assert office(floor, "hana").enrol(Publish("workflow", "respirator", digest, text)).accepted
    assert floor.item("KIT-7").stage == "ready"
    assert office(floor, "cora").enrol(Approve("workflow", "respirator", digest, safety=True)).accepted
    assert floor.item("KIT-7").stage == "inspected"
    floor.assert_kept_whole("KIT-7")


def early(floor: Floor) -> None:
    """Lets the invented bowl go before its load's indicators are read, as its file may say (G11)."""
    a_washer(floor)
    text = (HERE / "files" / "bowl.yaml").read_text(encoding="utf-8")
    text = text.replace("example: true\n", "example: true\nearly_release: true\n", 1)
    digest = digest_of(text)
    assert office(floor, "hana").enrol(Publish("workflow", "bowl", digest, text)).accepted
    assert office(floor, "cora").enrol(Approve("workflow", "bowl", digest)).accepted


UNREAD = "LD-1 load-end held 90 60 without cleaning"


def test_an_early_release_takes_two_people_and_ends_with_a_bad_indicator(floor: Floor) -> None:
    """G11, W06: the load passed but for its indicator; when that is bad, what was let go is held and found."""
    early(floor)
    runs(floor, "LD-1", bowls(floor, 2))
    play(
        floor,
        f"""
        +0    | anna       | {UNREAD}                                                       | accepted, warns G11
        +1    | anna       | LD-1 load-out BWL-1 BWL-2                                      | accepted
        +60   | ben        | BWL-1 inspect                                                  | accepted
        +100  | ben        | BWL-2 inspect                                                  | accepted
        +160  | dan        | BWL-1 release | refused G11, key indicator-missing
        +161  | dan + cora | BWL-1 release passing over G11 load-tests-pending | refused G11 A08
        +162  | hana       | BWL-1 agree override G11                                       | accepted
        +163  | dan + cora | BWL-1 release passing over G11 load-tests-pending | accepted, warns G11, stage ready
        +200  | anna       | LD-1 load-end only bad cleaning                                | held W06
        """,
    )
    assert (floor.item("BWL-1").stage, [one.sort for one in floor.item("BWL-1").holds.values()]) == ("used", ["load"])
    assert floor.item("BWL-2").held
    assert floor.department.verify(full=True).sound


def test_an_indicator_that_is_read_later_opens_the_gate(floor: Floor) -> None:
    """G11: good at last, by somebody who may judge it; nothing was passed over."""
    early(floor)
    runs(floor, "LD-1", bowls(floor, 1))
    play(
        floor,
        f"""
        +0    | anna | {UNREAD}                          | accepted, warns G11
        +1    | anna | LD-1 load-out BWL-1               | accepted
        +60   | ben  | BWL-1 inspect                     | accepted
        +160  | dan  | BWL-1 release                     | refused G11
        +170  | erin | LD-1 load-end only cleaning       | refused A02
        +171  | anna | LD-1 load-end only cleaning       | accepted
        +172  | anna | LD-1 load-end only cleaning       | refused W07
        +240  | dan  | BWL-1 release                     | accepted, stage ready
        """,
    )
    assert floor.department.verify(full=True).sound


def test_without_the_files_word_a_load_waits_for_its_indicators(floor: Floor) -> None:
    """G11: nothing is early where the workflow does not say so."""
    a_washer(floor)
    runs(floor, "LD-1", bowls(floor, 1))
    play(
        floor,
        f"""
        +0  | anna       | {UNREAD}                                              | accepted G11
        +1  | anna       | LD-1 load-out BWL-1                                   | accepted
        +60 | ben        | BWL-1 inspect                                         | refused W05
        +61 | cora + dan | BWL-1 release passing over G11 load-tests-pending     | refused G01 G11 A08
        """,
    )


def test_a_very_late_entry_is_let_in_from_another_station(floor: Floor) -> None:
    """D05, OV1: more than a day late; a supervisor elsewhere allows it, with the reason on record."""
    very_late = "take-apart on form P-1 at 60"
    play(
        floor,
        f"""
        +90000 | ben + anna | BLW-1 {very_late}                                  | refused D05, key very-late
        +90001 | cora       | agree override D05                                 | accepted
        +90002 | ben + anna | {very_late} passing over D05 form-came-late        | accepted, warns D05
        """,
    )
    used = [one.body for one in floor.entries("item:BLW-1") if isinstance(one.body, words.OverrideUsed)]
    assert [(one.rule, one.authorised) for one in used] == [("D05", ("CORA",))]


def test_a_life_over_of_two_parts_is_not_passed_over_at_once(floor: Floor) -> None:
    """T12, C20: one override, one part."""
    for part in ["BLW-3", "TUB-3", "HED-3", "BAT-3", "BLT-3"]:
        floor.bring(part, "ready")
    over = "passing over T12 manufacturer-statement ref M-1"
    for part in ("FLT-6", "FLT-9"):
        if part == "FLT-9":
            old = Commission("FLT-9", "hepa-cartridge", "LF-H", sealed_expiry_us=OPENING_US - 1)
            assert office(floor).enrol(old).accepted
        floor.bring(part, "release")
        floor.clock.push(16 * 60)
        play(
            floor,
            f"""
            +0  | hana       | {part} agree override T12 | accepted
            +1  | dan + cora | {part} release {over}     | accepted, warns T12
            """,
        )
    parts = "BLW-3 TUB-3 HED-3 FLT-6 FLT-9 BAT-3 BLT-3"
    play(
        floor,
        f"""
        +1199 | hana       | KIT-1 agree override T12                                                  | accepted
        +1200 | ben + cora | KIT-1 assemble three-port-hepa of {parts} gaskets=2 plugs=1 {over} | refused T12 A08
        """,
    )


def test_a_yearly_test_of_an_earlier_cycle_by_somebody_without_competency_holds_too(floor: Floor) -> None:
    """A06: the result still counts although the cycle is over."""
    opened = words.SiteOpened(title="Brackwater", zone="Europe/London", competency_hold=True)
    assert office(floor).enrol(Enrol("site:BRK", opened)).accepted
    place = words.StationOpened(title="Bench", site="BRK", side="any")
    assert office(floor).enrol(Enrol("station:BRACK", place)).accepted
    assert office(floor, "hana", station="BRACK").enrol(Commission("LMP-60", "lamp", "LL-1")).accepted
    play(
        floor,
        """
        +10m | ben @ BRACK  | LMP-60 inspect     | accepted
        +11m | ben @ BRACK  | LMP-60 safety-test | accepted
        +12m | dan @ BRACK  | LMP-60 release     | accepted
        +13m | anna @ BRACK | LMP-60 used        | accepted
        +14m | anna @ BRACK | LMP-60 inspect     | accepted
        """,
    )
    gone = words.CompetencyWithdrawn(competency="inspect", reason="not his", from_us=OPENING_US)
    assert office(floor).enrol(Enrol("person:BEN", gone)).rules() == ("A06",)
    assert [one.sort for one in floor.item("LMP-60").holds.values()] == ["competency"]
    floor.assert_kept_whole("LMP-60")


def test_a_consent_does_not_come_to_life_again_when_the_clock_is_set_back(floor: Floor) -> None:
    """S08: an hour passed, and the wall clock was set back by an hour."""
    play(
        floor,
        """
        +0    | anna  | BLW-1 doubt        | held E21
        +1    | dan   | BLW-1 agree lift-hold 1 | accepted
        +3600 | clock | wall -3600         |
        +3601 | cora  | BLW-1 lift 1       | refused H10, key two-people-needed
        +3602 | dan   | BLW-1 agree lift-hold 1 | accepted
        +3603 | cora  | BLW-1 lift 1       | accepted
        """,
    )
