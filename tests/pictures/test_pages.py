"""The desk's pages of one item and of solutions, without a browser."""

from __future__ import annotations

import re

import pytest

from tests.service.conftest import Bench
from tests.service.larkmoor import day_at_larkmoor, larkmoor, signed_in  # noqa: F401 - fixtures
from tests.service.staff import token


@pytest.fixture
def desk(larkmoor: Bench) -> Bench:  # noqa: F811
    """Returns the demo with a supervisor at its desk."""
    larkmoor.caller = signed_in(larkmoor, "hedda")
    return larkmoor


def page(bench: Bench, path: str, status: int = 200) -> str:
    response = bench.client.get(path, headers={"Accept-Language": "en"})
    assert response.status_code == status, response.text[:500]
    assert not re.search(r"\sstyle=|<style|<script(?! type=\"module\" src)| on[a-z]+=", response.text)
    return response.text


def test_an_item_is_shown_with_its_picture_and_its_table(desk: Bench) -> None:
    html = page(desk, "/desk/items/BAT-042?cycle=2")
    assert '<svg xmlns="http://www.w3.org/2000/svg"' in html
    assert 'id="life-title">Life of BAT-042</' in html
    assert "<td>Contact</td><td>disinfect</td><td>2026-03-05 12:44</td>" in html
    assert "<h1>Life of BAT-042</h1>" in html
    assert 'href="/desk/items/BAT-042?cycle=all"' in html


def test_a_cycle_is_chosen_and_one_that_never_was_is_said_so(desk: Bench) -> None:
    whole, first = page(desk, "/desk/items/BAT-042?cycle=all"), page(desk, "/desk/items/BAT-042?cycle=1")
    assert "Cycle 1." in whole
    assert "Cycle 2." in whole
    assert "Cycle 2." not in first
    for wrong in ("9", "0", "x", "1" * 40):
        page(desk, f"/desk/items/BAT-042?cycle={wrong}", 404)
    page(desk, "/desk/items/NONE-1", 404)


def test_a_supervisor_of_another_site_sees_nothing_of_it(larkmoor: Bench) -> None:  # noqa: F811
    larkmoor.caller = token("items:read", "work:read", sites=("SAL",))
    page(larkmoor, "/desk/items/BAT-042", 404)
    assert "LMG-B2" not in page(larkmoor, "/desk/solutions")


def test_solutions_are_told_with_why_not_now_and_a_time_line(desk: Bench) -> None:
    html = page(desk, "/desk/solutions?days=1")
    assert '<svg xmlns="http://www.w3.org/2000/svg"' in html
    assert 'id="solutions-title">Solutions</' in html
    assert "<td>LMG-B2</td><td>in doubt</td><td>2026-03-05 08:10</td><td>2026-03-05 16:00</td>" in html
    assert "may be used" in html
    assert page(desk, "/desk/solutions?days=5").count('aria-current="true"') == 1
    page(desk, "/desk/solutions?days=x", 422)
