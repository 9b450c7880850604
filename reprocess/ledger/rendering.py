"""Tables and indexes as the words of either database; PostgreSQL's are given here, where they differ.

Every whole number is a BIGINT there and every text sorts by its bytes, as on SQLite.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

from sqlalchemy import Dialect, Index, Table
from sqlalchemy.dialects import sqlite
from sqlalchemy.dialects.postgresql.base import PGDialect, PGTypeCompiler
from sqlalchemy.schema import CreateIndex, CreateTable

from reprocess.ledger.driver import Cursor, is_sqlite


class _Types(PGTypeCompiler):
    def visit_INTEGER(self, type_: Any, **given: Any) -> str:  # noqa: N802 - SQLAlchemy's name
        """Returns the type of whole numbers."""
        del type_, given
        return "BIGINT"

    def visit_TEXT(self, type_: Any, **given: Any) -> str:  # noqa: N802 - SQLAlchemy's name
        """Returns the type of texts."""
        return f'{super().visit_TEXT(type_, **given)} COLLATE "C"'


class _Postgres(PGDialect):
    type_compiler_cls = _Types
    supports_statement_cache = True


@cache
def dialect_of(*, server: bool) -> Dialect:
    """Returns what renders statements for PostgreSQL or SQLite."""
    found: Dialect = _Postgres(paramstyle="named") if server else sqlite.dialect()  # type: ignore[no-untyped-call]
    return found


def table_text(table: Table, *, server: bool = False) -> str:
    """Returns the statement that makes a table."""
    return str(CreateTable(table).compile(dialect=dialect_of(server=server)))


def index_text(index: Index, *, server: bool = False, where_missing: bool = False) -> str:
    """Returns the statement that makes an index; what it is limited to holds on either database."""
    if server:
        index.dialect_options["postgresql"]["where"] = index.dialect_options["sqlite"]["where"]
    made = CreateIndex(index, if_not_exists=where_missing)
    return str(made.compile(dialect=dialect_of(server=server)))


def texts_of(tables: Sequence[Table], *, server: bool) -> Iterator[str]:
    """Yields the statements that make tables with their indexes."""
    for table in tables:
        yield table_text(table, server=server)
        for index in sorted(table.indexes, key=lambda one: str(one.name)):
            yield index_text(index, server=server)


def make(cursor: Cursor, tables: Sequence[Table]) -> None:
    """Makes tables with their indexes in the database that the cursor works on."""
    for text in texts_of(tables, server=not is_sqlite(cursor)):
        cursor.execute(text)


def make_indexes(cursor: Cursor, table: Table) -> None:
    """Makes the indexes of a table that are not there yet."""
    for index in table.indexes:
        cursor.execute(index_text(index, server=not is_sqlite(cursor), where_missing=True))
