"""Setting up and keeping a department: sites, stations, people, badges, competencies, items, instruments, files.

Founding a department is done by nobody's badge, from its file, once. Afterwards a supervisor, programme administrator
or infection preventionist enrols; a file takes two people (S07).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import ClassVar, Final, Literal, assert_never
from zoneinfo import ZoneInfo

from reprocess.definitions.model import Workflow
from reprocess.engine import exposing, flagging, suspecting, versions
from reprocess.engine.decision import Decision
from reprocess.engine.flagging import Flag, Worked
from reprocess.engine.live import ConfirmSources
from reprocess.errors import WrongUseError
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.record.lots import Lot
from reprocess.record.people import Person
from reprocess.record.places import Instrument, Published, Site, Station
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.record.words import Body, ExposedUse
from reprocess.rules import competence, signing
from reprocess.rules.answer import Answer, Fact, Reason, Verdict
from reprocess.rules.scene import Bench, Part, Scene
from reprocess.terms import StreamKind, stream, subject_of

ENROLLING_ROLES: Final = ("supervisor", "programme-administrator", "infection-prevention")
EMERGENCY_ROLES: Final = ("programme-administrator",)
"""Who declares an emergency policy, in writing and with an end (trade 8.2)."""
FOUNDING: Final = "founding"
"""The `station` of a bench at which a department is founded; there is nobody yet whose badge could be scanned."""

BELONGS: Final[dict[str, tuple[type[Body], ...]]] = {
    StreamKind.SITE: (
        words.SiteOpened,
        words.QuietHoursSet,
        words.ProgrammeEvaluated,
        words.EmergencyDeclared,
    ),
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
    lot: str | None = None


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
    """Asks to put a proposed text in force (S07).

    Attributes:
        safety: whether open cycles go on under it, from the first step that changed (G12, E26).
    """

    asked: ClassVar[str] = "approve"
    sort: Sort
    name: str
    digest: str
    safety: bool = False


EnrolRequest = Enrol | Commission | Publish | Approve | ConfirmSources


@dataclass(frozen=True, slots=True)
class Office:
    """Is what an enrolment is judged on.

    Attributes:
        subject: the stream concerned and where it stands.
        file: the standing of the file concerned.
        item_kind: the kind of item of the workflow in force, for commissioning.
        badge_holder: whom the badge to be given means now.
        verifier: the person who verified a competency that was entered later (E39).
        bearer: the item that bears the id of an item to be commissioned as its tag (E22).
        lot: the lot that an item to be commissioned comes from.
        resting: the items with results that rest on the instrument concerned.
        wholes: the assemblies that these are members of.
        uses: who wore what rests on the instrument's results since its last verification (H08).
        worked: the steps of a person since their competency was not valid (A06).
        flags: the flagged steps of a person that wait (E39).
        unknown_sites: the sites that the fact names and nobody opened.
        moving: the items in the department whose cycle began under another version of a file (G12).
        out: how many such items are out.
        new: the version that is to be in force.
    """

    bench: Bench
    subject: str
    state: State
    file: Published | None = None
    item_kind: str | None = None
    badge_holder: str | None = None
    verifier: Person | None = None
    bearer: str | None = None
    lot: Lot | None = None
    resting: tuple[Part, ...] = ()
    wholes: Mapping[str, Part] = field(default_factory=dict)
    uses: tuple[ExposedUse, ...] = ()
    worked: tuple[Worked, ...] = ()
    flags: tuple[Flag, ...] = ()
    unknown_sites: tuple[str, ...] = ()
    moving: tuple[Part, ...] = ()
    out: int = 0
    new: Workflow | None = None


def enrol(request: EnrolRequest, office: Office) -> Decision:
    """Returns what an enrolment comes to: entries, or every reason why not."""
    reasons = [] if _is_finding(request) else _who(request, office)
    if request.asked in signing.MEANINGS:
        now = signing.shown_digest(office.subject, office.state)
        reasons += signing.changed_since(office.bench, office.subject, now)
    body, more = _written(request, office)
    reasons += more
    if reasons or body is None:
        return _refused(request, office, reasons)
    answer = Answer(Verdict.ACCEPTED, office.subject, request.asked, warnings=_told_of_lot(request, office))
    drafts = [Draft(office.subject, body)]
    if isinstance(request, Commission) and office.lot is not None and office.lot.known:
        used = words.LotUsed(quantity=request.quantity, used_for=office.subject)
        drafts.append(Draft(stream(StreamKind.LOT, office.lot.lot), used))
    if isinstance(body, words.InstrumentFaulty):
        reasons = _suspect(office, drafts)
        answer = replace(answer, reasons=tuple(reasons))
    following, told = _follows(request, body, office)
    return Decision((*drafts, *following), replace(answer, reasons=(*answer.reasons, *told)))


def _written(request: EnrolRequest, office: Office) -> tuple[Body | None, list[Reason]]:
    """Returns (what would be written, every reason why not, but for who asks)."""
    match request:
        case Enrol():
            return request.body, _fits(request, office)
        case Commission():
            body, reasons = _commissioned(request, office)
            return body, [*reasons, *_lot_bars(office)]
        case Publish():
            known = office.file is not None and office.file.in_force == request.digest
            told = [Reason("S07", "in-force-already", {"file": request.name})] if known else []
            return words.WorkflowPublished(
                sort=request.sort, name=request.name, digest=request.digest, text=request.text
            ), told
        case Approve():
            approved = words.WorkflowApproved(
                sort=request.sort,
                name=request.name,
                digest=request.digest,
                safety=True if request.safety else None,
            )
            return approved, _approvable(request, office)
        case ConfirmSources():
            return _confirmed(request, office)
        case _:
            assert_never(request)


def _follows(request: EnrolRequest, body: Body, office: Office) -> tuple[list[Draft], list[Reason]]:
    """Returns what a fact makes doubtful, settles or moves elsewhere on record, and what is told about it."""
    name = subject_of(office.subject)
    match body:
        case words.CompetencyWithdrawn() if body.from_us is not None:
            found = flagging.flagged(office.bench, name, body, office.worked, office.wholes)
            return found, flagging.told(name, found)
        case words.CompetencyGranted() if office.flags:
            found = flagging.settled(name, body, office.flags)
            return found, flagging.told_settled(name, found)
        case words.WorkflowApproved() if body.safety and office.new is not None and isinstance(request, Approve):
            because = f"{request.name} was changed for safety"
            found = versions.moved(office.bench, office.moving, office.new, request.digest, office.wholes, because)
            return found, [versions.told(request.name, found, office.out)]
        case _:
            return [], []


def _suspect(office: Office, drafts: list[Draft]) -> list[Reason]:
    """Adds what falls and the exposure case of what was worn on the instrument's word; returns what is told (H08)."""
    name = subject_of(office.subject)
    fell = suspecting.suspected(name, office.resting, office.wholes)
    number = office.state.number + 1
    case = f"{name}-{number}"
    scene = Scene(bench=office.bench, item=Standing(item=""), uses=office.uses)
    drafts += [*fell, *exposing.case_opened(scene, case, "H08", f"{name} was found faulty")]
    ranked = suspecting.told(name, fell, office.resting, office.wholes, office.uses)
    return [ranked, *exposing.told(case, office.uses)]


def _is_finding(request: EnrolRequest) -> bool:
    """Tells whether a fact is stated that nobody may refuse: that an instrument is faulty, whoever says so."""
    return isinstance(request, Enrol) and isinstance(request.body, words.InstrumentFaulty)


def _refused(request: EnrolRequest, office: Office, reasons: list[Reason]) -> Decision:
    answer = Answer(Verdict.REFUSED, office.subject, request.asked, reasons=tuple(reasons))
    attempt = words.AdvanceRefused(subject=office.subject, asked=request.asked, verdict="refused", rules=answer.rules())
    place = stream(StreamKind.STATION, office.bench.station.station)
    return Decision((Draft(place, attempt),), answer)


def _who(request: EnrolRequest, office: Office) -> list[Reason]:
    bench = office.bench
    if bench.station.station == FOUNDING:
        return []
    also = {Publish: ("author",), Approve: ("approver",)}.get(type(request), ())
    return competence.two_with_role(bench, (*ENROLLING_ROLES, *also), "A08", two=False)


def _confirmed(request: ConfirmSources, office: Office) -> tuple[Body | None, list[Reason]]:
    """Returns the confirmation of a file's sources, or why there is none: this text is not in force."""
    file, actor = office.file, office.bench.actor
    if file is None or file.in_force != request.digest or actor is None:
        return None, [Reason("S07", "not-in-force", {"file": request.name})] if actor is not None else []
    role = next((role for role in ENROLLING_ROLES if role in actor.roles), ENROLLING_ROLES[0])
    body = words.SourcesConfirmed(
        sort=request.sort,
        name=request.name,
        digest=request.digest,
        role=role,
        statement=request.statement,
    )
    return body, []


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
    _must_mean_something(request.body)
    opening = (words.SiteOpened, words.StationOpened, words.PersonRegistered, words.InstrumentRegistered)
    begins = isinstance(request.body, opening)
    known = isinstance(state, Site | Station | Person | Instrument) and state.number > 0
    if begins and known:
        return [Reason("P06", "known-already", {"subject": office.subject})]
    if not begins and not known:
        return [Reason("P06", "not-known-yet", {"subject": office.subject})]
    if office.unknown_sites and office.bench.station.station != FOUNDING:
        return [Reason("P06", "not-known-yet", {"subject": stream(StreamKind.SITE, office.unknown_sites[0])})]
    if isinstance(request.body, words.BadgeGiven) and office.badge_holder not in (None, name):
        facts: dict[str, Fact] = {"badge": request.body.badge, "person": office.badge_holder or ""}
        return [Reason("A01", "badge-taken", facts)]
    if isinstance(request.body, words.CompetencyGranted):
        return _grantable(request.body, name, office)
    if isinstance(request.body, words.EmergencyDeclared):
        return competence.two_with_role(office.bench, EMERGENCY_ROLES, "A08", two=False)
    return []


def _must_mean_something(body: Body) -> None:
    """Refuses a fact with which nobody could work afterwards: no time zone, no hours, an end before its beginning.

    Raises:
        WrongUseError: it says what does not exist.
    """
    match body:
        case words.SiteOpened() if not _is_zone(body.zone):
            message = f"There is no time zone called {body.zone[:40]}."
        case words.QuietHoursSet() if not _are_hours(body.begins, body.ends):
            message = "Quiet hours begin and end at local times such as 22:00 and 06:00, or there are none."
        case words.CompetencyGranted() if body.until_us <= body.from_us:
            message = "The last day must not be before the first."
        case _:
            return
    raise WrongUseError(message)


def _is_zone(zone: str) -> bool:
    try:
        ZoneInfo(zone)
    except (KeyError, ValueError, OSError):
        return False
    return True


def _are_hours(begins: str | None, ends: str | None) -> bool:
    if begins is None or ends is None:
        return begins is None and ends is None
    return all(_HOUR.fullmatch(one) is not None for one in (begins, ends))


_HOUR: Final = re.compile(r"([01][0-9]|2[0-3]):[0-5][0-9]")


def _grantable(body: words.CompetencyGranted, name: str, office: Office) -> list[Reason]:
    """Returns why a competency is not granted: by its holder, or verified by them or by nobody who is known (E39)."""
    if body.verifier == name or _nobody_else(office.bench, name):
        return [Reason("A08", "own-competency", {"name": name}, role=ENROLLING_ROLES[0])]
    verifier = office.verifier
    if body.verifier is not None and (verifier is None or not verifier.active):
        return [Reason("P06", "not-known-yet", {"subject": stream(StreamKind.PERSON, body.verifier)})]
    return []


def _nobody_else(bench: Bench, person: str) -> bool:
    """Tells whether a person acts, or is the only one here whose role counts, whoever's badge was shown first."""
    if bench.actor is not None and bench.actor.person == person:
        return True
    present = [one for one in (bench.actor, bench.second) if one is not None]
    able = [one.person for one in present if set(one.roles) & set(ENROLLING_ROLES)]
    return bool(able) and set(able) == {person}


def _commissioned(request: Commission, office: Office) -> tuple[Body | None, list[Reason]]:
    file, state = office.file, office.state
    if isinstance(state, Standing) and state.known:
        return None, [Reason("P06", "known-already", {"subject": office.subject})]
    if office.bearer is not None:
        return None, [Reason("E22", "tag-taken", {"tag": request.item, "item": office.bearer})]
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
        lot=request.lot,
    )
    return body, []


def _lot_bars(office: Office) -> list[Reason]:
    """Returns why an item may not come from the lot named: recalled or out of date (L01, L12)."""
    lot = office.lot
    if lot is None:
        return []
    facts: dict[str, Fact] = {"lot": lot.lot, "next": "none"}
    reasons = []
    if lot.recalled is not None:
        reasons.append(Reason("L12", "lot-recalled", {**facts, "because": lot.recalled}))
    if lot.known and lot.expiry_us is not None and lot.expiry_us <= office.bench.now_us:
        reasons.append(Reason("L01", "lot-expired", {**facts, "at_us": lot.expiry_us}))
    return reasons


def _told_of_lot(request: EnrolRequest, office: Office) -> tuple[Reason, ...]:
    """Returns what is told of the lot of an item: that it is not on record, or that none is left of it (L13)."""
    lot = office.lot
    if not isinstance(request, Commission) or lot is None:
        return ()
    if not lot.known:
        return (Reason("L01", "lot-unknown", {"lot": lot.lot, "next": "none"}),)
    return (Reason("L13", "lot-short", {"lot": lot.lot, "left": lot.left}),) if lot.left < request.quantity else ()


def _approvable(request: Approve, office: Office) -> list[Reason]:
    """Returns why the text may not be put in force: not proposed, or approved by its own author (S07)."""
    file, bench = office.file, office.bench
    if file is None or file.proposed != request.digest:
        return [Reason("S07", "not-proposed", {"file": request.name})]
    if bench.station.station == FOUNDING:
        return []
    if file.proposed_by is not None and _nobody_else(bench, file.proposed_by):
        named = {one.person: one.name for one in (bench.actor, bench.second) if one is not None}
        facts: dict[str, Fact] = {"name": named[file.proposed_by], "file": request.name}
        return [Reason("S07", "own-file", facts, role=ENROLLING_ROLES[0])]
    return []
