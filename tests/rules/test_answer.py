"""The answer is kept as text and comes back as it was, so that the same key is answered in the same way (I9)."""

from __future__ import annotations

import pytest

from reprocess.rules.answer import Answer, Clock, Reason, Verdict, as_fields, as_text, from_text

REASONS = (
    Reason("T01", "too-early", {"left": 0, "least": 180, "step": "disinfect"}, wait_s=0),
    Reason(
        "A02", "competency-missing", {"missing": ["a", "b"]}, competency="clean", item_kind="blower", helpers=("Ann",)
    ),
    Reason("T01", "too-early", role="supervisor"),
)


@pytest.mark.parametrize(
    "answer",
    [
        Answer(Verdict.ACCEPTED, "item:X", "release"),
        Answer(
            Verdict.REFUSED, "item:X", "end-dwell", "disinfect", REASONS, REASONS[:1], ("SOIL",), "used", ("clean",)
        ),
        Answer(Verdict.ACCEPTED, "item:X", "start-dwell", clock=Clock("dry", 900), key="k", caution="label"),
        Answer(Verdict.ACCEPTED, "item:X", "start-dwell", clock=Clock("disinfect", 0, 0, 0, 3), repeated=True),
    ],
)
def test_an_answer_comes_back_as_it_was(answer: Answer) -> None:
    assert from_text(as_text(answer)) == answer


def test_empty_fields_are_left_out_and_zero_is_not_empty() -> None:
    clock = Clock("disinfect", 0)
    assert as_fields(Answer(Verdict.HELD, "item:X", "rewet", clock=clock)) == {
        "verdict": "held",
        "subject": "item:X",
        "asked": "rewet",
        "clock": {"step": "disinfect", "left_s": 0, "attempt": 1},
    }


def test_rules_are_told_once_each_in_their_order() -> None:
    answer = Answer(Verdict.REFUSED, "item:X", "release", reasons=REASONS)
    assert answer.rules() == ("T01", "A02")
    assert not answer.accepted
