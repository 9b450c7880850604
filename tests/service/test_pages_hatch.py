"""The hatch without a browser: each deed as a form and its answer; what is a fact is never refused."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass, field, replace
from typing import Any

import pytest

from reprocess.engine import request as asking
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.rules.custody import look_of
from reprocess.rules.permissions import scopes_of
from tests.engine.benches import play
from tests.engine.outside import wearers
from tests.engine.test_places import STORE
from tests.engine.wearing_people import ILSE, registered
from tests.engine.worn import write
from tests.service.hall import Hall, floor, hall, prepared  # noqa: F401 - fixtures


@dataclass
class Counter:
    """Is the hatch as a browser without script uses it: it keeps nothing but what the page says."""

    hall: Hall
    text: str = ""
    status: int = 0
    sent: list[dict[str, Any]] = field(default_factory=list)

    def open(self, path: str, **more: Any) -> Counter:
        """Opens a page."""
        return self._take(self.hall.client.get(path, **more))

    def send(self, path: str, **fields: Any) -> Counter:
        """Sends the form of a page, under the key that the page brought."""
        hidden = dict(re.findall(r'type="hidden" name="(key|version|members|out\.[a-z]+)" value="([^"]+)"', self.text))
        self.sent.append(hidden | {name.replace("__", "."): value for name, value in fields.items()})
        return self._take(self.hall.client.post(path, data=self.sent[-1]))

    def again(self, path: str) -> Counter:
        """Sends the last form once more, as a double press does."""
        return self._take(self.hall.client.post(path, data=self.sent[-1]))

    def _take(self, answer: Any) -> Counter:
        self.text, self.status = answer.text, answer.status_code
        return self

    def says(self, what: str) -> bool:
        """Tells whether the page says something, whatever marks stand in it."""
        return what in html.unescape(re.sub(r"<[^>]+>", "", self.text))


@pytest.fixture
def counter(hall: Hall) -> Counter:  # noqa: F811
    """Returns the hatch, at which Ben is signed in, a technician, who may not know who wears what."""
    wearers(hall.floor, "W-1")
    hall.sign_in("ben")
    return Counter(hall)


def looked_over(counter: Counter, **instead: str) -> dict[str, str]:
    """Returns the fields of a look-over in which every line is good, and every caution confirmed."""
    look = look_of(counter.hall.floor.workflow("KIT-7"))
    assert look is not None
    good = {f"check__{one.check}": "yes" for one in look.checks}
    good |= {"count__gaskets": "2", "count__plugs": "1", "reading__soc_percent": "95", "instrument": "I:FI-1"}
    good |= {f"caution__{one}": "read" for one in ("wearer", "battery", "not_life")}
    return good | {"wearer": "W-1", "place": "ward-7", "purpose": "care"} | instead


def entries(counter: Counter) -> int:
    """Returns how many entries the whole record has."""
    return counter.hall.floor.department.last_feed()


def test_a_scan_leads_to_the_item_and_a_place_to_what_lies_there(counter: Counter) -> None:
    play(counter.hall.floor, STORE + "+1 | ben | KIT-7 put-in CAB-1 | accepted")
    before = entries(counter)
    assert counter.open("/hatch").send("/hatch", code="KIT-7").says("What is in it")
    assert counter.send("/hatch", code="P:CAB-1").says("Opened in an emergency")
    assert entries(counter) == before


def test_a_badge_before_the_item_is_turned_away_and_not_shown(counter: Counter) -> None:
    counter.open("/hatch").send("/hatch", code="B:W-7041")
    assert (counter.status, counter.says("Scan the item first")) == (409, True)
    assert "W-7041" not in counter.text


@pytest.mark.parametrize(
    "code", ["<script>alert(1)</script>", "\u202eKIT-7", "=cmd|' /C calc'!A0", "\x00\x1b[2J", "x" * 9000]
)
def test_a_hostile_scan_is_shown_as_text_or_refused(counter: Counter, code: str) -> None:
    """The characters of OWASP's cheat sheet on cross-site scripting, of CSV injection, and direction marks."""
    counter.open("/hatch").send("/hatch", code=code)
    assert counter.status == 409
    assert "<script>alert" not in counter.text
    assert not {"\u202e", "\x00", "\x1b"} & set(counter.text)
    assert len(counter.text) < 20_000


def test_nothing_of_the_look_over_is_filled_in_beforehand(counter: Counter) -> None:
    """U03: each line is a question; a form that answers itself proves nothing."""
    counter.open("/hatch/item/KIT-7/issue")
    assert "checked" not in counter.text
    assert counter.text.count('type="radio"') == 2 * 8
    for told in ("about 30 minutes", "supplies no oxygen", "BLW-7", "filter"):
        assert counter.says(told), told


def test_an_issue_binds_the_wearer_and_shows_what_went_out(counter: Counter) -> None:
    """U01, U03"""
    counter.open("/hatch/item/KIT-7/issue").send("/hatch/item/KIT-7/issue", **looked_over(counter))
    assert (counter.status, counter.says("ACCEPTED"), counter.says("This went out")) == (200, True, True)
    custody = counter.hall.floor.item("KIT-7").custody
    assert custody is not None
    assert (custody.wearer, custody.place, custody.counts) == ("W-1", "ward-7", {"gaskets": 2, "plugs": 1})
    before = entries(counter)
    assert counter.again("/hatch/item/KIT-7/issue").says("ACCEPTED")
    assert entries(counter) == before
    assert "W-1" not in counter.text


def test_what_changed_since_it_was_looked_at_is_not_issued(counter: Counter) -> None:
    """What is confirmed is what was shown: parts, counts, holds."""
    counter.open("/hatch/item/KIT-7/issue")
    counter.hall.floor.ask(asking.NoteItem("KIT-7", minutes=5))
    before = entries(counter)
    counter.send("/hatch/item/KIT-7/issue", **looked_over(counter))
    assert (counter.status, counter.says("changed"), entries(counter)) == (412, True, before)
    assert "checked" not in counter.text
    counter.send("/hatch/item/KIT-7/issue", **looked_over(counter))
    assert counter.status == 200


def test_an_issue_waits_for_every_caution_and_a_known_wearer(counter: Counter) -> None:
    before = entries(counter)
    counter.open("/hatch/item/KIT-7/issue")
    counter.send("/hatch/item/KIT-7/issue", **looked_over(counter, caution__not_life="", wearer="B-STRANGER", place=""))
    assert counter.status == 409
    for told in ("Read every caution", "means no wearer", "to which unit", "Nothing was recorded"):
        assert counter.says(told), told
    assert (entries(counter), "B-STRANGER" in counter.text) == (before, False)
    assert counter.text.count("checked") == 8


def test_a_no_in_the_look_over_holds_it_and_says_stop(counter: Counter) -> None:
    """U03"""
    counter.open("/hatch/item/KIT-7/issue")
    counter.send("/hatch/item/KIT-7/issue", **looked_over(counter, **{"check__tube-sound": "no"}))
    assert (counter.status, counter.says("STOP. On hold")) == (409, True)
    assert counter.hall.floor.item("KIT-7").held
    assert 'href="/hatch/item/KIT-7/quarantine"' in counter.text
    assert 'href="/hatch/item/KIT-7/issue"' not in counter.text


def test_who_may_not_know_a_wearer_is_told_no_pseudonym(counter: Counter) -> None:
    """D13: a refusal would else tell whose badge was scanned."""
    wearer = registered(counter.hall.floor, ILSE)
    counter.open("/hatch/item/KIT-7/issue")
    counter.send("/hatch/item/KIT-7/issue", **looked_over(counter, wearer=ILSE.badge or ""))
    assert (counter.status, counter.says("this wearer")) == (409, True)
    assert [one for one in (wearer, "Ilse", "Varga", "W-7041") if one in counter.text] == []
    counter.hall.sign_in("cora")
    counter.open("/hatch/item/KIT-7/issue")
    counter.send("/hatch/item/KIT-7/issue", **looked_over(counter, wearer=ILSE.badge or ""))
    assert counter.says(wearer)


def test_what_is_held_says_stop_and_goes_into_quarantine(counter: Counter) -> None:
    """H01, H04"""
    play(counter.hall.floor, STORE + "+1 | anna | KIT-7 hold administrative paper lost | held H04")
    counter.open("/hatch/item/KIT-7")
    assert counter.says("STOP. On hold (administrative): paper lost.")
    assert counter.says("STOP. Quarantine. Do not use.")
    counter.open("/hatch/item/KIT-7/quarantine").send("/hatch/item/KIT-7/quarantine", place="nothing at all!")
    assert (counter.status, counter.says("Scan the label")) == (409, True)
    counter.send("/hatch/item/KIT-7/quarantine", place="P:Q-1")
    assert counter.status == 200
    (hold,) = counter.hall.floor.item("KIT-7").holds.values()
    assert (hold.place, hold.sighted_at) == ("Q-1", "BENCH")


def test_a_held_part_stops_the_whole(counter: Counter) -> None:
    play(counter.hall.floor, "+1 | anna | TUB-7 hold administrative paper lost | held H04")
    counter.open("/hatch/item/KIT-7")
    assert counter.says("STOP. TUB-7 is on hold: paper lost.")
    assert 'href="/hatch/item/KIT-7/issue"' not in counter.text


def test_a_return_tells_what_is_missing_and_is_never_refused(counter: Counter) -> None:
    """P04, U07, U11: one gasket of two, the battery, blood; the tube was not looked at."""
    play(counter.hall.floor, "+0 | gus | KIT-7 issue W-1 ward-7 | accepted")
    counter.open("/hatch/item/KIT-7/return")
    assert "checked" not in counter.text
    here = {f"part__{one}": "here" for one in counter.hall.floor.item("KIT-7").members.values()}
    counter.send(
        "/hatch/item/KIT-7/return",
        **here | {"part__BAT-7": "missing", "count__gaskets": "1", "count__plugs": "1", "class": "blood"},
        place="P:BIN-1",
        fault="It rattles",
    )
    assert counter.says("It is recorded. Put what is held in quarantine.")
    assert counter.says("Missing from what went out")
    assert counter.says("gaskets: 1")
    returned = next(
        one.body for one in counter.hall.floor.entries("item:KIT-7") if isinstance(one.body, words.ItemReturned)
    )
    assert (returned.missing, returned.contamination_class, returned.place) == (
        ("BAT-7", "gaskets=1"),
        "blood",
        "BIN-1",
    )
    assert returned.fault == "It rattles"
    standing = counter.hall.floor.item("KIT-7")
    assert (standing.custody, standing.stage, {one.rule for one in standing.holds.values()}) == (
        None,
        "used",
        {"P04", "H01"},
    )


def test_an_empty_form_of_return_is_a_return(counter: Counter) -> None:
    play(counter.hall.floor, "+0 | gus | KIT-7 issue W-1 ward-7 | accepted")
    counter.open("/hatch/item/KIT-7/return").send("/hatch/item/KIT-7/return")
    assert (counter.status, counter.says("P04")) == (200, True)
    assert counter.hall.floor.item("KIT-7").custody is None


def test_what_nobody_knows_can_come_back_too(counter: Counter) -> None:
    """P05: it is noted, and nothing of another one is shown."""
    counter.open("/hatch").send("/hatch", code="KIT-404")
    assert (counter.status, 'href="/hatch/item/KIT-404/return"' in counter.text) == (409, True)
    before = entries(counter)
    counter.open("/hatch/item/KIT-404/return").send("/hatch/item/KIT-404/return", place="BIN-1")
    assert (counter.status, counter.says("NOTED"), entries(counter) > before) == (200, True, True)


def test_a_part_that_came_with_another_is_told(counter: Counter) -> None:
    """S05"""
    play(counter.hall.floor, "+0 | gus | KIT-7 issue W-1 ward-7 | accepted")
    counter.open("/hatch/item/KIT-7/return").send("/hatch/item/KIT-7/return", others="I:BAT-3")
    assert (counter.says("S05"), counter.says("It is recorded.")) == (True, True)
    assert counter.hall.floor.item("BAT-3").holds


def test_a_battery_is_changed_while_it_is_worn(counter: Counter) -> None:
    """U12: the lines of the workflow are asked, and what comes out and goes in is on record."""
    floor_ = counter.hall.floor
    floor_.bring("BAT-3", "ready")
    play(floor_, "+0 | gus | KIT-7 issue W-1 ward-7 | accepted")
    counter.open("/hatch/item/KIT-7/swap")
    lines = {"check__clean-area": "yes", "check__latch-holds": "yes", "check__air-felt": "yes", "slot": "battery"}
    counter.send("/hatch/item/KIT-7/swap", **lines, part="I:BAT-3")
    assert (counter.status, counter.says("not being worn")) == (409, True)
    write(floor_, Draft("item:KIT-7", words.WearStepDone(phase="put-on", step="head-cover", done=True, begins=True)))
    counter.send("/hatch/item/KIT-7/swap", **lines | {"check__air-felt": ""}, part="I:BAT-3")
    assert counter.says("Not answered: Air is felt again")
    counter.send("/hatch/item/KIT-7/swap", **lines, part="I:BAT-3")
    assert counter.status == 200, counter.text
    assert floor_.item("KIT-7").members["battery"] == "BAT-3"
    custody = floor_.item("BAT-7").custody
    assert custody is not None
    assert custody.sort == "swapped"


def test_a_cabinet_opened_in_an_emergency_asks_who_has_what(counter: Counter) -> None:
    """E28, U01"""
    floor_ = counter.hall.floor
    play(floor_, STORE + "+1 | ben | KIT-7 put-in CAB-1 | accepted")
    counter.open("/hatch/place/CAB-1").send("/hatch/place/CAB-1/opened", seal="S-1")
    assert (counter.status, counter.says("KIT-7: say who has it")) == (200, True)
    custody = floor_.item("KIT-7").custody
    assert custody is not None
    assert (custody.wearer, custody.purpose) == (None, "emergency")
    counter.open("/hatch")
    assert counter.says("Nobody knows who has it")
    counter.open("/hatch/item/KIT-7/identify").send("/hatch/item/KIT-7/identify", wearer="")
    assert (counter.status, counter.says("means no wearer")) == (409, True)
    counter.send("/hatch/item/KIT-7/identify", wearer="W-1")
    assert counter.status == 200
    named = floor_.item("KIT-7").custody
    assert named is not None
    assert named.wearer == "W-1"


def test_what_is_marked_as_still_there_stays(counter: Counter) -> None:
    play(counter.hall.floor, STORE + "+1 | ben | KIT-7 put-in CAB-1 | accepted")
    counter.open("/hatch/place/CAB-1").send("/hatch/place/CAB-1/opened", seal="S-1", present="KIT-7")
    assert (counter.status, counter.hall.floor.item("KIT-7").custody) == (200, None)


def test_a_role_that_may_not_is_refused_and_offered_nothing(counter: Counter) -> None:
    counter.hall.caller = replace(counter.hall.caller, roles=frozenset({"auditor"}), scopes=scopes_of(("auditor",)))
    counter.open("/hatch/item/KIT-7")
    assert 'href="/hatch/item/KIT-7/return"' not in counter.text
    assert counter.open("/hatch/item/KIT-7/issue").status == 403


@pytest.mark.parametrize("language", ["es", "ar"])
def test_every_text_of_the_hatch_is_in_the_language(counter: Counter, language: str) -> None:
    """What is English stands marked so; only the workflow's own words may."""
    play(counter.hall.floor, STORE + "+1 | ben | KIT-7 put-in CAB-1 | accepted")
    paths = [f"/hatch/item/KIT-7{one}" for one in ("", "/issue", "/return", "/swap", "/quarantine", "/identify")]
    for path in ("/hatch", "/hatch/place/CAB-1", "/hatch/place/ST-1", *paths):
        counter.open(path, params={"language": language})
        assert counter.status == 200, path
        assert re.findall(r'<span lang="en"[^>]*>([^<]*)', counter.text) == [], path
    counter.hall.client.cookies.set("language", language)
    counter.open("/hatch/item/KIT-7/issue").send("/hatch/item/KIT-7/issue", purpose="care")
    assert re.findall(r'<span lang="en"[^>]*>([^<]*)', counter.text) == []
