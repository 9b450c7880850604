"""`reprocess move`: takes a department from its file to a PostgreSQL server."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import DepartmentOption, JsonOption


def move(
    target: Annotated[str, typer.Argument(help="The empty database: postgresql://role@host/database, no password.")],
    owner: Annotated[
        str | None, typer.Option("--owner", help="The same with the role that owns the tables; REPROCESS_OWNER.")
    ] = None,
    key_to: Annotated[
        Path | None, typer.Option("--key-to", help="Where its key is kept; REPROCESS_KEY_FILE; <database>.key.")
    ] = None,
    trial: Annotated[bool, typer.Option("--dry-run", help="Only look whether it can be moved.")] = False,
    department: DepartmentOption = None,
    as_json: JsonOption = False,
) -> None:
    """Move a department to PostgreSQL, every entry byte for byte; the file can be opened no more afterwards.

    Stop what serves the department first. Whatever stops the move, give the same command again.
    """
    from contextlib import closing
    from functools import partial

    from reprocess.clock import clock_for
    from reprocess.commandline.copies import copy_clock
    from reprocess.commandline.opening import department_path
    from reprocess.gathering import Library
    from reprocess.ledger.address import Server, database_of
    from reprocess.ledger.move import Moving, source_at
    from reprocess.scheduling import refresh_all
    from reprocess.settings import Settings, secret_in

    path = department_path(department)
    settings = Settings()
    password = secret_in(settings.password_file) if settings.password_file is not None else None
    key_file = key_to or settings.key_file or Path(f"{database_of(target)}.key")
    place = Server(target, key_file, owner or settings.owner, password)
    with closing(source_at(path)) as source:
        now_us = clock_for(path).now().wall_us
        moving = Moving(source, place, partial(refresh_all, library=Library()), now_us)
        told = moving.try_it() if trial else moving.go()
    if told.finished:
        copy_clock(path, place.beside)
    if as_json:
        counts = {"entries": told.entries, "streams": told.streams, "files": told.files}
        print(json.dumps({"moved": told.finished, "to": place.address, "key": str(place.key_file), **counts}))
        return
    held = f"{told.entries} entries in {told.streams} streams and {told.files} files"
    if trial:
        print(f"{path} can be moved: {held}. Nothing was changed.")
        return
    print(f"{place.database} holds {held}, verified. {path} can be opened no more.")
    print(f"Its key is {place.key_file}. Every computer that serves it needs a copy, under lock.")
    print(f"From now on: --department {place.address}")
