"""Reminders and posts are claimed once, kept away for a lease and let go, on either database."""

from __future__ import annotations

from dataclasses import replace

from reprocess.department import Department
from reprocess.ledger.append import claiming, looking, transaction
from reprocess.ledger.dues import LEASE_US
from reprocess.ledger.posts import POST_LEASE_US, Post
from reprocess.record.moment import Moment
from reprocess.timetable import Due
from tests.ledger.conftest import BOTH

pytestmark = BOTH
KEYS = [f"B04/item:S-1/{number}" for number in range(4)]


def with_reminders(department: Department) -> Moment:
    """Puts four reminders that are due now in place of what stood there, the first the gravest."""
    now = department.clock.now()
    with transaction(department.ledger) as work:
        for subject in {row.due.subject for row in work.dues.coming(2**62)}:
            work.dues.replace(subject, [])
        told: dict[str, str | int] = {"say": "over", "site": "LMG"}
        rows = [Due(key, "item:S-1", "B04", now.wall_us - 10, number, told) for number, key in enumerate(KEYS)]
        work.dues.replace("item:S-1", rows)
    return now


def free(department: Department, now: Moment) -> list[str]:
    with looking(department.ledger) as read:
        return [row.due.key for row in read.dues.ready(now, 100)]


def test_what_is_claimed_is_free_again_after_the_lease(department: Department) -> None:
    now = with_reminders(department)
    assert free(department, now) == KEYS
    with claiming(department.ledger) as work:
        assert work.dues.claim(KEYS[:2], "one", now.wall_us) == frozenset(KEYS[:2])
    assert free(department, now) == KEYS[2:]
    with claiming(department.ledger) as work:
        assert work.dues.claim(KEYS, "two", now.wall_us) == frozenset(KEYS[2:])
        assert work.dues.claim(KEYS[:2], "one", now.wall_us) == frozenset(KEYS[:2])
    assert free(department, now) == []
    assert free(department, replace(now, wall_us=now.wall_us + LEASE_US + 1)) == KEYS
    with transaction(department.ledger) as work:
        work.dues.let_go(KEYS, "one")
    assert free(department, now) == KEYS[:2]


def test_a_claim_from_before_the_clock_was_set_back_counts_no_more(department: Department) -> None:
    now = with_reminders(department)
    with claiming(department.ledger) as work:
        work.dues.claim(KEYS, "one", now.wall_us + 3 * LEASE_US)
        assert work.dues.claim(KEYS, "two", now.wall_us) == frozenset(KEYS)


def test_what_waits_for_quiet_hours_does_not_hide_the_rest(department: Department) -> None:
    now = with_reminders(department)
    with looking(department.ledger) as read:
        found = read.dues.ready(now, 2, lambda due: due.key in KEYS[:2])
    assert [row.due.key for row in found] == KEYS[2:]


def test_posts_are_claimed_once(department: Department) -> None:
    now_us = department.clock.now().wall_us
    posts = [Post(key, "email", 0, "LMG", "{}") for key in KEYS]
    with transaction(department.ledger) as work:
        work.posts.put([*posts, posts[0]], now_us)
    with claiming(department.ledger) as work:
        assert work.posts.claim(now_us, 3) == posts[:3]
    with claiming(department.ledger) as work:
        assert work.posts.claim(now_us, 3) == posts[3:]
        assert work.posts.claim(now_us, 3) == []
    with transaction(department.ledger) as work:
        work.posts.drop(posts[0])
        work.posts.later(posts[1], now_us + 5)
        assert work.posts.waiting() == (3, now_us)
    with claiming(department.ledger) as work:
        again = work.posts.claim(now_us + POST_LEASE_US, 9)
    assert again == [posts[2], posts[3], replace(posts[1], attempts=1)]
