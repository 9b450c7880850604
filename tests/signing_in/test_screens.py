"""Screens: browsers at stations that an office enrols, kept and withdrawn as tokens are (D10)."""

from __future__ import annotations

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.errors import NotSignedInError
from reprocess.ledger.append import Transaction
from reprocess.record import words
from reprocess.rules.answer import Answer
from reprocess.signing_in import tokens
from reprocess.signing_in.programs import Programs, Take
from reprocess.station import Call
from reprocess.terms import DAY_S, SECOND_US
from tests.signing_in.people import ANNA, BEN, STATION, enrolled, entries

SCREEN = "HATCH-LEFT"
YEAR_US = 365 * DAY_S * SECOND_US
SHOW = ("screens:show",)


@pytest.fixture
def programs(department: Department, clock: StoryClock) -> Programs:
    enrolled(department, "site:LMV", words.SiteOpened(title="Larkmoor Vale", zone="Europe/London"))
    enrolled(department, "station:LMV-1", words.StationOpened(title="Bench", site="LMV", side="any"))
    for person, roles, sites in (
        ("P-S", ("system-administrator",), ()),
        ("P-T", ("technician",), ("LMG",)),
        ("P-V", ("supervisor",), ("LMV",)),
    ):
        body = words.PersonRegistered(name="Cleo Marsh", sites=sites, roles=roles)
        enrolled(department, f"person:{person}", body)
        enrolled(department, f"person:{person}", words.BadgeGiven(badge=f"B-{person}"))
    return Programs(department.ledger, clock)


def enrol(
    department: Department,
    programs: Programs,
    *,
    station: str | None = STATION,
    scopes: tuple[str, ...] = SHOW,
    sites: tuple[str, ...] = (),
    last_us: int = YEAR_US,
    by: tuple[str, str | None] = (ANNA.badge, None),
    key: str = "enrol-1",
) -> tuple[Answer, str | None]:
    until_us = department.clock.now().wall_us + last_us
    asked = asking.IssueToken(SCREEN, "left of the hatch", scopes, sites, until_us, station)

    return programs.issue(SCREEN, taking(department, asked, by, key), tokens.SCREEN)


def taking(department: Department, asked: asking.IssueToken, by: tuple[str, str | None], key: str) -> Take:
    """Returns what asks for a token in the transaction that keeps its digest."""

    def take(work: Transaction) -> Answer:
        outcome = department.desk.take_within(work, Call(asked, STATION, *by, key))
        assert isinstance(outcome, Answer)
        return outcome

    return take


def test_a_supervisor_enrols_a_screen_of_one_station_at_its_site(department: Department, programs: Programs) -> None:
    answer, secret = enrol(department, programs)
    assert answer.accepted, answer
    screen = programs.screen(secret or "")
    assert screen is not None
    assert (screen.station, screen.scopes, screen.sites) == (STATION, SHOW, ("LMG",))
    assert (screen.label, screen.issued_by) == ("left of the hatch", ANNA.person)
    body = entries(department, f"token:{SCREEN}")[-1].body
    assert isinstance(body, words.TokenIssued)
    assert body.station == STATION


def test_its_secret_is_no_programs_and_no_programs_is_its(department: Department, programs: Programs) -> None:
    _, secret = enrol(department, programs)
    assert secret is not None
    assert secret.startswith("rpn_")
    with pytest.raises(NotSignedInError):
        programs.whose(secret)
    asked = asking.IssueToken("FEED-1", "a copy", ("feed:read",), ("LMG",), department.clock.now().wall_us + YEAR_US)
    _, program = programs.issue("FEED-1", taking(department, asked, ("B-P-S", None), "issue-1"))
    assert programs.whose(program or "").token == "FEED-1"  # noqa: S105 - its id
    assert programs.screen(program or "") is None
    for other in (tokens.new(tokens.SCREEN), tokens.new(tokens.TOKEN), tokens.new(tokens.SESSION), "rpn_", ""):
        assert programs.screen(other) is None


def test_it_is_shown_once_and_kept_as_its_digest(department: Department, programs: Programs) -> None:
    _, secret = enrol(department, programs)
    again, shown = enrol(department, programs)
    assert (again.repeated, shown) == (True, None)
    department.ledger.settle()
    kept = b"".join(one.read_bytes() for one in department.ledger.path.parent.iterdir() if one.suffix != ".key")
    assert (secret or "").encode() not in kept


def test_it_lasts_a_year_at_most(department: Department, programs: Programs, clock: StoryClock) -> None:
    answer, _ = enrol(department, programs, last_us=YEAR_US + SECOND_US)
    assert [one.key for one in answer.reasons] == ["token-too-long"]
    _, secret = enrol(department, programs, key="enrol-2")
    clock.push(365 * DAY_S - 1)
    assert programs.screen(secret or "") is not None
    clock.push(1)
    assert programs.screen(secret or "") is None


def test_it_is_listed_and_withdrawn_as_a_token(department: Department, programs: Programs, clock: StoryClock) -> None:
    _, secret = enrol(department, programs)
    programs.screen(secret or "")
    used_us = clock.now().wall_us
    listed = [(one.token.token, one.token.station, one.used_us) for one in programs.listed()]
    assert listed == [(SCREEN, STATION, used_us)]
    withdraw = asking.WithdrawToken(SCREEN, "the tablet was lost")
    assert department.station(STATION, badge=BEN.badge).ask(withdraw).accepted
    assert programs.screen(secret or "") is None


@pytest.mark.parametrize(
    ("wrong", "keys"),
    [
        ({"by": ("B-P-T", None)}, ["not-your-role"]),
        ({"by": ("B-P-S", None)}, ["not-your-role"]),
        ({"by": ("NOBODY", None)}, ["badge-unknown"]),
        ({"by": ("B-P-T", BEN.badge)}, ["not-your-role"]),
        ({"station": "NOWHERE"}, ["not-known-yet"]),
        ({"scopes": ("items:read",)}, ["no-such-scope"]),
        ({"scopes": (*SHOW, "items:read")}, ["no-such-scope"]),
        ({"scopes": ()}, ["no-such-scope"]),
        ({"sites": ("LMV",)}, ["not-your-site"]),
        ({"last_us": 0}, ["token-too-long"]),
    ],
)
def test_an_office_enrols_what_shows_its_own_site_and_nothing_more(
    department: Department, programs: Programs, wrong: dict[str, object], keys: list[str]
) -> None:
    answer, secret = enrol(department, programs, **wrong)  # type: ignore[arg-type]
    assert ([one.key for one in answer.reasons], secret) == (keys, None)
    assert not programs.listed()


def test_nobody_enrols_a_screen_of_a_site_that_is_not_theirs(department: Department, programs: Programs) -> None:
    body = words.PersonRegistered(name="Ivo Marsh", sites=("LMG",), roles=("supervisor",))
    enrolled(department, "person:P-I", body)
    enrolled(department, "person:P-I", words.BadgeGiven(badge="B-I"))
    answer, _ = enrol(department, programs, station="LMV-1", by=("B-I", None))
    assert [one.key for one in answer.reasons] == ["not-your-site"]
    answer, _ = enrol(department, programs, by=("B-P-V", None), key="enrol-2")
    assert "not-your-site" in [one.key for one in answer.reasons]
    answer, _ = enrol(department, programs, by=("B-I", None), key="enrol-3")
    assert answer.accepted


def test_no_programs_token_holds_what_a_screen_holds(department: Department, programs: Programs) -> None:
    for by in (("B-P-S", BEN.badge), (ANNA.badge, None)):
        answer, _ = enrol(department, programs, station=None, sites=("LMG",), by=by, key=by[0])
        assert "no-such-scope" in [one.key for one in answer.reasons]
