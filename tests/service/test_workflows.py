"""Files over HTTP: versions, proofs, differences, a rehearsal, and two people who publish."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reprocess.definitions.read import digest_of
from reprocess.service.who import Caller
from tests.ledger.day import CHANGED
from tests.ledger.small import SHELL
from tests.service.conftest import Bench, anna
from tests.service.staff import SIGNED, etag, with_pins

NEWER = CHANGED.replace("greatest_s: 1800", "greatest_s: 1700")


@pytest.fixture
def signed(served: Bench) -> Bench:
    return with_pins(served, "P-A", "P-B")


def test_files_are_listed_with_their_versions(served: Bench) -> None:
    files = {f"{one['sort']}.{one['name']}": one for one in served.get("/workflows").json()["files"]}
    assert sorted(files) == ["agent.wipe", "configuration.one-port", "workflow.set", "workflow.shell"]
    assert files["workflow.shell"]["in_force"] == digest_of(CHANGED)
    only = served.get("/workflows?sort=agent").json()["files"]
    assert [one["name"] for one in only] == ["wipe"]


def test_a_file_comes_with_text_diagram_and_proof(served: Bench) -> None:
    read = served.get("/workflows/workflow/shell")
    told = read.json()
    assert (told["text"], told["digest"]) == (CHANGED, digest_of(CHANGED))
    assert told["diagram"].startswith("flowchart TD\n")
    assert told["proof"]["sound"]
    assert "mandated" in told["proof"]["proved"]
    assert [one["digest"] for one in told["versions"]] == [digest_of(SHELL), digest_of(CHANGED)]
    assert {one["why"] for one in told["missing"]} == {"nobody confirmed its sources", "it holds example numbers"}
    again = served.get("/workflows/workflow/shell", headers={"If-None-Match": read.headers["etag"]})
    assert again.status_code == 304
    before = served.get(f"/workflows/workflow/shell?digest={digest_of(SHELL)}")
    assert before.json()["text"] == SHELL
    assert served.get(f"/workflows/workflow/set?digest={digest_of(SHELL)}").status_code == 404


def test_differences_name_every_number_that_changed(served: Bench) -> None:
    asked = {"from": digest_of(SHELL), "to": digest_of(CHANGED)}
    told = served.get("/workflows/workflow/shell/differences", params=asked).json()
    assert told["numbers"] == [{"path": "limits[cycles].most", "before": "50", "after": "40"}]
    changed = [line for line in told["lines"].splitlines() if line[:1] in "+-" and line[:3] not in ("+++", "---")]
    assert changed == ["-  - {limit: cycles, most: 50, example: true}", "+  - {limit: cycles, most: 40, example: true}"]


def test_a_rehearsal_tells_every_fault_with_its_line_and_records_nothing(served: Bench) -> None:
    before = served.department.last_feed()
    broken = CHANGED.replace("most: 40", "most: forty").replace("zone: any", "zone: somewhere")
    told = served.post("/workflows/check", {"text": broken}).json()
    lines = {number for number, line in enumerate(broken.splitlines(), 1) if "forty" in line or "somewhere" in line}
    assert (told["sound"], {one["line"] for one in told["faults"]}) == (False, lines)
    whole = served.post("/workflows/check", {"text": NEWER}).json()
    assert (whole["sound"], whole["sort"], whole["name"], whole["faults"]) == (True, "workflow", "shell", [])
    assert whole["proof"]["sound"]
    assert served.department.last_feed() == before


def test_a_rehearsal_shows_the_way_around_a_mandated_step(served: Bench) -> None:
    told = served.post("/workflows/check", {"text": CHANGED.replace("after: [disinfect]", "after: [clean]")}).json()
    assert not told["sound"]
    assert told["proof"]["counter_examples"]


def test_two_people_publish_and_each_names_the_version_read(signed: Bench) -> None:
    unread = signed.post("/workflows", {"sort": "workflow", "name": "shell", "text": NEWER, **SIGNED})
    assert (unread.status_code, unread.json()["type"]) == (428, "/v1/problems/precondition-missing")
    read = signed.get("/workflows/workflow/shell")
    proposal = {"sort": "workflow", "name": "shell", "text": NEWER, **SIGNED}
    assert signed.post("/workflows", proposal, headers=etag(read)).status_code == 200
    approval = {"digest": digest_of(NEWER), **SIGNED}
    stale = signed.post("/workflows/workflow/shell/approve", approval, headers=etag(read))
    assert stale.status_code == 412
    now = signed.get("/workflows/workflow/shell")
    assert now.json()["proposed"] == digest_of(NEWER)
    own = signed.post("/workflows/workflow/shell/approve", approval, headers=etag(now))
    assert (own.status_code, own.json()["answer"]["reasons"][0]["rule"]) == (409, "S07")
    signed.caller = _ben()
    assert signed.post("/workflows/workflow/shell/approve", approval, headers=etag(now)).status_code == 200
    told = signed.get("/workflows/workflow/shell").json()
    assert (told["in_force"], told["proposed"]) == (digest_of(NEWER), None)
    stated = {"digest": digest_of(NEWER), "statement": "compared with the label", **SIGNED}
    confirmed = signed.post(
        "/workflows/workflow/shell/sources", stated, headers=etag(signed.get("/workflows/workflow/shell"))
    )
    assert confirmed.status_code == 200, confirmed.text


def _ben() -> Caller:
    return replace(anna(), person="P-B", badge="B-B")


def test_a_new_file_needs_no_version(signed: Bench) -> None:
    text = CHANGED.replace("workflow: shell", "workflow: shell-two")
    told = signed.post("/workflows", {"sort": "workflow", "name": "shell-two", "text": text, **SIGNED})
    assert told.status_code == 200, told.text


def test_what_is_missing_is_told_file_by_file(served: Bench) -> None:
    told = served.get("/workflows/live").json()
    assert (told["live"], sorted(told["files"])) == (
        False,
        ["agent.wipe", "configuration.one-port", "workflow.set", "workflow.shell"],
    )
