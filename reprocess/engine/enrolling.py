"""Setting up and keeping a department: sites, stations, people, badges, competencies, items, instruments, files.

Founding a department is done by nobody's badge, from its file, once. Afterwards a supervisor, programme administrator
or infection preventionist enrols; a file takes two people (S07).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import ClassVar, Final, Literal, assert_never

from reprocess.engine import suspecting
from reprocess.engine.decision import Decision
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.people import Person
from reprocess.record.places import Instrument, Published, Site, Station
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.record.words import Body
from reprocess.rules import competence
from reprocess.rules.answer import Answer, Fact, Reason, Verdict
from reprocess.rules.scene import Bench, Part
from reprocess.terms import StreamKind, stream, subject_of

ENROLLING_ROLES: Final = ("supervisor", "programme-administrator", "infection-prevention")
FOUNDING: Final = "founding"
"""The `station` of a bench at which a department is founded; there is nobody yet whose badge could be scanned."""

BELONGS: Final[dict[str, tuple[type[Body], ...]]] = {
    StreamKind.SITE: (words.SiteOpened,),
    StreamKind.STATION: (words.StationOpened,),
    StreamKind.PERSON: (
        words.PersonRegistered,
        words.PersonLeft,
        words.BadgeGiven,
        words.BadgeWithdrawn,
        words.CompetencyGranted,
        words.CompetencyWithdrawn,
    ),
    StreamKind.INSTRUMENT: (words.InstrumentRegistered, words.InstrumentVerified, words.InstrumentFaulty),
}
"""What can be enrolled, by the kind of stream; items, solutions and files have requests of their own."""

Sort = Literal["workflow", "agent", "configuration", "profile"]


@dataclass(frozen=True, slots=True)
class Enrol:
    """Asks to write one fact about the department: `body` for the stream of `subject`."""

    asked: ClassVar[str] = "enrol"
    subject: str
    body: Body


@dataclass(frozen=True, slots=True)
class Commission:
    """Asks to make an item (or a counted batch) known (P06)."""

    asked: ClassVar[str] = "commission"
    item: str
    workflow: str
    model: str
    serial: str | None = None
    quantity: int = 1
    in_service_us: int | None = None
    opened_us: int | None = None
    sealed_expiry_us: int | None = None


@dataclass(frozen=True, slots=True)
class Publish:
    """Asks to propose the text of a file; it is in force only once a second person approved it."""

    asked: ClassVar[str] = "publish"
    sort: Sort
    name: str
    digest: str
    text: str


@dataclass(frozen=True, slots=True)
class Approve:
    """Asks to put a proposed text in force (S07)."""

    asked: ClassVar[str] = "approve"
    sort: Sort
    name: str
    digest: str


EnrolRequest = Enrol | Commission | Publish | Approve


@dataclass(frozen=True, slots=True)
class Office:
    """Is what an enrolment is judged on.

    Attributes:
        subject: the stream concerned and where it stands.
        file: the standing of the file concerned.
        item_kind: the kind of item of the workflow in force, for commissioning.
        badge_holder: whom the badge to be given means now.
        resting: the items with results that rest on the instrument concerned.
        wholes: the assemblies that these are members of.
    """

    bench: Bench
    subject: str
    state: State
    file: Published | None = None
    item_kind: str | None = None
    badge_holder: str | None = None
    resting: tuple[Part, ...] = ()
    wholes: Mapping[str, Part] = field(default_factory=dict)


def enrol(request: EnrolRequest, office: Office) -> Decision:
    """Returns what an enrolment comes to: entries, or every reason why not."""
    reasons = [] if _is_finding(request) else _who(office)
    match request:
        case Enrol():
            body: Body | None = request.body
            reasons += _fits(request, office)
        case Commission():
            body, more = _commissioned(request, office)
            reasons += more
        case Publish():
            body = words.WorkflowPublished(
                sort=request.sort, name=request.name, digest=request.digest, text=request.text
            )
            if office.file is not None and office.file.in_force == request.digest:
                reasons.append(Reason("S07", "in-force-already", {"file": request.name}))
        case Approve():
            body = words.WorkflowApproved(sort=request.sort, name=request.name, digest=request.digest)
            reasons += _approvable(request, office)
        case _:
            assert_never(request)
    if reasons or body is None:
        return _refused(request, office, reasons)
    answer = Answer(Verdict.ACCEPTED, office.subject, request.asked)
    drafts = [Draft(office.subject, body)]
    if isinstance(body, words.InstrumentFaulty):
        name = subject_of(office.subject)
        fell = suspecting.suspected(name, office.resting, office.wholes)
        drafts += fell
        answer = replace(answer, reasons=(suspecting.told(name, fell),))
    return Decision(tuple(drafts), answer)


def _is_finding(request: EnrolRequest) -> bool:
    """Tells whether a fact is stated that nobody may refuse: that an instrument is faulty, whoever says so."""
    return isinstance(request, Enrol) and isinstance(request.body, words.InstrumentFaulty)


def _refused(request: EnrolRequest, office: Office, reasons: list[Reason]) -> Decision:
    answer = Answer(Verdict.REFUSED, office.subject, request.asked, reasons=tuple(reasons))
    attempt = words.AdvanceRefused(subject=office.subject, asked=request.asked, verdict="refused", rules=answer.rules())
    place = stream(StreamKind.STATION, office.bench.station.station)
    return Decision((Draft(place, attempt),), answer)


def _who(office: Office) -> list[Reason]:
    bench = office.bench
    if bench.station.station == FOUNDING:
        return []
    return competence.two_with_role(bench, ENROLLING_ROLES, "A08", two=False)


def _fits(request: Enrol, office: Office) -> list[Reason]:
    """Returns why the fact does not fit what is on record: known already, or not known yet.

    Raises:
        WrongUseError: such a fact is never written into such a stream, or the name is the founding's own.
    """
    state = office.state
    kind, _, name = office.subject.partition(":")
    if not isinstance(request.body, BELONGS.get(kind, ())) or name == FOUNDING:
        message = f"{request.body.kind} is not enrolled for {office.subject}."
        raise WrongUseError(message, subject=office.subject)
    opening = (words.SiteOpened, words.StationOpened, words.PersonRegistered, words.InstrumentRegistered)
    begins = isinstance(request.body, opening)
    known = isinstance(state, Site | Station | Person | Instrument) and state.number > 0
    if begins and known:
        return [Reason("P06", "known-already", {"subject": office.subject})]
    if not begins and not known:
        return [Reason("P06", "not-known-yet", {"subject": office.subject})]
    if isinstance(request.body, words.BadgeGiven) and office.badge_holder not in (None, name):
        facts: dict[str, Fact] = {"badge": request.body.badge, "person": office.badge_holder or ""}
        return [Reason("A01", "badge-taken", facts)]
    actor = office.bench.actor
    if isinstance(request.body, words.CompetencyGranted) and actor is not None and actor.person == name:
        return [Reason("A08", "own-competency", {"name": actor.name}, role=ENROLLING_ROLES[0])]
    return []


def _commissioned(request: Commission, office: Office) -> tuple[Body | None, list[Reason]]:
    file, state = office.file, office.state
    if isinstance(state, Standing) and state.known:
        return None, [Reason("P06", "known-already", {"subject": office.subject})]
    if file is None or file.in_force is None or office.item_kind is None:
        return None, [Reason("P06", "no-such-workflow", {"workflow": request.workflow})]
    now = office.bench.now_us
    ahead = [one for one in (request.in_service_us, request.opened_us) if one is not None and one > now]
    if request.quantity < 1 or ahead:
        message = f"{request.item} needs a quantity of at least 1, and days of service and opening that have come."
        raise WrongUseError(message, item=request.item)
    body = words.ItemCommissioned(
        item_kind=office.item_kind,
        model=request.model,
        site=office.bench.site.site,
        workflow=request.workflow,
        digest=file.in_force,
        serial=request.serial,
        quantity=request.quantity,
        in_service_us=request.in_service_us if request.in_service_us is not None else now,
        opened_us=request.opened_us,
        sealed_expiry_us=request.sealed_expiry_us,
    )
    return body, []


def _approvable(request: Approve, office: Office) -> list[Reason]:
    """Returns why the text may not be put in force: not proposed, or approved by its own author (S07)."""
    file, bench = office.file, office.bench
    if file is None or file.proposed != request.digest:
        return [Reason("S07", "not-proposed", {"file": request.name})]
    if bench.station.station == FOUNDING:
        return []
    if bench.actor is not None and bench.actor.person == file.proposed_by:
        return [
            Reason(
                "S07",
                "own-file",
                {"name": bench.actor.name, "file": request.name},
                role=ENROLLING_ROLES[0],
            )
        ]
    return []
