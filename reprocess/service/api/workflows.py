"""Files: workflows, agents, configurations and profiles; their versions, proofs, differences, and a rehearsal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Path, Query
from pydantic import BaseModel, ConfigDict, Field
from starlette.requests import Request
from starlette.responses import Response

from reprocess.definitions.compare import as_lines, changed_numbers
from reprocess.definitions.configuration import Configuration
from reprocess.definitions.draw import mermaid
from reprocess.definitions.faults import Faults
from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.definitions.profile import Profile
from reprocess.definitions.proof import PROPERTIES, CounterExample, Proof
from reprocess.definitions.prove import prove
from reprocess.definitions.prove_profile import PROFILE_PROPERTIES, ProfileProof, prove_profile
from reprocess.definitions.read import Definition, digest_of, read_definition
from reprocess.department import Department
from reprocess.engine.enrolling import Sort
from reprocess.engine.live import missing
from reprocess.enrolment import agents_in_force, files_in_force
from reprocess.gathering import published_stream, state_as
from reprocess.ledger.append import Transaction
from reprocess.record import words
from reprocess.record.places import Published
from reprocess.service import who
from reprocess.service.answers import instant
from reprocess.service.paging import PAGE_HEADERS, Paged, page
from reprocess.service.problems import READING, responses
from reprocess.service.reading import StrictRoute
from reprocess.service.seeing import ETAG, NAME, TAGGED, department_of, reading, tagged, unknown
from reprocess.service.served import served
from reprocess.service.shapes import InstantOut
from reprocess.service.who import Caller
from reprocess.service.writing import Text
from reprocess.shipped import named
from reprocess.terms import Digest, StreamKind

router = APIRouter(route_class=StrictRoute, tags=["workflows"])
Reader = Annotated[Caller, Depends(who.needs("read-files"))]
NameOfFile = Annotated[str, Path(min_length=1, max_length=64, pattern=NAME, examples=["blower"])]
DigestAsked = Annotated[str | None, Query(pattern=r"^[0-9a-f]{64}$", description="SHA-256 of a text of this file.")]
PROOFS_MAX: Final = 200
"""Proofs that are kept; a department has some fifty files."""


class FileOut(BaseModel):
    """Is one file and where its versions stand; a version is the SHA-256 of its text."""

    sort: Sort
    name: str
    in_force: str | None
    approved: InstantOut | None
    proposed: str | None = Field(description="The text that waits for a second person.")
    proposed_by: str | None
    confirmed: str | None = Field(description="The text whose sources a named person confirmed.")
    confirmed_by: str | None


class FilesOut(BaseModel):
    """Is one page of files, by sort and name."""

    files: list[FileOut]
    next: str | None = None


class VersionOut(BaseModel):
    """Is one text that was proposed, and when it came into force."""

    digest: str
    proposed: InstantOut
    proposed_by: str | None
    approved: InstantOut | None
    approved_by: str | None


class CounterOut(BaseModel):
    """Is where a property fails, with the shortest way that shows it."""

    fails: str
    sentence: str
    step: str | None
    moves: list[str]


class ProofOut(BaseModel):
    """Is what was proved of a text."""

    sound: bool
    proved: dict[str, str] = Field(description="Each property that holds, in words.")
    counter_examples: list[CounterOut]
    notes: list[str]
    least_s: int | None = Field(default=None, description="The least possible time from used to ready.")


class MissingOut(BaseModel):
    """Is one reason why a file does not stand on confirmed sources."""

    digest: str
    why: str


class WholeFileOut(FileOut):
    """Is one file with one of its texts."""

    versions: list[VersionOut] = Field(description="Oldest first.")
    digest: str = Field(description="The version that is shown.")
    text: str
    diagram: str | None = Field(description="A workflow as Mermaid text.")
    proof: ProofOut | None = Field(description="Of a workflow or a profile, against what is in force now.")
    missing: list[MissingOut] = Field(description="What is missing until it stands on confirmed sources.")


class ChangedOut(BaseModel):
    """Is one number that is not the same in both texts."""

    path: str = Field(examples=["steps[dry].dwell.least_s"])
    before: str | None
    after: str | None


class DifferencesOut(BaseModel):
    """Is how two texts of one file differ."""

    before: str
    after: str
    lines: str = Field(description="A unified difference.")
    numbers: list[ChangedOut]


class FaultOut(BaseModel):
    """Is one fault of a text."""

    line: int
    column: int
    path: str
    sentence: str


class CheckIn(BaseModel):
    """Is a text to be looked through."""

    model_config = ConfigDict(extra="forbid")

    text: Text


class FileCheckOut(BaseModel):
    """Is what looking through a text came to; nothing was recorded."""

    sort: Sort | None = Field(description="Null where it cannot be read.")
    name: str | None
    digest: str
    sound: bool = Field(description="Whether it could be proposed.")
    faults: list[FaultOut]
    left_out: int = Field(description="Faults that are not listed.")
    diagram: str | None
    proof: ProofOut | None


class FilesLiveOut(BaseModel):
    """Is whether every file in force stands on confirmed sources."""

    live: bool
    files: dict[str, list[str]] = Field(description="What is missing, by file.")


@router.get(
    "/workflows",
    operation_id="list-files",
    summary="Every file and its versions",
    response_model=FilesOut,
    responses={200: {"headers": PAGE_HEADERS}, **responses(*READING)},
)
def files(
    request: Request, response: Response, caller: Reader, asked: Paged, sort: Sort | None = None
) -> dict[str, Any]:
    """Lists workflows, agents, configurations and profiles, of one sort only where asked."""
    del caller
    with reading(request) as read:
        found = sorted((one for one in published_files(read) if sort in (None, one.sort)), key=name_of)
    rows, following = page(request, response, found, name_of, asked)
    return {"files": [_file(one) for one in rows], "next": following}


@router.get(
    "/workflows/live",
    operation_id="read-live",
    summary="What is missing until every number is confirmed",
    response_model=FilesLiveOut,
    responses=responses(*READING),
)
def live(request: Request, caller: Reader) -> FilesLiveOut:
    """Returns what is missing, file by file."""
    del caller
    found: dict[str, list[str]] = {}
    for one in department_of(request).missing_to_live():
        found.setdefault(f"{one.sort}.{one.name}", []).append(one.why)
    return FilesLiveOut(live=not found, files=found)


@router.post(
    "/workflows/check",
    operation_id="check-file",
    summary="Look through a text: every fault with its line, and its proof; nothing is recorded",
    response_model=FileCheckOut,
    responses=responses(*READING, "too-large", "media-type"),
)
def check(request: Request, caller: Reader, body: CheckIn) -> FileCheckOut:
    """Needs no Idempotency-Key, since it records nothing."""
    del caller
    digest = digest_of(body.text)
    found = read_definition(body.text, name="text")
    if isinstance(found, Faults):
        faults = [
            FaultOut(line=one.line, column=one.column, path=one.path, sentence=one.sentence) for one in found.faults
        ]
        return FileCheckOut(
            sort=None,
            name=None,
            digest=digest,
            sound=False,
            faults=faults,
            left_out=found.left_out,
            diagram=None,
            proof=None,
        )
    with reading(request) as read:
        proof = _proof(request, read, found, digest)
    sort, name = named(found)
    return FileCheckOut(
        sort=sort,
        name=name,
        digest=digest,
        sound=proof is None or proof.sound,
        faults=[],
        left_out=0,
        diagram=mermaid(found) if isinstance(found, Workflow) else None,
        proof=proof,
    )


@router.get(
    "/workflows/{sort}/{name}",
    operation_id="read-file",
    summary="One file: a text, its diagram, its proof, its versions",
    response_model=WholeFileOut,
    responses={200: {"headers": ETAG}, **TAGGED, **responses(*READING, "unknown-subject", "definition")},
)
def file(request: Request, caller: Reader, sort: Sort, name: NameOfFile, digest: DigestAsked = None) -> Response:
    """Shows the text in force, or the proposed one where none is, or that of a digest.

    The ETag is what a proposal, an approval and a confirmation name in If-Match. It does not follow other files: a
    proof is made against what is in force when it is asked for.
    """
    del caller
    with reading(request) as read:
        known = known_file(read, sort, name)
        shown = digest or known.in_force or known.proposed or ""
        return tagged(request, known.number, lambda: whole_file(request, read, known, shown).model_dump())


@router.get(
    "/workflows/{sort}/{name}/differences",
    operation_id="read-differences",
    summary="How two texts of a file differ, line by line and number by number",
    response_model=DifferencesOut,
    responses=responses(*READING, "unknown-subject", "definition"),
)
def differences(
    request: Request,
    caller: Reader,
    sort: Sort,
    name: NameOfFile,
    before: Annotated[DigestAsked, Query(alias="from")] = None,
    after: Annotated[DigestAsked, Query(alias="to")] = None,
) -> DifferencesOut:
    """Compares the text in force with the proposed one, where no others are named."""
    del caller
    department = department_of(request)
    with reading(request) as read:
        known = known_file(read, sort, name)
        old, new = before or known.in_force, after or known.proposed or known.in_force
        if old is None or new is None:
            raise unknown(name)
        texts = [_text(read, sort, name, one) for one in (old, new)]
        held = [department.library.get(read, one) for one in (old, new)]
    numbers = [
        ChangedOut(path=one.path, before=one.before, after=one.after) for one in changed_numbers(held[0], held[1])
    ]
    return DifferencesOut(
        before=old, after=new, lines=as_lines(texts[0], texts[1], (old[:12], new[:12])), numbers=numbers
    )


def published_files(read: Transaction) -> Iterable[Published]:
    """Returns where every file on record stands."""
    return (one for one in read.states_of(StreamKind.WORKFLOW) if isinstance(one, Published) and one.number)


def name_of(one: Published) -> str:
    """Returns what a file is listed under, such as `workflow.blower`."""
    return f"{one.sort}.{one.name}"


def known_file(read: Transaction, sort: Sort, name: str) -> Published:
    """Returns where a file stands.

    Raises:
        UnknownSubjectError: there is none of that sort and name.
    """
    found = state_as(read, published_stream(sort, name), Published)
    if not found.number:
        raise unknown(name)
    return found


def _text(read: Transaction, sort: str, name: str, digest: str) -> str:
    kept = read.definition(digest)
    if kept is None or kept[:2] != (sort, name):
        raise unknown(digest[:12])
    return kept[2]


def _file(one: Published) -> dict[str, Any]:
    return {
        "sort": one.sort,
        "name": one.name,
        "in_force": one.in_force,
        "approved": None if one.approved_us is None else instant(one.approved_us),
        "proposed": one.proposed,
        "proposed_by": one.proposed_by,
        "confirmed": one.confirmed,
        "confirmed_by": one.confirmed_by,
    }


def whole_file(request: Request, read: Transaction, known: Published, digest: str) -> WholeFileOut:
    """Returns a file with one of its texts, that text's diagram and proof, and all its versions."""
    text = _text(read, known.sort, known.name, digest)
    held = department_of(request).library.get(read, digest)
    return WholeFileOut(
        **_file(known),
        versions=_versions(read, known),
        digest=digest,
        text=text,
        diagram=mermaid(held) if isinstance(held, Workflow) else None,
        proof=_proof(request, read, held, digest),
        missing=[MissingOut(digest=one.digest, why=one.why) for one in missing([known], read.examples())],
    )


def _versions(read: Transaction, known: Published) -> list[VersionOut]:
    found: dict[str, VersionOut] = {}
    for entry in read.entries_of(published_stream(known.sort, known.name)):
        body, at, actor = entry.body, instant(entry.at_us), entry.envelope.actor
        if isinstance(body, words.WorkflowPublished):
            found.pop(body.digest, None)
            found[body.digest] = VersionOut(
                digest=body.digest, proposed=at, proposed_by=actor, approved=None, approved_by=None
            )
        elif isinstance(body, words.WorkflowApproved) and body.digest in found:
            found[body.digest] = found[body.digest].model_copy(update={"approved": at, "approved_by": actor})
    return list(found.values())


def _proof(request: Request, read: Transaction, held: Definition, digest: str) -> ProofOut | None:
    """Returns the proof of a workflow or profile against what is in force, made once for the same texts."""
    if not isinstance(held, Workflow | Profile):
        return None
    department = department_of(request)
    grounds = _digests(read, (Agent,) if isinstance(held, Workflow) else (Workflow, Configuration), department)
    kept: dict[tuple[str, ...], ProofOut] = served(request).parts.setdefault("proofs", {})
    at = (digest, *grounds)
    if at not in kept:
        if len(kept) >= PROOFS_MAX:
            kept.clear()
        kept[at] = _proved(department, read, held, digest)
    return kept[at]


def _digests(read: Transaction, kinds: tuple[Any, ...], department: Department) -> list[str]:
    return sorted(digest for kind in kinds for digest in files_in_force(read, department.library, kind))


def _proved(department: Department, read: Transaction, held: Workflow | Profile, digest: str) -> ProofOut:
    library = department.library
    if isinstance(held, Workflow):
        proof = prove(held, agents_in_force(read, library), digest=Digest(digest))
        return _told(proof, PROPERTIES, proof.least_s)
    workflows = {one.workflow: one for one in files_in_force(read, library, Workflow).values()}
    configurations = {one.configuration: one for one in files_in_force(read, library, Configuration).values()}
    return _told(prove_profile(held, workflows, configurations, digest=Digest(digest)), PROFILE_PROPERTIES, None)


def _told(proof: Proof | ProfileProof, properties: Any, least_s: int | None) -> ProofOut:
    return ProofOut(
        sound=proof.is_sound,
        proved={key: properties[key] for key in proof.proved},
        counter_examples=[_counter(one) for one in proof.counter_examples],
        notes=list(proof.notes),
        least_s=least_s,
    )


def _counter(one: CounterExample) -> CounterOut:
    return CounterOut(fails=one.fails, sentence=one.sentence, step=one.step, moves=list(one.moves))
