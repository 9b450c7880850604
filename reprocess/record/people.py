"""The standing of a person: badges, competencies and roles, folded from the person's stream."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Competency:
    """Is one finding that a person can do a step, on some kinds of item (all when empty), within `[from, until)`."""

    competency: str
    item_kinds: tuple[str, ...]
    from_us: int
    until_us: int
    assessor: str

    def covers(self, competency: str, item_kind: str) -> bool:
        """Tells whether it is about this step and this kind of item."""
        return self.competency == competency and (not self.item_kinds or item_kind in self.item_kinds)


@dataclass(frozen=True, slots=True)
class Person:
    """Is who somebody is at this department. Badges are identifiers; persons are compared, never badges."""

    person: str
    name: str = ""
    sites: tuple[str, ...] = ()
    roles: tuple[str, ...] = ()
    badges: tuple[str, ...] = ()
    competencies: tuple[Competency, ...] = ()
    active: bool = False
    number: int = 0

    def may(self, competency: str, item_kind: str, at_us: int) -> bool:
        """Tells whether the person holds the competency at that instant (A02)."""
        return any(
            one.covers(competency, item_kind) and one.from_us <= at_us < one.until_us for one in self.competencies
        )

    def lapsed(self, competency: str, item_kind: str, at_us: int) -> int | None:
        """Returns when the competency ran out, or None when it was never held or has not run out."""
        ended = [
            one.until_us for one in self.competencies if one.covers(competency, item_kind) and one.until_us <= at_us
        ]
        return max(ended, default=None)


def apply(person: Person, entry: Entry) -> Person:
    """Returns the person after one more entry of the stream."""
    body = entry.body
    after = replace(person, number=entry.number)
    match body:
        case words.PersonRegistered():
            return replace(
                after,
                person=subject_of(entry.stream),
                name=body.name,
                sites=body.sites,
                roles=body.roles,
                active=True,
            )
        case words.PersonLeft():
            return replace(after, active=False)
        case words.BadgeGiven():
            return replace(after, badges=tuple(sorted({*person.badges, body.badge})))
        case words.BadgeWithdrawn():
            return replace(after, badges=tuple(one for one in person.badges if one != body.badge))
        case words.CompetencyGranted():
            one = Competency(body.competency, body.item_kinds, body.from_us, body.until_us, body.assessor)
            return replace(after, competencies=(*person.competencies, one))
        case words.CompetencyWithdrawn():
            ended = tuple(
                replace(one, until_us=min(one.until_us, entry.at_us)) if one.competency == body.competency else one
                for one in person.competencies
            )
            return replace(after, competencies=ended)
        case _:
            return after
