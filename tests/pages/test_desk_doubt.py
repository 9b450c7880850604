"""Holds, recalls, look-back and exceptions at the desk, as a supervisor works them."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from reprocess.engine import request as asking
from tests.pages.conftest import Floor, must_be_accessible, screenshot
from tests.service.staff import PIN


def test_a_recall_from_preview_to_closed(floor: Floor) -> None:
    page = floor.signed_in("bram", "/desk/recalls")
    must_be_accessible(page)
    screenshot(page, "desk-recalls")
    page.locator("#recall").fill("R-9")
    page.locator("#sort").select_option("items")
    page.locator("#items").fill("TUB-116 TUB-118")
    page.locator("#cause").fill("cracked cuffs")
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_text("Items on this exact list: 2.")).to_be_visible()
    must_be_accessible(page)
    screenshot(page, "desk-recall-previewed")
    assert floor.department.item("TUB-116").holds == {}, "a preview holds nothing"
    page.get_by_role("button", name="Hold all of these").click()
    expect(page.get_by_role("alert")).to_contain_text("STOP")
    expect(page.get_by_text("Not located: 2.")).to_be_visible()
    screenshot(page, "desk-recall-open")
    must_be_accessible(page)

    _close(page)
    expect(page.get_by_role("alert")).to_contain_text("2 of 2 items are not located")
    for item in ("TUB-116", "TUB-118"):
        row = page.get_by_role("row", name=item)
        row.locator("input[name=place]").fill("QAR-1")
        row.get_by_role("button").click()
        expect(page.get_by_role("row", name=item)).to_contain_text("QAR-1")
    expect(page.get_by_text("Every item is located.")).to_be_visible()
    _close(page)
    expect(page.locator(".state").first).to_contain_text("closed")
    screenshot(page, "desk-recall-closed")


def _close(page: Page) -> None:
    form = page.locator("form", has=page.locator("#note"))
    page.locator("#note").fill("Cuffs looked at; two replaced.")
    form.locator("#pin").fill(PIN)
    form.locator("button").click()


def test_a_hold_is_placed_seen_and_lifted_at_the_desk(floor: Floor) -> None:
    page = floor.signed_in("hedda", "/desk/holds")
    page.locator("#item").fill("FLT-084")
    page.locator("#cause").fill("<b>label</b> smudged")
    page.locator("form", has=page.locator("#cause")).locator("button").click()
    row = page.get_by_role("row", name="FLT-084")
    expect(row).to_contain_text("<b>label</b> smudged")
    must_be_accessible(page)
    screenshot(page, "desk-holds")
    row.get_by_text("Lift", exact=True).first.click()
    row.locator("[name=disposition]").fill("label replaced")
    row.locator("[name=pin]").fill(PIN)
    row.get_by_role("button", name="Lift").click()
    expect(page.get_by_role("alert").or_(page.get_by_role("status"))).to_be_visible()
    screenshot(page, "desk-hold-lifted")


def test_who_wore_it_after_the_bath_failed(floor: Floor) -> None:
    page = floor.signed_in("bram", "/desk/lookback")
    page.locator("#sort").select_option("solution")
    page.locator("#name").fill("LMG-B2")
    page.get_by_role("button", name="Look back").first.click()
    expect(page.locator("figure svg")).to_be_visible()
    must_be_accessible(page)
    screenshot(page, "desk-lookback")


def test_exceptions_are_reviewed_one_by_one(floor: Floor) -> None:
    page = floor.signed_in("hedda", "/desk/reviews")
    must_be_accessible(page)
    screenshot(page, "desk-reviews")
    page.locator("#finding").fill("The mat at bench 1 was unclear; it is drawn anew.")
    page.locator("#pin").fill(PIN)
    page.get_by_role("button", name="I looked at these refusals").click()
    expect(page.get_by_text("No refusals since somebody last looked.")).to_be_visible()
    done = next(one for one in floor.department.history("item:TUB-115") if one.kind == "step-done")
    bram = floor.department.station("LMG-C2", badge="B-BO", second="B-PV")
    answer = bram.ask(asking.Correct("TUB-115", done.number, "wrong item scanned", mistaken=True))
    assert answer.accepted, answer
    page.goto("/desk/reviews")
    first = page.locator("tbody th a").first
    number = first.inner_text()
    first.click()
    screenshot(page, "desk-review")
    must_be_accessible(page)
    page.locator("#finding").fill("Looked at; the method is being changed.")
    page.locator("#pin").fill(PIN)
    page.get_by_role("button", name="Sign this review").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("To review")
    expect(page.get_by_role("link", name=number, exact=True)).to_have_count(0)
