"""The standing of a load of a machine, folded from its stream; and what an item knows of the load it is in."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.record.moment import Moment
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class InLoad:
    """Is how an item stands to a load that is not settled for it yet.

    Attributes:
        number: the entry by which it went in.
        cycle: the cycle in which it went in; the load counts for no other.
        step: the step that the load is to do.
        out: whether it was scanned out.
        judged: whether the load passed or failed.
        failed: whether the step was told to have failed for this item since it went in.
    """

    load: str
    number: int
    cycle: int
    step: str
    out: bool = False
    judged: bool = False
    failed: bool = False


class LoadState(StrEnum):
    """Lists where a load can stand; `ended` means that nothing shows yet whether it passed (W07)."""

    OPEN = "open"
    RUNNING = "running"
    ENDED = "ended"
    PASSED = "passed"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Load:
    """Is where a load stands.

    Attributes:
        hottest_c: the highest temperature of its programme.
        items: what is in it, or was, each with its cycle; not what was taken out again before its start (W03).
        unloaded: the items that were scanned out.
        emptied: whether the unloading was finished.
        missing: what was scanned in and did not come out; `strange`, what came out and was never scanned in (W04).
        started: the clocks when the machine began.
        started_feed: the entry with which it began, in the order of the whole record.
        resumed: the evidence on which the machine went on after an interruption, or None.
        record: the digest of the cycle's record, or None while it awaits its parameters (W07).
        source: `logger`, or `strip-chart` where two people typed the record in.
        lasted_s: how long the record lasts; `seen_c` is the hottest that it shows.
        doses: the dose of heat for each floor and sampling rule that its items ask for.
        indicators: the results of indicators that are known so far.
        awaits: the indicators that are still to be read although it passed (G11).
        failed_rule: the rule under which it failed, or None.
        astray: the items that were with somebody when it failed.
    """

    load: str
    site: str = ""
    machine: str = ""
    programme: str = ""
    hottest_c: str = ""
    lasts_s: int = 0
    state: str = ""
    items: dict[str, int] = field(default_factory=dict)
    unloaded: tuple[str, ...] = ()
    emptied: bool = False
    missing: tuple[str, ...] = ()
    strange: tuple[str, ...] = ()
    opened_us: int = 0
    started: Moment | None = None
    started_feed: int = 0
    ended: Moment | None = None
    resumed: str | None = None
    record: str | None = None
    source: str | None = None
    logger: str | None = None
    lasted_s: int = 0
    seen_c: str = ""
    doses: tuple[words.Dose, ...] = ()
    readings: dict[str, str] = field(default_factory=dict)
    checks: dict[str, bool] = field(default_factory=dict)
    indicators: dict[str, bool] = field(default_factory=dict)
    passed_us: int | None = None
    awaits: tuple[str, ...] = ()
    failed_us: int | None = None
    failed_rule: str | None = None
    failed_because: str | None = None
    astray: tuple[str, ...] = ()
    number: int = 0

    @property
    def known(self) -> bool:
        """Tells whether it was ever opened."""
        return self.number > 0

    @property
    def miscounted(self) -> bool:
        """Tells whether what came out is not what went in, and nobody has settled it yet (W04)."""
        return bool(self.missing or self.strange)

    @property
    def still_in(self) -> tuple[str, ...]:
        """Returns the items that were not scanned out, by id."""
        return tuple(sorted(set(self.items) - set(self.unloaded)))


def apply(load: Load, entry: Entry) -> Load:
    """Returns the load after one more entry of its stream."""
    after = replace(load, number=entry.number)
    match entry.body:
        case words.LoadOpened() as body:
            return Load(
                load=subject_of(entry.stream),
                site=body.site,
                machine=body.machine,
                programme=body.programme,
                hottest_c=body.hottest_c,
                lasts_s=body.lasts_s,
                state=LoadState.OPEN,
                opened_us=entry.at_us,
                number=entry.number,
            )
        case words.LoadAdded() as body:
            return replace(after, items={**load.items, **body.items})
        case words.LoadRemoved() as body:
            return replace(after, items=_without(load.items, body.items), missing=_but(load.missing, body.items))
        case words.LoadUnloaded() | words.LoadRecounted():
            return _counted_out(after, entry.body)
        case _:
            return _run(after, entry)


def _run(load: Load, entry: Entry) -> Load:
    """Returns the load after an entry about its cycle: started, ended, recorded, passed, failed."""
    match entry.body:
        case words.LoadStarted():
            return replace(load, state=LoadState.RUNNING, started=entry.envelope.moment, started_feed=entry.feed)
        case words.LoadEnded() as body:
            ended = load.ended or entry.envelope.moment  # an interruption that is told later moves no end
            return replace(load, state=LoadState.ENDED, ended=ended, resumed=body.resumed)
        case words.LoadRecorded() as body:
            return replace(
                load,
                record=body.record,
                source=body.source,
                logger=body.logger,
                lasted_s=body.lasted_s,
                seen_c=body.hottest_c,
                doses=body.doses,
                readings=dict(body.readings),
                checks=dict(body.checks),
                indicators={**load.indicators, **body.indicators},
            )
        case words.LoadPassed() as body:
            return replace(load, state=LoadState.PASSED, passed_us=entry.at_us, awaits=body.awaits or ())
        case words.LoadFailed() as body:
            return replace(
                load,
                state=LoadState.FAILED,
                failed_us=entry.at_us,
                failed_rule=body.rule,
                failed_because=body.because,
                astray=body.out,
            )
        case _:
            return load


def _counted_out(load: Load, body: words.LoadUnloaded | words.LoadRecounted) -> Load:
    if isinstance(body, words.LoadRecounted):
        return replace(load, unloaded=tuple(sorted(body.items)), emptied=True, missing=(), strange=())
    out = tuple(sorted({*load.unloaded, *body.items}))
    strange = tuple(sorted({*load.strange, *body.strange}))
    return replace(load, unloaded=out, emptied=load.emptied or body.finished, missing=body.missing, strange=strange)


def _without(items: dict[str, int], gone: tuple[str, ...]) -> dict[str, int]:
    return {item: cycle for item, cycle in items.items() if item not in gone}


def _but(names: tuple[str, ...], gone: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(name for name in names if name not in gone)
