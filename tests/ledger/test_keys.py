"""One key, one effect, for ever; the same key answers the same; a key is never used for something else (I9)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reprocess.department import Department
from reprocess.engine.request import Contaminate, DoStep, NoteItem
from reprocess.errors import KeyReusedError, WrongUseError
from tests.ledger.conftest import BOTH
from tests.ledger.day import DAY, Asked

pytestmark = BOTH


@pytest.mark.parametrize("asked", DAY, ids=[asked.key for asked in DAY])
def test_a_repeated_request_has_the_same_answer_and_writes_nothing(department: Department, asked: Asked) -> None:
    entries = department.verify().entries
    again = asked.put(department)
    assert again.repeated
    assert again.verdict == asked.verdict
    assert again.key == asked.key
    assert department.verify().entries == entries


ANOTHER = {
    "another request": Asked("clean", DoStep("S-2", "clean")),
    "another kind of request": Asked("clean", Contaminate("S-1", "dropped")),
    "another badge": Asked("clean", DoStep("S-1", "clean"), badge="B-B"),
    "a second person": Asked("clean", DoStep("S-1", "clean"), second="B-B"),
    "the same request with a reason": Asked("clean", DoStep("S-1", "clean", reason="a new cloth")),
    "an enrolment": replace(next(one for one in DAY if one.key == "badge"), key="clean"),
    "another enrolment": replace(next(one for one in DAY if one.key == "badge-back"), key="badge"),
}


@pytest.mark.parametrize("asked", ANOTHER.values(), ids=ANOTHER.keys())
def test_a_key_is_refused_for(department: Department, asked: Asked) -> None:
    entries = department.verify().entries
    with pytest.raises(KeyReusedError) as refused:
        asked.put(department)
    assert refused.value.exit_code == 2
    assert department.verify().entries == entries


def test_a_refused_request_keeps_its_answer_although_it_would_be_accepted_now(department: Department) -> None:
    first = Asked("mine", DoStep("S-4", "inspect", {"whole": True}, {"gap_mm": "1"}), badge="B-B").put(department)
    assert first.rules() == ("P01",)
    again = Asked("mine", DoStep("S-4", "inspect", {"whole": True}, {"gap_mm": "1"}), badge="B-B").put(department)
    assert replace(again, repeated=False) == first


def test_a_request_that_was_wrong_use_leaves_its_key_free(department: Department) -> None:
    with pytest.raises(WrongUseError, match="has no step called polish"):
        Asked("free", DoStep("S-4", "polish")).put(department)
    assert Asked("free", NoteItem("S-4", minutes=2)).put(department).accepted
