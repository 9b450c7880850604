"""Proofs as JSON and as files, and the schemas for editors."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any, Literal, cast, get_args

from reprocess.commandline.checking import Checked, proof_text
from reprocess.definitions.faults import Faults
from reprocess.definitions.schema import schema
from reprocess.errors import ReprocessError, WrongUseError

Sorts = Literal["workflow", "agent", "configuration", "profile"]


def proof_json(one: Checked) -> dict[str, Any]:
    """Returns what checking one file came to, as JSON values."""
    told: dict[str, Any] = {
        "file": one.file.path.name,
        "name": one.file.name,
        "sort": one.file.sort,
        "digest": one.file.digest,
        "sound": one.sound,
    }
    if isinstance(one.file.holds, Faults):
        told["faults"] = [asdict(fault) for fault in one.file.holds.faults]
    if one.proof is not None:
        told["proof"] = asdict(one.proof)
    return told


def write_proofs(results: list[Checked], place: Path) -> None:
    """Writes one proof a workflow and one a profile, each named after it.

    Raises:
        ReprocessError: the folder cannot be written.
    """
    try:
        place.mkdir(parents=True, exist_ok=True)
        for one in results:
            if one.proof is not None:
                (place / f"{one.file.name}.proof.txt").write_text(proof_text(one.proof), encoding="utf-8")
    except OSError as fault:
        message = f"{place} cannot be written: {fault.strerror}."
        raise ReprocessError(message) from fault


def schema_text(sort: str) -> str:
    """Returns the JSON Schema of a sort of file as text.

    Raises:
        WrongUseError: there is no such sort.
    """
    if sort not in get_args(Sorts):
        message = f"A schema is of {', '.join(get_args(Sorts))}, not {sort[:20]!r}."
        raise WrongUseError(message)
    return json.dumps(schema(cast("Sorts", sort)), indent=2, ensure_ascii=False)
