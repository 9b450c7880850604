"""Several nodes on one department: nothing acknowledged is lost, nothing is done twice, whoever dies or freezes."""

from __future__ import annotations

import os
import random
import select
from collections import Counter
from collections.abc import Iterator

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department, Server
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.ledger.beacons import Beacons
from reprocess.ledger.dues import LEASE_US
from reprocess.ledger.posts import POST_LEASE_US, Post
from reprocess.ledger.verify import verify
from reprocess.rules.answer import Answer
from reprocess.shared_clock import SKEW_US, SharedClock
from reprocess.station import Call
from tests.ledger import small
from tests.ledger.day import LASTING_US
from tests.nodes.driver import LIBRARY, Named, Node
from tests.postgres import TestServer

SECOND_US = 1_000_000
LEASE_S = LEASE_US // SECOND_US + 1
POST_LEASE_S = POST_LEASE_US // SECOND_US + 1
BEGUN_US = small.START_US + 3_600 * SECOND_US


@pytest.fixture
def place(postgres_server: TestServer) -> Iterator[Server]:
    """Yields where the small department is, newly founded."""
    if "small" not in postgres_server.founded:
        first = postgres_server.place()
        small.found(first, StoryClock(small.START_US)).close()
        postgres_server.founded["small"] = first
    found = postgres_server.place(template="small")
    yield found
    postgres_server.drop(found)


@pytest.fixture
def department(place: Server) -> Iterator[Department]:
    """Yields the department as the test itself looks into it."""
    with small.opened(place, StoryClock(BEGUN_US, count=900_000), library=LIBRARY) as opened:
        yield opened


class Rings:
    """Is the pipe into which all nodes ring."""

    def __init__(self) -> None:
        self.read_end, self.write_end = os.pipe()
        os.set_blocking(self.read_end, False)

    def heard(self) -> list[tuple[str, str]]:
        """Returns (node, key) of what rang since."""
        if not select.select([self.read_end], [], [], 0)[0]:
            return []
        lines = os.read(self.read_end, 1_000_000).decode().splitlines()
        return [(node, key) for node, _, key in (line.partition(" ") for line in lines)]

    def wait(self) -> None:
        """Waits until somebody rang."""
        assert select.select([self.read_end], [], [], 30.0)[0], "nobody rang"


@pytest.fixture
def rings() -> Iterator[Rings]:
    """Yields where the nodes ring."""
    made = Rings()
    yield made
    os.close(made.read_end)
    os.close(made.write_end)


class Hall:
    """Is several nodes and what clients were answered by any of them."""

    def __init__(self, place: Server, rings: Rings, count: int) -> None:
        self.place = place
        self.rings = rings
        self.born = 0
        self.nodes = [self._new() for _ in range(count)]
        self.acknowledged: dict[int, str] = {}
        self.contradicted = self.repeated = self.tries = 0

    def _new(self) -> Node:
        self.born += 1
        return Node(self.place, f"node-{self.born}", self.rings.write_end)

    def replace(self, place: int) -> None:
        """Starts another node in the place of one that is gone."""
        self.nodes[place] = self._new()

    def take(self, number: int, said: dict[str, object] | None) -> bool:
        """Returns whether a client was answered; it keeps what, and notes where it was told otherwise before."""
        self.tries += 1
        if said is None or "digest" not in said:
            return False
        digest = str(said["digest"])
        self.repeated += bool(said["repeated"])
        self.contradicted += self.acknowledged.setdefault(number, digest) != digest
        return True

    def close(self) -> None:
        for node in self.nodes:
            node.stop()


def must_be_whole(department: Department, hall: Hall) -> None:
    """Asserts that every key that was acknowledged is one request on record, and that all of it verifies."""
    with department.ledger.reading() as cursor:
        rows = cursor.execute("SELECT request_key FROM entry WHERE request_part = 0").fetchall()
    found = Counter(key for (key,) in rows)
    assert hall.acknowledged
    assert hall.contradicted == 0
    assert {number: found[f"key-{number}"] for number in hall.acknowledged} == dict.fromkeys(hall.acknowledged, 1)
    assert max(found.values()) == 1
    report = verify(department.ledger, full=True)
    assert report.sound, report.findings


def test_nodes_killed_under_load_lose_nothing_and_double_nothing(
    place: Server, department: Department, rings: Rings, pytestconfig: pytest.Config
) -> None:
    """Three nodes and three clients; each of them asks again elsewhere, with the same key, when its node dies."""
    kills = 200 if pytestconfig.getoption("--long") else 8
    chance = random.Random(20261125)  # noqa: S311 - it only chooses whom to kill
    hall = Hall(place, rings, 3)
    asked = list(range(3))
    following = 3
    for _ in range(kills):
        victim = chance.randrange(3)
        for _ in range(chance.randrange(1, 6)):
            for client, number in enumerate(asked):
                hall.nodes[client].send(do="call", number=number)
            for client, number in enumerate(asked):
                assert hall.take(number, hall.nodes[client].answer())
                asked[client], following = following, following + 1
        for client, number in enumerate(asked):
            hall.nodes[client].send(do="call", number=number)
        select.select([], [], [], chance.random() * 0.01)
        hall.nodes[victim].kill()
        for client, number in enumerate(asked):
            said = None if client == victim else hall.nodes[client].answer()
            assert hall.take(number, said) is (client != victim)
        again = (victim + 1) % 3
        assert hall.take(asked[victim], hall.nodes[again].ask(do="call", number=asked[victim]))
        asked = [following, following + 1, following + 2]
        following += 3
        hall.replace(victim)
    hall.close()
    must_be_whole(department, hall)


def test_a_rolling_restart_loses_no_request(place: Server, department: Department, rings: Rings) -> None:
    hall = Hall(place, rings, 2)
    for number in range(40):
        if number % 8 == 0:
            stopped = number // 8 % 2
            hall.nodes[stopped].stop()
            other = hall.nodes[1 - stopped]
            assert hall.take(number, other.ask(do="call", number=number))
            hall.replace(stopped)
        else:
            assert hall.take(number, hall.nodes[number % 2].ask(do="call", number=number))
    hall.close()
    assert len(hall.acknowledged) == 40
    must_be_whole(department, hall)


def test_the_same_key_at_two_nodes_at_once_is_one_request(place: Server, department: Department, rings: Rings) -> None:
    hall = Hall(place, rings, 2)
    for number in range(30):
        for node in hall.nodes:
            node.send(do="call", number=number)
        for node in hall.nodes:
            assert hall.take(number, node.answer())
    hall.close()
    assert hall.repeated == 30
    must_be_whole(department, hall)


def story(pushed_s: float = 0) -> StoryClock:
    """Returns a node's own clock in one story that all nodes share."""
    clock = StoryClock(BEGUN_US, count=os.getpid() * 1_000)
    clock.push(pushed_s)
    return clock


@pytest.fixture
def two_wet(department: Department) -> list[str]:
    """Returns the keys of what rings a while after two shells were wetted."""
    desk = department.desk
    asked: tuple[Request, ...] = (
        asking.MakeSolution("W-1", "wipe", "Q-1", LASTING_US),
        asking.DoStep("S-1", "clean"),
        asking.DoStep("S-2", "clean"),
        asking.StartDwell("S-1", "disinfect", "W-1"),
        asking.StartDwell("S-2", "disinfect", "W-1"),
    )
    for number, request in enumerate(asked):
        department.clock.push(60 if number else 0)  # type: ignore[attr-defined]
        answer = desk.take(Call(request, "LMG-1", "B-A", None, f"wet-{number}"))
        assert isinstance(answer, Answer)
        assert answer.accepted, answer
    department.clock.push(3_600)  # type: ignore[attr-defined]
    with department.ledger.reading() as cursor:
        return [str(key) for (key,) in cursor.execute("SELECT key FROM due WHERE subject LIKE 'item:S-%'").fetchall()]


def rang_of(department: Department) -> Counter[str]:
    """Returns how many entries say of each reminder that it rang."""
    with department.ledger.reading() as cursor:
        asked = "SELECT request_key FROM entry WHERE kind = 'reminder-rang'"
        return Counter(str(key).removeprefix("rang:") for (key,) in cursor.execute(asked).fetchall())


def test_two_nodes_that_sweep_together_ring_each_reminder_once(
    place: Server, department: Department, rings: Rings, two_wet: list[str]
) -> None:
    assert two_wet
    nodes = [Node(place, name, rings.write_end, lambda: story(7_200)) for name in ("one", "two", "three")]
    for node in nodes:
        node.send(do="sweep")
    for node in nodes:
        assert node.answer() is not None
        node.stop()
    heard = Counter(key for _, key in rings.heard())
    assert heard
    assert max(heard.values()) == 1
    assert set(heard) <= set(rang_of(department))
    assert max(rang_of(department).values()) == 1


def test_what_a_killed_node_had_in_hand_rings_elsewhere_after_its_lease(
    place: Server, department: Department, rings: Rings, two_wet: list[str]
) -> None:
    assert two_wet
    one = Node(place, "one", rings.write_end, lambda: story(7_200))
    two = Node(place, "two", rings.write_end, lambda: story(7_200))
    one.send(do="sweep", stands=True)
    rings.wait()
    one.kill()
    assert two.ask(do="sweep") == {"gave": []}
    two.ask(do="push", seconds=LEASE_S)
    said = two.ask(do="sweep")
    two.stop()
    assert said is not None
    heard = rings.heard()
    assert heard[0][0] == "one"
    assert {key for node, key in heard if node == "two"} == set(said["gave"])
    assert {key for _, key in heard} == set(said["gave"])
    assert max(rang_of(department).values()) == 1


def test_a_node_that_freezes_and_thaws_after_its_lease_does_not_ring_what_another_rang(
    place: Server, department: Department, rings: Rings, two_wet: list[str]
) -> None:
    """The one it had just sounded sounds twice, as after any crash; what it had still in hand only once."""
    assert two_wet
    one = Node(place, "one", rings.write_end, lambda: story(7_200))
    two = Node(place, "two", rings.write_end, lambda: story(7_200 + LEASE_S))
    one.send(do="sweep", stands=True)
    rings.wait()
    one.freeze()
    said = two.ask(do="sweep")
    one.thaw()
    one.send(seconds=LEASE_S)
    assert one.answer() == {"gave": []}
    heard = rings.heard()
    one.stop()
    two.stop()
    assert said is not None
    assert [node for node, _ in heard].count("one") == 1
    assert len(heard) == 1 + len(said["gave"])
    assert len(said["gave"]) > 1
    assert max(rang_of(department).values()) == 1


@pytest.mark.parametrize("frozen", [True, False])
def test_what_is_handed_over_outside_has_its_effect_once(
    place: Server, department: Department, rings: Rings, *, frozen: bool
) -> None:
    """At least once under an id that is always the same; whoever receives it drops what it knows."""
    posts = [Post(f"T03/item:S-{number}/wet", "web", 0, "LMG", "{}") for number in range(4)]
    with department.ledger.writing() as cursor:
        for post in posts:
            row = (post.key, post.channel, post.level, post.site, post.message, BEGUN_US)
            cursor.execute(
                "INSERT INTO post (key, channel, level, site, message, attempts, next_us, until_us)"
                " VALUES (?, ?, ?, ?, ?, 0, ?, 0)",
                row,
            )
    one = Node(place, "one", rings.write_end, lambda: story(7_200))
    two = Node(place, "two", rings.write_end, lambda: story(7_200))
    one.send(do="post", stands=True)
    rings.wait()
    if frozen:
        one.freeze()
    else:
        one.kill()
    assert two.ask(do="post") == {"delivered": 0}
    two.ask(do="push", seconds=POST_LEASE_S)
    assert two.ask(do="post") == {"delivered": 4}
    if frozen:
        one.thaw()
        one.send(seconds=POST_LEASE_S)
        assert one.answer() == {"delivered": 1}
    one.stop()
    two.stop()
    heard = Counter(key for _, key in rings.heard())
    assert set(heard) == {post.key for post in posts}
    assert sorted(heard.values()) == [1, 1, 1, 2]
    with department.ledger.reading() as cursor:
        delivered = cursor.execute("SELECT count(*) FROM entry WHERE kind = 'reminder-delivered'").fetchone()[0]
    assert delivered == 4


def test_a_contact_is_begun_at_one_node_and_read_at_another_on_one_scale(place: Server, rings: Rings) -> None:
    one, two = (Node(place, name, rings.write_end) for name in ("one", "two"))
    first, second = one.ask(do="clock"), two.ask(do="clock")
    one.stop()
    two.stop()
    assert first is not None
    assert second is not None
    assert first["boot"] == second["boot"]
    assert 0 <= second["us"] - first["us"] < 10 * SECOND_US


def test_a_computer_whose_clock_is_wrong_is_told_of(department: Department) -> None:
    clock = SharedClock(Beacons(department.ledger), Named("wrong", wall_off_us=-2 * SKEW_US))
    clock.now()
    health = clock.health()
    assert health is not None
    assert health.skewed
    assert [one.skew_us < -SKEW_US for one in Beacons(department.ledger).all()] == [True]
