"""A record of the release before chains: what was escalated once stands at the first level, and goes on from there."""

from __future__ import annotations

from pathlib import Path

from reprocess.ledger import migrate
from reprocess.reminders import rounds
from reprocess.terms import DAY_S
from tests.reminders.ward import CONTACT, Heard, found


def test_what_was_escalated_before_there_were_levels_stands_at_the_first(tmp_path: Path) -> None:
    ward = found(tmp_path / "ward.db", 1)
    heard = Heard()
    with ward.department:
        ward.write("item:BLW-0001", CONTACT.model_copy(update={"dwell": "drying", "film_s": None, "greatest_s": None}))
        for seconds in (181, DAY_S):
            ward.clock.push(seconds)
            ward.sweep(heard)
        assert len(heard.escalated) == 1
        with ward.department.ledger.writing() as cursor:
            before = cursor.execute("SELECT * FROM escalated").fetchall()
            cursor.execute("DROP TABLE escalated")
            cursor.execute("DROP TABLE post")
            migrate._chains(cursor)
            assert cursor.execute("SELECT * FROM escalated").fetchall() == before
        ward.clock.push(DAY_S)
        assert rounds.sweep(ward.department.ledger, ward.clock, heard, "bench-1") == []
        assert ward.department.verify(full=True).sound
