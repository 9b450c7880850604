"""One sweep: claim what is due, give it, record that it rang, so that each reminder has one entry whatever happens.

A crash between giving and recording may give a reminder twice, never record it twice: the entry's request key is made
of the reminder's own key.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from reprocess.clock import Clock
from reprocess.errors import UnknownSubjectError
from reprocess.gathering import offset_min, person_by_badge
from reprocess.ledger.append import Transaction, looking, transaction
from reprocess.ledger.dues import DueRow
from reprocess.ledger.open import Ledger
from reprocess.record.entry import Draft, Envelope
from reprocess.record.moment import Moment
from reprocess.record.places import Site
from reprocess.record.words import Body, ReminderEscalated, ReminderRang, ReminderSeen
from reprocess.reminders import wording
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.scheduling import site_of
from reprocess.terms import SECOND_US, StreamKind, stream
from reprocess.timetable import Due, late_s

CLAIMED: Final = 1000
"""Reminders that are claimed together; to find them costs the same for one as for all."""
TOGETHER: Final = 50
"""Reminders that are recorded together: so many at most are given again after a crash."""
LATE_S: Final = 60
"""From this lateness on a reminder is marked late (design section 6: within 60 s)."""


@dataclass(frozen=True, slots=True)
class Rang:
    """Is one reminder that is being given.

    Attributes:
        late_s: whole seconds after the time it was due.
        to_role: the role that is told because nobody acknowledged it; None the first time.
        site: where the subject is; its time zone is for display.
        at_us: when it is given.
    """

    due: Due
    late_s: int
    to_role: str | None
    site: Site
    at_us: int

    @property
    def late(self) -> bool:
        """Tells whether it comes so late that it is marked."""
        return self.to_role is None and self.late_s >= LATE_S


Deliver = Callable[[Rang], bool]
"""Gives one reminder and returns whether it was given; what was not is tried again after the lease."""


def sweep(
    ledger: Ledger, clock: Clock, deliver: Deliver, node: str, goes_on: Callable[[], bool] = lambda: True
) -> list[Rang]:
    """Gives every reminder that is due and returns those that are now on record as given, the gravest first.

    Args:
        ledger: the record.
        clock: the clocks of this node.
        deliver: gives one reminder; fifty must be given within the lease of a claim.
        node: who sweeps; no two processes share a name.
        goes_on: asked around each batch; a sweep that is told to stop leaves no claim behind.
    """
    now = clock.now()
    with looking(ledger) as read:
        if not _ready(read, now, 1):
            return []
    given: list[Rang] = []
    while goes_on() and (batch := _claimed(ledger, now, node)):
        while batch:
            group, batch = batch[:TOGETHER], batch[TOGETHER:]
            done = [one for one in group if deliver(one)]
            free, batch = (done, batch) if goes_on() else ([*group, *batch], [])
            now = clock.now()
            given += _recorded(ledger, clock, now, done, free, Kept(node, batch))
    return given


def _ready(read: Transaction, now: Moment, most: int) -> list[DueRow]:
    """Returns what rings for the first time, then what is escalated because its own patience is over."""
    fresh = read.dues.ready(now, most)
    if len(fresh) == most:
        return fresh
    waiting = [row for row in read.dues.unanswered(now, wording.PATIENCE_US) if _out_of_patience(row, now)]
    return [*fresh, *waiting][:most]


def _out_of_patience(row: DueRow, now: Moment) -> bool:
    patience_s = wording.saying_of(row.due).patience_s
    return patience_s is not None and row.rang_us is not None and row.rang_us + patience_s * SECOND_US <= now.wall_us


def _claimed(ledger: Ledger, now: Moment, node: str) -> list[Rang]:
    with transaction(ledger) as work:
        rows = _ready(work, now, CLAIMED)
        if rows:
            work.dues.claim([row.due.key for row in rows], node, now.wall_us)
        return [_rang(work, row, now) for row in rows]


def _rang(read: Transaction, row: DueRow, now: Moment) -> Rang:
    to_role = None if row.rang_us is None else wording.saying_of(row.due).to_role
    return Rang(row.due, late_s(row.due, now), to_role, _site(read, row.due), now.wall_us)


def _site(read: Transaction, due: Due) -> Site:
    named = due.words.get("site")
    return site_of(read, str(named) if named else None)


@dataclass(frozen=True, slots=True)
class Kept:
    """Is what a sweep claimed and has not given yet."""

    node: str
    rings: list[Rang]


def _recorded(ledger: Ledger, clock: Clock, now: Moment, done: list[Rang], free: list[Rang], kept: Kept) -> list[Rang]:
    """Writes one entry for each reminder that was given and has none yet; ends claims and renews the ones kept."""
    with transaction(ledger) as work:
        written = [one for one in done if _write(work, clock, now, one)]
        work.dues.let_go([one.due.key for one in free])
        work.dues.claim([one.due.key for one in kept.rings], kept.node, now.wall_us)
    return written


def _write(work: Transaction, clock: Clock, now: Moment, one: Rang) -> bool:
    due = one.due
    if one.to_role is None:
        rang = ReminderRang(key=due.key, rule=due.rule, subject=due.subject, due_us=due.due_us, late_s=one.late_s)
        return _entered(work, clock, now, f"rang:{due.key}", rang, one.site)
    told = ReminderEscalated(key=due.key, rule=due.rule, subject=due.subject, to_role=one.to_role, due_us=due.due_us)
    return _entered(work, clock, now, f"escalated:{due.key}", told, one.site)


def see(ledger: Ledger, clock: Clock, asked: str, badge: str) -> list[str]:
    """Records that a person acknowledged reminders, and returns their keys; those acknowledged before are left out.

    Args:
        ledger: the record.
        clock: the clocks of this node.
        asked: the key of a reminder, or a stream such as `item:BLW-0041` for all that rang about it.
        badge: the badge of the person.

    Raises:
        UnknownSubjectError: nobody has that badge, or no reminder of that key rang.
    """
    now = clock.now()
    with transaction(ledger) as work:
        person = person_by_badge(work, badge)
        if person is None or not person.active:
            message = f"Badge {badge} is not known here."
            raise UnknownSubjectError(message, badge=badge)
        if "/" in asked and not work.dues.rang(asked):
            message = f"No reminder {asked} rang."
            raise UnknownSubjectError(message, key=asked)
        sites = {row.due.key: _site(work, row.due) for row in work.dues.unseen_of(asked)}
        if "/" in asked:
            sites = {asked: site_of(work, None)}
        entered = []
        for key, site in sites.items():
            if _entered(work, clock, now, f"seen:{key}", ReminderSeen(key=key), site, actor=person.person):
                entered.append(key)
        return entered


def _entered(
    work: Transaction, clock: Clock, now: Moment, key: str, body: Body, site: Site, *, actor: str | None = None
) -> bool:
    """Writes one entry into the site's stream under a key of its own; returns whether it was not there before."""
    if work.answered(key) is not None:
        return False
    envelope = Envelope(
        moment=now,
        offset_min=offset_min(site.zone, now.wall_us),
        actor=actor,
        second=None,
        station=None,
        key=key,
        request=body.kind,
    )
    subject = stream(StreamKind.SITE, site.site)
    prepared = work.prepare([Draft(subject, body)], envelope, _ids(clock))
    work.write(prepared, as_text(Answer(Verdict.ACCEPTED, subject, body.kind, key=key)))
    return True


def _ids(clock: Clock) -> Iterator[str]:
    while True:
        yield clock.new_id()
