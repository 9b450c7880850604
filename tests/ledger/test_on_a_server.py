"""What only a PostgreSQL server has: two roles, rows by site, months, settings checked at the start, lost connections.

Sources: PostgreSQL 18 documentation, chapters 5.9 (row security), 5.12 (partitions), 20.5 (write ahead log settings),
and the pages of GRANT, TRUNCATE and SELECT (FOR UPDATE, SKIP LOCKED).
"""

# ruff: noqa: S608 - the names put into statements are ours

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from errno import ENOSPC
from pathlib import Path

import psycopg
import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department, place_of
from reprocess.engine.enrolling import Enrol
from reprocess.engine.request import NoteItem
from reprocess.errors import (
    LedgerBusyError,
    LedgerError,
    LedgerFullError,
    LedgerUnsafeError,
    LedgerVersionError,
    WrongUseError,
)
from reprocess.ledger import files
from reprocess.ledger.address import Server
from reprocess.ledger.append import Transaction, claiming, looking, transaction
from reprocess.ledger.backup import backup
from reprocess.ledger.driver import LAST_ROW, POSTGRES, take_time
from reprocess.ledger.names import Name
from reprocess.ledger.open import Ledger, open_ledger
from reprocess.ledger.postgres import PATIENCE_S, ServerConnection, take_down, translated
from reprocess.ledger.server_schema import MAINTAINED
from reprocess.ledger.statements import BY_KEY
from reprocess.record import words
from reprocess.record.entry import Draft, Envelope
from reprocess.record.words import FactNoted
from reprocess.terms import DAY_S, LAST_US, SECOND_US
from reprocess.timetable import Due
from tests.ledger import raw, small
from tests.ledger.conftest import Command
from tests.ledger.day import Asked
from tests.ledger.forging import SERVER_NAMES
from tests.postgres import OWNER, SERVICE, TestServer

NOTE = FactNoted(subject="item:X", asked="test")
MONTH_S = 31 * DAY_S


@pytest.fixture
def there(postgres_department: Department) -> Server:
    """Returns where the small department is."""
    found = raw.place_of(postgres_department.ledger)
    assert isinstance(found, Server)
    return found


def note(department: Department, key: str) -> None:
    assert Asked(key, NoteItem("S-1", minutes=3)).put(department).accepted


def test_a_department_on_a_server_takes_a_step(postgres_department: Department) -> None:
    note(postgres_department, "note")
    assert Asked("note", NoteItem("S-1", minutes=3)).put(postgres_department).repeated
    assert postgres_department.item("S-1").used_minutes == 3
    report = postgres_department.verify(full=True)
    assert report.sound, report.findings


FORBIDDEN = {
    "an update": "UPDATE entry SET actor = 'P-B' WHERE feed = 5",
    "a deletion": "DELETE FROM entry WHERE feed = 5",
    "a truncation": "TRUNCATE entry",
    "a key changed": "UPDATE entry_key SET request_key = 'x' WHERE feed = 5",
    "a key deleted": "DELETE FROM entry_key WHERE feed = 5",
    "keys truncated": "TRUNCATE entry_key",
}


@pytest.mark.parametrize("statement", FORBIDDEN.values(), ids=FORBIDDEN.keys())
def test_the_service_has_no_right_to_change_an_entry(
    postgres_department: Department, there: Server, statement: str
) -> None:
    with psycopg.connect(there.address, autocommit=True) as service:
        service.execute("SET reprocess.sites = '*'")
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            service.execute(statement)
    assert postgres_department.verify(full=True).sound


@pytest.mark.parametrize("statement", FORBIDDEN.values(), ids=FORBIDDEN.keys())
@pytest.mark.parametrize("role", ["origin", "replica"])
def test_triggers_refuse_it_to_the_owner_and_to_a_superuser_too(
    postgres_department: Department,
    postgres_server: TestServer,
    there: Server,
    statement: str,
    role: str,
) -> None:
    with postgres_server.superuser(there) as superuser:
        superuser.execute(f"SET session_replication_role = {role}")
        with pytest.raises(psycopg.errors.IntegrityConstraintViolation, match="never changed or deleted"):
            superuser.execute(statement)
    assert postgres_department.verify().sound


MORE = {
    "the head moved": "UPDATE feed_head SET last = last + 1",
    "a key of one's own": "INSERT INTO entry_key SELECT 99, 'x', 1, 'x', 0, recorded_us FROM entry_key LIMIT 1",
    "a month emptied": "TRUNCATE entry_2026_03",
    "a month read past the rules": "SELECT * FROM entry_2026_03",
    "a trigger taken away": "ALTER TABLE entry DISABLE TRIGGER ALL",
    "a trigger dropped": "DROP TRIGGER entry_never_goes ON entry",
    "rows of all sites": "ALTER TABLE entry DISABLE ROW LEVEL SECURITY",
    "a role of its own": f"SET ROLE {OWNER}",
    "a session that replicates": "SET session_replication_role = replica",
}


@pytest.mark.parametrize("statement", MORE.values(), ids=MORE.keys())
def test_the_service_cannot_get_around_it(there: Server, statement: str) -> None:
    with (
        psycopg.connect(there.address, autocommit=True) as service,
        pytest.raises(psycopg.errors.InsufficientPrivilege),
    ):
        service.execute(statement)


@pytest.mark.parametrize("feed", ["5", "(SELECT last + 2 FROM feed_head)"], ids=["a number again", "a number left out"])
def test_only_the_next_number_is_taken(there: Server, feed: str) -> None:
    names = "id, stream, kind, version, occurred_us, recorded_us, offset_min, mono_us, running_us, boot, node, actor"
    names += ", second, identity, station, request_part, request_digest, body, answer, prev, digest, mac, mac_key"
    with psycopg.connect(there.address, autocommit=True) as service:
        service.execute("SET reprocess.sites = '*'")
        with pytest.raises(psycopg.errors.IntegrityConstraintViolation, match="entries are never replaced"):
            service.execute(
                f"INSERT INTO entry (feed, number, request_key, {names})"
                f" SELECT {feed}, 999, 'new', {names} FROM entry WHERE feed = 5"
            )


def seen(place: Server, sites: str | None) -> dict[str, int]:
    """Returns how many rows of each table a session sees."""
    tables = ("entry", "standing", "due", "touch", "credential", "wearer_name")
    with psycopg.connect(place.address, autocommit=True) as service:
        if sites is not None:
            service.execute("SELECT set_config('reprocess.sites', %s, false)", (sites,))
        return {one: service.execute(f"SELECT count(*) FROM {one}").fetchone()[0] for one in tables}  # type: ignore[index]


def test_without_a_site_nothing_is_seen(there: Server) -> None:
    assert set(seen(there, None).values()) == {0}
    assert set(seen(there, "").values()) == {0}
    everything = seen(there, "*")
    assert everything["entry"] > 0
    assert everything["standing"] > 0
    own = seen(there, "LMG")
    assert own["entry"] == everything["entry"]
    other = seen(there, "LMC,LME")
    assert 0 < other["entry"] < own["entry"]
    assert other["touch"] == 0


def test_who_sees_some_sites_alone_writes_nothing(there: Server) -> None:
    with psycopg.connect(there.address, autocommit=True) as service:
        service.execute("SET reprocess.sites = 'LMG'")
        with pytest.raises(psycopg.errors.InsufficientPrivilege, match="row-level security"):
            service.execute("INSERT INTO standing VALUES ('item:X', 'item', 1, '', 'LMG', '', '', 0, 0, '')")


@pytest.mark.parametrize("table", ["standing", "touch", "due", "review"])
def test_who_sees_some_sites_alone_deletes_nothing(there: Server, table: str) -> None:
    with psycopg.connect(there.address, autocommit=True) as service:
        service.execute("SET reprocess.sites = 'LMG'")
        assert service.execute(f"DELETE FROM {table}").rowcount == 0


def test_keys_and_files_of_other_sites_are_not_seen(postgres_department: Department, there: Server) -> None:
    files.keep_file(postgres_department.ledger, b"a picture")
    found = {}
    with psycopg.connect(there.address, autocommit=True) as service:
        for sites in ("*", "LMC"):
            service.execute("SELECT set_config('reprocess.sites', %s, false)", (sites,))
            keys = service.execute("SELECT stream FROM entry_key").fetchall()
            kept = service.execute("SELECT count(*) FROM kept_file").fetchone()
            found[sites] = ({stream for (stream,) in keys if stream.startswith("item:")}, kept)
    assert found == {"*": ({"item:S-1", "item:S-2", "item:S-3", "item:SET-1"}, (1,)), "LMC": (set(), (0,))}


def test_what_sees_some_sites_sees_all_again_afterwards(postgres_department: Department) -> None:
    ledger = postgres_department.ledger
    with looking(ledger, {"LMC"}) as read:
        assert list(read.items()) == []
    with looking(ledger) as read:
        assert len(list(read.items())) == 4
    note(postgres_department, "later")


SPOILT = {
    "may change entries": (f"GRANT UPDATE (actor) ON entry TO {SERVICE}", "may change or delete entries"),
    "may delete": (f"GRANT DELETE ON entry TO {SERVICE}", "may change or delete entries"),
    "may empty a month": (f"GRANT TRUNCATE ON entry_2026_03 TO {SERVICE}", "may change or delete entries"),
    "may move the head": (f"GRANT UPDATE ON feed_head TO {SERVICE}", "may change or delete entries"),
    "owns a table": (f"ALTER TABLE standing OWNER TO {SERVICE}", "owns the tables"),
    "a trigger is gone": ("DROP TRIGGER entry_never_goes ON entry", "trigger entry_never_goes"),
    "a trigger sleeps": ("ALTER TABLE entry DISABLE TRIGGER entry_never_changes", "was changed"),
    "a function does nothing": (
        "CREATE OR REPLACE FUNCTION entries_never_change() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
        "function entries_never_change",
    ),
    "rows are not kept apart": ("ALTER TABLE standing DISABLE ROW LEVEL SECURITY", "not kept apart by site"),
    "a rule more": ("CREATE POLICY more ON standing USING (true)", "not kept apart by site"),
    "may make functions": (f"GRANT CREATE ON SCHEMA public TO {SERVICE}", "may make tables and functions"),
    "everybody may make functions": ("GRANT CREATE ON SCHEMA public TO PUBLIC", "may make tables and functions"),
    "owns the schema": (f"ALTER SCHEMA public OWNER TO {SERVICE}", "owns the tables"),
    "owns a month": (f"ALTER TABLE entry_2026_03 OWNER TO {SERVICE}", "owns the tables"),
    "owns a function": (
        f"ALTER FUNCTION make_month OWNER TO {SERVICE}",
        "owns the tables",
    ),
    "may delete files": (f"GRANT DELETE ON kept_file TO {SERVICE}", "may change or delete entries"),
    "may read a month": (f"GRANT SELECT ON entry_2026_03 TO {SERVICE}", "past the rules of sites"),
    "a month's trigger sleeps": ("ALTER TABLE entry_2026_03 DISABLE TRIGGER entry_never_goes", "was changed"),
    "a month is taken out": ("ALTER TABLE entry DETACH PARTITION entry_2026_03", "month entry_2026_03 was taken out"),
    "a function looks elsewhere": ("ALTER FUNCTION make_month RESET search_path", "function make_month"),
    "a key may come twice": (
        "ALTER TABLE entry_key DROP CONSTRAINT entry_key_request_key_request_part_key",
        "coming twice is missing",
    ),
}


@pytest.mark.parametrize(("spoil", "told"), SPOILT.values(), ids=SPOILT.keys())
def test_a_server_that_does_not_keep_the_record_is_refused_at_the_start(
    postgres_department: Department, postgres_server: TestServer, there: Server, spoil: str, told: str
) -> None:
    postgres_department.close()
    postgres_server.run(spoil, database=there.database)
    with pytest.raises(LedgerUnsafeError, match=told):
        open_ledger(there)


@pytest.mark.parametrize("role", [OWNER, "postgres"], ids=["the owner", "a superuser"])
def test_the_service_may_not_be(there: Server, postgres_server: TestServer, role: str) -> None:
    address = postgres_server.of(role if role == OWNER else "", there.database)
    with pytest.raises(LedgerUnsafeError, match="use the service's own role"):
        open_ledger(replace(there, address=address))


POWERS = {
    "to make roles": (f"ALTER ROLE {SERVICE} CREATEROLE", f"ALTER ROLE {SERVICE} NOCREATEROLE"),
    "of a superuser": (f"GRANT postgres TO {SERVICE}", f"REVOKE postgres FROM {SERVICE}"),
    "to run programs": (
        f"GRANT pg_execute_server_program TO {SERVICE}",
        f"REVOKE pg_execute_server_program FROM {SERVICE}",
    ),
}


@pytest.mark.parametrize(("give", "take"), POWERS.values(), ids=POWERS.keys())
def test_the_service_may_not_have_the_power(there: Server, postgres_server: TestServer, give: str, take: str) -> None:
    postgres_server.run(give)
    try:
        with pytest.raises(LedgerUnsafeError, match="passes every right"):
            open_ledger(there)
    finally:
        postgres_server.run(take)


def test_nobody_puts_an_operator_of_their_own_before_the_servers(there: Server, postgres_server: TestServer) -> None:
    """What runs with the owner's rights looks nowhere else (PostgreSQL, page of CREATE FUNCTION)."""
    postgres_server.run(f"GRANT CREATE ON SCHEMA public TO {SERVICE}", database=there.database)
    with psycopg.connect(there.address, autocommit=True) as service:
        service.execute(
            "CREATE FUNCTION times(bigint, interval) RETURNS interval LANGUAGE plpgsql AS $$ BEGIN"
            f" EXECUTE 'GRANT ALL ON ALL TABLES IN SCHEMA public TO {SERVICE}';"
            " RETURN make_interval(secs => $1::double precision); END $$"
        )
        service.execute("CREATE OPERATOR public.* (LEFTARG = bigint, RIGHTARG = interval, FUNCTION = times)")
        service.execute("SELECT make_month(%s)", (small.START_US,))
        assert service.execute("SELECT has_table_privilege('entry', 'UPDATE')").fetchone() == (False,)


@pytest.mark.parametrize("at_us", [-1, -(10**15), LAST_US, LAST_ROW])
def test_no_month_is_made_for_an_instant_that_never_is(there: Server, at_us: int) -> None:
    with psycopg.connect(there.address, autocommit=True) as service:
        with pytest.raises(psycopg.errors.DatetimeFieldOverflow):
            service.execute("SELECT make_month(%s)", (at_us,))
        assert service.execute("SELECT begins FROM make_month(0)").fetchone() == (0,)
        assert service.execute("SELECT begins FROM make_month(%s)", (LAST_US - 1,)).fetchone()


def test_another_records_key_seals_nothing(there: Server, postgres_address: Server) -> None:
    """One entry under another key could never be taken back."""
    small.found(postgres_address).close()
    with small.opened(replace(there, key_file=postgres_address.key_file), StoryClock(small.START_US * 2)) as wrong:
        with pytest.raises(LedgerError, match="was not written with the key in"):
            note(wrong, "a step")
        last = wrong.last_feed()
    with small.opened(there, StoryClock(small.START_US * 2)) as right:
        note(right, "a step")
        assert right.last_feed() > last
        assert right.verify(full=True).sound


def test_a_commit_that_does_not_wait_for_the_disk_is_put_right(there: Server, postgres_server: TestServer) -> None:
    postgres_server.run(f"ALTER DATABASE {there.database} SET synchronous_commit = off")
    ledger = open_ledger(there)
    with ledger.reading() as cursor:
        assert cursor.execute("SELECT current_setting('synchronous_commit')").fetchone() == ("on",)
    ledger.close()


def test_a_story_in_a_hurry_leaves_no_connection_that_does_not_wait(postgres_department: Department) -> None:
    postgres_department.ledger.hurry()
    with postgres_department.ledger.reading() as cursor:
        assert cursor.execute("SELECT current_setting('synchronous_commit')").fetchone() == ("on",)


def test_what_is_no_record_is_refused(postgres_address: Server) -> None:
    postgres_address.key_file.write_bytes(bytes(32))
    with pytest.raises(LedgerVersionError, match="is not a department's record"):
        open_ledger(postgres_address)


def test_a_server_that_is_not_there_is_one_sentence(there: Server) -> None:
    nowhere = replace(there, address=f"postgresql://{SERVICE}@/none?host=/nowhere-at-all")
    with pytest.raises(LedgerBusyError, match="none cannot be reached; nothing was recorded"):
        open_ledger(nowhere)


@pytest.mark.parametrize(
    "address",
    [
        "postgresql://a:secret-word@h/d",
        "postgresql://a@h/d?password=secret-word",
        "postgresql://h/d",
        "postgresql://a@h",
    ],
)
def test_an_address_holds_no_password_and_names_role_and_database(address: str) -> None:
    with pytest.raises(WrongUseError) as refused:
        place_of(address)
    assert "secret-word" not in refused.value.sentence


def test_a_record_is_never_made_over_another(there: Server, tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match="holds a record already; nothing was changed"):
        small.found(replace(there, key_file=tmp_path / "new.key"))
    assert not (tmp_path / "new.key").exists()
    with pytest.raises(LedgerError, match="exists already; nothing was changed"):
        small.found(there)


def test_a_founding_that_fails_leaves_nothing_behind(postgres_address: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr("reprocess.enrolment.found", lambda *_: 1 // 0)
        with pytest.raises(ZeroDivisionError):
            small.found(postgres_address)
    assert not postgres_address.key_file.exists()
    small.found(postgres_address).close()


def test_a_founding_whose_role_is_refused_leaves_nothing_behind(
    postgres_address: Server, postgres_server: TestServer
) -> None:
    give, take = POWERS["to make roles"]
    postgres_server.run(give)
    try:
        with pytest.raises(LedgerUnsafeError, match="passes every right"):
            small.found(postgres_address)
    finally:
        postgres_server.run(take)
    small.found(postgres_address).close()


def test_a_founding_whose_key_cannot_be_kept_leaves_nothing_behind(
    postgres_address: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("reprocess.ledger.open.keep_key", full)
        with pytest.raises(LedgerFullError):
            small.found(postgres_address)
    small.found(postgres_address).close()


def test_every_month_has_a_table_of_its_own(postgres_department: Department, there: Server) -> None:
    clock = postgres_department.clock
    assert isinstance(clock, StoryClock)
    for number in range(4):
        clock.push(MONTH_S)
        note(postgres_department, f"month-{number}")
    months = "SELECT relname FROM pg_class WHERE relname LIKE 'entry_2026_0%' AND relkind = 'r' ORDER BY relname"
    names = [name for (name,) in raw.asked(there, months)]
    assert names[:5] == [f"entry_2026_0{month}" for month in range(3, 8)]
    assert Asked("month-0", NoteItem("S-1", minutes=3)).put(postgres_department).repeated
    plan = f"EXPLAIN (ANALYZE, COSTS OFF, TIMING OFF) {POSTGRES[BY_KEY]}".replace(":key", "'month-0'")
    read = [line for (line,) in raw.asked(there, plan) if " on entry_20" in line and "never executed" not in line]
    assert len(read) == 1
    assert postgres_department.verify(full=True).sound


def race(*works: Callable[[], None]) -> list[Exception]:
    """Runs functions at once and returns what went wrong."""
    faults: list[Exception] = []
    start = threading.Barrier(len(works))

    def run(work: Callable[[], None]) -> None:
        start.wait()
        try:
            work()
        except Exception as fault:
            faults.append(fault)

    threads = [threading.Thread(target=run, args=(work,)) for work in works]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    return faults


def test_two_nodes_that_race_have_one_winner_and_no_gap(postgres_department: Department, there: Server) -> None:
    other = small.opened(there, StoryClock(small.START_US + 120 * SECOND_US, count=90_000))
    won: list[bool] = []

    def ask(department: Department) -> None:
        for number in range(20):
            answer = Asked(f"same-{number}", NoteItem("S-1", minutes=1)).put(department)
            won.append(not answer.repeated)

    with other:
        assert race(lambda: ask(postgres_department), lambda: ask(other)) == []
        assert sum(won) == 20
        assert other.item("S-1").used_minutes == 20
        assert other.verify(full=True).sound
    feeds = [feed for (feed,) in raw.asked(there, "SELECT feed FROM entry ORDER BY feed")]
    assert feeds == list(range(1, len(feeds) + 1))


def due(number: int) -> Due:
    return Due(f"T12/item:S-1/{number}", "item:S-1", "T12", small.START_US + number, 0, {"say": "over", "site": "LMG"})


def test_two_sweeps_at_once_share_what_is_due(postgres_department: Department, there: Server) -> None:
    """SELECT ... FOR UPDATE SKIP LOCKED; neither waits for whoever writes entries."""
    other = open_ledger(there)
    now = postgres_department.clock.now()
    with transaction(postgres_department.ledger) as work:
        work.dues.replace("item:S-1", [due(number) for number in range(10)])
    with transaction(postgres_department.ledger), claiming(postgres_department.ledger) as one:
        mine = [row.due.key for row in one.dues.ready(now, 4)]
        with claiming(other) as two:
            theirs = [row.due.key for row in two.dues.ready(now, LAST_ROW // 2)]
            assert two.dues.claim(theirs, "two", now.wall_us) == frozenset(theirs)
        assert one.dues.claim([*mine, *theirs], "one", now.wall_us) == frozenset(mine)
    assert len(mine) == 4
    assert len(theirs) == 6
    other.close()


def envelope(department: Department, key: str) -> Envelope:
    return Envelope(department.clock.now(), 0, None, None, None, key, "0" * 32)


def test_a_hanging_writer_lets_reading_go_on_and_is_one_sentence_to_others(
    postgres_department: Department, there: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("reprocess.ledger.postgres.LOCK_MS", 50)
    with (
        small.opened(there, StoryClock(small.START_US * 2, count=80_000)) as other,
        postgres_department.ledger.writing(),
    ):
        with pytest.raises(LedgerBusyError, match="busy; nothing was recorded"):
            note(other, "waits")
        assert other.item("S-1").used_minutes == 0
    note(postgres_department, "goes-on")


@pytest.fixture
def cut(postgres_server: TestServer, there: Server) -> Callable[[], None]:
    """Returns what ends every other connection to the department's database."""

    def end() -> None:
        ended = f"SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = '{there.database}'"
        postgres_server.run(f"{ended} AND pid <> pg_backend_pid()")

    return end


def test_connections_that_were_lost_between_two_steps_are_made_anew(
    postgres_department: Department, cut: Callable[[], None]
) -> None:
    note(postgres_department, "before")
    cut()
    note(postgres_department, "after")
    assert postgres_department.verify(full=True).sound


@pytest.mark.parametrize("when", ["before the commit", "after the commit"])
def test_a_connection_lost_in_a_step_is_tried_once_more_with_the_same_key(
    postgres_department: Department, cut: Callable[[], None], monkeypatch: pytest.MonkeyPatch, when: str
) -> None:
    finish = ServerConnection.finish
    lost: list[str] = []

    def losing(connection: ServerConnection) -> str | None:
        if lost:
            return finish(connection)
        lost.append(when)
        if when == "after the commit":
            finish(connection)
        cut()
        return finish(connection)

    monkeypatch.setattr(ServerConnection, "finish", losing)
    answer = Asked("note", NoteItem("S-1", minutes=3)).put(postgres_department)
    assert answer.accepted
    assert answer.repeated == (when == "after the commit")
    assert postgres_department.item("S-1").used_minutes == 3
    assert postgres_department.verify(full=True).sound


def test_without_a_second_try_an_unknown_commit_is_called_so(
    postgres_department: Department, cut: Callable[[], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    finish = ServerConnection.finish

    def losing(connection: ServerConnection) -> str | None:
        cut()
        return finish(connection)

    monkeypatch.setattr(ServerConnection, "finish", losing)
    with (
        pytest.raises(LedgerError, match="whether it is on record is not certain"),
        transaction(postgres_department.ledger) as work,
    ):
        work.write(work.prepare([Draft("site:LMG", NOTE)], envelope(postgres_department, "k"), iter(["id"])), "{}")


HANGS: dict[str, Callable[[Transaction], object]] = {
    "at once": lambda _: None,
    "after a question": lambda work: work.person_of("B-A"),
    "after a write": lambda work: work.dues.keep_swept(4),
    "after several writes": lambda work: work.dues.replace("item:S-1", [due(number) for number in range(3)]),
}


def hang(department: Department, do: Callable[[Transaction], object], other: Department) -> None:
    """Begins a transaction that goes no further while another node takes a step."""
    with transaction(department.ledger) as work:
        do(work)
        note(other, "goes on")


@pytest.mark.parametrize("do", HANGS.values(), ids=HANGS.keys())
def test_a_node_that_hangs_in_a_transaction_lets_the_others_go_on(
    postgres_department: Department,
    there: Server,
    monkeypatch: pytest.MonkeyPatch,
    do: Callable[[Transaction], object],
) -> None:
    """The server ends what does nothing for long; statements sent together must not look unfinished to it."""
    monkeypatch.setattr("reprocess.ledger.postgres.IDLE_MS", 100)
    assert postgres_department.ledger.server is not None
    postgres_department.ledger.server.dispose()
    with small.opened(there, StoryClock(small.START_US * 2, count=80_000)) as other:
        with pytest.raises(LedgerError, match="was lost while this was being recorded"):
            hang(postgres_department, do, other)
        assert other.item("S-1").used_minutes == 3
        assert other.verify(full=True).sound
    note(postgres_department, "after")


def test_a_server_that_does_not_answer_is_not_waited_for_for_ever(
    postgres_department: Department, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A server that is stopped cannot end its own statements."""
    monkeypatch.setattr("reprocess.ledger.postgres.PATIENCE_S", 0.1)
    with pytest.raises(LedgerBusyError, match="nothing was recorded"), postgres_department.ledger.reading() as cursor:
        cursor.execute("SELECT pg_sleep(20)").fetchone()
    monkeypatch.undo()
    with postgres_department.ledger.reading() as cursor:
        take_time(cursor)
        assert cursor.connection.patience_s is None
    with postgres_department.ledger.reading() as cursor:
        assert cursor.connection.patience_s == PATIENCE_S
    note(postgres_department, "after")


def test_nothing_is_remembered_of_entries_that_a_failover_lost(
    postgres_department: Department, postgres_server: TestServer, there: Server
) -> None:
    """A copy that lagged behind went on to the same number with other entries; here it stands in the same place."""

    def give(department: Department, key: str) -> None:
        badge = words.BadgeGiven(badge=f"B-{key.upper()}")
        assert Asked(key, Enrol("person:P-B", badge)).put(department).accepted

    give(postgres_department, "lost")
    postgres_server.drop(there)
    copied = postgres_server.founded["small"].database
    postgres_server.run(f"CREATE DATABASE {there.database} OWNER {OWNER} TEMPLATE {copied}")
    with small.opened(there, StoryClock(small.START_US * 2, count=80_000)) as other:
        give(other, "instead")
        give(postgres_department, "after")
        report = other.verify(full=True)
        assert report.sound, report.findings


def test_an_erased_name_is_gone_from_the_tables_file(
    postgres_department: Department, postgres_server: TestServer, there: Server
) -> None:
    """GRANT MAINTAIN is PostgreSQL 17's; without it the service says that it may not."""
    ledger = postgres_department.ledger
    with transaction(ledger) as work:
        for number in range(9):
            work.names.keep(f"W-{number}", Name("Ida Marsh" if number % 2 else "Bo Fen"))
    with transaction(ledger) as work:
        for number in range(1, 9, 2):
            work.names.erase(f"W-{number}")
    with postgres_server.superuser(there) as superuser:
        may = superuser.info.server_version >= MAINTAINED
        assert ledger.settle() == may
        superuser.execute("CHECKPOINT")
        asked = "SELECT pg_read_binary_file(pg_relation_filepath('wearer_name'))"
        content = bytes(superuser.execute(asked).fetchone()[0])
        assert b"Bo Fen" in content
        assert (b"Ida Marsh" in content) != may
        if may:
            superuser.execute(f"REVOKE MAINTAIN ON wearer_name FROM {SERVICE}")
        assert not ledger.settle()


BESIDE = {
    "the head ahead": ("UPDATE feed_head SET last = last + 5", "the head of the feed says"),
    "the head behind": ("UPDATE feed_head SET last = last - 5", "the head of the feed says"),
    "no head": ("DELETE FROM feed_head", "the head of the feed is missing"),
    "another key": ("UPDATE entry_key SET request_key = 'x' WHERE feed = 5", "kept beside entry 5 are not its own"),
    "a key of another month": (
        "UPDATE entry_key SET recorded_us = recorded_us + 3000000000000 WHERE feed = 5",
        "kept beside entry 5 are not its own",
    ),
    "a key that is gone": ("DELETE FROM entry_key WHERE feed = 5", "kept beside entry 5 are not its own"),
    "a key without an entry": (
        f"INSERT INTO entry_key VALUES (999, 'item:S-1', 99, 'x', 0, {small.START_US})",
        "kept beside entry 999 are not its own",
    ),
}


@pytest.mark.parametrize(("forge", "told"), BESIDE.values(), ids=BESIDE.keys())
def test_what_is_kept_beside_the_entries_is_verified(
    postgres_department: Department, there: Server, forge: str, told: str
) -> None:
    with raw.raw(there) as owner:
        owner.run("ALTER TABLE entry_key DISABLE TRIGGER USER")
        owner.run(forge)
        for name in SERVER_NAMES["entry_key"]:
            owner.run(f"ALTER TABLE entry_key ENABLE ALWAYS TRIGGER {name}")
    assert told in postgres_department.verify(full=True).findings[0].sentence


@pytest.mark.parametrize(
    ("forge", "told"),
    [("last = last + 5", "lacks its last entry"), ("last = last - 5", "nothing was recorded")],
    ids=["ahead", "behind"],
)
def test_nothing_is_written_after_a_head_that_is_not_the_last_entry(
    postgres_department: Department, there: Server, forge: str, told: str
) -> None:
    with raw.raw(there) as owner:
        owner.run(f"UPDATE feed_head SET {forge}")
    with pytest.raises(LedgerError, match=told):
        note(postgres_department, "a step")


def test_a_record_that_lost_its_entries_is_not_called_unfinished(
    postgres_department: Department, there: Server
) -> None:
    """Else whoever reads the sentence removes what is left of it."""
    postgres_department.close()
    with raw.raw(there) as owner:
        owner.run("ALTER TABLE entry DISABLE TRIGGER USER")
        owner.run("DELETE FROM entry")
        for name in SERVER_NAMES["entry"]:
            owner.run(f"ALTER TABLE entry ENABLE ALWAYS TRIGGER {name}")
    with pytest.raises(LedgerError, match="holds none of its") as told:
        open_ledger(there)
    assert "Remove" not in told.value.sentence


def test_a_head_that_was_set_back_lets_nobody_remove_the_tables(postgres_department: Department, there: Server) -> None:
    with raw.raw(there) as owner:
        owner.run("UPDATE feed_head SET last = 0")
    with pytest.raises(LedgerUnsafeError, match="holds entries and was left as it is"):
        take_down(there)
    assert postgres_department.verify().entries


def test_what_no_server_can_keep_is_one_sentence(postgres_department: Department) -> None:
    """PostgreSQL keeps no NUL in a text (chapter 8.3)."""
    with (
        pytest.raises(LedgerError, match="cannot keep a text or a number that it was given; nothing was recorded"),
        transaction(postgres_department.ledger) as work,
    ):
        work.names.keep("W-1", Name("Ida\0Marsh"))


def test_how_many_rows_changed_is_known_among_statements_sent_together(postgres_department: Department) -> None:
    with postgres_department.ledger.in_transaction() as cursor:
        cursor.execute("UPDATE about SET value = value")
        assert cursor.rowcount == 2


def test_a_file_is_kept_where_every_node_has_it(postgres_department: Department, there: Server) -> None:
    digest = files.keep_file(postgres_department.ledger, b"a picture")
    assert files.keep_file(postgres_department.ledger, b"a picture") == digest
    other: Ledger = open_ledger(there)
    assert files.read_file(other, digest) == b"a picture"
    with pytest.raises(LedgerError, match="is missing"):
        files.read_file(other, "0" * 64)
    other.close()


def test_the_commands_work_with_an_address(postgres_address: Server, command: Command, tmp_path: Path) -> None:
    """A new department, a step and a verification as they are typed; a copy is refused in one sentence."""
    file = tmp_path / "department.yaml"
    file.write_text(small.DEPARTMENT.partition("files:")[0])
    code, out, err = command("init", file, "-d", postgres_address)
    assert (code, err) == (0, "")
    assert f"Its key is {postgres_address.key_file}" in out
    assert command("verify", "--full", "-d", postgres_address)[0] == 0
    code, out, err = command("backup", tmp_path / "monday.db", "-d", postgres_address)
    assert (code, out) == (3, "")
    assert "the server's own tools" in err
    code, _, err = command("restore", "x.db", "--key", "x.key", "-d", postgres_address)
    assert code == 3
    assert "the server's own tools" in err


def test_no_copy_of_ours_is_made_of_a_server(postgres_department: Department, tmp_path: Path) -> None:
    with pytest.raises(LedgerError, match="the server's own tools"):
        backup(postgres_department.ledger, tmp_path / "monday.db")
    assert list(tmp_path.iterdir()) == []


TEXTS = {
    "SELECT a FROM t WHERE b = ? AND c LIKE 'x%?'": "SELECT a FROM t WHERE b = %s AND c LIKE 'x%%?'",
    "SELECT a::bigint FROM t WHERE b = :name AND c = ':no'": "SELECT a::bigint FROM t WHERE b = %(name)s AND c = ':no'",
    "SELECT a % 64 FROM t WHERE b = ?1 OR c = ?2 OR d = ?1": (
        "SELECT a %% 64 FROM t WHERE b = %(p1)s OR c = %(p2)s OR d = %(p1)s"
    ),
    "SELECT 'it''s ?' WHERE a = ?": "SELECT 'it''s ?' WHERE a = %s",
}


@pytest.mark.parametrize(("text", "told"), TEXTS.items())
def test_statements_are_translated_outside_their_quotes(text: str, told: str) -> None:
    assert translated(text).text == told
