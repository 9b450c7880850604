"""`reprocess draw`: a workflow as a diagram and as a table."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class Picture(StrEnum):
    """Lists how a workflow is drawn."""

    MERMAID = "mermaid"
    TABLE = "table"


def draw(
    workflow: Annotated[str, typer.Argument(help="A shipped workflow's name, or a file.")],
    picture: Annotated[Picture, typer.Option("--as", help="A Mermaid diagram, or a Markdown table.")] = Picture.MERMAID,
) -> None:
    """Draw a workflow as a Mermaid diagram or as a table with its sources."""
    from reprocess.commandline import checking
    from reprocess.definitions import draw as drawing
    from reprocess.definitions import faults
    from reprocess.definitions.faults import Faults
    from reprocess.definitions.model import Workflow
    from reprocess.errors import DefinitionError, WrongUseError
    from reprocess.shipped import files_in, folder, read_file

    shipped = list(files_in(folder()))
    named = [file for file in shipped if file.name == workflow and file.sort == "workflow"]
    file = named[0] if named else read_file(Path(workflow))
    if isinstance(file.holds, Faults):
        raise DefinitionError(faults.as_text(file.holds))
    if not isinstance(file.holds, Workflow):
        message = f"{workflow} is no workflow; only workflows are drawn."
        raise WrongUseError(message)
    agents = checking.agents_of(shipped)
    print(drawing.mermaid(file.holds) if picture is Picture.MERMAID else drawing.table(file.holds, agents))
