"""Handing entries to subscribers where the record lies on PostgreSQL: the same statements, the same outcome."""

from __future__ import annotations

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.ledger.append import looking
from reprocess.ledger.deliveries import DELIVERY_LEASE_US
from reprocess.ledger.sealing import unseal
from reprocess.record import words
from reprocess.reminders.outbox import WAITS_S, outbox_round
from reprocess.reminders.signing import secret_from
from reprocess.rules.answer import Answer
from reprocess.service.outgoing import letter_of, subscribe
from reprocess.station import Call
from reprocess.terms import SECOND_US
from tests.exchange.feeding import write
from tests.postgres import postgres_department, postgres_server
from tests.reminders.test_outbox import URL, Receiver

__all__ = ["postgres_department", "postgres_server"]


def ask(department: Department, request: Request) -> tuple[Answer, str | None]:
    answer, secret = subscribe(department, Call(request, "LMG-1", "B-A", None, department.clock.new_id()))
    assert answer.accepted, answer.reasons
    return answer, secret


def test_a_subscription_on_a_server_is_handed_over_tried_again_replayed_and_ended(
    postgres_department: Department,
) -> None:
    department, clock = postgres_department, postgres_department.clock
    assert isinstance(clock, StoryClock)
    _, secret = ask(department, asking.MakeSubscription("warehouse", "The warehouse", URL))
    write(department, "site:LMG", words.FactNoted(subject="item:X", asked="look"), station="LMG-1")
    receiver = Receiver(["timeout"])
    assert outbox_round(department.ledger, clock, letter_of, receiver) == (0, 1)
    assert outbox_round(department.ledger, clock, letter_of, receiver) == (0, 0)
    clock.push(WAITS_S[0])
    assert outbox_round(department.ledger, clock, letter_of, receiver) == (1, 0)
    ask(department, asking.ReplaySubscription("warehouse", 0))
    assert outbox_round(department.ledger, clock, letter_of, receiver)[0] > 5
    _, newer = ask(department, asking.RekeySubscription("warehouse"))
    with looking(department.ledger) as read:
        kept = [
            unseal(department.ledger.key, "subscription:warehouse", one) for one in read.deliveries.secrets("warehouse")
        ]
        claimed = read.deliveries.waits(clock.now().wall_us, read.feed.last())
    assert kept == [secret_from(newer or ""), secret_from(secret or "")]
    assert claimed  # the entry about the new secret waits
    clock.push(DELIVERY_LEASE_US // SECOND_US)
    ask(department, asking.EndSubscription("warehouse", "moved"))
    with looking(department.ledger) as read:
        assert (read.deliveries.all(), read.deliveries.secrets("warehouse")) == ([], [])
    assert outbox_round(department.ledger, clock, letter_of, receiver) == (0, 0)
