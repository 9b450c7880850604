"""Which times govern a dwell, and what its clock says at one instant (T01, T03, T06, T07)."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from reprocess.definitions.label import Agent, Claim
from reprocess.definitions.times import Dwell
from reprocess.record.moment import Moment
from reprocess.record.standing import OpenDwell
from reprocess.rules import contact
from reprocess.rules.contact import End, Required
from reprocess.terms import SECOND_US

SOAK = Dwell(kind="immersion", method="immersion", claim="high-level", agents=("bath",), example=True)


def agent(*claims: Claim) -> Agent:
    return Agent(agent="bath", title="Bath", active_ingredients="none", form="bath", follows="none", claims=claims)


def row(contact_s: int, least: str | None = None, most: str | None = None) -> Claim:
    return Claim(
        claim="high-level",
        method="immersion",
        contact_s=contact_s,
        temp_least_c=None if least is None else Decimal(least),
        temp_most_c=None if most is None else Decimal(most),
        example=True,
    )


def required(dwell: Dwell, label: Agent, floor_s: int | None = None, temp: str | None = None) -> Required:
    times = contact.required(dwell, label, floor_s, None if temp is None else Decimal(temp))
    assert isinstance(times, Required), times
    return times


@pytest.mark.parametrize(
    ("label_s", "item_s", "floor_s", "least_s", "source"),
    [
        (300, None, None, 300, "example label of Bath"),
        (300, 400, None, 400, "example instructions of the item"),
        (300, 400, 500, 500, "site floor"),
        (600, 400, 500, 600, "example label of Bath"),
    ],
)
def test_the_largest_of_label_item_and_floor_governs(
    label_s: int, item_s: int | None, floor_s: int | None, least_s: int, source: str
) -> None:
    """T01"""
    times = required(SOAK.model_copy(update={"least_s": item_s}), agent(row(label_s)), floor_s)
    assert (times.least_s, times.source) == (least_s, source)


def test_a_greatest_time_is_always_more_than_the_least() -> None:
    """T06: half an hour where the file says none, and twice the least where that is more."""
    assert required(SOAK, agent(row(300))).greatest_s == 1800
    assert required(SOAK, agent(row(5400))).greatest_s == 10_800
    assert required(SOAK.model_copy(update={"greatest_s": 900}), agent(row(300))).greatest_s == 900


def test_nothing_is_interpolated_between_two_rows_of_a_label() -> None:
    """T07: the row for the warmest bath that is not warmer than this one."""
    label = agent(row(720, "20"), row(300, "25"))
    assert [required(SOAK, label, temp=temp).least_s for temp in ("20", "24.9", "25", "60")] == [720, 720, 300, 300]


@pytest.mark.parametrize(
    ("claims", "temp", "rule", "key", "least", "most"),
    [
        ((row(720, "20", "30"),), "19.9", "T07", "off-label-temperature", "20", "30"),
        ((row(720, "20", "30"),), "30.1", "T07", "off-label-temperature", "20", "30"),
        ((row(720, "20"),), "10", "T07", "off-label-temperature", "20", "no limit"),
        ((row(720, None, "30"),), "31", "T07", "off-label-temperature", "no limit", "30"),
        ((row(720, "20", "30"),), None, "T07", "temperature-missing", "20", "30"),
    ],
)
def test_a_label_says_at_which_temperatures_it_holds(
    claims: tuple[Claim, ...], temp: str | None, rule: str, key: str, least: str, most: str
) -> None:
    told = contact.required(SOAK, agent(*claims), None, None if temp is None else Decimal(temp))
    assert isinstance(told, list)
    ((reason),) = told
    assert (reason.rule, reason.key, reason.facts["least"], reason.facts["most"]) == (rule, key, least, most)


def test_a_label_without_the_claim_allows_nothing() -> None:
    """P14"""
    told = contact.required(SOAK.model_copy(update={"claim": "sterility"}), agent(row(720)), None, None)
    assert isinstance(told, list)
    assert [(one.rule, one.key) for one in told] == [("P14", "not-on-label")]


def test_without_an_agent_nothing_governs_a_contact() -> None:
    assert contact.required(SOAK, None, 60, None) == []


OPENED = OpenDwell(
    step="disinfect",
    dwell="wet-contact",
    number=1,
    started=Moment(0, 0, 0, "a", "n"),
    wetted=Moment(0, 0, 0, "a", "n"),
    attempt=1,
    least_s=180,
    greatest_s=600,
    film_s=100,
    unobserved="restart",
    solution="QAW-1",
    agent="quat",
    temp_c=None,
    actor="ANNA",
)


def at(seconds: float, boot: str = "a", slept: float = 0) -> Moment:
    here = round(seconds * SECOND_US)
    return Moment(here, here - round(slept * SECOND_US), here, boot, "n")


@pytest.mark.parametrize(
    ("wetted", "now", "end", "proven", "left"),
    [
        (0, 99.5, End.EARLY, 99, 81),
        (0, 100, End.EARLY, 100, 80),
        (0, 100.1, End.DRIED, 100, 80),
        (80, 179.999_999, End.EARLY, 179, 1),
        (80, 180, End.MET, 180, 0),
        (80, 10_000, End.MET, 10_000, 0),
        (79.9, 200, End.DRIED, 200, 0),
    ],
)
def test_what_the_clock_of_a_wipe_says(wetted: float, now: float, end: End, proven: int, left: int) -> None:
    """T01, T03: whole seconds, what is proven rounded down and what is left rounded up."""
    seen = contact.judge(replace(OPENED, wetted=at(wetted)), at(now))
    assert (seen.end, seen.proven_s, seen.left_s) == (end, proven, left)


@pytest.mark.parametrize(
    ("now", "over", "twice"), [(600, False, False), (600.1, True, False), (1200, True, False), (1200.1, True, True)]
)
def test_over_is_more_than_the_longest_time(now: float, *, over: bool, twice: bool) -> None:
    """T06: equality counts as kept."""
    seen = contact.judge(replace(OPENED, film_s=None), at(now))
    assert (seen.over, seen.twice_over) == (over, twice)


def test_a_dwell_without_a_longest_time_is_never_over() -> None:
    seen = contact.judge(replace(OPENED, film_s=None, greatest_s=None), at(10**6))
    assert not seen.over


def test_a_reboot_is_not_seen_and_a_sleep_only_as_far_as_it_was_awake() -> None:
    """E07"""
    soak = replace(OPENED, film_s=None)
    assert contact.judge(soak, at(300, boot="b")).end is End.UNOBSERVED
    assert contact.judge(soak, at(300, slept=130)).end is End.UNOBSERVED
    assert contact.judge(soak, at(300, slept=120)).end is End.MET
    assert contact.judge(OPENED, at(90, slept=10)).end is End.UNOBSERVED


def test_a_screen_shows_what_is_left_and_when_to_wet() -> None:
    """T03: the cue comes at four fifths of the film's life."""
    clock = contact.clock_of(OPENED, at(30.5))
    assert (clock.left_s, clock.rewet_s, clock.most_s, clock.attempt) == (150, 50, 569, 1)
    late = contact.clock_of(replace(OPENED, wetted=at(90)), at(700))
    assert (late.left_s, late.rewet_s, late.most_s) == (0, None, 0)
    none = contact.clock_of(replace(OPENED, film_s=None, greatest_s=None), at(10))
    assert (none.rewet_s, none.most_s) == (None, None)
