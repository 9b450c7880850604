"""What is done at the desk, and what is tried there: without a PIN, twice, too late, alone where two are needed."""

from __future__ import annotations

import re
from typing import Any

import pytest

from reprocess.engine import request as asking
from tests.definitions.texts import SOUND, changed
from tests.service.larkmoor import day_at_larkmoor  # noqa: F401 - a fixture
from tests.service.pages_seen import Seen, SentForm
from tests.service.staff import PIN
from tests.service.test_pages_rules import FILE, House, house  # noqa: F401 - a fixture

WRONG = "11112222"
SIGNED = {"pin": PIN}
SECOND = {"second_badge": "B-BO", "second_pin": PIN}


@pytest.fixture
def desk(house: House) -> House:  # noqa: F811
    """Returns the desk, at which Hedda is signed in, a supervisor."""
    house.sign_in("hedda")
    return house


def form_of(desk: House, page: str, action: str, **hidden: str) -> SentForm:
    """Returns the form of a page that goes to an address, with these fields as the page filled them."""
    forms = [one for one in Seen(desk.visitor.get(page).text).forms if one.action == action]
    return next(one for one in forms if hidden.items() <= one.fields.items())


def sent(desk: House, form: SentForm, **fields: str) -> Any:
    """Returns the answer to a form as a page filled it, with these fields typed."""
    return desk.visitor.post(form.action, form.fields | fields)


def why(told: Any) -> str:
    """Returns the reasons that a page tells, without marks."""
    found = re.findall(r'<p class="(?:why|next)">(.*?)</p>', told.text, re.S)
    return " ".join(re.sub(r"<[^>]+>", "", " ".join(found)).split())


def hold(desk: House, item: str, sort: str = "administrative") -> str:
    """Places a hold as Bram, and returns its id; whoever placed one does not lift it alone (S04)."""
    before = set(desk.department.item(item).holds)
    bram = desk.department.station("LMG-C2", badge="B-BO")
    bram.ask(asking.PlaceHold(item, sort, "label smudged", "supervisor", None))
    (made,) = set(desk.department.item(item).holds) - before
    return made


SIGNED_FORMS = {
    "/desk/holds/lift": ("/desk/holds", {"disposition": "label replaced"}),
    "/desk/reviews/refusals": ("/desk/reviews", {"finding": "The mat is unclear."}),
    "/desk/reviews/FEED": ("/desk/reviews/FEED", {"finding": "Looked at."}),
    "/desk/people": ("/desk/people", {"person": "P-77", "name": "Nell Ives", "sites": "LMG"}),
    "/desk/people/P-OL/grant": (
        "/desk/people/P-OL",
        {"competency": "dry", "since": "2026-03-05", "until": "2026-12-05", "assessor": "Bram Oakes"},
    ),
    "/desk/people/P-OL/badge": ("/desk/people/P-OL", {"badge": "B-77"}),
    f"{FILE}/confirm": (FILE, {"statement": "Read beside the label."}),
    "/desk/screens": ("/desk/screens", {"screen": "S-9", "label": "Left of the lamp"}),
}
"""Where each signed form stands, and what is typed."""


@pytest.mark.parametrize("pin", ["", WRONG, "x" * 900])
@pytest.mark.parametrize("action", SIGNED_FORMS)
def test_a_missing_or_wrong_pin_loses_nothing_that_was_typed(desk: House, action: str, pin: str) -> None:
    about = {"hold": hold(desk, "FLT-084")} if action == "/desk/holds/lift" else {}
    page, typed = SIGNED_FORMS[action]
    form = form_of(desk, desk.at(page), desk.at(action), **about)
    before = entries(desk)
    told = sent(desk, form, **typed, pin=pin)
    assert told.status_code == 409
    assert why(told), told.text
    assert (pin or "no pin") not in told.text
    assert entries(desk) == before, "nothing but the failed try is on record"
    again = next(one for one in Seen(told.text).forms if one.action == form.action and one.fields.get("key"))
    came_back = next(
        one for one in Seen(told.text).forms if one.action == form.action and typed.items() <= one.fields.items()
    )
    assert again.buttons
    assert came_back.fields["key"] == form.fields["key"], "nothing was recorded under it yet"
    done = sent(desk, came_back, pin=PIN)
    assert done.status_code in (200, 303), why(done)
    assert entries(desk) > before


def entries(desk: House) -> int:
    """Returns how many entries there are, but those about signing in."""
    return sum(one.entry.stream.partition(":")[0] != "access" for one in _all(desk))


def _all(desk: House) -> list[Any]:
    return desk.department.entries_after(0, 1_000_000)


def test_what_is_missing_in_a_form_is_told_on_its_page(desk: House) -> None:
    form = form_of(desk, "/desk/holds", "/desk/holds/place")
    told = sent(desk, form, item="FLT-084", cause="")
    assert (told.status_code, "cause" in why(told)) == (422, True)
    (again,) = [one for one in Seen(told.text).forms if one.action == form.action]
    assert again.fields["item"] == "FLT-084"


def test_an_instant_that_is_none_is_told_on_its_page(desk: House) -> None:
    for typed in ("yesterday", "9999-12-31T23:59", "0001-01-01T00:00", "2026-02-30T10:00"):
        told = desk.visitor.get(f"/desk/lookback?sort=solution&name=LMG-B2&since={typed}")
        assert (told.status_code, "no date" in why(told)) == (422, True), typed
        form = form_of(desk, "/desk/recalls", "/desk/recalls")
        told = sent(desk, form, recall="R-5", sort="lot", name="L-1", since=typed, cause="odour")
        assert (told.status_code, "no date" in why(told)) == (422, True), typed
        (again,) = [one for one in Seen(told.text).forms if one.action == "/desk/recalls"]
        assert (again.fields["recall"], again.fields["cause"]) == ("R-5", "odour")


def test_the_same_form_sent_twice_is_one_entry(desk: House) -> None:
    form = form_of(desk, "/desk/holds", "/desk/holds/place")
    before = entries(desk)
    first = sent(desk, form, item="FLT-084", cause="label smudged")
    assert entries(desk) == before + 1
    second = sent(desk, form, item="FLT-084", cause="label smudged")
    assert (first.status_code, second.status_code, entries(desk)) == (200, 200, before + 1)


def test_a_form_sent_again_with_other_words_is_told_and_gets_a_new_key(desk: House) -> None:
    form = form_of(desk, "/desk/holds", "/desk/holds/place")
    sent(desk, form, item="FLT-084", cause="label smudged")
    told = sent(desk, form, item="FLT-084", cause="strap torn")
    assert told.status_code == 422
    (again,) = [one for one in Seen(told.text).forms if one.action == form.action]
    assert again.fields["key"] != form.fields["key"]
    assert sent(desk, again).status_code == 200
    assert len(desk.department.item("FLT-084").holds) == 2


def test_a_hold_that_was_lifted_meanwhile_is_told(desk: House) -> None:
    made = hold(desk, "FLT-084")
    form = form_of(desk, "/desk/holds", "/desk/holds/lift", item="FLT-084", hold=made)
    lifted = sent(desk, form, disposition="label replaced", **SIGNED)
    assert lifted.status_code == 200, why(lifted)
    late = form.fields | {"key": "late-1", "disposition": "label replaced"} | SIGNED
    told = desk.visitor.post(form.action, late)
    assert (told.status_code, bool(why(told))) == (409, True)


def test_a_hold_that_two_lift_is_not_lifted_by_one(desk: House) -> None:
    made = hold(desk, "FLT-084", "identity")
    form = form_of(desk, "/desk/holds", "/desk/holds/lift", item="FLT-084", hold=made)
    for second in ({}, {"second_badge": "B-HQ", "second_pin": PIN}, {"second_badge": "B-BO"}):
        told = sent(
            desk, form, key=f"alone-{len(second)}-{second.get('second_pin')}", disposition="x", **SIGNED, **second
        )
        assert (told.status_code, bool(why(told))) == (409, True), second
        (again,) = [one for one in Seen(told.text).forms if one.fields.get("hold") == made]
        assert again.fields["disposition"] == "x"
        assert (again.fields["second_badge"], again.fields["pin"]) == ("", "")
    assert made in desk.department.item("FLT-084").holds
    together = sent(desk, form, disposition="settled from the serial plate", **SIGNED, **SECOND)
    assert together.status_code == 200, why(together)
    assert made not in desk.department.item("FLT-084").holds


def test_a_recall_whose_list_changed_is_looked_at_again_before_it_holds(desk: House) -> None:
    form = form_of(desk, "/desk/recalls/R-7", "/desk/recalls/R-7/commit")
    bench = desk.department.station("LMG-C2", badge="B-HQ")
    assert bench.ask(asking.PreviewRecall("R-7", "items", "", "x", "supervisor", items=("TUB-116", "TUB-118"))).accepted
    told = sent(desk, form)
    assert told.status_code == 412
    assert "Items on this exact list: 2." in told.text
    assert desk.department.item("TUB-116").holds == {}
    seen = form_of(desk, "/desk/recalls/R-7", "/desk/recalls/R-7/commit")
    assert sent(desk, seen).status_code == 200
    assert sent(desk, seen).status_code == 200, "a double press is told the same"
    assert len(desk.department.item("TUB-118").holds) == 1


def propose(desk: House, before: str, after: str) -> str:
    """Proposes a changed text of the file as whoever is signed in, and returns its digest."""
    text = form_of(desk, FILE, "/desk/workflows/check").fields["text"]
    assert before in text
    checked = desk.visitor.post(
        "/desk/workflows/check",
        {"text": text.replace(before, after, 1), "sort": "agent", "name": "quat-alcohol-wipe"},
    )
    (form,) = [one for one in Seen(checked.text).forms if one.action == f"{FILE}/propose"]
    told = sent(desk, form, **SIGNED)
    assert told.status_code == 200, why(told)
    proposed = desk.department.published("agent", "quat-alcohol-wipe").proposed
    assert proposed is not None
    return proposed


def test_nobody_puts_their_own_proposal_in_force(desk: House) -> None:
    desk.sign_in("bram")
    digest = propose(desk, "contact_s: 120", "contact_s: 180")
    page = desk.visitor.get(FILE).text
    assert f"{FILE}/approve" not in page
    told = desk.visitor.post(f"{FILE}/approve", {"key": "own-1", "digest": digest} | SIGNED)
    assert (told.status_code, bool(why(told))) == (409, True)
    assert desk.department.published("agent", "quat-alcohol-wipe").in_force != digest


def test_only_the_text_that_was_read_is_put_in_force(desk: House) -> None:
    desk.sign_in("bram")
    propose(desk, "contact_s: 120", "contact_s: 180")
    desk.sign_in("hedda")
    read = form_of(desk, FILE, f"{FILE}/approve")
    desk.sign_in("bram")
    later = propose(desk, "contact_s: 180", "contact_s: 60")
    desk.sign_in("hedda")
    told = sent(desk, read, **SIGNED)
    assert (told.status_code, bool(why(told))) == (409, True), "the proposal was replaced meanwhile"
    for digest in ("0" * 64, later[:-1] + ("0" if later[-1] != "0" else "1"), "<script>"):
        told = desk.visitor.post(f"{FILE}/approve", {"key": f"t-{digest[:2]}", "digest": digest} | SIGNED)
        assert told.status_code in (404, 409, 422), digest
    assert desk.department.published("agent", "quat-alcohol-wipe").in_force not in (later, read.fields["digest"])


def test_a_text_with_marks_that_nobody_sees_is_not_proposed(desk: House) -> None:
    """Boucher and Anderson, Trojan Source (2021): a reviewer reads another text than the program does."""
    text = form_of(desk, FILE, "/desk/workflows/check").fields["text"]
    told = desk.visitor.post(f"{FILE}/propose", {"key": "b-1", "text": text.replace("120", "1\u202e02")} | SIGNED)
    assert told.status_code == 422
    assert desk.department.published("agent", "quat-alcohol-wipe").proposed is None


def test_a_way_around_a_step_is_shown_move_by_move(desk: House) -> None:
    """The same text as in the proof's own tests: `release` no longer rests on the functional test."""
    text = changed(SOUND, "after: [functional-test]", "after: [inspect]")
    text = changed(text, "agents: [wipe]", "agents: [quat-alcohol-wipe]")
    told = desk.visitor.post("/desk/workflows/check", {"text": text, "sort": "workflow", "name": "lamp"})
    assert "The item can be released without charge." in Seen(told.text).words
    first = told.text.partition("<ol")[2].partition("</ol>")[0]
    moves = [re.sub(r"<[^>]+>", "", one) for one in re.findall(r"<li>(.*?)</li>", first)]
    assert moves[1:] == ["take-apart", "clean", "disinfect", "rinse", "dry", "inspect", "release"]
    assert not [one for one in Seen(told.text).forms if one.action.endswith("/propose")]


def test_a_text_as_long_as_a_file_may_be_fits_in_a_form(desk: House) -> None:
    text = "# " + "é" * 59_000
    told = desk.visitor.post("/desk/workflows/check", {"text": text, "sort": "agent", "name": "quat-alcohol-wipe"})
    assert told.status_code == 200, told.text[-500:]


def test_a_locked_sign_in_is_seen_and_unlocked(desk: House) -> None:
    for number in range(12):
        desk.clock.push(3600)
        desk.visitor.client.cookies.clear()
        desk.visitor.post("/sign-in", {"badge": "B-OL", "pin": f"{number:08}", "station": "LMG-D2", "to": "/"})
    desk.sign_in("hedda")
    assert "sign-in locked" in desk.visitor.get("/desk/people").text
    page = desk.visitor.get("/desk/people/P-OL")
    assert "Sign-in is locked since" in page.text
    form = form_of(desk, "/desk/people/P-OL", "/desk/people/P-OL/unlock")
    assert sent(desk, form, reason="forgot it", **SIGNED).status_code == 200
    assert "sign-in locked" not in desk.visitor.get("/desk/people").text
