"""What there is at a glance, as Markdown: one profile with what it asks for, and every kind of item that ships."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from reprocess.definitions.block import Sourced
from reprocess.definitions.draw import as_table, for_table
from reprocess.definitions.model import Workflow
from reprocess.definitions.profile import Profile
from reprocess.definitions.prove_profile import months

_UNKNOWN = "not known here"


def profile_table(profile: Profile, workflows: Mapping[str, Workflow]) -> str:
    """Returns a profile as Markdown: its workflows, what must hold, and where authorities disagree.

    Args:
        profile: the profile to show.
        workflows: every known workflow by name; one that is not known is shown as such.
    """
    parts = [
        f"**{profile.profile}**: {for_table(profile.title)}\n",
        f"Follows: {for_table(profile.follows)}\n",
        as_table(("Kind", "Workflow", "Title", "Follows"), (_chosen(name, workflows) for name in profile.workflows)),
        as_table(("What must hold", "How long", "Source"), _held(profile)),
    ]
    if profile.differs:
        rows = ((one.about, one.takes, one.instead_of) for one in profile.differs)
        columns = ("Where authorities disagree", "This profile takes", "Instead of")
        parts.append(as_table(columns, (tuple(for_table(word) for word in row) for row in rows)))
    return "\n".join(parts)


def _chosen(name: str, workflows: Mapping[str, Workflow]) -> tuple[str, ...]:
    one = workflows.get(name)
    if one is None:
        return (_UNKNOWN, f"`{name}`", _UNKNOWN, _UNKNOWN)
    return (one.item_kind, f"`{name}`", for_table(one.title), for_table(_first_sentence(one.follows)))


def _held(profile: Profile) -> Iterator[tuple[str, ...]]:
    for again in profile.reinspection:
        is_later = again.longest_months > again.every_months
        longest = f", {months(again.longest_months)} at the longest" if is_later else ""
        how_long = f"every {months(again.every_months)}{longest}"
        yield f"`{again.workflow}` is inspected again", how_long, _source(again)
    for shelf in profile.readiness:
        yield f"`{shelf.workflow}` stays ready", f"{shelf.days_most} d at the longest", _source(shelf)
    years = profile.records.years
    yield "Records are kept", "1 year" if years == 1 else f"{years} years", _source(profile.records)


def _source(line: Sourced) -> str:
    told = [line.source] if line.source is not None else []
    told += ["example"] if line.example else []
    return "<br>".join(for_table(word) for word in told)


def kinds_table(workflows: Iterable[Workflow], profiles: Iterable[Profile]) -> str:
    """Returns two Markdown tables: workflows by kind of item, and profiles; of what they follow the first sentence."""
    kinds = sorted(workflows, key=lambda one: (one.item_kind, one.workflow))
    rows = (
        (
            one.item_kind,
            f"`{one.workflow}`",
            for_table(one.title),
            one.item_class,
            for_table(_first_sentence(one.follows)),
        )
        for one in kinds
    )
    chosen = sorted(profiles, key=lambda one: one.profile)
    sites = ((f"`{one.profile}`", for_table(one.title), for_table(_first_sentence(one.follows))) for one in chosen)
    return "\n".join(
        [
            as_table(("Kind", "Workflow", "Title", "Class", "Follows"), rows),
            as_table(("Profile", "Title", "Follows"), sites),
        ]
    )


def _first_sentence(text: str) -> str:
    return re.split(r"(?<=[.])\s", text, maxsplit=1)[0]
