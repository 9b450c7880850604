"""`reprocess check`: reads files and proves workflows and profiles."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import JsonOption


def check(
    files: Annotated[
        list[Path] | None, typer.Argument(help="Files or folders; the shipped ones where left out.")
    ] = None,
    proofs: Annotated[
        Path | None, typer.Option("--proofs", help="A folder to write one proof a workflow or profile into.")
    ] = None,
    schema: Annotated[
        str | None, typer.Option("--schema", help="Print the JSON Schema: workflow, agent, configuration, profile.")
    ] = None,
    rules: Annotated[
        bool, typer.Option("--rules", help="Print every rule: what it asks, where it is decided, its source and tests.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Read files, every fault with its line, and prove that no way leads around a mandated step."""
    from reprocess.commandline import checking
    from reprocess.commandline.proving import proof_json, schema_text, write_proofs

    if rules:
        from reprocess.commandline import catalogue

        found = catalogue.rows()
        print(json.dumps(catalogue.as_fields(found)) if as_json else "\n".join(catalogue.lines(found)).strip())
        return
    if schema is not None:
        print(schema_text(schema))
        return
    results = checking.checked(checking.gathered(files or ()))
    if proofs is not None:
        write_proofs(results, proofs)
    if as_json:
        print(json.dumps([proof_json(one) for one in results], ensure_ascii=False))
    else:
        for one in results:
            if not one.sound or files:
                print(checking.told(one))
        bad = sum(1 for one in results if not one.sound)
        sound = [one.file.sort for one in results if one.sound]
        proved, hold = sound.count("workflow"), sound.count("profile")
        print(f"{len(results)} files read, {proved} workflows proved, {hold} profiles hold, {bad} with faults.")
    if any(not one.sound for one in results):
        raise typer.Exit(1)
