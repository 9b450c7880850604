"""One scan: load, decide, append, in one transaction; several scans may share it and its fsync."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import orjson

from reprocess.clock import Clock
from reprocess.engine.decide import decide, described
from reprocess.engine.request import Request
from reprocess.errors import KeyReusedError, ReprocessError, UnknownSubjectError, WrongUseError
from reprocess.gathering import Library, bench, offset_min, scene_for
from reprocess.ledger.append import Prepared, Transaction, transaction
from reprocess.ledger.open import Ledger
from reprocess.record.entry import Envelope
from reprocess.record.moment import Moment
from reprocess.record.people import Person
from reprocess.record.standing import Standing
from reprocess.rules import answer as answers
from reprocess.rules.answer import Answer, Reason
from reprocess.rules.scene import Bench, Scene
from reprocess.scheduling import refresh_dues


@dataclass(frozen=True, slots=True)
class Call:
    """Is one request as it reaches the department.

    Attributes:
        badge: the badge that was shown; the entry says that it only claims the person.
        second: the badge of a second person, scanned within this request.
        key: the request's own key; the same key gives the same answer and one entry, for ever (I9).
    """

    request: Request
    station: str
    badge: str | None
    second: str | None
    key: str


def fingerprint(call: Call) -> str:
    """Returns a digest of all that was asked, so that a key cannot be used for something else."""
    asked = [call.request.asked, call.request, call.station, call.badge, call.second]
    try:
        told = orjson.dumps(asked, option=orjson.OPT_SORT_KEYS)
    except TypeError as fault:
        message = "The request holds a number or a text that cannot be recorded."
        raise WrongUseError(message) from fault
    return hashlib.sha256(told).hexdigest()[:32]


@dataclass(frozen=True, slots=True)
class _Ready:
    prepared: Prepared
    answer: Answer


class Desk:
    """Takes calls for one department, one transaction for each batch."""

    def __init__(self, ledger: Ledger, library: Library, clock: Clock) -> None:
        self.ledger = ledger
        self.library = library
        self.clock = clock

    def take(self, call: Call) -> Answer:
        """Returns the answer to one call; what it says is on record when it returns.

        Raises:
            WrongUseError: the request names what does not exist.
            KeyReusedError: the key was used for another request.
            LedgerError: nothing could be recorded.
        """
        outcome = self.take_all([call])[0]
        if isinstance(outcome, ReprocessError):
            raise outcome
        return outcome

    def take_all(self, calls: Sequence[Call]) -> list[Answer | ReprocessError]:
        """Returns the outcome of each call, each decided on what the one before it wrote, all in one transaction.

        Raises:
            LedgerError: nothing of any of them could be recorded.
        """
        arrived = self.clock.now()  # before the wait for the lock, which must not lengthen a contact
        with transaction(self.ledger) as work:
            return [self._outcome(work, call, arrived) for call in calls]

    def _outcome(self, work: Transaction, call: Call, arrived: Moment) -> Answer | ReprocessError:
        """Returns one call's outcome; an error before anything was written is an outcome, one after it ends all."""
        try:
            ready = self._decided(work, call, arrived)
        except ReprocessError as fault:
            if fault.exit_code == ReprocessError.exit_code and fault.code.startswith("ledger"):
                raise
            return fault
        if isinstance(ready, Answer):
            return ready
        entries = work.write(ready.prepared, answers.as_text(ready.answer))
        refresh_dues(work, self.library, entries)
        return ready.answer

    def _decided(self, work: Transaction, call: Call, arrived: Moment) -> Answer | _Ready:
        """Returns the answer to a repetition, or what is to be written and answered."""
        asked = fingerprint(call)
        before = work.answered(call.key)
        if before is not None:
            if before.request != asked:
                message = f"The key {call.key} was used for another request; nothing was recorded."
                raise KeyReusedError(message, key=call.key)
            return replace(answers.from_text(before.answer), repeated=True)
        at = bench(work, arrived, call.station, call.badge, call.second)
        if at.station.number == 0:
            message = f"There is no station called {call.station}."
            raise UnknownSubjectError(message, station=call.station)
        scene = self._not_before(scene_for(work, self.library, at, call.request))
        at = scene.bench
        decision = decide(call.request, scene)
        prepared = work.prepare(decision.drafts, envelope_of(at, call.key, asked), self._ids())
        after = prepared.after.get(decision.answer.subject, scene.item)
        seen = replace(scene, item=after) if isinstance(after, Standing) else scene
        answer = with_helpers(work, described(decision.answer, seen), at)
        return _Ready(prepared, replace(answer, key=call.key))

    def _not_before(self, scene: Scene) -> Scene:
        """Returns the scene at a later reading where another station's scan of the item was written meanwhile."""
        change, moment = scene.item.change, scene.bench.moment
        if change is None or change.moment.boot != moment.boot or change.moment.mono_us <= moment.mono_us:
            return scene
        return replace(scene, bench=replace(scene.bench, moment=self.clock.now()))

    def _ids(self) -> Iterator[str]:
        while True:
            yield self.clock.new_id()


def envelope_of(at: Bench, key: str, asked: str) -> Envelope:
    """Returns what all entries of one request share."""
    return Envelope(
        moment=at.moment,
        offset_min=offset_min(at.site.zone, at.moment.wall_us),
        actor=at.actor.person if at.actor is not None else None,
        second=at.second.person if at.second is not None else None,
        station=at.station.station or None,
        key=key,
        request=asked,
    )


def with_helpers(work: Transaction, answer: Answer, at: Bench) -> Answer:
    """Returns the answer with the names of people who can help, where a reason says what they must hold or be."""
    if not any(one.competency or one.role for one in answer.reasons):
        return answer
    staff = [one for one in work.people() if one.active and (not one.sites or at.site.site in one.sites)]
    return replace(answer, reasons=tuple(_named(one, staff, at) for one in answer.reasons))


HELPERS_MAX = 3
"""Names in one sentence at most (our choice, for a screen read at three metres)."""


def _named(reason: Reason, staff: list[Person], at: Bench) -> Reason:
    me = at.actor.person if at.actor is not None else None
    others = [one for one in staff if one.person != me]
    if reason.competency is not None:
        kind = reason.item_kind or ""
        able = [one.name for one in others if one.may(reason.competency, kind, at.now_us)]
    elif reason.role is not None:
        able = [one.name for one in others if reason.role in one.roles]
    else:
        return reason
    return replace(reason, helpers=tuple(able[:HELPERS_MAX]))
