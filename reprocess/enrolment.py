"""Founding a department in one transaction, and enrolling people, items and files afterwards."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from reprocess.clock import Clock
from reprocess.definitions.faults import Faults, as_text
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.proof import as_text as proof_text
from reprocess.definitions.prove import prove
from reprocess.definitions.read import digest_of, read_definition
from reprocess.engine import enrolling
from reprocess.engine.enrolling import Approve, Commission, Enrol, EnrolRequest, Office, Publish
from reprocess.errors import DefinitionError, KeyReusedError, UnknownSubjectError, WrongUseError
from reprocess.founding import DepartmentFile, commissions, enrolments
from reprocess.gathering import Library, bench, published_stream, state_as
from reprocess.ledger.append import Transaction, transaction
from reprocess.ledger.open import Ledger
from reprocess.record.entry import BadgeGiven
from reprocess.record.people import Person
from reprocess.record.places import Published, Site, Station
from reprocess.rules import answer as answers
from reprocess.rules.answer import Answer
from reprocess.rules.scene import Bench
from reprocess.scheduling import refresh_dues
from reprocess.shipped import File, named
from reprocess.station import envelope_of, with_helpers
from reprocess.terms import Digest, StreamKind, stream


@dataclass(frozen=True, slots=True)
class EnrolCall:
    """Is one enrolment as it reaches the department."""

    request: EnrolRequest
    station: str
    badge: str | None
    second: str | None
    key: str


def take(ledger: Ledger, library: Library, clock: Clock, call: EnrolCall) -> Answer:
    """Returns the answer to one enrolment; what it says is on record when it returns.

    Raises:
        KeyReusedError: the key was used for another request.
        UnknownSubjectError: there is no such station.
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
        return _write(work, library, clock, at, call.request, call.key, asked)


def _fingerprint(call: EnrolCall) -> str:
    text = repr((call.request, call.station, call.badge, call.second))
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _write(
    work: Transaction, library: Library, clock: Clock, at: Bench, request: EnrolRequest, key: str, asked: str
) -> Answer:
    if isinstance(request, Publish | Approve):
        _must_be_sound(work, library, request)
    decision = enrolling.enrol(request, _office(work, library, at, request))
    prepared = work.prepare(decision.drafts, envelope_of(at, key, asked), _ids(clock))
    answer = replace(with_helpers(work, decision.answer, at), key=key)
    entries = work.write(prepared, answers.as_text(answer))
    refresh_dues(work, library, entries)
    return answer


def _must_be_sound(work: Transaction, library: Library, request: Publish | Approve) -> None:
    """Refuses a text that is not what it says it is, that cannot be read, or whose workflow is not proved.

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


def agents_in_force(work: Transaction, library: Library) -> dict[str, Agent]:
    """Returns the agents in force, by name."""
    files = [one for one in work.states_of(StreamKind.WORKFLOW) if isinstance(one, Published)]
    digests = [one.in_force for one in files if one.sort == "agent" and one.in_force is not None]
    found = [library.get(work, digest) for digest in digests]
    return {one.agent: one for one in found if isinstance(one, Agent)}


def _ids(clock: Clock) -> Iterator[str]:
    while True:
        yield clock.new_id()


def _office(work: Transaction, library: Library, at: Bench, request: EnrolRequest) -> Office:
    match request:
        case Enrol():
            holder = work.person_of(request.body.badge) if isinstance(request.body, BadgeGiven) else None
            return Office(at, request.subject, work.state(request.subject), badge_holder=holder)
        case Commission():
            subject = stream(StreamKind.ITEM, request.item)
            file = state_as(work, published_stream("workflow", request.workflow), Published)
            kind = None
            if file.in_force is not None:
                workflow = library.get(work, file.in_force)
                kind = workflow.item_kind if isinstance(workflow, Workflow) else None
            return Office(at, subject, work.state(subject), file, kind)
        case Publish() | Approve():
            name = published_stream(request.sort, request.name)
            file = state_as(work, name, Published)
            return Office(at, name, file, file)


def found(ledger: Ledger, library: Library, clock: Clock, file: DepartmentFile, shipped: Iterable[File]) -> int:
    """Writes a department's first entries in one transaction, and returns how many items it has.

    Raises:
        DefinitionError: one of the shipped files has faults.
        WrongUseError: the department's file contradicts itself.
    """
    texts = sorted(shipped, key=lambda text: text.sort == "workflow")  # a workflow is proved against its labels
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
    answer = _write(work, library, clock, at, request, key, "founding")
    if not answer.accepted:
        told = ", ".join(f"{one.rule} {one.key} {one.facts}" for one in answer.reasons)
        message = f"The department's file cannot be used: {told}."
        raise WrongUseError(message)
