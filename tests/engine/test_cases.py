"""An exposure case is looked into, graded, decided, told, acted on and closed, by those alone who may know (H07)."""

from __future__ import annotations

import pytest

from reprocess.engine import request as asking
from reprocess.engine.request import CaseRequest
from reprocess.errors import WrongUseError
from reprocess.record.cases import Case
from reprocess.record.touching import UNKNOWN_WEARER
from reprocess.record.words import CaseOpened, ExposedUse
from reprocess.rules.answer import Answer
from reprocess.rules.cautions import CAUTIONS
from reprocess.terms import SECOND_US
from tests.engine.floor import OPENING_US, Floor
from tests.engine.wearing_people import (
    ILSE,
    PRIVATE,
    TOMAS,
    asked,
    at,
    everything,
    out,
    registered,
    with_health,
    write,
)

CASE = "HYP-1-7"


@pytest.fixture
def exposed(floor: Floor) -> tuple[Floor, str, str]:
    """Returns a department with a case of three uses, by Ilse, by Tomas and by Ilse again."""
    with_health(floor)
    ilse, tomas = registered(floor), registered(floor, TOMAS)
    opened(floor, use(ilse, 0), use(tomas, 100), use(ilse, 200))
    return floor, ilse, tomas


def use(wearer: str, after_s: int, lasts_s: int | None = 60) -> ExposedUse:
    since = OPENING_US + after_s * SECOND_US
    return ExposedUse(
        "KIT-7", 1, "KIT-7", wearer, since, "ED", None if lasts_s is None else since + lasts_s * SECOND_US
    )


def opened(floor: Floor, *uses: ExposedUse) -> None:
    write(floor, f"case:{CASE}", CaseOpened(rule="L07", cause="HYP-1 failed its test", items=("KIT-7",), uses=uses))


def case(floor: Floor) -> Case:
    return floor.department.case(CASE)


def keys(answer: Answer) -> list[str]:
    return [one.key for one in answer.reasons]


def graded(floor: Floor, *grades: str) -> None:
    for number, grade in enumerate(grades, start=1):
        assert asked(floor, "fay", asking.GradeUse(CASE, number, grade, "worn after a failed bath")).accepted


def test_from_finding_to_closing_in_the_ten_steps_of_the_trade(exposed: tuple[Floor, str, str]) -> None:
    """H07; what is asked of each step is the published method: identify, gather, assess, decide, tell, act, close."""
    floor, ilse, tomas = exposed
    assert keys(asked(floor, "fay", asking.DecideCase(CASE, notify=True, because="all of them"))) == ["uses-ungraded"]
    assert keys(asked(floor, "fay", asking.ListNames(CASE))) == ["nobody-to-tell"]
    graded(floor, "gross", "lower", "lower")
    assert asked(floor, "ola", asking.DecideCase(CASE, notify=True, because="all of them")).accepted
    answer, shown = at(floor, "ola").reveal(asking.ListNames(CASE))
    assert (answer.caution, shown) == ("privacy", {ilse: ILSE, tomas: TOMAS})
    early = asked(floor, "ola", asking.CloseCase(CASE, "the next month without a failed test"))
    assert keys(early) == ["wearers-untold", "nothing-done"]
    assert asked(floor, "ola", asking.TellWearer(CASE, ilse, "telephone")).accepted
    assert asked(floor, "ola", asking.TellWearer(CASE, tomas, "not-reached")).accepted
    assert asked(floor, "fay", asking.ActOnCase(CASE, "strips are now read by two people")).accepted
    assert asked(floor, "ros", asking.SettleReport(CASE, report=False, because="nobody was harmed")).accepted
    assert asked(floor, "ola", asking.CloseCase(CASE, "the next month without a failed test")).accepted
    closed = floor.entries(f"case:{CASE}")[-1].body
    assert (getattr(closed, "told", None), getattr(closed, "wearers", None)) == (1, 2)
    assert case(floor).closed_us is not None
    assert keys(asked(floor, "ola", asking.ActOnCase(CASE, "more"))) == ["case-closed"]
    assert floor.department.verify(full=True).sound


def test_each_list_that_is_given_out_is_an_entry_with_one_for_each_name(exposed: tuple[Floor, str, str]) -> None:
    """H07, I21: copies are counted, and who read which name for which case is on record."""
    floor, ilse, tomas = exposed
    graded(floor, "gross", "gross", "gross")
    assert asked(floor, "fay", asking.DecideCase(CASE, notify=True, because="gross")).accepted
    for copy in (1, 2):
        assert at(floor, "fay").reveal(asking.ListNames(CASE))[0].accepted
        assert case(floor).copies == copy
    for name in (ilse, tomas):
        read = [one.body for one in floor.entries(f"wearer:{name}") if one.kind == "wearer-name-read"]
        assert [(getattr(one, "why", ""), getattr(one, "case", "")) for one in read] == [("exposure", CASE)] * 2


def test_staff_who_wore_it_and_nobody_known_are_on_the_list_without_a_stream_of_their_own(
    exposed: tuple[Floor, str, str],
) -> None:
    """H07: who put it on by a staff badge stands in the record by name; who was never identified has none."""
    floor, ilse, tomas = exposed
    opened(floor, use("GUS", 300), use(UNKNOWN_WEARER, 400))
    graded(floor, "gross", "gross", "gross", "gross", "lower")
    assert asked(floor, "fay", asking.DecideCase(CASE, notify=True, because="gross")).accepted
    assert at(floor, "fay").reveal(asking.ListNames(CASE))[1] == {ilse: ILSE, tomas: TOMAS}
    assert floor.entries("wearer:GUS") == floor.entries(f"wearer:{UNKNOWN_WEARER}") == []
    assert getattr(floor.entries(f"case:{CASE}")[-1].body, "wearers", None) == 4


REQUESTS: tuple[CaseRequest, ...] = (
    asking.ReadCase(CASE),
    asking.GradeUse(CASE, 1, "gross", "x"),
    asking.DecideCase(CASE, notify=False, because="x"),
    asking.ListNames(CASE),
    asking.ActOnCase(CASE, "x"),
    asking.CloseCase(CASE, "x"),
)


@pytest.mark.parametrize("request_", REQUESTS, ids=lambda one: one.asked)
@pytest.mark.parametrize("who", ["anna", "cora", "hana", "ros", None])
def test_nobody_else_sees_or_changes_a_case(exposed: tuple[Floor, str, str], who: str, request_: CaseRequest) -> None:
    """H07: occupational health and infection prevention only; the attempt is on record, the case is not touched."""
    floor, _, _ = exposed
    before = len(floor.entries(f"case:{CASE}"))
    answer, shown = at(floor, who).reveal(request_)
    assert (answer.accepted, shown) == (False, {})
    assert set(answer.rules()) & {"H07", "A01"}
    assert len(floor.entries(f"case:{CASE}")) == before


def test_to_look_into_a_case_is_an_entry_and_says_that_it_is(exposed: tuple[Floor, str, str]) -> None:
    floor, _, _ = exposed
    answer = asked(floor, "fay", asking.ReadCase(CASE))
    last = floor.entries(f"case:{CASE}")[-1]
    assert (last.kind, last.envelope.actor) == ("case-read", "FAY")
    assert CAUTIONS[str(answer.caution)] == "Confidential. Access is recorded."


@pytest.mark.parametrize(
    "words", ["Ilse wore it", "it was VARGA's shift", "badge w-7041", "mail ilse.varga@larkmoor.example"]
)
def test_free_words_that_name_a_wearer_are_refused_and_kept_nowhere(
    exposed: tuple[Floor, str, str], words: str
) -> None:
    """D13, I21: an entry is for ever, so that no name may come into it by the side door."""
    floor, _, _ = exposed
    for request in (asking.GradeUse(CASE, 1, "gross", words), asking.ActOnCase(CASE, words)):
        answer = asked(floor, "fay", request)
        assert keys(answer) == ["names-somebody"]
    assert [one for one in PRIVATE if one.casefold() in everything(floor).casefold()] == []


def test_more_uses_open_the_matter_again_and_keep_their_numbers(exposed: tuple[Floor, str, str]) -> None:
    """H07: what was decided of fewer uses counts no more; what was graded stays graded."""
    floor, ilse, tomas = exposed
    graded(floor, "gross", "lower", "lower")
    assert asked(floor, "fay", asking.DecideCase(CASE, notify=False, because="lower")).accepted
    assert asked(floor, "fay", asking.ActOnCase(CASE, "new strips")).accepted
    assert asked(floor, "fay", asking.CloseCase(CASE, "works")).accepted
    opened(floor, use(tomas, 100, 90), use(tomas, 900, None))
    again = case(floor)
    assert (again.closed_us, again.notify, again.ungraded) == (None, None, (4,))
    assert [one.wearer for one in again.uses] == [ilse, tomas, ilse, tomas]
    assert again.uses[1].until_us == OPENING_US + 190 * SECOND_US


def test_what_cannot_be_meant_is_wrong_use(exposed: tuple[Floor, str, str]) -> None:
    floor, ilse, _ = exposed
    for request, told in (
        (asking.GradeUse(CASE, 4, "gross", "x"), "uses 1 to 3"),
        (asking.GradeUse(CASE, 0, "gross", "x"), "uses 1 to 3"),
        (asking.GradeUse(CASE, 1, "bad", "x"), "gross, lower"),
        (asking.TellWearer(CASE, "W-NOBODY", "letter"), "does not concern"),
        (asking.TellWearer(CASE, ilse, "pigeon"), "not pigeon"),
    ):
        with pytest.raises(WrongUseError, match=told):
            asked(floor, "fay", request)
    assert keys(asked(floor, "fay", asking.ReadCase("none"))) == ["case-unknown"]


def test_a_failed_bath_opens_a_case_with_the_wearers_pseudonyms(floor: Floor) -> None:
    """H06, H07, E06: uses since the last pass; the answer counts wearers and names none."""
    with_health(floor)
    ilse = registered(floor)
    until_us = OPENING_US + 10**14
    assert floor.ask(asking.MakeSolution("HYP-1", "hypochlorite-50ppm", "L", until_us)).accepted
    assert floor.ask(asking.TestSolution("HYP-1", "S", until_us, reading="50", read_after_s=80)).accepted
    floor.bring("TUB-1", "ready", in_="HYP-1")
    out(floor, ilse, "TUB-1", back=True)
    failed = floor.ask(asking.TestSolution("HYP-1", "S", until_us, reading="10", read_after_s=80))
    found = next(one for one in failed.reasons if one.key == "case-opened")
    assert (found.facts["uses"], found.facts["wearers"]) == (1, 1)
    opened_case = floor.department.case(str(found.facts["case"]))
    assert opened_case.wearers == (ilse,)
    assert [one for one in PRIVATE if one in str(failed)] == []
