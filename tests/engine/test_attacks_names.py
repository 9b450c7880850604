"""Attacks on names: no entry holds one, a look-back at a person is for few, and what was erased stays so (D13, I21)."""

from __future__ import annotations

import shutil
from contextlib import suppress
from pathlib import Path

import pytest

from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.errors import WrongUseError
from reprocess.ledger import erasures
from reprocess.ledger.backup import backup, restore
from reprocess.ledger.open import key_path
from reprocess.ledger.verify import verify
from reprocess.record.touching import UNKNOWN_WEARER
from reprocess.record.words import CaseOpened, ExposedUse
from tests.commandline.test_wearer import Typed
from tests.engine.floor import OPENING_US, Floor
from tests.engine.wearing_people import PRIVATE, asked, at, everything, registered, with_health, write
from tests.engine.worn import issue

CASE = "HYP-1-7"


def a_case(floor: Floor, wearer: str) -> None:
    use = ExposedUse("KIT-7", 1, "KIT-7", wearer, OPENING_US, "ED", None)
    write(floor, f"case:{CASE}", CaseOpened(rule="L07", cause="HYP-1 failed its test", items=("KIT-7",), uses=(use,)))


def leaks(floor: Floor) -> list[str]:
    """Returns what of a wearer's name, badge and contact stands anywhere but in the table of names."""
    text = everything(floor).casefold()
    return [one for one in PRIVATE if one.casefold() in text]


def test_what_a_wearer_wore_is_shown_to_those_who_may_see_cases_and_each_look_is_an_entry(floor: Floor) -> None:
    """H07"""
    with_health(floor)
    ilse = registered(floor)
    for who in (None, "anna", "cora", "hana", "gus", "ros"):
        refused = asked(floor, who, asking.TraceWearer(ilse))
        assert not refused.accepted, who
        assert set(refused.rules()) & {"H07", "A01"}
    assert [one.kind for one in floor.entries(f"wearer:{ilse}")] == ["wearer-registered"]
    for who in ("fay", "ola"):
        assert asked(floor, who, asking.TraceWearer(ilse)).accepted
    kinds = [(one.kind, one.envelope.actor) for one in floor.entries(f"wearer:{ilse}")[1:]]
    assert kinds == [("wearer-traced", "FAY"), ("wearer-traced", "OLA")]
    for other in ("GUS", UNKNOWN_WEARER):
        assert asked(floor, "fay", asking.TraceWearer(other)).subject == "site:LMG"
        assert floor.entries(f"wearer:{other}") == []
    assert floor.department.verify(full=True).sound


def test_the_command_shows_a_case_or_a_wearer_to_nobody_else(
    floor: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """H07: refused with exit code 1, and no pseudonym in what is printed; the look-back of an item stays open."""
    with_health(floor)
    ilse = registered(floor)
    issue(floor, "KIT-7", ilse)
    a_case(floor, ilse)
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    typed = Typed(floor, monkeypatch, capsys)
    for more in (("case", CASE), ("wearer", ilse)):
        for badge in ("B-HANA", "B-NOBODY", "B-ANNA"):
            for shape in ((), ("--shape", "graph"), ("--json",)):
                code, told = typed("lookback", *more, "--as", badge, *shape)
                assert (code, "KIT-7" in told) == (1, False), (more, badge, shape, told)
        code, told = typed("lookback", *more, "--as", "B-FAY")
        assert (code, "KIT-7" in told) == (0, True)
    assert [one.kind for one in floor.entries(f"case:{CASE}")] == ["case-opened", "case-read"]
    assert typed("lookback", "item", "KIT-7")[0] == 0


@pytest.mark.parametrize("name", ["varga.jpg", "letter to Ilse Varga.pdf", "W-7041.pdf"])
@pytest.mark.parametrize("about", [f"case:{CASE}", "wearer"])
def test_a_file_that_is_named_after_a_wearer_is_refused(floor: Floor, name: str, about: str) -> None:
    """D13, I21: what a file is called stands in an entry for ever."""
    with_health(floor)
    ilse = registered(floor)
    a_case(floor, ilse)
    subject = f"wearer:{ilse}" if about == "wearer" else about
    answer = at(floor, "ola").keep_file(b"content", subject, name, "image/jpeg")
    assert [one.key for one in answer.reasons] == ["names-somebody"]
    assert leaks(floor) == []
    assert at(floor, "ola").keep_file(b"content", subject, "photo 1.jpg", "image/jpeg").accepted


@pytest.mark.parametrize("typed", ["VARGA", "Ilse Varga", "ilse.varga@larkmoor.example", "W-7041"])
def test_what_is_typed_in_place_of_a_pseudonym_is_kept_nowhere(floor: Floor, typed: str) -> None:
    """I21: a name or a badge where a pseudonym belongs is refused, and the refusal repeats neither."""
    with_health(floor)
    registered(floor)
    issue(floor, "TUB-3", None)
    requests: tuple[Request, ...] = (
        asking.IssueItem("KIT-7", typed, "ED", "care"),
        asking.IdentifyWearer("TUB-3", typed),
        asking.HandOn("TUB-3", typed),
        asking.DedicateItem("BLW-3", None, typed),
        asking.TrainWearer(typed, OPENING_US),
        asking.WearerLeaves(typed),
        asking.TraceWearer(typed),
        asking.ReadNames((typed,), "audit"),
        asking.PurgeNames((typed,)),
        asking.EraseName(typed),
    )
    for request in requests:
        for who in ("anna", "hana"):
            with suppress(WrongUseError):
                asked(floor, who, request)
            assert leaks(floor) == [], request


def test_a_name_erased_after_a_backup_stays_erased_in_every_department_made_from_it(
    floor: Floor, tmp_path: Path
) -> None:
    """E40, D12: the list of erased names goes along with a department that is restored elsewhere."""
    with_health(floor)
    ilse = registered(floor)
    ledger = floor.department.ledger
    copy = backup(ledger, tmp_path / "backup.db").path
    assert asked(floor, "hana", asking.EraseName(ilse)).accepted
    listed = erasures.list_path(ledger.path)
    assert erasures.listed(listed) == [ilse]
    key = shutil.copy(key_path(ledger.path), tmp_path / "key")
    moved = tmp_path / "moved" / "larkmoor.db"
    restore(copy, Path(key), moved, listed)
    assert erasures.listed(erasures.list_path(moved)) == [ilse]
    again = tmp_path / "again" / "larkmoor.db"
    restore(copy, Path(key), again, erasures.list_path(moved))
    assert erasures.listed(erasures.list_path(again)) == [ilse]
    assert verify(ledger, full=True).sound
