"""From the words of `reprocess person` to a fact, and how a person is shown."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from reprocess.commandline.asking import day_begins_us, day_ends_us, said
from reprocess.commandline.baths import needed
from reprocess.commandline.options import readable
from reprocess.commandline.say import Local
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.people import Person
from reprocess.record.states import as_text


@dataclass(frozen=True, slots=True)
class Given:
    """Is what was typed, still as text."""

    what: str | None
    sites: tuple[str, ...]
    roles: tuple[str, ...]
    kinds: tuple[str, ...]
    since: str | None
    until: str | None
    assessor: str
    why: str
    models: tuple[str, ...] = ()
    trainee: bool = False
    verifier: str | None = None
    temporary: bool = False


def body_from(verb: str, given: Given, zone: str) -> words.Body:
    """Returns the fact that the words state.

    Raises:
        WrongUseError: something that the verb needs is missing or cannot be read.
    """
    match verb:
        case "register":
            name = said(needed(given.what, "the person's name")) or ""
            return words.PersonRegistered(
                name=name, sites=given.sites, roles=given.roles, temporary=True if given.temporary else None
            )
        case "badge":
            return words.BadgeGiven(badge=readable(needed(given.what, "the badge")))
        case "unbadge":
            badge = readable(needed(given.what, "the badge"))
            return words.BadgeWithdrawn(badge=badge, reason=said(given.why) or "")
        case "grant":
            return _granted(given, zone)
        case "withdraw":
            reason = said(given.why) or ""
            since_us = day_begins_us(given.since, zone) if given.since is not None else None
            competency = needed(given.what, "the competency")
            return words.CompetencyWithdrawn(competency=competency, reason=reason, from_us=since_us)
        case _:
            return words.PersonLeft(reason=said(given.why) or "")


def _granted(given: Given, zone: str) -> words.Body:
    from_us = day_begins_us(needed(given.since, "--since"), zone)
    until_us = day_ends_us(needed(given.until, "--until"), zone)
    if until_us <= from_us:
        message = "The last day must not be before the first."
        raise WrongUseError(message)
    return words.CompetencyGranted(
        competency=needed(given.what, "the competency"),
        item_kinds=given.kinds,
        from_us=from_us,
        until_us=until_us,
        assessor=said(given.assessor) or "",
        level="trainee" if given.trainee else None,
        models=given.models or None,
        verifier=said(given.verifier),
    )


def person_lines(person: Person, show: Local) -> list[str]:
    """Returns a person as lines."""
    active = ("" if person.active else "  (left)") + ("  (temporary)" if person.temporary else "")
    lines = [f"{person.person}  {person.name}{active}"]
    lines.append(f"  roles: {', '.join(person.roles) or 'none'}; sites: {', '.join(person.sites) or 'all'}")
    lines.append(f"  badges: {', '.join(person.badges) or 'none'}")
    for one in person.competencies:
        kinds = ", ".join(one.item_kinds) or "all kinds"
        kinds += f", models {', '.join(one.models)}" if one.models is not None else ""
        kinds += ", as a trainee" if one.level is not None else ""
        lines.append(f"  {one.competency:<16} {kinds}: {show(one.from_us)} to {show(one.until_us)}, {one.assessor}")
    return lines


def person_json(person: Person) -> dict[str, Any]:
    """Returns a person as JSON values."""
    fields: dict[str, Any] = json.loads(as_text(person))
    return fields
