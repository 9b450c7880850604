"""From the words of `reprocess publish` to a request, and how what is missing is shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, cast

from reprocess.commandline import checking
from reprocess.commandline.asking import day_ends_us, said
from reprocess.commandline.baths import needed
from reprocess.commandline.options import readable
from reprocess.department import Department
from reprocess.engine.enrolling import Approve, Enrol, EnrolRequest, Publish, Sort
from reprocess.engine.live import ConfirmSources, Missing
from reprocess.errors import UnknownSubjectError, WrongUseError
from reprocess.record.words import EmergencyDeclared
from reprocess.shipped import read_file
from reprocess.terms import StreamKind, stream

SORTS = ("workflow", "agent", "configuration", "profile")


def of_file(department: Department, path: Path, *, approve: bool, safety: bool) -> EnrolRequest:
    """Returns the request to propose a file, or to put it in force.

    Raises:
        WrongUseError: --safety stands without --approve.
    """
    if safety and not approve:
        message = "--safety says how a file is put in force: use it with --approve."
        raise WrongUseError(message)
    read = read_file(path)
    sort = checking.sound_or_raise(read, department)
    if approve:
        return Approve(sort, read.name, read.digest, safety=safety)
    return Publish(sort, read.name, read.digest, read.text)


def confirmation(department: Department, name: str | None, why: str | None) -> EnrolRequest:
    """Returns the request to confirm the sources of the text in force.

    Raises:
        UnknownSubjectError: no file of that name is in force.
    """
    named = needed(name, "the file's name, such as blower or agent.opa-055")
    first, dot, rest = named.partition(".")
    sort, own = (first, rest) if dot and first in SORTS else ("workflow", named)
    digest = department.published(sort, own).in_force
    if digest is None:
        message = f"No {sort} {own} is in force."
        raise UnknownSubjectError(message, name=own)
    statement = said(needed(why, "what was compared with what: --why")) or ""
    return ConfirmSources(cast(Sort, sort), own, digest, statement)


def emergency(site: str | None, why: str | None, until: str | None, zone: str) -> EnrolRequest:
    """Returns the request to declare an emergency policy at a site."""
    subject = stream(StreamKind.SITE, readable(needed(site, "the site")))
    until_us = day_ends_us(needed(until, "--until"), zone)
    reference = said(needed(why, "the written policy's reference: --why")) or ""
    return Enrol(subject, EmergencyDeclared(until_us=until_us, reference=reference))


def live_lines(missing: Sequence[Missing]) -> list[str]:
    """Returns what is missing as lines."""
    if not missing:
        return ["Live: every file in force is confirmed and holds no example number."]
    whys: dict[str, list[str]] = {}
    for one in missing:
        whys.setdefault(f"{one.sort} {one.name}", []).append(one.why)
    first = f"Not live: {len(whys)} files left. `reprocess publish confirm NAME --why ... --as BADGE`."
    return [first, *(f"  {name}: {'; '.join(said)}" for name, said in whys.items())]


def live_json(missing: Sequence[Missing]) -> dict[str, Any]:
    """Returns what is missing as JSON values."""
    return {"live": not missing, "missing": [asdict(one) for one in missing]}
