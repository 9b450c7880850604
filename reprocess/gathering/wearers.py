"""What requests about wearers are judged on: where each stands, and what ties a pseudonym to the record."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from reprocess.definitions.profile import Profile
from reprocess.engine.request import (
    ClearWearer,
    EraseName,
    FitTestWearer,
    PurgeNames,
    ReadNames,
    RegisterWearer,
    TraceWearer,
    TrainWearer,
    WearerLeaves,
)
from reprocess.gathering.reading import Library, state_as
from reprocess.ledger.append import Transaction
from reprocess.record.cases import Case
from reprocess.record.places import Published
from reprocess.record.standing import Standing
from reprocess.record.touching import Touched
from reprocess.record.wearers import Wearer
from reprocess.rules.keeping import Keeping, Link, Period
from reprocess.rules.retention import CYCLES, EXPOSURES, FIT_TESTS, kept_by_law, past, years_after
from reprocess.rules.scene import Bench, Scene
from reprocess.terms import StreamKind, stream

OneWearer = RegisterWearer | TrainWearer | ClearWearer | FitTestWearer | WearerLeaves | TraceWearer


def for_one(read: Transaction, _: Library, at: Bench, request: OneWearer) -> Scene:
    """Returns where one wearer stands."""
    return with_wearers(read, Scene(bench=at, item=Standing(item="")), (request.wearer,))


def for_names(read: Transaction, _: Library, at: Bench, request: ReadNames) -> Scene:
    """Returns where the wearers stand who are asked about."""
    return with_wearers(read, Scene(bench=at, item=Standing(item="")), request.wearers)


def for_erasure(read: Transaction, library: Library, at: Bench, request: EraseName) -> Scene:
    """Returns where the wearer stands and what keeps the name."""
    scene = with_wearers(read, Scene(bench=at, item=Standing(item="")), (request.wearer,))
    keeping = Keeping(period_in_force(read, library), tuple(links(read, (request.wearer,))))
    return replace(scene, keeping=keeping)


def for_purge(read: Transaction, library: Library, at: Bench, _: PurgeNames) -> Scene:
    """Returns what keeps each name that is kept."""
    keeping = Keeping(period_in_force(read, library), tuple(links(read, tuple(read.names.wearers()))))
    return Scene(bench=at, item=Standing(item=""), keeping=keeping)


def with_wearers(read: Transaction, scene: Scene, wearers: tuple[str, ...]) -> Scene:
    """Returns the scene with where these wearers stand as well."""
    names = [str(stream(StreamKind.WEARER, one)) for one in wearers]
    found = {name: read.state(name) for name in names}
    return replace(scene, states={**scene.states, **found})


def period_in_force(read: Transaction, library: Library) -> Period:
    """Returns for how long records of cycles are kept: the longest that a profile in force asks for, else our own."""
    files = [one for one in read.states_of(StreamKind.WORKFLOW) if isinstance(one, Published)]
    digests = [one.in_force for one in files if one.sort == "profile" and one.in_force is not None]
    read_files = [library.get(read, digest) for digest in digests]
    found = [
        Period(one.records.years, one.records.source or f"profile {one.profile}, an example")
        for one in read_files
        if isinstance(one, Profile)
    ]
    return max(found, key=lambda one: one.years, default=CYCLES)


def links(read: Transaction, wearers: tuple[str, ...]) -> list[Link]:
    """Returns what ties each of these wearers to the record."""
    cases = [one for one in read.states_of(StreamKind.CASE) if isinstance(one, Case)]
    named = set(read.names.wearers())
    return [_link(read, one, cases, is_named=one in named) for one in wearers]


def _link(read: Transaction, wearer: str, cases: list[Case], *, is_named: bool) -> Link:
    known = state_as(read, stream(StreamKind.WEARER, wearer), Wearer)
    uses = read.touches.of(Touched.WEARER, wearer)
    concerned = [case for case in cases if wearer in case.wearers]
    exposed = [case.opened_us for case in concerned]
    exposed += [use.until_us or use.from_us for case in concerned for use in case.uses if use.wearer == wearer]
    return Link(
        wearer=wearer,
        named=is_named,
        left_us=known.left_us,
        used_us=max((row.until_us or row.from_us for row in uses), default=None),
        out=any(row.open_now for row in uses),
        exposed_us=max(exposed, default=None),
        undecided=next((case.case for case in concerned if case.notify is None and case.closed_us is None), None),
    )


@dataclass(frozen=True, slots=True)
class Kept:
    """Is one line of the report on what is kept: for how long, by whose word, how much of it is past that.

    Attributes:
        past: how much has outlived its period, of how much in all.
        then: what becomes of what is past.
    """

    record: str
    period: str
    source: str
    total: int
    past: int
    then: str


STAYS: Final = "stays: entries are never deleted"
GOES: Final = "goes by `reprocess wearer purge`"


def kept(read: Transaction, library: Library, now_us: int) -> list[Kept]:
    """Returns what is kept for how long, and how much of it is past its period (D12)."""
    period = period_in_force(read, library)
    wearers = [one for one in read.states_of(StreamKind.WEARER) if isinstance(one, Wearer)]
    cases = [one for one in read.states_of(StreamKind.CASE) if isinstance(one, Case)]
    names = links(read, tuple(read.names.wearers()))
    releases = read.touches.times_of(Touched.RELEASED)
    tests = [until_us for one in wearers for until_us in one.fits.values()]
    return [
        Kept(
            "cycles",
            f"{period.years} years",
            period.source,
            len(releases),
            sum(1 for at_us in releases if years_after(at_us, period.years) <= now_us),
            STAYS,
        ),
        Kept(
            "exposure cases",
            f"{EXPOSURES.years} years",
            EXPOSURES.source,
            len(cases),
            sum(1 for one in cases if years_after(one.opened_us, EXPOSURES.years) <= now_us),
            STAYS,
        ),
        Kept(
            "fit tests",
            "until the next",
            FIT_TESTS,
            len(tests),
            sum(1 for until_us in tests if until_us is not None and until_us <= now_us),
            STAYS,
        ),
        Kept(
            "names",
            f"{period.years} years after the last use",
            period.source,
            len(names),
            sum(1 for one in names if past(one, period, now_us)),
            GOES,
        ),
        Kept(
            "names kept for an exposure",
            f"{EXPOSURES.years} years",
            EXPOSURES.source,
            sum(1 for one in names if one.exposed_us is not None),
            sum(1 for one in names if one.exposed_us is not None and not kept_by_law(one, now_us)),
            GOES,
        ),
    ]
