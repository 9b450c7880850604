"""Who may see some sites alone sees their rows and no others, on either database, whatever is asked."""

from __future__ import annotations

import pytest

from reprocess.department import Department
from reprocess.errors import WrongUseError
from reprocess.ledger import sites
from reprocess.ledger.append import looking
from reprocess.ledger.tables import METADATA
from reprocess.record.touching import Touched
from reprocess.terms import StreamKind
from tests.ledger.conftest import BOTH


@BOTH
def test_the_own_site_is_seen_whole(department: Department) -> None:
    with looking(department.ledger) as everything, looking(department.ledger, {"LMG"}) as own:
        assert [one.item for one in own.items()] == [one.item for one in everything.items()]
        assert own.entries_of("item:S-1") == everything.entries_of("item:S-1")
        assert own.touches.by("S-1") == everything.touches.by("S-1")
        assert own.touches.last_feed_at(2**60) == everything.touches.last_feed_at(2**60)
        assert [one.person for one in own.people()] == ["P-A", "P-B"]


@BOTH
@pytest.mark.parametrize("others", [(), ("LMC",), ("LMC", "LME")])
def test_of_another_site_nothing_is_seen(department: Department, others: tuple[str, ...]) -> None:
    with looking(department.ledger, others) as read:
        assert list(read.items()) == []
        assert not read.item("S-1").known
        assert read.entries_of("item:S-1") == []
        assert read.touches.by("S-1") == []
        assert read.touches.of(Touched.SOLUTION, "W-1") == []
        assert {one.due.subject.partition(":")[0] for one in read.dues.coming(2**62)} <= {"workflow", "person"}
        assert read.answered("release") is None
        assert [one.person for one in read.people()] == ["P-A", "P-B"]
        assert len(read.states_of(StreamKind.WORKFLOW)) > 0
    assert department.item("S-1").known


@BOTH
def test_a_name_that_is_no_sites_is_refused(department: Department) -> None:
    for name in ("*", "LMG,LMC", "x' OR 'a' = 'a", ""):
        with pytest.raises(WrongUseError, match="capital letters"), looking(department.ledger, [name]):
            pass


def test_every_table_is_decided_about() -> None:
    told = {*sites.conditions("TRUE"), *sites.UNLIMITED}
    assert told == {table.name for table in METADATA.sorted_tables}
    assert {"wearer_name", "credential", "session", "token_digest", "subscription_secret"} <= set(sites.CLOSED)
