"""What forms and their lines are judged on: the form, the people whom a line names, where they were scanned then."""

from __future__ import annotations

from dataclasses import replace

from reprocess.engine import request as asking
from reprocess.gathering.reading import Library, person_by_badge, state_as
from reprocess.ledger.append import Transaction
from reprocess.record import words
from reprocess.record.forms import Form
from reprocess.record.people import Person
from reprocess.record.places import Station
from reprocess.record.solutions import Solution
from reprocess.record.standing import Standing
from reprocess.record.touching import Touched
from reprocess.rules.scene import Bench, Scanned, Scene, WithLine
from reprocess.terms import StreamKind, stream

RECENT_LINES = 200
"""How many of an item's latest entries a line is compared with (our choice; a cycle has some thirty)."""


def for_form(read: Transaction, _: Library, at: Bench, request: asking.EnterForm) -> Scene:
    """Returns what a form is judged on."""
    return Scene(bench=at, item=Standing(item=""), states=_form(read, request.form))


def _form(read: Transaction, form: str) -> dict[str, Form]:
    name = stream(StreamKind.FORM, form)
    return {name: state_as(read, name, Form)}


def with_line(read: Transaction, scene: Scene, request: asking.EnterLine) -> Scene:
    """Returns the scene of a line's own work, with the form and the people whom the line names."""
    named = {badge: person_by_badge(read, badge) for badge in (request.done_by, request.done_with) if badge is not None}
    people = {badge: person for badge, person in named.items() if person is not None}
    doer = people.get(request.done_by)
    scans = _scans(read, doer, request) if doer is not None else ()
    recent = read.latest_of(stream(StreamKind.ITEM, scene.item.item), RECENT_LINES) if scene.item.known else ()
    return replace(
        scene,
        recent=recent,
        form_line=WithLine(people, scans),
        states={**scene.states, **_form(read, request.form)},
    )


def _scans(read: Transaction, doer: Person, request: asking.EnterLine) -> tuple[Scanned, ...]:
    """Returns where the person was scanned while the line says that it was done."""
    began_us = request.began_us if request.began_us is not None else request.ended_us
    rows = read.touches.of(Touched.PERSON, doer.person, from_us=began_us, until_us=request.ended_us)
    found = []
    for row in rows:
        entry = read.entries_of(stream(StreamKind.ITEM, row.item))[row.number - 1]
        if entry.envelope.station is not None and entry.occurred_us == entry.at_us:
            place = state_as(read, stream(StreamKind.STATION, entry.envelope.station), Station)
            found.append(Scanned(doer.name, place.title or place.station, place.site, entry.at_us))
    return tuple(found)


def as_of(read: Transaction, solution: Solution, at_us: int) -> Solution:
    """Returns the solution with its last valid pass before an instant: so far a late failure reaches (L07)."""
    passed_us, feed = None, solution.made_feed
    for entry in read.entries_of(stream(StreamKind.SOLUTION, solution.solution)):
        body = entry.body
        if isinstance(body, words.SolutionMade):
            passed_us, feed = None, entry.feed
        elif isinstance(body, words.SolutionTested) and body.valid and body.passed and entry.occurred_us < at_us:
            passed_us, feed = entry.occurred_us, entry.feed
    return replace(solution, passed_us=passed_us, doubt_feed=min(feed, solution.doubt_feed))
