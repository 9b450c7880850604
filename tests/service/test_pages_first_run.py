"""The first run on a page: a code of the console, two administrators, and nothing for whoever has no code."""

from __future__ import annotations

from urllib.parse import urlencode

from reprocess.signing_in import first_run
from tests.service.conftest import Bench

FORM = {"Content-Type": "application/x-www-form-urlencoded"}
TWO = {
    "person_1": "P-N1",
    "name_1": "Nell Ives",
    "badge_1": "B-N1",
    "pin_1": "73910584",
    "person_2": "P-N2",
    "name_2": "Odo Marr",
    "badge_2": "B-N2",
    "pin_2": "58201936",
}


def send(bench: Bench, code: str, **changed: str) -> tuple[int, str]:
    """Returns the status and the text of the answer to the form."""
    told = bench.client.post(
        "/first-run", content=urlencode({"code": code, **TWO, **changed}), headers=FORM, follow_redirects=False
    )
    return told.status_code, told.text


def test_the_form_is_there_for_nobody_in_particular(served: Bench) -> None:
    told = served.client.get("/first-run")
    assert told.status_code == 200
    assert "The first two administrators" in told.text


def test_a_wrong_code_lets_nobody_in_and_says_so(served: Bench) -> None:
    status, text = send(served, "WRONG-CODE")
    assert status == 401
    assert first_run.NO_CODE.split(".")[0] in text
    assert "73910584" not in text, "a PIN is never sent back"
    assert 'value="Nell Ives"' in text


def test_an_id_that_is_none_is_told_before_the_code_is_looked_at(served: Bench) -> None:
    status, text = send(served, "WRONG-CODE", person_1="<b>")
    assert status == 422
    assert "letters, digits and hyphens" in text
    assert "<b>" not in text.replace("<body", "")


def test_a_form_of_another_sort_is_no_form(served: Bench) -> None:
    told = served.client.post("/first-run", content="{}", headers={"Content-Type": "application/json"})
    assert told.status_code == 415
    assert "text/html" in told.headers["content-type"]
