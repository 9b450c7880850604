"""One sweep: claim what is due, give it, record that it rang, so that each reminder has one entry whatever happens.

A crash between giving and recording may give a reminder twice, never record it twice: the entry's request key is made
of the reminder's own key.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final

from reprocess.clock import Clock
from reprocess.errors import UnknownSubjectError
from reprocess.gathering import offset_min, person_by_badge
from reprocess.ledger.append import Transaction, claiming, looking, transaction
from reprocess.ledger.dues import LEASE_US, DueRow
from reprocess.ledger.open import Ledger
from reprocess.ledger.posts import Post
from reprocess.record.entry import Draft, Envelope
from reprocess.record.moment import Moment
from reprocess.record.places import Site
from reprocess.record.words import Body, ReminderEscalated, ReminderRang, ReminderSeen
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.scheduling import site_of
from reprocess.terms import SECOND_US, StreamKind, stream
from reprocess.timetable import Due, cause_of, late_s
from reprocess.timetable.chains import chain_of, first_role
from reprocess.timetable.due import NOW
from reprocess.timetable.quiet import quiet_until

CLAIMED: Final = 1000
"""Reminders that are claimed together; to find them costs the same for one as for all."""
TOGETHER: Final = 50
"""Reminders that are recorded together: so many at most are given again after a crash."""
LATE_S: Final = 60
"""From this lateness on a reminder is marked late (design section 6: within 60 s)."""
ALIVE_US: Final = 30 * SECOND_US
"""How often a sweep says that it is at work (our choice): seldom enough to cost nothing."""


@dataclass(frozen=True, slots=True)
class Rang:
    """Is one reminder that is being given.

    Attributes:
        late_s: whole seconds after the time it was to be given.
        to_role: the role that is told because nobody acknowledged it; None the first time.
        site: where the subject is; its time zone is for display.
        at_us: when it is given.
        level: how far up its chain; 0 the first time.
        also: the reminders of the same cause for which this one sounds too, each with its lateness.
        within: the later reminder of its cause that rang already, so that this one makes no sound; else None.
    """

    due: Due
    late_s: int
    to_role: str | None
    site: Site
    at_us: int
    level: int = 0
    also: tuple[tuple[Due, int], ...] = ()
    within: str | None = None

    @property
    def late(self) -> bool:
        """Tells whether it comes so late that it is marked."""
        return self.late_s >= LATE_S

    @property
    def keys(self) -> list[str]:
        """The keys of all reminders that it stands for, its own first."""
        return [self.due.key, *(due.key for due, _ in self.also)]


Deliver = Callable[[Rang], bool]
"""Gives one reminder and returns whether it was given; what was not is tried again after the lease."""
Outside = Callable[[Rang], Iterable[Post]]
"""Returns what the channels outside are to be handed of a reminder that rang."""


def nobody_outside(rang: Rang) -> Iterable[Post]:
    """Returns nothing: there is no channel outside."""
    del rang
    return ()


def sweep(
    ledger: Ledger,
    clock: Clock,
    deliver: Deliver,
    node: str,
    goes_on: Callable[[], bool] = lambda: True,
    outside: Outside = nobody_outside,
) -> list[Rang]:
    """Gives every reminder that is due and returns those that are now on record as given, the gravest first.

    Args:
        ledger: the record.
        clock: the clocks of this node.
        deliver: gives one reminder; fifty must be given within the lease of a claim.
        node: who sweeps; no two processes share a name.
        goes_on: asked around each batch; a sweep that is told to stop leaves no claim behind.
        outside: what is kept for the channels outside, in the transaction that says that the reminder rang.
    """
    now = clock.now()
    _show_alive(ledger, now)
    with looking(ledger) as read:
        if not _ready(read, now, 1):
            return []
    given: list[Rang] = []
    new = True
    while new and goes_on() and (batch := _claimed(ledger, now, node)):
        new = False  # a batch of which all is on record already ends the sweep: there is always the next one
        until_us = now.wall_us + LEASE_US
        while batch:
            group, batch = batch[:TOGETHER], batch[TOGETHER:]
            done = [one for one in group if _ours(clock, until_us) and (one.within is not None or deliver(one))]
            kept = goes_on() and _ours(clock, until_us)
            free, batch = (done, batch) if kept else ([*group, *batch], [])
            now = clock.now()
            until_us = now.wall_us + LEASE_US
            written = _recorded(ledger, clock, now, done, Kept(node, free, batch, outside))
            given += [one for one in written if one.within is None]
            new = new or bool(written)
    return given


def _ours(clock: Clock, until_us: int) -> bool:
    """Tells whether a claim still holds; whoever was stopped for longer leaves the reminder to the others."""
    return clock.now().wall_us < until_us


def _show_alive(ledger: Ledger, now: Moment) -> None:
    """Keeps that a sweep is at work, not more often than it must: whoever looks sees a bell that died."""
    with looking(ledger) as read:
        swept_us = read.dues.swept_us()
    if swept_us is None or not swept_us <= now.wall_us < swept_us + ALIVE_US:
        with transaction(ledger) as work:
            work.dues.keep_swept(now.wall_us)


def _ready(read: Transaction, now: Moment, most: int) -> list[tuple[DueRow, int]]:
    """Returns what is to be given with its level: first what rings for the first time, the gravest first."""
    quiet = _quiet(read, now)

    def waits(due: Due, role: str | None = None) -> bool:
        return due.severity != NOW and (str(due.words.get("site")), role or first_role(due)) in quiet

    fresh = [(row, 0) for row in read.dues.ready(now, most, waits if quiet else None)]
    if len(fresh) == most:
        return fresh
    for row in _latest_of_each_cause(read.dues.unanswered(now)):
        for level, one in enumerate(chain_of(row.due).levels, 1):
            if level > row.level and row.rang_us is not None and row.rang_us + one.after_s * SECOND_US <= now.wall_us:
                if waits(row.due, one.to_role):
                    break
                fresh.append((row, level))
    fresh.sort(key=lambda one: (one[0].due.severity, one[0].due.due_us, one[0].due.key, one[1]))
    return fresh[:most]


def _latest_of_each_cause(rows: list[DueRow]) -> list[DueRow]:
    """Returns the latest reminder of each cause and role: it alone goes further, for those before it too."""
    latest: dict[tuple[str, str], DueRow] = {}
    for row in rows:
        at = (cause_of(row.due.key), first_role(row.due))
        if at not in latest or row.due.due_us > latest[at].due.due_us:
            latest[at] = row
    return list(latest.values())


def _quiet(read: Transaction, now: Moment) -> set[tuple[str, str]]:
    """Returns the sites and roles that are just now in their quiet hours."""
    sites = [one for one in read.states_of(StreamKind.SITE) if isinstance(one, Site)]
    return {
        (site.site, role)
        for site in sites
        for role, hours in site.quiet.items()
        if quiet_until(hours, site.zone, now.wall_us) is not None
    }


def _claimed(ledger: Ledger, now: Moment, node: str) -> list[Rang]:
    with claiming(ledger) as work:
        rows = _ready(work, now, CLAIMED)
        own = work.dues.claim({row.due.key for row, _ in rows}, node, now.wall_us) if rows else frozenset()
        rings = [_rang(work, row, level, now) for row, level in rows if row.due.key in own]
        return _one_for_each_cause(work, rings)


def _rang(read: Transaction, row: DueRow, level: int, now: Moment) -> Rang:
    site = _site(read, row.due)
    if level == 0 or row.rang_us is None:
        return Rang(row.due, late_s(row.due, now), None, site, now.wall_us)
    one = chain_of(row.due).levels[level - 1]
    late_us = now.wall_us - row.rang_us - one.after_s * SECOND_US
    return Rang(row.due, late_us // SECOND_US, one.to_role, site, now.wall_us, level)


def _one_for_each_cause(read: Transaction, rings: list[Rang]) -> list[Rang]:
    """Returns one sound for each cause and each role it is for: the latest reminder stands for those before it.

    One that came too late, because a later one of its cause rang already, makes none any more.
    """
    groups: dict[tuple[str, str, int], list[Rang]] = {}
    for one in rings:
        groups.setdefault((cause_of(one.due.key), first_role(one.due), one.level), []).append(one)
    found = []
    for group in groups.values():
        leader = max(group, key=lambda one: one.due.due_us)
        also = tuple((one.due, one.late_s) for one in group if one is not leader)
        within = None if leader.level else _rang_later(read, leader.due)
        found.append(replace(leader, also=also, within=within))
    return sorted(found, key=lambda one: (one.due.severity, one.due.due_us, one.due.key, one.level))


def _rang_later(read: Transaction, due: Due) -> str | None:
    """Returns the reminder of the same cause and role that is due later and rang already, or None."""
    for row in read.dues.rung_of(due.subject):
        other = row.due
        same = cause_of(other.key) == cause_of(due.key) and first_role(other) == first_role(due)
        if same and other.due_us > due.due_us:
            return other.key
    return None


def _site(read: Transaction, due: Due) -> Site:
    named = due.words.get("site")
    return site_of(read, str(named) if named else None)


@dataclass(frozen=True, slots=True)
class Kept:
    """Is what a sweep does with the rings that it holds: which claims end, which go on, who else is told."""

    node: str
    free: list[Rang]
    rings: list[Rang]
    outside: Outside


def _recorded(ledger: Ledger, clock: Clock, now: Moment, done: list[Rang], kept: Kept) -> list[Rang]:
    """Writes one entry for each reminder that was given and has none yet; ends claims and renews the ones kept."""
    with transaction(ledger) as work:
        written = [one for one in done if _write(work, clock, now, one, kept.outside)]
        work.dues.let_go([key for one in kept.free for key in one.keys], kept.node)
        work.dues.claim([key for one in kept.rings for key in one.keys], kept.node, now.wall_us)
    return written


def _write(work: Transaction, clock: Clock, now: Moment, one: Rang, outside: Outside) -> bool:
    due = one.due
    if one.to_role is None:
        written = entered(work, clock, now, f"rang:{due.key}", _told(due, one.late_s, one.within), one.site)
        for other, late in one.also:
            entered(work, clock, now, f"rang:{other.key}", _told(other, late, one.within or due.key), one.site)
    else:
        level = one.level if one.level > 1 else None
        told = ReminderEscalated(
            key=due.key, rule=due.rule, subject=due.subject, to_role=one.to_role, due_us=due.due_us, level=level
        )
        key = f"escalated:{due.key}" if level is None else f"escalated-{level}:{due.key}"
        written = entered(work, clock, now, key, told, one.site)
    if written and one.within is None:
        work.posts.put(outside(one), now.wall_us)
    return written


def _told(due: Due, late: int, within: str | None) -> ReminderRang:
    return ReminderRang(key=due.key, rule=due.rule, subject=due.subject, due_us=due.due_us, late_s=late, within=within)


def see(
    ledger: Ledger,
    clock: Clock,
    asked: str,
    badge: str,
    *,
    identity: str = "claimed",
    may: Callable[[str], bool] = lambda _: True,
) -> list[str]:
    """Records that a person acknowledged reminders, and returns their keys; those acknowledged before are left out.

    Args:
        ledger: the record.
        clock: the clocks of this node.
        asked: the key of a reminder, for all that rang for its cause, or a stream such as `item:BLW-0041` for all that
            rang about it.
        badge: the badge of the person.
        identity: how the person is known.
        may: tells of a site whether this person acknowledges what rang there; what rang elsewhere is left out.

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
        sites = _asked_about(work, asked)
        return [
            key
            for key, site in sites.items()
            if may(site.site)
            and entered(
                work, clock, now, f"seen:{key}", ReminderSeen(key=key), site, actor=person.person, identity=identity
            )
        ]


def _asked_about(work: Transaction, asked: str) -> dict[str, Site]:
    """Returns the reminders that are acknowledged, each with its site: all of a subject, or all of one cause."""
    if "/" not in asked:
        return {row.due.key: _site(work, row.due) for row in work.dues.unseen_of(asked)}
    rows = [row for row in work.dues.unseen_of(asked.split("/")[1]) if cause_of(row.due.key) == cause_of(asked)]
    return {asked: site_of(work, None)} | {row.due.key: _site(work, row.due) for row in rows}


def entered(
    work: Transaction,
    clock: Clock,
    now: Moment,
    key: str,
    body: Body,
    site: Site,
    *,
    actor: str | None = None,
    identity: str = "claimed",
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
        identity=identity,
    )
    subject = stream(StreamKind.SITE, site.site)
    prepared = work.prepare([Draft(subject, body)], envelope, _ids(clock))
    work.write(prepared, as_text(Answer(Verdict.ACCEPTED, subject, body.kind, key=key)))
    return True


def _ids(clock: Clock) -> Iterator[str]:
    while True:
        yield clock.new_id()
