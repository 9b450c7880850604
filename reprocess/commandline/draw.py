"""`reprocess draw`: a workflow as a diagram and as a table, a profile as a table, all that ships as a list."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class Picture(StrEnum):
    """Lists how a file is drawn."""

    MERMAID = "mermaid"
    TABLE = "table"
    LIST = "list"


def draw(
    name: Annotated[str | None, typer.Argument(help="A shipped workflow's or profile's name, or a file.")] = None,
    picture: Annotated[
        Picture, typer.Option("--as", help="A Mermaid diagram, a Markdown table, or a list of all that ships.")
    ] = Picture.MERMAID,
) -> None:
    """Draw a workflow as a Mermaid diagram or as a table with its sources, a profile as a table; or list them all."""
    from reprocess.commandline import checking
    from reprocess.definitions import draw as drawing
    from reprocess.definitions import faults, overview
    from reprocess.definitions.faults import Faults
    from reprocess.definitions.model import Workflow
    from reprocess.definitions.profile import Profile
    from reprocess.errors import DefinitionError, WrongUseError
    from reprocess.shipped import files_in, folder, read_file

    shipped = list(files_in(folder()))
    if picture is Picture.LIST:
        profiles = [file.holds for file in shipped if isinstance(file.holds, Profile)]
        print(overview.kinds_table(checking.workflows_of(shipped).values(), profiles), end="")
        return
    if name is None:
        message = "Name a workflow or a profile; `--as list` shows what there is."
        raise WrongUseError(message)
    named = [file for file in shipped if file.name == name and file.sort in {"workflow", "profile"}]
    file = named[0] if named else read_file(Path(name))
    match file.holds:
        case Faults():
            raise DefinitionError(faults.as_text(file.holds))
        case Workflow() if picture is Picture.MERMAID:
            print(drawing.mermaid(file.holds))
        case Workflow():
            print(drawing.table(file.holds, checking.agents_of(shipped)))
        case Profile() if picture is Picture.TABLE:
            print(overview.profile_table(file.holds, checking.workflows_of(shipped)), end="")
        case _:
            message = f"{name} cannot be drawn so: workflows are drawn, profiles are shown with `--as table`."
            raise WrongUseError(message)
