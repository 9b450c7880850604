"""A contact begun at one node and confirmed at another, through the whole engine, on invented clocks."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from reprocess.clock import StoryClock, uuid7
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.gathering import Library
from reprocess.ledger.append import looking
from reprocess.record.moment import Moment
from reprocess.rules.answer import Answer
from reprocess.station import Call, Desk
from tests.ledger import small
from tests.ledger.day import LASTING_US
from tests.nodes.world import Machine, Node, World

NUMBERS = count(1)


class Clock:
    """Is a node's clock as a desk takes it."""

    def __init__(self, node: Node) -> None:
        self.node = node

    def now(self) -> Moment:
        return self.node.now()

    def new_id(self) -> str:
        return uuid7(self.node.world.clock_us // 1000, next(NUMBERS))


@pytest.fixture
def world() -> World:
    return World()


@pytest.fixture
def desks(world: World, tmp_path: Path) -> Iterator[tuple[Desk, Desk]]:
    """Yields the desks of two nodes on one department, with a cleaned shell and a wipe."""
    nodes = Node(Machine(world, "one")), Node(Machine(world, "two", ppm=200))
    with small.found(tmp_path / "department.db", StoryClock(small.START_US)) as department:
        one, two = (Desk(department.ledger, Library(), Clock(node)) for node in nodes)
        world.pass_s(60)
        assert ask(one, asking.MakeSolution("W-1", "wipe", "Q-1", LASTING_US)).accepted
        world.pass_s(60)
        assert ask(two, asking.DoStep("S-1", "clean")).accepted
        world.pass_s(60)
        assert ask(one, asking.StartDwell("S-1", "disinfect", "W-1")).accepted
        world.pass_s(70)
        assert ask(two, asking.Rewet("S-1")).accepted
        world.pass_s(50)
        assert ask(one, asking.Rewet("S-1")).accepted
        yield one, two


def ask(desk: Desk, request: Request) -> Answer:
    return desk.take(Call(request, "LMG-1", "B-A", None, f"across-{next(NUMBERS)}"))


def test_it_is_met_at_the_other_node_once_it_is_proven(world: World, desks: tuple[Desk, Desk]) -> None:
    """180 s on the label, and 2 s and 0.1 % for what the shared clock may be off: 182.182 s at least."""
    world.pass_s(61.5)
    early = ask(desks[1], asking.EndDwell("S-1"))
    assert not early.accepted
    assert [one.rule for one in early.reasons] == ["T01"]
    world.pass_s(1.5)
    assert ask(desks[1], asking.EndDwell("S-1")).accepted


def test_a_step_of_the_databases_clock_ends_no_contact_before_its_time(world: World, desks: tuple[Desk, Desk]) -> None:
    world.stepped_us += 600_000_000
    world.pass_s(5)
    assert not ask(desks[1], asking.EndDwell("S-1")).accepted
    world.pass_s(120)
    assert not ask(desks[0], asking.EndDwell("S-1")).accepted


def test_two_nodes_scan_one_item_at_once(world: World, desks: tuple[Desk, Desk]) -> None:
    """The second reading may be a little before the first one; the contact is early, not unproven."""
    world.stepped_us -= 40_000
    first = ask(desks[0], asking.EndDwell("S-1"))
    second = ask(desks[1], asking.EndDwell("S-1"))
    assert [one.rule for one in (*first.reasons, *second.reasons)] == ["T01", "T01"]


def test_the_entries_carry_the_shared_reading(desks: tuple[Desk, Desk]) -> None:
    with looking(desks[0].ledger) as read:
        entries = [one for one in read.entries_of("item:S-1") if one.envelope.key.startswith("across-")]
    assert {one.envelope.moment.node for one in entries} == {"one", "two"}
    assert len({one.envelope.moment.boot for one in entries}) == 1
    assert all(one.envelope.moment.shared for one in entries)
