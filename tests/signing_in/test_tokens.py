"""Tokens of programs: what they look like, when they count, and that they are shown once (D10)."""

from __future__ import annotations

import hashlib
import zlib

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.errors import NotSignedInError
from reprocess.record import words
from reprocess.rules.answer import Answer
from reprocess.signing_in import tokens
from reprocess.signing_in.programs import Programs
from reprocess.station import Call
from reprocess.terms import DAY_S, SECOND_US
from tests.signing_in.people import ANNA, BEN, STATION, enrolled, entries

LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
WASHER = "WASHER-1"
WEEK_US = 7 * DAY_S * SECOND_US


@pytest.fixture
def programs(department: Department, clock: StoryClock) -> Programs:
    body = words.PersonRegistered(name="Dara Holt", sites=(), roles=("system-administrator",))
    enrolled(department, "person:P-S", body)
    enrolled(department, "person:P-S", words.BadgeGiven(badge="B-S"))
    return Programs(department.ledger, clock)


def issue(
    department: Department,
    programs: Programs,
    *,
    scopes: tuple[str, ...] = ("loads:result",),
    sites: tuple[str, ...] = ("LMG",),
    last_us: int = WEEK_US,
    badge: str = "B-S",
    second: str | None = BEN.badge,
    key: str = "issue-1",
) -> tuple[Answer, str | None]:
    until_us = department.clock.now().wall_us + last_us
    asked = asking.IssueToken(WASHER, "the washer", scopes, sites, until_us)

    def take(work: object) -> Answer:
        outcome = department.desk.take_within(work, Call(asked, STATION, badge, second, key))  # type: ignore[arg-type]
        assert isinstance(outcome, Answer)
        return outcome

    return programs.issue(WASHER, take)


def unknown(programs: Programs, secret: str) -> None:
    with pytest.raises(NotSignedInError):
        programs.whose(secret)


def test_a_token_is_recognised_by_its_beginning_and_its_checksum() -> None:
    """256 bits in base 62 are 43 digits (62^43 > 2^256 > 62^42); CRC-32 as zlib counts it, 6 digits."""
    assert 62**43 > 2**256 > 62**42
    assert 62**6 > 2**32
    secret = tokens.new(tokens.TOKEN)
    assert secret.startswith("rpt_")
    assert len(secret) == 4 + 43 + 6
    told = 0
    for letter in secret[-6:]:
        told = told * 62 + LETTERS.index(letter)
    assert told == zlib.crc32(secret[:-6].encode())
    assert tokens.is_like(secret, tokens.TOKEN)
    for spoilt in (secret[:-1], secret + "0", secret.replace("rpt_", "rps_"), secret[:10] + "!" + secret[11:], ""):
        assert not tokens.is_like(spoilt, tokens.TOKEN)
    for at in range(4, len(secret)):
        other = LETTERS[(LETTERS.index(secret[at]) + 1) % 62]
        assert not tokens.is_like(secret[:at] + other + secret[at + 1 :], tokens.TOKEN)


def test_no_two_are_alike() -> None:
    assert len({tokens.new(tokens.TOKEN) for _ in range(1000)}) == 1000


def test_a_token_is_shown_once_and_kept_as_its_digest(department: Department, programs: Programs) -> None:
    answer, secret = issue(department, programs)
    assert answer.accepted
    assert secret is not None
    again, shown = issue(department, programs)
    assert (again.repeated, shown) == (True, None)
    department.ledger.settle()
    kept = b"".join(one.read_bytes() for one in department.ledger.path.parent.iterdir() if one.suffix != ".key")
    assert secret.encode() not in kept
    digest = hashlib.sha256(secret.encode()).hexdigest()
    assert digest.encode() in kept
    assert digest not in repr(entries(department, "token:WASHER-1")), "not even the digest stands in an entry"


def test_a_token_may_what_its_entry_says(department: Department, programs: Programs) -> None:
    _, secret = issue(department, programs)
    token = programs.whose(secret or "")
    assert (token.token, token.scopes, token.sites, token.issued_by) == ("WASHER-1", ("loads:result",), ("LMG",), "P-S")


def test_nobody_gives_a_program_what_none_of_the_signers_has(department: Department, programs: Programs) -> None:
    """A08: an administrator of the system has no process rights, and gives none alone."""
    alone = {"badge": "B-S", "second": None}
    for scopes in (("loads:result",), ("feed:read", "wearers:read"), ("scans:write", "badges:claim")):
        answer, secret = issue(department, programs, scopes=scopes, key=f"issue-{scopes}", **alone)  # type: ignore[arg-type]
        assert ([one.key for one in answer.reasons], secret) == (["scope-not-yours"], None)
    answer, _ = issue(department, programs, scopes=("wearers:write",), key="issue-2")
    assert [one.key for one in answer.reasons] == ["scope-not-yours"], "neither of them keeps wearers"
    answer, _ = issue(department, programs, scopes=("metrics:read", "feed:read"), key="issue-3", **alone)  # type: ignore[arg-type]
    assert answer.accepted


def test_nobody_lets_a_program_in_at_sites_that_are_not_theirs(department: Department, programs: Programs) -> None:
    """D10."""
    enrolled(department, "site:LMV", words.SiteOpened(title="Larkmoor Vale", zone="Europe/London"))
    body = words.PersonRegistered(name="Ivo Marsh", sites=("LMG",), roles=("programme-administrator",))
    enrolled(department, "person:P-I", body)
    enrolled(department, "person:P-I", words.BadgeGiven(badge="B-I"))
    for sites in ((), ("LMV",), ("LMG", "LMV")):
        answer, _ = issue(department, programs, sites=sites, badge="B-I", second=None, key=f"issue-{sites}")
        assert [one.key for one in answer.reasons] == ["not-your-site"], sites
    answer, secret = issue(department, programs, badge="B-I", second=None, key="issue-2")
    assert answer.accepted
    assert programs.whose(secret or "").sites == ("LMG",)


def test_its_last_use_is_listed(department: Department, programs: Programs, clock: StoryClock) -> None:
    _, secret = issue(department, programs)
    assert [one.used_us for one in programs.listed()] == [None]
    programs.whose(secret or "")
    used_us = clock.now().wall_us
    assert [(one.token.token, one.used_us) for one in programs.listed()] == [("WASHER-1", used_us)]
    clock.push(59)
    programs.whose(secret or "")
    assert [one.used_us for one in programs.listed()] == [used_us]
    clock.push(1)
    programs.whose(secret or "")
    assert [one.used_us for one in programs.listed()] == [used_us + 60 * SECOND_US]


def test_a_token_runs_out(department: Department, programs: Programs, clock: StoryClock) -> None:
    _, secret = issue(department, programs, last_us=60 * SECOND_US)
    clock.push(59)
    programs.whose(secret or "")
    clock.push(1)
    unknown(programs, secret or "")


def test_a_withdrawn_token_counts_no_more(department: Department, programs: Programs) -> None:
    _, secret = issue(department, programs)
    withdraw = asking.WithdrawToken("WASHER-1", "the washer was sold")
    assert department.station(STATION, badge=ANNA.badge).ask(withdraw).accepted
    unknown(programs, secret or "")
    assert department.station(STATION, badge=ANNA.badge).ask(withdraw).rules() == ("D10",)


def test_nothing_else_opens(department: Department, programs: Programs) -> None:
    issue(department, programs)
    unknown(programs, tokens.new(tokens.TOKEN))
    unknown(programs, "rpt_")
    unknown(programs, tokens.new(tokens.SESSION))


@pytest.mark.parametrize(
    ("wrong", "rules"),
    [
        ({"scopes": ("release",)}, ("D10",)),
        ({"scopes": ()}, ("D10",)),
        ({"sites": ("NOWHERE",)}, ("P06",)),
        ({"last_us": 366 * DAY_S * SECOND_US}, ("D10",)),
        ({"last_us": -1}, ("D10",)),
        ({"badge": ANNA.badge}, ("A08",)),
        ({"badge": "NOBODY"}, ("A01",)),
    ],
)
def test_a_token_is_issued_by_an_administrator_for_a_year_at_most(
    department: Department, programs: Programs, wrong: dict[str, object], rules: tuple[str, ...]
) -> None:
    answer, secret = issue(department, programs, **wrong)  # type: ignore[arg-type]
    assert (answer.rules(), secret) == (rules, None)
    assert not programs.listed()


def test_an_id_is_given_once(department: Department, programs: Programs) -> None:
    _, secret = issue(department, programs)
    again, other = issue(department, programs, key="issue-2")
    assert (again.rules(), other) == (("D10",), None)
    assert programs.whose(secret or "").token == WASHER, "the refused one harms the first one in nothing"


def test_an_administrator_of_the_system_unlocks_and_releases_nothing(
    department: Department, programs: Programs
) -> None:
    del programs
    unlock = asking.UnlockSignIn(BEN.person, "asked for")
    assert "A08" in department.station(STATION, badge="B-S").ask(unlock).rules()
