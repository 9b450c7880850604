"""The client for integrators against the served department: retries, refusals, the feed, results."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

import httpx2
import pytest

from reprocess.client import TRIES, WAIT_S_MAX, Client, NoAnswerError, ProblemError, new_key
from tests.service.conftest import Bench


class Wire:
    """Carries the client's requests to the served department, and loses or delays what it is told to."""

    def __init__(self, served: Bench) -> None:
        self.served = served
        self.lost: list[str] = []
        self.waited: list[float] = []
        self.hosts: list[str] = []

    def carry(self, request: httpx2.Request) -> httpx2.Response:
        self.hosts.append(request.url.host)
        fault = self.lost.pop(0) if self.lost else None
        if fault == "never-arrives":
            message = "no connection"
            raise httpx2.ConnectError(message)
        if fault is not None and fault.isdigit():
            return httpx2.Response(int(fault), headers={"Retry-After": "7"})
        told = self.served.client.request(
            request.method,
            request.url.raw_path.decode(),
            content=request.read(),
            headers={name: value for name, value in request.headers.items() if name != "host"},
        )
        if fault == "answer-lost":
            message = "the other end went away"
            raise httpx2.ReadError(message)
        return httpx2.Response(told.status_code, headers=dict(told.headers), content=told.content)


@pytest.fixture
def wire(served: Bench) -> Wire:
    return Wire(served)


@pytest.fixture
def client(wire: Wire) -> Iterator[Client]:
    transport = httpx2.MockTransport(wire.carry)
    with Client("http://one.test", "http://two.test", transport=transport, sleep=wire.waited.append) as client:
        yield client


def test_a_lost_answer_is_asked_for_again_under_the_same_key_and_written_once(client: Client, wire: Wire) -> None:
    before = len(wire.served.department.history("item:S-4"))
    wire.lost = ["answer-lost"]
    answer = client.report_contamination("S-4", "used")
    assert answer.accepted
    assert answer.repeated
    assert len(wire.served.department.history("item:S-4")) == before + 1
    assert wire.hosts == ["one.test", "two.test"], "the second try goes to the next node"


def test_a_node_that_is_gone_or_busy_is_left_and_the_servers_wait_is_kept(client: Client, wire: Wire) -> None:
    wire.lost = ["never-arrives", "503", "429"]
    assert client.report_contamination("S-4", "used").accepted
    assert wire.waited == [0.2, 7.0, 7.0]


def test_no_answer_at_all_says_so_with_the_key(client: Client, wire: Wire) -> None:
    wire.lost = ["never-arrives"] * TRIES
    with pytest.raises(NoAnswerError) as caught:
        client.report_contamination("S-4", "used", key="mine")
    assert caught.value.key == "mine"
    assert len(wire.waited) == TRIES - 1
    assert max(wire.waited) <= WAIT_S_MAX


def test_a_refusal_is_an_answer_and_a_problem_is_an_error(client: Client) -> None:
    client.report_contamination("S-4", "used")
    refused = client.ask("/items/S-4/steps", {"step": "inspect", "checks": {"whole": True}})
    assert not refused.accepted
    assert all(one.rule and one.sentence and one.next_action for one in refused.reasons)
    with pytest.raises(ProblemError) as caught:
        client.ask("/items/S-4/steps", {"step": "inspect", "nonsense": 1})
    assert (caught.value.kind, caught.value.status) == ("invalid", 422)
    with pytest.raises(ProblemError) as unknown:
        client.item("NOBODY")
    assert (unknown.value.kind, unknown.value.status) == ("unknown-subject", 404)


def test_the_whole_record_is_read_in_its_one_order_without_a_gap(client: Client, wire: Wire) -> None:
    numbers = [entry.feed for entry in client.entries()]
    assert numbers == list(range(1, len(numbers) + 1))
    with wire.served.department as department:
        assert department.entry(numbers[-1]).feed == numbers[-1]


def test_following_goes_on_where_it_was(client: Client) -> None:
    last = [entry.feed for entry in client.entries()][-1]
    client.report_contamination("S-4", "used")
    entry = next(islice(client.follow(last), 1))
    assert (entry.feed, entry.stream) == (last + 1, "item:S-4")


def test_a_change_of_master_data_names_the_version_that_was_read(client: Client) -> None:
    """RFC 9110, 13.1.1: without the version, and with one that was read before the last change, nothing changes."""
    office = {"station": "LMG-1", "badge": "B-A"}
    registered = {"instrument": "TH-9", "sort": "thermometer", "site": "LMG"}
    assert client.ask("/instruments", registered | office).accepted
    verified = {"until": "2096-01-01T00:00:00Z", "reference": "R-1"} | office
    first = client.version("/instruments/TH-9")
    for version, kind in ((None, "precondition-missing"), ('"99"', "precondition")):
        with pytest.raises(ProblemError) as caught:
            client.ask("/instruments/TH-9/verified", verified, version=version)
        assert caught.value.kind == kind
    assert client.ask("/instruments/TH-9/verified", verified, version=first).accepted
    assert client.version("/instruments/TH-9") != first
    with pytest.raises(ProblemError):
        client.version("/items/S-1")


def test_what_is_held_is_on_record_all_the_same(client: Client) -> None:
    held = client.place_hold("S-4", "administrative", "a notice came", "Anna Brook")
    assert (held.verdict, held.accepted, held.on_record) == ("held", False, True)
    refused = client.log_step("SET-1", "inspect")
    assert (refused.verdict, refused.on_record) == ("refused", False)


def test_keys_are_never_given_twice() -> None:
    assert len({new_key() for _ in range(1000)}) == 1000
