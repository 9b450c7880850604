"""The tables on a PostgreSQL server: the entries by month, one head of the feed, rights and rows by site.

Two roles: the owner makes the tables and the months; the service reads and adds entries and may neither change nor
delete one, nor take the triggers away that refuse it too.
"""

# ruff: noqa: S608 - the names put into statements are ours

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from sqlalchemy import (
    CheckConstraint,
    Column,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
)

from reprocess.errors import LedgerUnsafeError
from reprocess.ledger import sites
from reprocess.ledger.rendering import texts_of
from reprocess.ledger.tables import ENTRY, METADATA, WEARER_NAME
from reprocess.terms import LAST_US

ON_SERVER: Final = MetaData()

FEED_HEAD: Final = Table(
    "feed_head",
    ON_SERVER,
    Column("one", Integer, primary_key=True, autoincrement=False),
    Column("last", Integer, nullable=False),
    Column("version", Integer, nullable=False),
    CheckConstraint("one = 1", name="one_row"),
)
"""One row, locked by whoever writes: the last number of the feed, and a number that moves when projections are made
anew."""

ENTRY_KEY: Final = Table(
    "entry_key",
    ON_SERVER,
    Column("feed", Integer, primary_key=True, autoincrement=False),
    Column("stream", Text, nullable=False),
    Column("number", Integer, nullable=False),
    Column("request_key", Text, nullable=False),
    Column("request_part", Integer, nullable=False),
    Column("recorded_us", Integer, nullable=False),
    UniqueConstraint("stream", "number"),
    UniqueConstraint("request_key", "request_part"),
)
"""What must be unique over all months, and in which month each entry is; a trigger fills it with the entry."""

KEPT_FILE: Final = Table(
    "kept_file",
    ON_SERVER,
    Column("digest", Text, primary_key=True),
    Column("content", LargeBinary, nullable=False),
)
"""The files that entries name, under the digest of their content, so that every node has them."""


def _by_month() -> Table:
    """Returns the table of entries: what a row holds is the same, what is unique is unique within its month."""
    own = Table(
        ENTRY.name,
        ON_SERVER,
        *[Column(one.name, one.type, nullable=one.nullable) for one in ENTRY.c],
        Column("site", Text),
        PrimaryKeyConstraint("feed", "recorded_us"),
        *[CheckConstraint(one.sqltext, name=one.name) for one in ENTRY.constraints if isinstance(one, CheckConstraint)],
        Index("entry_stream", "stream", "number"),
        Index("entry_kind", "kind", "feed"),
        postgresql_partition_by="RANGE (recorded_us)",
    )
    for index in ENTRY.indexes:
        where = index.dialect_options["sqlite"]["where"]
        Index(index.name, *[own.c[one.name] for one in index.columns], sqlite_where=where)
    return own


ENTRY_BY_MONTH: Final = _by_month()
"""`site` is where the stream stood after the entry; it is not hashed, and decides who may see the row."""

MONTHS: Final = 0x5E9_0CE56
"""The number of the lock that is held while a month is made (our choice)."""
REFUSING: Final = ("entry", "entry_key")
"""The tables that only grow."""

_FUNCTIONS: Final = (
    # The search path holds what the server brings alone, so that nobody can put a table, an operator or a function of
    # their own before it: these run with the owner's rights.
    """CREATE OR REPLACE FUNCTION entry_takes_its_place() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
    SET search_path = pg_catalog, pg_temp AS $$
    BEGIN
      UPDATE {schema}.feed_head SET last = NEW.feed WHERE last = NEW.feed - 1;
      IF NOT FOUND THEN
        RAISE EXCEPTION 'entries are never replaced, and none is left out: % is not the next one', NEW.feed
          USING ERRCODE = 'integrity_constraint_violation';
      END IF;
      INSERT INTO {schema}.entry_key (feed, stream, number, request_key, request_part, recorded_us)
        VALUES (NEW.feed, NEW.stream, NEW.number, NEW.request_key, NEW.request_part, NEW.recorded_us);
      RETURN NEW;
    END $$""",
    """CREATE OR REPLACE FUNCTION entries_never_change() RETURNS trigger LANGUAGE plpgsql
    SET search_path = pg_catalog, pg_temp AS $$
    BEGIN
      RAISE EXCEPTION 'entries are never changed or deleted' USING ERRCODE = 'integrity_constraint_violation';
    END $$""",
    """CREATE OR REPLACE FUNCTION make_month(at_us bigint, OUT begins bigint, OUT ends bigint)
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp SET client_min_messages = warning AS $$
    DECLARE
      month timestamp;
      own text;
    BEGIN
      IF at_us < 0 OR at_us >= {last} THEN
        RAISE EXCEPTION 'no entry is of that instant' USING ERRCODE = 'datetime_field_overflow';
      END IF;
      month := date_trunc('month', timestamp 'epoch' + (at_us / 1000000) * interval '1 second');
      own := 'entry_' || to_char(month, 'YYYY_MM');
      PERFORM pg_advisory_xact_lock({months});
      begins := extract(epoch FROM month)::bigint * 1000000;
      ends := extract(epoch FROM month + interval '1 month')::bigint * 1000000;
      IF to_regclass(format('%I.%I', {literal}, own)) IS NULL THEN
        EXECUTE format('CREATE TABLE {schema}.%I (LIKE {schema}.entry INCLUDING DEFAULTS INCLUDING CONSTRAINTS)', own);
        EXECUTE format('CREATE TRIGGER entry_never_emptied BEFORE TRUNCATE ON {schema}.%I'
          ' EXECUTE FUNCTION {schema}.entries_never_change()', own);
        EXECUTE format('ALTER TABLE {schema}.%I ENABLE ALWAYS TRIGGER entry_never_emptied', own);
        EXECUTE format('ALTER TABLE {schema}.entry ATTACH PARTITION {schema}.%I FOR VALUES FROM (%s) TO (%s)',
          own, begins, ends);
      END IF;
    END $$""",
)
"""A month is made beside the others and then attached, which keeps no reader waiting."""

TRIGGERS: Final = (
    ("entry", "entry_takes_its_place", "BEFORE INSERT", "ROW", "entry_takes_its_place"),
    *(
        (table, f"{table}_{name}", f"BEFORE {what}", level, "entries_never_change")
        for table in REFUSING
        for name, what, level in (
            ("never_changes", "UPDATE", "ROW"),
            ("never_goes", "DELETE", "ROW"),
            ("never_emptied", "TRUNCATE", "STATEMENT"),
        )
    ),
)
"""Table, trigger, when, for each what, function. They fire always, also where a session says that it replicates."""

_SITES: Final = "(SELECT current_setting('reprocess.sites', true))"
"""The sites that a session may see, separated by commas; `*` for all; where it is not set, none."""
_ALL: Final = f"{_SITES} = '*'"
_AT_SITE: Final = f"site = ANY (string_to_array({_SITES}, ','))"
_SEEN: Final = sites.conditions(_AT_SITE, f"{_SITES} <> ''")
SEEN: Final = _SEEN | {
    ENTRY.name: f"{_AT_SITE} OR {_SEEN[ENTRY.name]}",
    ENTRY_KEY.name: _SEEN[ENTRY.name].replace(f"{ENTRY.name}.", f"{ENTRY_KEY.name}."),
    KEPT_FILE.name: "FALSE",
}
"""Which rows a session sees that sees some sites alone (ledger/sites.py), by table; it changes none of them."""
POLICIES: Final = {"by_site": "FOR SELECT USING ({seen})", "by_all": f"USING ({_ALL}) WITH CHECK ({_ALL})"}
"""The rules of each of these tables. Whoever writes sees and may write everything."""

MAINTAINED: Final = 170_000
"""From PostgreSQL 17 on a role may be let make a table's file anew, so that an erased name goes from it at once."""
FREE_TABLES: Final = tuple(table for table in METADATA.sorted_tables if table is not ENTRY)
"""What is the same on both databases."""


def create(cursor: Any, service: str) -> None:
    """Makes every table, function, trigger and right, inside the owner's transaction.

    Args:
        cursor: of the owner.
        service: the role with which the service works.
    """
    own = (FEED_HEAD, ENTRY_KEY, KEPT_FILE, ENTRY_BY_MONTH)
    for statement in texts_of((*own, *FREE_TABLES), server=True):
        cursor.run(statement)
    cursor.run("INSERT INTO feed_head (one, last, version) VALUES (1, 0, 0)")
    make_functions(cursor)
    for table, name, when, level, function in TRIGGERS:
        cursor.run(f"CREATE TRIGGER {name} {when} ON {table} FOR EACH {level} EXECUTE FUNCTION {function}()")
        cursor.run(f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {name}")
    secure(cursor, service)


def drop(cursor: Any) -> None:
    """Removes every table of a record that has no entry; one that has any is left as it is.

    Raises:
        LedgerUnsafeError: there are entries.
    """
    if cursor.execute("SELECT max(last) > 0 OR EXISTS (SELECT 1 FROM entry) FROM feed_head").fetchone()[0]:
        message = "The record holds entries and was left as it is."
        raise LedgerUnsafeError(message)
    for table in (*ON_SERVER.sorted_tables, *FREE_TABLES):
        cursor.run(f"DROP TABLE IF EXISTS {table.name} CASCADE")


def make_functions(cursor: Any) -> None:
    """Makes the functions anew; they run with the owner's rights and nobody but the service may call them."""
    schema, literal = cursor.execute("SELECT quote_ident(current_schema()), quote_literal(current_schema())").fetchone()
    for one in _FUNCTIONS:
        cursor.run(_own(one, schema, literal))


def _own(text: str, schema: str, literal: str) -> str:
    text = text.replace("{schema}", schema).replace("{literal}", literal)
    return text.replace("{months}", str(MONTHS)).replace("{last}", str(LAST_US))


def make_months(cursor: Any) -> None:
    """Makes the table of this month and of the next one, by the server's clock."""
    for ahead in ("0 months", "1 month"):
        cursor.execute("SELECT make_month((extract(epoch FROM now() + ?::interval) * 1000000)::bigint)", (ahead,))
        cursor.fetchall()


def secure(cursor: Any, service: str) -> None:
    """Gives the service's role its rights and no more, and makes the rules by which rows are seen."""
    role, schema = cursor.execute("SELECT quote_ident(?), quote_ident(current_schema())", (service,)).fetchone()
    cursor.run(f"REVOKE ALL ON ALL TABLES IN SCHEMA {schema} FROM PUBLIC, {role}")
    cursor.run(f"REVOKE ALL ON ALL FUNCTIONS IN SCHEMA {schema} FROM PUBLIC, {role}")
    cursor.run(f"REVOKE CREATE ON SCHEMA {schema} FROM PUBLIC, {role}")
    cursor.run(f"GRANT USAGE ON SCHEMA {schema} TO {role}")
    cursor.run(f"GRANT EXECUTE ON FUNCTION make_month(bigint) TO {role}")
    cursor.run(f"GRANT SELECT, INSERT ON entry, kept_file TO {role}")
    cursor.run(f"GRANT SELECT ON entry_key, feed_head TO {role}")
    cursor.run(f"GRANT UPDATE (version) ON feed_head TO {role}")
    for table in FREE_TABLES:
        cursor.run(f"GRANT SELECT, INSERT, UPDATE, DELETE ON {table.name} TO {role}")
    if cursor.execute("SELECT current_setting('server_version_num')::int").fetchone()[0] >= MAINTAINED:
        cursor.run(f"GRANT MAINTAIN ON {WEARER_NAME.name} TO {role}")
    for name, seen in SEEN.items():
        cursor.run(f"ALTER TABLE {name} ENABLE ROW LEVEL SECURITY")
        for policy, rule in POLICIES.items():
            cursor.run(f"DROP POLICY IF EXISTS {policy} ON {name}")
            cursor.run(f"CREATE POLICY {policy} ON {name} {rule.replace('{seen}', seen)}")


_HERE: Final = "current_schema()::regnamespace"
_MONTHS: Final = "pg_inherits AS i WHERE i.inhparent = 'entry'::regclass"
_RIGHTS: Final = {
    "passes every right (superuser, BYPASSRLS, REPLICATION, CREATEROLE, or the server's files)": (
        "EXISTS (SELECT 1 FROM pg_roles AS r WHERE pg_has_role(r.oid, 'MEMBER') AND (r.rolsuper OR r.rolbypassrls"
        " OR r.rolreplication OR r.rolcreaterole"
        " OR r.rolname IN ('pg_execute_server_program', 'pg_write_server_files')))"
    ),
    "owns the tables": (
        f"EXISTS (SELECT 1 FROM pg_class AS c WHERE c.relnamespace = {_HERE} AND pg_has_role(c.relowner, 'MEMBER'))"
        f" OR EXISTS (SELECT 1 FROM pg_proc AS p WHERE p.pronamespace = {_HERE} AND pg_has_role(p.proowner, 'MEMBER'))"
        f" OR EXISTS (SELECT 1 FROM pg_namespace AS n WHERE n.oid = {_HERE} AND pg_has_role(n.nspowner, 'MEMBER'))"
        " OR EXISTS (SELECT 1 FROM pg_database AS d WHERE d.datname = current_database()"
        " AND pg_has_role(d.datdba, 'MEMBER'))"
    ),
    "may make tables and functions beside the record's": (
        "has_schema_privilege(current_schema(), 'CREATE') OR has_database_privilege(current_database(), 'CREATE')"
    ),
    "may change or delete entries": (
        "has_any_column_privilege('entry', 'UPDATE') OR has_table_privilege('entry', 'DELETE, TRUNCATE, TRIGGER')"
        " OR has_any_column_privilege('entry_key', 'INSERT, UPDATE')"
        " OR has_table_privilege('entry_key', 'DELETE, TRUNCATE, TRIGGER')"
        " OR has_any_column_privilege('kept_file', 'UPDATE')"
        " OR has_table_privilege('kept_file', 'DELETE, TRUNCATE, TRIGGER')"
        " OR has_column_privilege('feed_head', 'last', 'UPDATE')"
        " OR has_table_privilege('feed_head', 'INSERT, DELETE, TRUNCATE, TRIGGER')"
        f" OR EXISTS (SELECT 1 FROM {_MONTHS} AND (has_any_column_privilege(i.inhrelid, 'INSERT, UPDATE')"
        " OR has_table_privilege(i.inhrelid, 'DELETE, TRUNCATE, TRIGGER')))"
    ),
    "may read entries past the rules of sites": (
        f"EXISTS (SELECT 1 FROM {_MONTHS} AND has_any_column_privilege(i.inhrelid, 'SELECT'))"
    ),
}
"""What the service's role must not be or have, and how it is found; the first that holds is told."""


def must_be_bounded(cursor: Any) -> None:
    """Raises where the role that works with the record could change it behind our back.

    Raises:
        LedgerUnsafeError: it passes all rights, owns the tables, may change entries, or the guards are not in place.
    """
    found = cursor.execute(f"SELECT {', '.join(f'({one})' for one in _RIGHTS.values())}").fetchone()
    for what, holds in zip(_RIGHTS, found, strict=True):
        if holds:
            message = f"The role that works with the record {what}; use the service's own role."
            raise LedgerUnsafeError(message)
    lost = next(iter(guards_gone(cursor)), None)
    if lost is not None:
        message = f"{lost[:1].upper()}{lost[1:]}; the owner's role must put it back."
        raise LedgerUnsafeError(message)


_TRIGGERS: Final = (
    "SELECT c.relname, t.tgname, t.tgenabled, p.proname FROM pg_trigger AS t JOIN pg_class AS c ON c.oid = t.tgrelid"
    " JOIN pg_proc AS p ON p.oid = t.tgfoid WHERE c.oid IN ('entry'::regclass, 'entry_key'::regclass)"
    f" OR c.oid IN (SELECT i.inhrelid FROM {_MONTHS})"
)
_TABLES: Final = (
    f"SELECT c.relname, EXISTS (SELECT 1 FROM {_MONTHS} AND i.inhrelid = c.oid) FROM pg_class AS c"
    f" WHERE c.relnamespace = {_HERE} AND c.relkind = 'r' AND c.relname ~ '^entry_[0-9]+_[0-9]+$'"
)
_BODIES: Final = (
    "SELECT proname, prosrc, prosecdef, 'search_path=pg_catalog, pg_temp' = ANY (proconfig) FROM pg_proc"
    f" WHERE pronamespace = {_HERE}"
)
_COVERED: Final = (
    "SELECT c.relname, p.polname FROM pg_class AS c JOIN pg_policy AS p ON p.polrelid = c.oid"
    f" WHERE c.relnamespace = {_HERE} AND c.relrowsecurity AND p.polpermissive"
)
_UNIQUE: Final = "SELECT count(*) FROM pg_constraint WHERE conrelid = 'entry_key'::regclass AND contype IN ('p', 'u')"
UNIQUE: Final = 3
"""What is unique about an entry: its number in the feed, that in its stream, and its request's key and part."""


def guards_gone(cursor: Any) -> list[str]:
    """Returns a sentence for each trigger, function and rule of rows that is not as this program makes it."""
    told = [*_months_gone(cursor), *_triggers_gone(cursor), *_functions_gone(cursor)]
    if cursor.execute(_UNIQUE).fetchone()[0] != UNIQUE:
        told.append("what keeps a number or a key from coming twice is missing")
    covered: dict[str, set[str]] = {}
    for table, policy in cursor.execute(_COVERED).fetchall():
        covered.setdefault(table, set()).add(policy)
    told += [f"the rows of {name} are not kept apart by site" for name in SEEN if covered.get(name) != set(POLICIES)]
    return told


def _months_gone(cursor: Any) -> Iterator[str]:
    for name, attached in cursor.execute(_TABLES).fetchall():
        if not attached:
            yield f"the month {name} was taken out of the entries"


def _triggers_gone(cursor: Any) -> Iterator[str]:
    made = {(table, name): rest for table, name, *rest in cursor.execute(_TRIGGERS).fetchall()}
    months = sorted(name for name, attached in cursor.execute(_TABLES).fetchall() if attached)
    for table, name, _, _, function in TRIGGERS:
        for own in (table, *(months if table == ENTRY.name else ())):
            found = made.get((own, name))
            if found is None:
                yield f"the trigger {name}, which refuses changes of entries, is missing"
            elif found not in (["A", function], [b"A", function]):
                yield f"the trigger {name}, which refuses changes of entries, was changed"


def _functions_gone(cursor: Any) -> Iterator[str]:
    schema, literal = cursor.execute("SELECT quote_ident(current_schema()), quote_literal(current_schema())").fetchone()
    bodies = {name: tuple(rest) for name, *rest in cursor.execute(_BODIES).fetchall()}
    for one in _FUNCTIONS:
        name = one.split("FUNCTION ", 1)[1].partition("(")[0]
        source = _own(one, schema, literal).split("$$")[1]
        if bodies.get(name) != (source, "SECURITY DEFINER" in one, True):
            yield f"the function {name}, which guards the entries, is missing or was changed"
