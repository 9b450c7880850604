"""One scan: load, decide, append, in one transaction; several scans may share it and its fsync."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Final

import orjson

from reprocess.clock import Clock
from reprocess.engine import consenting, overriding
from reprocess.engine.decide import decide, described
from reprocess.engine.decision import Decision, NameDeed
from reprocess.engine.request import Request
from reprocess.errors import (
    KeyReusedError,
    LedgerError,
    PreconditionError,
    PreconditionMissingError,
    ReprocessError,
    UnknownSubjectError,
    WrongUseError,
)
from reprocess.gathering import Library, bench, local, meant, offset_min, pseudonymous, scene_for
from reprocess.gathering.foreseeing import Asked, foresee
from reprocess.gathering.signing import consents_of, person, special
from reprocess.ledger.append import Prepared, Transaction, looking, transaction
from reprocess.ledger.erasures import settle
from reprocess.ledger.names import Name
from reprocess.ledger.open import Ledger
from reprocess.record.changing import replace
from reprocess.record.entry import Envelope
from reprocess.record.moment import Moment
from reprocess.record.people import Person
from reprocess.record.standing import Standing
from reprocess.record.words import OverrideUsed
from reprocess.rules import answer as answers
from reprocess.rules import signing
from reprocess.rules.answer import Answer, Reason, Signature
from reprocess.rules.asked import Override
from reprocess.rules.scene import Bench, Scene
from reprocess.scheduling import refresh_dues
from reprocess.terms import as_text, subject_of


@dataclass(frozen=True, slots=True)
class Call:
    """Is one request as it reaches the department.

    Attributes:
        badge: the badge that was shown; the entry says that it only claims the person.
        second: the badge of a second person, scanned within this request.
        key: the request's own key; the same key gives the same answer and one entry, for ever (I9).
        personal: who a wearer is, where the request registers one. It is no part of the request, so that neither an
            entry nor a digest in one tells anything about it.
        override: the rule that is to be passed over, or None.
        shown: the digest of what was shown to whoever signs, as they gave it, or None (I22).
        identity: how the person is known: `claimed`, or as the sign-in says. It is no part of what was asked.
        arrived: the clocks when the request arrived, where it waited for others to share its transaction.
        sender: the instrument whose signed result this is; a machine then speaks, and no person.
        expected: the numbers at which the stream concerned may stand, as the caller last read it; None for any. Where
            0 is the only one, nothing of that name may be on record yet. It is no part of what was asked.
        within: the digest of the larger request that this is one part of, such as a scan of several things, or None.
    """

    request: Request
    station: str
    badge: str | None
    second: str | None
    key: str
    personal: Name | None = None
    override: Override | None = None
    shown: str | None = None
    identity: str = "claimed"
    arrived: Moment | None = None
    sender: str | None = None
    expected: tuple[int, ...] | None = None
    within: str | None = None


NEW: Final = (0,)
"""What is expected of a stream that a caller knows nothing of."""


def as_expected(number: int, expected: tuple[int, ...] | None) -> None:
    """Raises where a stream does not stand at a number that the caller read.

    Raises:
        PreconditionMissingError: the caller named none, and the subject is on record.
        PreconditionError: it stands at another number.
    """
    if expected is None or number in expected:
        return
    if expected == NEW:
        message = "It is on record: read it first and send its ETag as If-Match. Nothing was recorded."
        raise PreconditionMissingError(message)
    message = "It changed since it was read. Nothing was recorded. Read it anew and decide again."
    raise PreconditionError(message, number=number)


def fingerprint(call: Call) -> str:
    """Returns a digest of all that was asked, so that a key cannot be used for something else."""
    asked: list[object] = [call.request.asked, call.request, call.station, call.badge, call.second]
    if call.override is not None or call.shown is not None:  # what came later is left out where it is not given
        asked += [call.override, call.shown]
    if call.sender is not None:
        asked += [call.sender]
    if call.within is not None:
        asked += [call.within]
    if ":" in call.identity:  # a program's own: what another one asks under the same key is another request
        asked += [call.identity]
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
    deed: NameDeed | None = None


class _NotKeptError(Exception):
    """Ends a transaction that is only rehearsed, or that a batch does not pass."""


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
        try:
            return self._taken(calls, arrived)
        except LedgerError as fault:
            if not fault.fields.get("again"):
                raise
        return self._taken(calls, arrived)  # the connection was lost, or others won: the same keys find out, once

    def _taken(self, calls: Sequence[Call], arrived: Moment) -> list[Answer | ReprocessError]:
        with transaction(self.ledger) as work:
            first_us = min(((one.arrived or arrived).wall_us for one in calls), default=arrived.wall_us)
            foresee(work, [_asked(call) for call in calls], first_us)
            outcomes = [self._outcome(work, call, call.arrived or arrived, {}) for call in calls]
        if work.names.erased:
            settle(self.ledger)
        return outcomes

    def take_together(
        self, calls: Sequence[Call], stands: Callable[[Sequence[Answer | ReprocessError]], bool]
    ) -> list[Answer | ReprocessError]:
        """Returns the outcomes of calls that stand or fall together: nothing is recorded unless `stands` says so.

        Raises:
            LedgerError: nothing of any of them could be recorded.
        """
        arrived = self.clock.now()
        outcomes: list[Answer | ReprocessError] = []
        with suppress(_NotKeptError), transaction(self.ledger) as work:
            foresee(work, [_asked(call) for call in calls], arrived.wall_us)
            outcomes = [self._outcome(work, call, arrived, {}) for call in calls]
            if not stands(outcomes):
                raise _NotKeptError
        return outcomes

    def must_be_unused(self, calls: Sequence[Call]) -> None:
        """Raises where one of these calls' keys was used for something else; nothing is written.

        Raises:
            KeyReusedError: with the key.
        """
        with looking(self.ledger) as read:
            for call in calls:
                _answered_before(read, call, fingerprint(call))

    def take_within(self, work: Transaction, call: Call) -> Answer | ReprocessError:
        """Returns the outcome of a call inside a transaction that somebody else opened and ends."""
        return self._outcome(work, call, self.clock.now(), {})

    def rehearse(self, calls: Sequence[Call]) -> list[Answer | ReprocessError]:
        """Returns what each call would be answered now, each on the record as it stands; nothing is written.

        It is decided by the same code as a call that is taken, on a transaction that only reads.
        """
        arrived = self.clock.now()
        with looking(self.ledger) as read:
            return [self._rehearsed(read, call, arrived) for call in calls]

    def reveal(self, call: Call) -> tuple[Answer, dict[str, Name]]:
        """Returns the answer to one call and the names that it may show, by pseudonym; that it did is on record.

        A repetition shows none, since nothing is recorded anew: whoever asks again takes a new key (I21).

        Raises:
            WrongUseError: the request names what does not exist.
            KeyReusedError: the key was used for another request.
            LedgerError: nothing could be recorded, and nothing is shown.
        """
        shown: dict[str, Name] = {}
        with transaction(self.ledger) as work:
            outcome = self._outcome(work, call, self.clock.now(), shown)
        if isinstance(outcome, ReprocessError):
            raise outcome
        return outcome, shown

    def _outcome(
        self, work: Transaction, call: Call, arrived: Moment, shown: dict[str, Name]
    ) -> Answer | ReprocessError:
        """Returns one call's outcome; an error before anything was written is an outcome, one after it ends all."""
        try:
            ready = self._decided(work, call, arrived)
            if isinstance(ready, _Ready) and ready.deed is not None:
                _done_with_names(work, ready.deed, call.personal, shown)
        except ReprocessError as fault:
            if fault.exit_code == ReprocessError.exit_code and fault.code.startswith("ledger"):
                raise
            return fault
        if isinstance(ready, Answer):
            return ready
        entries = work.write(ready.prepared, answers.as_text(ready.answer))
        refresh_dues(work, self.library, entries)
        return ready.answer

    def _rehearsed(self, read: Transaction, call: Call, arrived: Moment) -> Answer | ReprocessError:
        try:
            ready = self._decided(read, call, arrived)
        except LedgerError:
            raise
        except ReprocessError as fault:
            return fault
        return ready if isinstance(ready, Answer) else ready.answer

    def _decided(self, work: Transaction, call: Call, arrived: Moment) -> Answer | _Ready:
        """Returns the answer to a repetition, or what is to be written and answered."""
        asked = fingerprint(call)
        before = _answered_before(work, call, asked)
        if before is not None:
            _same_person(work, call, before)
            return replace(before, repeated=True)
        at = bench(work, arrived, call.station, call.badge, call.second)
        if at.station.number == 0:
            message = f"There is no station called {call.station}."
            raise UnknownSubjectError(message, station=call.station)
        at = special(work, at, call.override, call.shown)
        if call.sender is not None:
            at = replace(at, special=replace(at.special, sender=call.sender))
        request = pseudonymous(work, meant(work, call.request))
        scene = self._not_before(scene_for(work, self.library, at, request))
        decision = decide(request, scene)
        if call.expected is not None:
            as_expected(work.state(decision.answer.subject).number, call.expected)
        if consenting.would_help(decision):
            scene, decision = _with_consents(work, request, scene, decision)
        at = scene.bench
        decision = signed(decision, request, scene)
        prepared = work.prepare(decision.drafts, envelope_of(at, call.key, asked, call.identity), self._ids())
        after = prepared.after.get(decision.answer.subject, scene.item)
        seen = replace(scene, item=after) if isinstance(after, Standing) else scene
        answer = with_helpers(work, described(decision.answer, seen), at)
        return _Ready(prepared, replace(answer, key=call.key), decision.deed)

    def _not_before(self, scene: Scene) -> Scene:
        """Returns the scene at a later reading where another station's scan of the item was written meanwhile."""
        change, moment = scene.item.change, scene.bench.moment
        if change is None or change.moment.boot != moment.boot or change.moment.mono_us <= moment.mono_us:
            return scene
        return replace(scene, bench=replace(scene.bench, moment=self.clock.now()))

    def _ids(self) -> Iterator[str]:
        while True:
            yield self.clock.new_id()


def _asked(call: Call) -> Asked:
    badges = tuple(badge for badge in (call.badge, call.second) if badge is not None)
    return Asked(call.key, call.request, call.station, badges)


def _done_with_names(work: Transaction, deed: NameDeed, personal: Name | None, shown: dict[str, Name]) -> None:
    """Keeps, erases and shows names as decided, in the transaction of the entries that say so.

    Raises:
        WrongUseError: a wearer is registered without a name, or the badge is another wearer's.
    """
    if deed.keep is not None:
        if personal is None:
            message = "Say who the wearer is."
            raise WrongUseError(message, wearer=deed.keep)
        work.names.keep(deed.keep, personal)
    for wearer in deed.erase:
        work.names.erase(wearer)
    found = ((wearer, work.names.of(wearer)) for wearer in deed.show)
    shown.update((wearer, name) for wearer, name in found if name is not None)


def _answered_before(read: Transaction, call: Call, asked: str) -> Answer | None:
    """Returns what a call of this key was answered, or None where the key is new.

    Raises:
        KeyReusedError: the key was used for another request.
    """
    before = read.answered(call.key)
    if before is None:
        return None
    if before.request != asked:
        message = f"The key {call.key} was used for another request; nothing was recorded."
        raise KeyReusedError(message, key=call.key)
    return answers.from_text(before.answer)


def _same_person(work: Transaction, call: Call, before: Answer) -> None:
    """Refuses a repeated key with another name, which no digest of the request could tell (I9, I21).

    Raises:
        KeyReusedError: the name kept is another one.
    """
    kept = work.names.of(subject_of(before.subject)) if call.personal is not None else None
    if kept is not None and kept != call.personal:
        message = f"The key {call.key} was used for another request; nothing was recorded."
        raise KeyReusedError(message, key=call.key)


def envelope_of(at: Bench, key: str, asked: str, identity: str = "claimed") -> Envelope:
    """Returns what all entries of one request share."""
    return Envelope(
        moment=at.moment,
        offset_min=offset_min(at.site.zone, at.moment.wall_us),
        actor=at.actor.person if at.actor is not None else None,
        second=at.second.person if at.second is not None else None,
        station=at.station.station or None,
        key=key,
        request=asked,
        identity=identity,
    )


def with_helpers(work: Transaction, answer: Answer, at: Bench) -> Answer:
    """Returns the answer with the names of people who can help, where a reason says what they must hold or be."""
    if not any(one.competency or one.role for one in answer.reasons):
        return answer
    staff = [one for one in work.people() if one.active and (not one.sites or at.site.site in one.sites)]
    return replace(answer, reasons=tuple(_named(one, staff, at) for one in answer.reasons))


def _with_consents(work: Transaction, request: Request, scene: Scene, refused: Decision) -> tuple[Scene, Decision]:
    """Returns the scene and decision with the consents given at other stations, where they change a refusal."""
    kept = consenting.waiting(consents_of(work, refused.answer.subject), request, scene)
    if not kept:
        return scene, refused
    people = [person(work, one.person) for one in kept]
    for other in consenting.with_people(scene, kept, people):
        decision = decide(request, other)
        if overriding.goes_on(decision):
            return other, consenting.using(decision, other, kept)
    return scene, refused


def signed(decision: Decision, request: Request, scene: Scene) -> Decision:
    """Returns the decision with the signature in its answer, where the request is one that is signed (I22)."""
    at, answer = scene.bench, decision.answer
    overrode = any(isinstance(draft.body, OverrideUsed) for draft in decision.drafts)
    meaning = signing.OVERRIDDEN if overrode else signing.MEANINGS.get(request.asked)
    if meaning is None or at.actor is None or not overriding.goes_on(decision):
        return decision
    shown = overriding.shown(request, scene, answer.subject)
    return replace(decision, answer=replace(answer, signature=signature_of(at, meaning, shown or "")))


def signature_of(at: Bench, meaning: str, shown: str) -> Signature:
    """Returns the signature of whoever acts at a bench; there must be somebody."""
    return Signature(
        name=at.actor.name if at.actor is not None else "",
        meaning=meaning,
        utc=as_text(at.now_us),
        local=local(at.site.zone, at.now_us).isoformat(timespec="seconds"),
        shown=shown,
        second=at.second.name if at.second is not None else None,
        quoted=at.special.shown is not None,
    )


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
