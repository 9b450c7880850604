"""Founding a department in one transaction, and enrolling people, items and files afterwards."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TypeVar

from reprocess.clock import Clock
from reprocess.definitions.configuration import Configuration
from reprocess.definitions.faults import Faults, as_text
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.profile import Profile
from reprocess.definitions.proof import as_text as proof_text
from reprocess.definitions.prove import prove
from reprocess.definitions.prove_profile import profile_text, prove_profile
from reprocess.definitions.read import MODELS, Definition, digest_of, read_definition
from reprocess.engine import enrolling
from reprocess.engine.enrolling import Approve, Commission, Enrol, EnrolRequest, Office, Publish
from reprocess.engine.live import ConfirmSources
from reprocess.errors import DefinitionError, KeyReusedError, ReprocessError, UnknownSubjectError, WrongUseError
from reprocess.founding import DepartmentFile, commissions, enrolments
from reprocess.gathering import Library, bench, published_stream, resting_on, state_as
from reprocess.gathering.identity import bearer_of
from reprocess.gathering.people import flags_waiting, open_under, worked_by
from reprocess.gathering.recalls import measured_by
from reprocess.gathering.signing import special
from reprocess.ledger.append import Transaction, transaction
from reprocess.ledger.open import Ledger
from reprocess.record.lots import Lot
from reprocess.record.moment import Moment
from reprocess.record.people import Person
from reprocess.record.places import Published, Site, Station
from reprocess.record.words import (
    BadgeGiven,
    Body,
    CompetencyGranted,
    CompetencyWithdrawn,
    InstrumentFaulty,
    InstrumentRegistered,
    PersonRegistered,
    StationOpened,
)
from reprocess.rules import answer as answers
from reprocess.rules import signing
from reprocess.rules.answer import Answer, Signature
from reprocess.rules.scene import Bench
from reprocess.scheduling import refresh_dues
from reprocess.shipped import File, named
from reprocess.station import Call, Desk, as_expected, envelope_of, signature_of, with_helpers
from reprocess.terms import Digest, StreamKind, stream, subject_of

Held = TypeVar("Held", Workflow, Agent, Configuration, Profile)
_ORDER = ("agent", "configuration", "workflow", "profile")
"""A workflow is proved against labels in force, a profile against workflows and configurations in force."""


@dataclass(frozen=True, slots=True)
class EnrolCall:
    """Is one enrolment as it reaches the department.

    Attributes:
        shown: the digest of what was shown to whoever signs.
        identity: how the person is known: `claimed`, or as the sign-in says.
        expected: the numbers at which the stream concerned may stand, as in `Call`.
    """

    request: EnrolRequest
    station: str
    badge: str | None
    second: str | None
    key: str
    shown: str | None = None
    identity: str = "claimed"
    expected: tuple[int, ...] | None = None


def take(ledger: Ledger, library: Library, clock: Clock, call: EnrolCall) -> Answer:
    """Returns the answer to one enrolment; what it says is on record when it returns.

    Raises:
        KeyReusedError: the key was used for another request.
        UnknownSubjectError: there is no such station.
        PreconditionError: the subject changed since the caller read it.
    """
    with transaction(ledger) as work:
        asked = _fingerprint(call)
        before = work.answered(call.key)
        if before is not None:
            if before.request != asked:
                message = f"The key {call.key} was used for another request; nothing was recorded."
                raise KeyReusedError(message, key=call.key)
            return replace(answers.from_text(before.answer), repeated=True)
        at = bench(work, clock.now(), call.station, call.badge, call.second)
        if at.station.number == 0 or call.station == enrolling.FOUNDING:
            message = f"There is no station called {call.station}."
            raise UnknownSubjectError(message, station=call.station)
        at = special(work, at, None, call.shown)
        return _write(work, library, clock, at, call, asked)


Together = Callable[[Transaction, Library], Iterator[tuple[EnrolCall | Call, str | None]]]
"""Yields calls that are taken together, each on what the ones before it wrote, with the site where an item is."""


class _RefusedError(Exception):
    """Takes back a transaction in which one call of many was refused."""

    def __init__(self, answer: Answer) -> None:
        super().__init__(answer)
        self.answer = answer


def take_together(desk: Desk, calls: Together) -> Answer | None:
    """Takes all of several calls in one transaction and returns None; or returns the first refusal, and takes nothing.

    Raises:
        ReprocessError: one of them cannot be decided; nothing was recorded.
    """
    now = desk.clock.now()
    try:
        with transaction(desk.ledger) as work:
            for call, site in calls(work, desk.library):
                _must_be_accepted(_one_of_them(desk, work, now, call, site))
                work.let_go()
    except _RefusedError as refused:
        return refused.answer
    return None


def _must_be_accepted(answer: Answer) -> None:
    if not answer.accepted:
        raise _RefusedError(answer)


def _one_of_them(desk: Desk, work: Transaction, now: Moment, call: EnrolCall | Call, site: str | None) -> Answer:
    if isinstance(call, Call):
        outcome = desk.take_within(work, call)
        if isinstance(outcome, ReprocessError):
            raise outcome
        return outcome
    at = bench(work, now, call.station, call.badge, call.second)
    if site is not None:
        at = replace(at, site=state_as(work, stream(StreamKind.SITE, site), Site))
    return _write(work, desk.library, desk.clock, at, call, _fingerprint(call))


def _fingerprint(call: EnrolCall) -> str:
    told: tuple[object, ...] = (call.request, call.station, call.badge, call.second)
    text = repr(told if call.shown is None else (*told, call.shown))
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _write(work: Transaction, library: Library, clock: Clock, at: Bench, call: EnrolCall, asked: str) -> Answer:
    request, key = call.request, call.key
    if isinstance(request, Publish | Approve):
        _must_be_sound(work, library, request)
    office = _office(work, library, at, request)
    as_expected(office.state.number, call.expected)
    decision = enrolling.enrol(request, office)
    signature = _signature(office, decision.answer)
    if signature is not None:
        decision = replace(decision, answer=replace(decision.answer, signature=signature))
    prepared = work.prepare(decision.drafts, envelope_of(at, key, asked, call.identity), _ids(clock))
    answer = replace(with_helpers(work, decision.answer, at), key=key)
    entries = work.write(prepared, answers.as_text(answer))
    refresh_dues(work, library, entries)
    return answer


def _signature(office: Office, answer: Answer) -> Signature | None:
    """Returns the signature of a file that was approved or whose sources were confirmed (I22)."""
    meaning = signing.MEANINGS.get(answer.asked)
    if meaning is None or not answer.accepted or office.bench.actor is None:
        return None
    return signature_of(office.bench, meaning, signing.shown_digest(office.subject, office.state))


def _must_be_sound(work: Transaction, library: Library, request: Publish | Approve) -> None:
    """Refuses a text that is not what it says it is, that cannot be read, or whose workflow or profile is not proved.

    Raises:
        DefinitionError: with every fault or counter-example.
    """
    text = request.text if isinstance(request, Publish) else None
    if text is None:
        kept = work.definition(request.digest)
        if kept is None:
            return
        text = kept[2]
    definition = read_definition(text, name=request.name)
    if isinstance(definition, Faults):
        raise DefinitionError(as_text(definition), name=request.name)
    if digest_of(text) != request.digest or (request.sort, request.name) != named(definition):
        message = f"The text is not the {request.sort} {request.name} that was named."
        raise DefinitionError(message, name=request.name)
    if isinstance(definition, Workflow):
        proof = prove(definition, agents_in_force(work, library), digest=Digest(request.digest))
        if not proof.is_sound:
            raise DefinitionError(proof_text(proof), name=request.name)
    _profiles_must_hold(work, library, definition, Digest(request.digest))


def _profiles_must_hold(work: Transaction, library: Library, definition: Definition, digest: Digest) -> None:
    """Refuses a profile that does not hold, and a file with which a profile in force would hold no longer.

    Raises:
        DefinitionError: with every counter-example.
    """
    own = {digest: definition} if isinstance(definition, Profile) else {}
    judged = own or files_in_force(work, library, Profile)
    if not judged:
        return
    workflows = {one.workflow: one for one in files_in_force(work, library, Workflow).values()}
    configurations = {one.configuration: one for one in files_in_force(work, library, Configuration).values()}
    if isinstance(definition, Workflow):
        workflows[definition.workflow] = definition
    if isinstance(definition, Configuration):
        configurations[definition.configuration] = definition
    for known, profile in judged.items():
        proof = prove_profile(profile, workflows, configurations, digest=known)
        if not proof.is_sound:
            raise DefinitionError(profile_text(proof), name=profile.profile)


def agents_in_force(work: Transaction, library: Library) -> dict[str, Agent]:
    """Returns the agents in force, by name."""
    return {one.agent: one for one in files_in_force(work, library, Agent).values()}


def files_in_force(work: Transaction, library: Library, kind: type[Held]) -> dict[Digest, Held]:
    """Returns the files of one kind that are in force, by digest."""
    files = [one for one in work.states_of(StreamKind.WORKFLOW) if isinstance(one, Published)]
    digests = [Digest(one.in_force) for one in files if MODELS.get(one.sort) is kind and one.in_force is not None]
    found = {digest: library.get(work, digest) for digest in digests}
    return {digest: one for digest, one in found.items() if isinstance(one, kind)}


def _ids(clock: Clock) -> Iterator[str]:
    while True:
        yield clock.new_id()


def _office(work: Transaction, library: Library, at: Bench, request: EnrolRequest) -> Office:
    match request:
        case Enrol() if isinstance(request.body, InstrumentFaulty):
            name = subject_of(request.subject)
            resting, wholes = resting_on(work, library, name)
            uses = measured_by(work, name)
            return Office(at, request.subject, work.state(request.subject), resting=resting, wholes=wholes, uses=uses)
        case Enrol() if isinstance(request.body, CompetencyWithdrawn) and request.body.from_us is not None:
            state, name = work.state(request.subject), subject_of(request.subject)
            worked, wholes = worked_by(work, library, name, request.body.from_us)
            return Office(at, request.subject, state, worked=worked, wholes=wholes)
        case Enrol() if isinstance(request.body, CompetencyGranted) and request.body.verifier is not None:
            flags = flags_waiting(work, subject_of(request.subject))
            verifier = state_as(work, stream(StreamKind.PERSON, request.body.verifier), Person)
            return Office(at, request.subject, work.state(request.subject), flags=flags, verifier=verifier)
        case Enrol():
            holder = work.person_of(request.body.badge) if isinstance(request.body, BadgeGiven) else None
            unknown = _unknown_sites(work, request.body)
            return Office(at, request.subject, work.state(request.subject), badge_holder=holder, unknown_sites=unknown)
        case Commission():
            subject = stream(StreamKind.ITEM, request.item)
            file = state_as(work, published_stream("workflow", request.workflow), Published)
            kind = None
            if file.in_force is not None:
                workflow = library.get(work, file.in_force)
                kind = workflow.item_kind if isinstance(workflow, Workflow) else None
            lot = None if request.lot is None else state_as(work, stream(StreamKind.LOT, request.lot), Lot)
            bearer = bearer_of(work, request.item)
            return Office(at, subject, work.state(subject), file, kind, bearer=bearer, lot=lot)
        case Publish() | Approve() | ConfirmSources():
            name = published_stream(request.sort, request.name)
            file = state_as(work, name, Published)
            office = Office(at, name, file, file)
            safety = isinstance(request, Approve) and request.safety
            return _with_moving(work, library, office, request.digest) if safety else office


def _unknown_sites(work: Transaction, body: Body) -> tuple[str, ...]:
    """Returns the sites that a fact names and nobody opened."""
    match body:
        case StationOpened() | InstrumentRegistered():
            named: tuple[str, ...] = (body.site,)
        case PersonRegistered():
            named = body.sites
        case _:
            return ()
    return tuple(one for one in named if not state_as(work, stream(StreamKind.SITE, one), Site).number)


def _with_moving(work: Transaction, library: Library, office: Office, digest: str) -> Office:
    """Returns the office with the open cycles that a change for safety moves to the new version (G12).

    Raises:
        WrongUseError: the file is no workflow; what a label's change reaches is found by a recall of its solutions.
    """
    new = library.get(work, digest) if work.definition(digest) is not None else None
    if new is None:
        return office
    if not isinstance(new, Workflow):
        message = "Only a workflow is changed for safety; recall what an agent or a configuration reached."
        raise WrongUseError(message)
    moving, wholes, out = open_under(work, library, new.workflow, digest)
    return replace(office, moving=moving, wholes=wholes, out=out, new=new)


def found(ledger: Ledger, library: Library, clock: Clock, file: DepartmentFile, shipped: Iterable[File]) -> int:
    """Writes a department's first entries in one transaction, and returns how many items it has.

    Raises:
        DefinitionError: one of the shipped files has faults, or the profile does not hold.
        WrongUseError: the department's file contradicts itself, or names a profile that is not shipped.
    """
    texts = sorted(_chosen(file, list(shipped)), key=lambda text: _ORDER.index(text.sort) if text.sort else 0)
    with transaction(ledger) as work:
        for request in enrolments(file):
            _founding(work, library, clock, file, request, None)
        if file.files is not None:
            for text in texts:
                _put_in_force(work, library, clock, file, text)
        total = 0
        for site, commission in commissions(file):
            _founding(work, library, clock, file, commission, None, site=site)
            total += 1
        return total


def _chosen(file: DepartmentFile, shipped: list[File]) -> list[File]:
    """Returns what of the shipped files is put in force: all but profiles, or a profile with its own workflows only.

    Raises:
        WrongUseError: no shipped profile has that name.
    """
    name = file.files.profile if file.files is not None else None
    if name is None:
        return [text for text in shipped if text.sort != "profile"]
    profiles = {text.name: text.holds for text in shipped if isinstance(text.holds, Profile)}
    if name not in profiles:
        known = ", ".join(sorted(profiles)) or "none"
        message = f"There is no profile called {name}; there are: {known}."
        raise WrongUseError(message, profile=name)
    taken = {"workflow": profiles[name].workflows, "profile": (name,)}
    return [text for text in shipped if text.sort not in taken or text.name in taken[text.sort]]


def _put_in_force(work: Transaction, library: Library, clock: Clock, file: DepartmentFile, text: File) -> None:
    if isinstance(text.holds, Faults) or text.sort is None:
        message = f"{text.path.name} cannot be put in force."
        faults = as_text(text.holds) if isinstance(text.holds, Faults) else ""
        raise DefinitionError(f"{message}\n{faults}".strip(), path=str(text.path))
    if file.files is None:
        return
    publish = Publish(text.sort, text.name, text.digest, text.text)
    _founding(work, library, clock, file, publish, file.files.published_by)
    _founding(work, library, clock, file, Approve(text.sort, text.name, text.digest), file.files.approved_by)


def _founding(
    work: Transaction,
    library: Library,
    clock: Clock,
    file: DepartmentFile,
    request: EnrolRequest,
    person: str | None,
    *,
    site: str | None = None,
) -> None:
    name = site or file.sites[0].site
    place = state_as(work, stream(StreamKind.SITE, name), Site)
    actor = state_as(work, stream(StreamKind.PERSON, person), Person) if person is not None else None
    at = Bench(
        moment=clock.now(),
        site=place if place.number else Site(site=name, zone=file.sites[0].zone),
        station=Station(enrolling.FOUNDING, site=name),
        actor=actor,
        badge=None,
    )
    key = f"founding-{clock.new_id()}"
    answer = _write(work, library, clock, at, EnrolCall(request, enrolling.FOUNDING, None, None, key), "founding")
    if not answer.accepted:
        told = ", ".join(f"{one.rule} {one.key} {one.facts}" for one in answer.reasons)
        message = f"The department's file cannot be used: {told}."
        raise WrongUseError(message)
