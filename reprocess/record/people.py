"""The standing of a person: badges, competencies and roles, folded from the person's stream."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Competency:
    """Is one finding that a person can do a step, on some kinds of item (all when empty), within `[from, until)`.

    Attributes:
        level: trainee where a competent person must stand by (A03), else None.
        models: the only models that it is for; all where None.
    """

    competency: str
    item_kinds: tuple[str, ...]
    from_us: int
    until_us: int
    assessor: str
    level: str | None = None
    models: tuple[str, ...] | None = None

    def covers(self, competency: str, item_kind: str, model: str | None = None) -> bool:
        """Tells whether it is about this step, this kind of item and, where it names models and one is asked, this."""
        known = self.models is None or model is None or model in self.models
        return self.competency == competency and (not self.item_kinds or item_kind in self.item_kinds) and known

    def holds(self, competency: str, item_kind: str, at_us: int, model: str | None = None) -> bool:
        """Tells whether it is about these and counts at that instant."""
        return self.covers(competency, item_kind, model) and self.from_us <= at_us < self.until_us


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
    temporary: bool = False

    def may(self, competency: str, item_kind: str, at_us: int, model: str | None = None) -> bool:
        """Tells whether the person holds the competency at that instant, alone and not as a trainee (A02)."""
        return any(one.level is None and one.holds(competency, item_kind, at_us, model) for one in self.competencies)

    def learns(self, competency: str, item_kind: str, at_us: int, model: str | None = None) -> bool:
        """Tells whether the person is a trainee for this at that instant (A03)."""
        return any(
            one.level == "trainee" and one.holds(competency, item_kind, at_us, model) for one in self.competencies
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
                temporary=bool(body.temporary),
            )
        case words.PersonLeft():
            return replace(after, active=False)
        case words.BadgeGiven():
            return replace(after, badges=tuple(sorted({*person.badges, body.badge})))
        case words.BadgeWithdrawn():
            return replace(after, badges=tuple(one for one in person.badges if one != body.badge))
        case words.CompetencyGranted():
            kinds, models = body.item_kinds, body.models
            one = Competency(body.competency, kinds, body.from_us, body.until_us, body.assessor, body.level, models)
            return replace(after, competencies=(*person.competencies, one))
        case words.CompetencyWithdrawn():
            since_us = entry.at_us if body.from_us is None else min(body.from_us, entry.at_us)
            ended = tuple(
                replace(one, until_us=min(one.until_us, since_us)) if one.competency == body.competency else one
                for one in person.competencies
            )
            return replace(after, competencies=ended)
        case _:
            return after
