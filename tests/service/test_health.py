"""Whether a node says that it is ready, and nothing that nobody should know."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from reprocess.errors import LedgerError
from reprocess.ledger.append import transaction
from reprocess.record.moment import Moment
from reprocess.service import health
from reprocess.service.health import CheckOut, clock_check
from reprocess.service.who import Caller
from reprocess.settings import ServiceSettings, Settings
from tests.service.conftest import Bench

SECOND_US = 1_000_000


def swept(served: Bench) -> None:
    """A bell looked just now."""
    with transaction(served.department.ledger) as work:
        work.dues.keep_swept(served.clock.wall_us)


def looked(served: Bench) -> tuple[int, Any]:
    """What readiness says when nothing is remembered of the last look."""
    served.app.state.served.parts.pop("health", None)
    told = served.client.get("/v1/health/ready")
    return told.status_code, told.json()


def test_a_node_that_answers_lives(served: Bench) -> None:
    assert served.client.get("/v1/health/live").json() == {"live": True}


def test_a_node_whose_bell_looks_is_ready(served: Bench) -> None:
    assert looked(served) == (503, {"ready": False, "reasons": ["sweep"]})
    swept(served)
    assert looked(served) == (200, {"ready": True, "reasons": []})


def test_a_bell_that_died_is_noticed_after_three_of_its_signs(served: Bench) -> None:
    swept(served)
    served.clock.push(89)
    assert looked(served)[0] == 200
    served.clock.push(1)
    assert looked(served)[1]["reasons"] == ["sweep"]


def test_a_grave_reminder_that_does_not_ring_is_told_after_a_minute(served: Bench) -> None:
    with served.department.ledger.writing() as cursor:
        cursor.execute(
            "INSERT INTO due (key, subject, rule, due_us, severity, words)"
            " VALUES ('k', 'item:SH-1', 'T01', ?, 0, '{}')",
            (served.clock.wall_us,),
        )
    swept(served)
    served.clock.push(60)
    assert looked(served)[0] == 503
    assert looked(served)[1]["reasons"] == ["reminders"]


def test_a_node_that_stops_is_not_ready(served: Bench) -> None:
    swept(served)
    served.app.state.served.stopping.set()
    assert looked(served)[1]["reasons"] == ["stopping"]


def test_a_disk_that_fills_up_is_told_before_it_is_full(served: Bench) -> None:
    swept(served)
    served.app.state.served.settings = Settings(service=ServiceSettings(disk_free_mib=1_000_000))
    assert looked(served)[1]["reasons"] == ["disk"]


def test_a_clock_that_was_set_is_told_and_the_node_stays_ready(served: Bench) -> None:
    swept(served)
    assert looked(served)[0] == 200
    served.clock.wall_us += 10 * SECOND_US
    assert looked(served)[0] == 200
    checks = {one["name"]: one for one in served.get("/health").json()["checks"]}
    assert (checks["clock"]["well"], checks["clock"]["advice"]) == (False, True)
    assert "10 s" in checks["clock"]["detail"]


def test_a_clock_that_only_runs_is_well() -> None:
    began = Moment(1_000 * SECOND_US, 5 * SECOND_US, None, "boot", "node")
    later = replace(began, wall_us=began.wall_us + 60 * SECOND_US, mono_us=began.mono_us + 60 * SECOND_US)
    assert clock_check(began, later).well
    assert not clock_check(began, replace(later, wall_us=later.wall_us - 3 * SECOND_US)).well


def test_a_look_is_remembered_for_a_moment(served: Bench) -> None:
    swept(served)
    assert looked(served)[0] == 200
    with transaction(served.department.ledger) as work:
        work.dues.keep_swept(0)
    assert served.client.get("/v1/health/ready").status_code == 200
    assert looked(served)[0] == 503


def test_what_fails_is_told_by_our_own_word_alone() -> None:
    def fails() -> list[CheckOut]:
        message = "/srv/secret/department.db cannot be read"
        raise LedgerError(message)

    [told] = health._guarded("database", fails)
    assert (told.well, told.detail) == (False, "It cannot be used (ledger).")


def test_the_details_need_the_scope_and_hold_no_path(served: Bench, tmp_path: Path) -> None:
    told = served.get("/health")
    assert told.status_code == 200
    assert {one["name"] for one in told.json()["checks"]} == {
        *("stopping", "queue", "clock", "database", "writing", "disk", "reminders", "sweep", "deliveries")
    }
    assert str(tmp_path) not in told.text
    assert "department.db" not in told.text
    served.caller = Caller("token", token="x", scopes=frozenset({"items:read"}), identity="token")  # noqa: S106
    assert served.get("/health").status_code == 403
