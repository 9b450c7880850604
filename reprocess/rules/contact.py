"""Time in contact: T01, T03-T07, T09, T10, T17 and the unobserved gap of E07.

A dwell is a clock between two records, never a tick. Equality counts as met; what is left is rounded up, so that
nothing reads as done before it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Final

from reprocess.definitions.label import Agent
from reprocess.definitions.times import Dwell
from reprocess.quantities.reading import BadReading, read_number
from reprocess.record.moment import Elapsed, Moment, elapsed
from reprocess.record.standing import OpenDwell
from reprocess.rules.answer import Clock, Reason
from reprocess.terms import SECOND_US

CUE_SHARE: Final = Decimal("0.8")
"""The re-wet cue comes at this share of the film life (T03, design section 3)."""
GREATEST_S: Final = 1800
"""Longest contact where neither the item's file says another (T06, site parameter with this default)."""
RESTARTS_MOST: Final = 2
"""Restarts in one cycle before a supervisor is told (T05, site parameter with this default)."""
TEMP_LEAST_C, TEMP_MOST_C = Decimal(0), Decimal(100)
"""A solution's temperature outside is a slip of the hand (M08, our choice)."""

EARLY_RULE = {"drying": "T09", "aeration": "T10", "rest": "T09"}


@dataclass(frozen=True, slots=True)
class Required:
    """Is what a dwell must keep to: the largest least time, with where it comes from (T01)."""

    least_s: int
    greatest_s: int | None
    film_s: int | None
    source: str
    claim: str | None
    method: str | None


def required(dwell: Dwell, agent: Agent | None, floor_s: int | None, temp: Decimal | None) -> Required | list[Reason]:
    """Returns the times that govern: the largest of label, item and site floor; or why the label forbids it (T07).

    Without an agent nothing governs a contact, and no reason is added to the one that says so (L02).
    """
    if dwell.claim is not None and agent is None:
        return []
    candidates: list[tuple[int, str]] = []
    if dwell.least_s is not None:
        candidates.append((dwell.least_s, dwell.source or "example instructions of the item"))
    film = dwell.film_life_s
    if agent is not None and dwell.claim is not None:
        row = agent.row_for(dwell.claim, dwell.method, temp)
        if row is None:
            return [_not_on_label(dwell, agent, temp)]
        candidates.append((row.contact_s, row.source or f"example label of {agent.title}"))
        if film is None and agent.film is not None and dwell.kind == "wet-contact":
            film = agent.film.life_s
    if floor_s is not None and dwell.kind in {"wet-contact", "immersion"}:
        candidates.append((floor_s, "site floor"))
    if dwell.kind == "thermal":
        candidates.append((1, "thermal dose, judged by A0"))
    least_s, source = max(candidates)
    greatest = dwell.greatest_s
    if greatest is None and dwell.kind in {"wet-contact", "immersion"}:
        greatest = max(GREATEST_S, 2 * least_s)
    return Required(least_s, greatest, film, source, dwell.claim, dwell.method)


def _not_on_label(dwell: Dwell, agent: Agent, temp: Decimal | None) -> Reason:
    rows = [one for one in agent.claims if one.claim == dwell.claim and one.method == dwell.method]
    if not rows:
        return Reason(
            "P14",
            "not-on-label",
            {"agent": agent.title, "claim": dwell.claim or "", "method": dwell.method},
            role="supervisor",
        )
    lows = [one.temp_least_c for one in rows if one.temp_least_c is not None]
    highs = [one.temp_most_c for one in rows if one.temp_most_c is not None]
    return Reason(
        "T07",
        "temperature-missing" if temp is None else "off-label-temperature",
        {
            "temp": "" if temp is None else str(temp),
            "least": str(min(lows)) if lows else "no limit",
            "most": str(max(highs)) if highs and len(highs) == len(rows) else "no limit",
        },
    )


def temperature(text: str | None, dwell: Dwell) -> tuple[Decimal | None, list[Reason]]:
    """Returns (temperature, why not): readable (M08) and not above the item's ceiling (T07)."""
    if text is None:
        needed = dwell.temp_most_c is not None
        return None, [Reason("T07", "temperature-missing", _ceiling(dwell))] if needed else []
    value = read_number(text, "degC")
    if isinstance(value, BadReading):
        return None, [Reason("M08", "not-a-number", {"reading": "temp_c", "because": value.sentence})]
    if not TEMP_LEAST_C <= value <= TEMP_MOST_C:
        return None, [
            Reason(
                "M08",
                "implausible",
                {
                    "reading": "temp_c",
                    "value": text,
                    "least": str(TEMP_LEAST_C),
                    "most": str(TEMP_MOST_C),
                    "unit": "degC",
                },
            )
        ]
    if dwell.temp_most_c is not None and value > dwell.temp_most_c:
        return value, [Reason("T07", "too-warm", {"temp": text, "most": str(dwell.temp_most_c)})]
    return value, []


def _ceiling(dwell: Dwell) -> dict[str, str | int | list[str]]:
    return {"most": str(dwell.temp_most_c), "least": "no limit"}


class End(StrEnum):
    """Lists what the end of a dwell can turn out to be."""

    MET = "met"
    EARLY = "early"
    DRIED = "dried"
    UNOBSERVED = "unobserved"


@dataclass(frozen=True, slots=True)
class Judgement:
    """Is what the clock says at one instant of an open dwell.

    Attributes:
        proven_s: whole seconds of contact that count, rounded down.
        left_s: seconds still missing, rounded up.
        greatest_s: whole seconds that count towards the longest time, rounded up.
        over: whether the longest time was passed.
        twice_over: whether twice the longest time was passed.
        wet_s: seconds since the film was last wet, at their largest.
    """

    end: End
    proven_s: int
    left_s: int
    greatest_s: int
    over: bool
    twice_over: bool
    span: Elapsed
    since_wet: Elapsed

    @property
    def anomaly(self) -> bool:
        """Tells whether the clocks disagreed since the start or since the last wetting."""
        return self.span.anomaly or self.since_wet.anomaly


def judge(opened: OpenDwell, now: Moment, *, least_s: int | None = None) -> Judgement:
    """Returns what the clock of an open dwell says now.

    Args:
        opened: the open dwell.
        now: the clocks at the node of the station.
        least_s: the least time where the end asks for more than the start did (temperature); else the dwell's own.

    A film that may have dried before the least time was covered breaks the contact (T03); a film that lasted
    past the least time does not, however late the scan (E02).
    """
    need_us = (opened.least_s if least_s is None else least_s) * SECOND_US
    span = elapsed(opened.started, now)
    since_wet = elapsed(opened.wetted, now)
    credited = span.least_us
    dried = False
    if opened.film_s is not None:
        covered = elapsed(opened.started, opened.wetted).least_us + opened.film_s * SECOND_US
        dried = since_wet.greatest_us > opened.film_s * SECOND_US and covered < need_us
    end = End.MET if credited >= need_us else End.EARLY
    if not span.observed and not (opened.film_s is None and _seen_enough(span, need_us)):
        end = End.UNOBSERVED
    if dried and span.same_boot:
        end = End.DRIED
    most_us = opened.greatest_s * SECOND_US if opened.greatest_s is not None else None
    return Judgement(
        end=end,
        proven_s=credited // SECOND_US,
        left_s=-(-max(0, need_us - credited) // SECOND_US),
        greatest_s=-(-span.greatest_us // SECOND_US),
        over=most_us is not None and span.greatest_us > most_us,
        twice_over=most_us is not None and span.greatest_us > 2 * most_us,
        span=span,
        since_wet=since_wet,
    )


def _seen_enough(span: Elapsed, need_us: int) -> bool:
    """Tells whether running time alone, sleep left out, covers the least time of a soak or a rest."""
    return span.same_boot and span.least_us >= need_us


def clock_of(opened: OpenDwell, now: Moment) -> Clock:
    """Returns the clock of an open dwell as a screen shows it."""
    seen = judge(opened, now)
    rewet = None
    if opened.film_s is not None and seen.left_s > 0:
        cue_us = int(CUE_SHARE * opened.film_s * SECOND_US)
        rewet = max(0, -(-(cue_us - seen.since_wet.greatest_us) // SECOND_US))
    most = None if opened.greatest_s is None else max(0, opened.greatest_s - seen.greatest_s)
    return Clock(opened.step, seen.left_s, rewet, most, opened.attempt)


def early(opened: OpenDwell, seen: Judgement) -> Reason:
    """Returns the refusal of an end that comes too soon (T01, T09, T10)."""
    return Reason(
        EARLY_RULE.get(opened.dwell, "T01"),
        "too-early",
        {"step": opened.step, "left": seen.left_s, "least": opened.least_s, "proven": seen.proven_s},
        wait_s=seen.left_s,
    )
