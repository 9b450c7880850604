"""A second person at another station, what exactly was signed, and the supervisor's queue (S08, E36, I22, D14)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reprocess.definitions.read import digest_of
from reprocess.department import Bench
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Approve, Enrol, Publish
from reprocess.errors import WrongUseError
from reprocess.ledger.append import looking
from reprocess.record import words
from reprocess.rules import answer as answers
from reprocess.shipped import folder
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.benches import play
from tests.engine.floor import BADGES, Floor
from tests.ledger.forging import forging

BELT = (folder() / "belt-fabric.yaml").read_text(encoding="utf-8").replace("title: Belt", "title: Another belt")


def at(floor: Floor, who: str, station: str = "BENCH") -> Bench:
    return floor.department.station(station, badge=BADGES[who])


def test_a_second_person_agrees_at_another_station_within_five_minutes(floor: Floor) -> None:
    """S08, E36, H10: by their own badge, to this hold of this item, once; from another site too."""
    play(
        floor,
        """
        +0    | anna            | BLW-3 hold recall lot 7 | held H04
        +1    | hana            | lift 1                  | refused H10
        +2    | cora @ SALTGATE | agree lift-hold 1       | accepted
        +303  | hana            | lift 1                  | refused H10
        +400  | cora @ SALTGATE | agree lift-hold 1       | accepted
        +500  | hana            | BLW-7 hold recall lot 7 | held H04
        +501  | hana            | BLW-7 lift 1            | refused H10 S04
        +700  | hana            | BLW-3 lift 1            | accepted
        +701  | hana            | BLW-3 hold recall lot 8 | held H04
        +702  | hana            | BLW-3 lift 1            | refused H10 S04
        """,
    )
    lifted = next(one for one in floor.entries("item:BLW-3") if one.kind == "hold-lifted")
    assert (lifted.envelope.actor, lifted.envelope.second) == ("HANA", "CORA")
    assert [one.kind for one in floor.entries("consent:item:BLW-3")] == [
        "consent-given", "consent-given", "consent-used",
    ]  # fmt: skip


def test_nobody_agrees_with_themselves_and_strangers_agree_with_nobody(floor: Floor) -> None:
    """S08, A01: two badges of one person are one person."""
    play(
        floor,
        """
        +0 | stranger     | BLW-3 agree condemn | refused A01
        +1 | cora         | agree condemn       | accepted
        +2 | cora         | condemn             | refused S03
        +3 | anna         | BLX-77 agree condemn | refused P06
        +4 | anna's-spare | BLW-3 agree condemn | accepted
        +5 | cora         | condemn             | accepted
        """,
    )


def test_what_changed_since_it_was_shown_is_not_signed(floor: Floor) -> None:
    """I22: the digest of what was shown is that of what stands, or the signature is refused."""
    floor.ask(asking.PlaceHold("BLW-3", "administrative", "label", "cora"), "anna")
    hold = next(iter(floor.item("BLW-3").holds))
    text, digest = floor.department.shown("item:BLW-3")
    assert "hold administrative" in text
    lift = asking.LiftHold("BLW-3", hold, "label printed anew")
    floor.ask(asking.NoteItem("BLW-3", opened=True), "anna")
    refused = floor.ask(lift, "cora", shown=digest)
    assert (refused.rules(), refused.signature) == (("I22",), None)
    assert floor.ask(lift, "cora", shown="ab").rules() == ("I22",)
    _, digest = floor.department.shown("item:BLW-3")
    assert floor.ask(lift, "cora", shown=digest[:11]).rules() == ("I22",)
    accepted = floor.ask(lift, "cora", shown=digest[:12].upper())
    signature = accepted.signature
    assert accepted.accepted
    assert signature is not None
    assert (signature.name, signature.meaning, signature.shown, signature.quoted) == (
        "Cora Lind", "hold lifted", digest, True,
    )  # fmt: skip
    assert (signature.utc, signature.local) == ("2026-03-05T07:00:00Z", "2026-03-05T07:00:00+00:00")


def test_a_signature_shows_local_time_with_its_offset_and_both_names(floor: Floor) -> None:
    """I22: at Saltgate it is four hours earlier (tz database, America/Halifax, standard time UTC-4)."""
    answer = floor.ask(asking.Condemn("BLW-8", "cracked"), "cora", second="lee", station="SALTGATE")
    assert answer.signature is not None
    assert answer.signature.local == "2026-03-05T03:00:00-04:00"
    assert (answer.signature.name, answer.signature.second) == ("Cora Lind", "Lee Marsh")
    kept = answers.from_text(answers.as_text(answer))
    assert kept == replace(answer, next_steps=kept.next_steps)


def test_a_release_and_an_approval_are_signed(floor: Floor) -> None:
    """I22: printed name, time, meaning, and what it is bound to."""
    floor.bring("BLW-2", "release")
    floor.clock.push(60)
    released = floor.ask(asking.Release("BLW-2", {"tag-read": True}), "dan")
    if released.accepted:
        assert released.signature is not None
    digest = digest_of(BELT)
    assert at(floor, "hana").enrol(Publish("workflow", "belt-fabric", digest, BELT)).accepted
    _, shown = floor.department.shown("workflow:workflow.belt-fabric")
    approve = Approve("workflow", "belt-fabric", digest)
    assert at(floor, "cora").enrol(approve, shown="0" * 64).rules() == ("I22",)
    signature = at(floor, "cora").enrol(approve, shown=shown).signature
    assert signature is not None
    assert (signature.meaning, signature.shown) == ("approved", shown)


def test_a_signature_moved_to_another_record_is_found(floor: Floor) -> None:
    """I22, I15: the answer that holds it is hashed with its entry; 21 CFR 11.70."""
    for item in ("BLW-3", "BLW-7"):
        floor.ask(asking.PlaceHold(item, "administrative", "label", "cora"), "anna")
        hold = next(iter(floor.item(item).holds))
        assert floor.ask(asking.LiftHold(item, hold, "printed anew"), "cora").accepted
    one, two = (floor.entries(f"item:{item}")[-1] for item in ("BLW-3", "BLW-7"))
    assert not floor.department.verify().findings
    with forging(floor.department.ledger.path) as forger:
        forger.run("UPDATE entry SET answer = ? WHERE feed = ?", one.answer, two.feed)
    found = floor.department.verify().findings
    assert [one.feed for one in found][:1] == [two.feed]


def test_what_is_unusual_waits_until_somebody_else_has_looked_at_it(floor: Floor) -> None:
    """D14, A08: overrides, corrections, late entries; nobody reviews what they did themselves."""
    floor.ask(asking.Contaminate("BAT-3", "used"))
    floor.bring("BAT-3", "charge")
    play(
        floor,
        """
        +0    | ben + cora | BAT-3 charge start with BAY-2 passing over M09 instrument-away | accepted, warns M09
        +3600 | anna + ben | BLW-1 take-apart on form P-7 at 600                           | accepted
        +3601 | anna + ben | correct 2 no blower                                           | accepted
        """,
    )
    waiting, refusals = floor.department.waiting_for_review()
    assert [one.sort for one in waiting if one.stream.startswith("item:")] == ["override", "attested", "correction"]
    override, late = (one.feed for one in waiting if one.stream.startswith("item:") and one.sort != "correction")
    play(
        floor,
        f"""
        +0 | anna  | BLW-1 review {override}         | refused A08, key role-needed
        +1 | cora  | review {override}               | refused A08, key own-entry
        +2 | hana  | review {override} because it was agreed | accepted
        +3 | hana  | review {override}               | refused D14
        +4 | hana  | review 1                        | refused D14
        +5 | cora  | review {late} because form seen | accepted
        """,
    )
    left = [one.sort for one in floor.department.waiting_for_review()[0] if one.stream.startswith("item:")]
    assert left == ["correction"]
    reviewed = [one.body for one in floor.entries("site:LMG") if isinstance(one.body, words.EntryReviewed)]
    assert [(one.feed, one.finding) for one in reviewed] == [(override, "it was agreed"), (late, "form seen")]
    assert refusals == []
    floor.ask(asking.ReviewRefusals(10**9, "seen"), "cora")


def test_refusals_are_counted_by_rule_and_station_until_somebody_looked(floor: Floor) -> None:
    """D14"""
    for who in ("erin", "erin", "-"):
        floor.ask(asking.DoStep("BLW-1", "take-apart"), who)
    refusals = floor.department.waiting_for_review()[1]
    first = refusals[0]
    assert (first.rules[:1], first.station, first.times) == (("A02",), "BENCH", 2)
    last = max(one.last_feed for one in refusals)
    assert floor.ask(asking.ReviewRefusals(last, "seen"), "anna").rules() == ("A08",)
    assert floor.ask(asking.ReviewRefusals(last, "seen"), "cora").accepted
    assert [one.times for one in floor.department.waiting_for_review()[1]] == [1]


def test_what_waits_longer_than_a_day_is_brought_to_mind(floor: Floor) -> None:
    """D14, ESC: one reminder a site, counted from the oldest entry that waits; gone once nothing does."""
    play(floor, "+3600 | anna + ben | BLW-1 take-apart on form P-7 at 600 | accepted")
    waiting = floor.department.waiting_for_review()[0]

    def dues() -> list[tuple[str, int, object]]:
        with looking(floor.department.ledger) as read:
            coming = read.dues.coming(2**62)
            return [(row.due.key, row.due.due_us, row.due.words["waiting"]) for row in coming if row.due.rule == "D14"]

    feed, at_us = waiting[0].feed, waiting[0].at_us
    assert dues() == [(f"D14/review:LMG/{feed}/day", at_us + DAY_S * SECOND_US, len(waiting))]
    for one in waiting:
        assert floor.ask(asking.ReviewEntry(one.feed, "seen"), "hana").accepted
    assert dues() == []


def test_the_queue_is_what_the_entries_come_to(floor: Floor) -> None:
    """I12: a rebuild finds nothing to put right."""
    assert at(floor, "cora").enrol(Enrol("person:ERIN", words.BadgeGiven(badge="B-9"))).accepted
    play(
        floor,
        """
        +0    | erin       | BLW-1 take-apart                    | refused A02
        +3600 | anna + ben | BLW-1 take-apart on form P-7 at 600 | accepted
        """,
    )
    floor.ask(asking.ReviewEntry(floor.department.waiting_for_review()[0][-1].feed, "seen"), "hana")
    assert not floor.department.verify(full=True).findings


@pytest.mark.parametrize("to", ["", "lift hold", "LIFT", "x" * 3 + "1"])
def test_consent_is_to_a_kind_of_request(floor: Floor, to: str) -> None:
    """S08"""

    with pytest.raises(WrongUseError):
        floor.ask(asking.Consent("item:BLW-3", to), "cora")
    with pytest.raises(WrongUseError):
        floor.ask(asking.Consent("moon:FULL", "condemn"), "cora")
