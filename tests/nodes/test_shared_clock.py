"""The clock that several nodes share, and every way found to make it lie: none makes a contact longer."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reprocess.errors import LedgerBusyError
from reprocess.record.moment import STEP_US, Elapsed, Moment, elapsed, tolerance_us
from reprocess.shared_clock import STALE_US, SharedClock
from tests.nodes.world import BEGAN_US, SECOND_US, Machine, Node, World

MINUTES_10 = 600


@pytest.fixture
def world() -> World:
    return World()


@pytest.fixture
def two(world: World) -> tuple[Node, Node]:
    return Node(Machine(world, "one")), Node(Machine(world, "two"))


def spans(world: World, start: Node, end: Node, between: Callable[[], None]) -> tuple[Elapsed, int]:
    """Returns what two readings prove, and how much time really passed between them."""
    begun, begun_us = start.now(), world.true_us
    between()
    ended = end.now()
    return elapsed(begun, ended), world.true_us - begun_us


def test_a_contact_begun_at_one_node_is_proven_at_another(world: World, two: tuple[Node, Node]) -> None:
    two[0].now()
    two[1].now()
    span, true_us = spans(world, *two, lambda: world.pass_s(MINUTES_10))
    assert span.same_boot
    assert span.observed
    assert true_us - 2 * tolerance_us(true_us) <= span.least_us <= true_us <= span.greatest_us


def test_a_reading_is_the_databases_wall_clock(world: World) -> None:
    machine = Machine(world, "one", wall_off_us=3_600 * SECOND_US)
    node = Node(machine)
    seen = node.now()
    assert abs(seen.wall_us - world.clock_us) <= 1_000
    assert seen.shared
    assert seen.node == "one"
    told = node.clock.health()
    assert told is not None
    assert told.skewed
    assert abs(told.skew_us - 3_600 * SECOND_US) <= 1_000


def test_a_node_that_keeps_right_time_is_not_told_of(world: World) -> None:
    node = Node(Machine(world, "one", wall_off_us=STEP_US - SECOND_US))
    assert node.clock.health() is None
    node.now()
    told = node.clock.health()
    assert told is not None
    assert (told.skewed, told.opened, told.joined) == (False, 1, 0)


@pytest.mark.parametrize("step_s", [3, -3, 600, -600, 86_400, -86_400])
def test_a_stepped_database_clock_proves_nothing_and_all_nodes_agree_again(
    world: World, two: tuple[Node, Node], step_s: int
) -> None:
    two[0].now()
    two[1].now()

    def stepped() -> None:
        world.pass_s(60)
        world.stepped_us += step_s * SECOND_US
        world.pass_s(60)

    span, _ = spans(world, *two, stepped)
    assert not span.same_boot
    assert span.least_us == 0
    assert world.epochs == 2
    again, true_us = spans(world, two[1], two[0], lambda: world.pass_s(60))
    assert again.same_boot
    assert again.least_us <= true_us


@pytest.mark.parametrize("step_s", [3, -3, 600, -600])
@pytest.mark.parametrize("other_machine", [True, False])
def test_a_clock_stepped_while_no_node_runs_is_not_believed(world: World, step_s: int, *, other_machine: bool) -> None:
    first = Node(Machine(world, "one"))
    begun = first.now()
    world.pass_s(10)
    first.kill()
    world.stepped_us += step_s * SECOND_US
    world.pass_s(2)
    second = Node(Machine(world, "two") if other_machine else first.machine)
    assert elapsed(begun, second.now()).least_us == 0
    assert second.now().boot != begun.boot


def test_a_clock_set_back_so_that_a_dead_beacon_looks_fresh_is_not_believed(world: World) -> None:
    first = Node(Machine(world, "one"))
    begun = first.now()
    world.pass_s(10)
    first.kill()
    world.pass_s(3_600)
    world.stepped_us -= 3_600 * SECOND_US
    second = Node(Machine(world, "two"))
    assert second.now().boot != begun.boot


def test_a_node_that_starts_again_goes_on_where_its_computer_saw_all(world: World) -> None:
    machine = Machine(world, "one")
    first = Node(machine)
    begun = first.now()
    world.pass_s(10)
    first.kill()
    world.pass_s(3_600)
    ended = Node(machine).now()
    assert ended.boot == begun.boot
    assert elapsed(begun, ended).least_us > 3_600 * SECOND_US


def test_a_command_without_any_server_goes_on_where_the_last_one_was(world: World) -> None:
    machine = Machine(world, "one")
    readings = []
    for _ in range(3):
        command = Node(machine)
        readings.append(command.now())
        command.kill()
        world.pass_s(700)
    assert len({one.boot for one in readings}) == 1


def test_a_node_that_joins_goes_on_where_another_saw_all(world: World) -> None:
    first = Node(Machine(world, "one"))
    begun = first.now()
    world.pass_s(10)
    second = Node(Machine(world, "two"))
    assert second.now().boot == begun.boot
    first.kill()
    world.pass_s(MINUTES_10)
    assert elapsed(begun, second.now()).least_us > (MINUTES_10 - 5) * SECOND_US


def test_a_rolling_restart_on_new_computers_keeps_one_time(world: World) -> None:
    nodes = [Node(Machine(world, "computer-0"))]
    begun = nodes[0].now()
    for number in range(1, 30):
        nodes.append(Node(Machine(world, f"computer-{number}")))
        assert nodes[-1].now().boot == begun.boot
        world.pass_s(5)
        nodes.pop(0).kill()
    assert world.epochs == 1


def test_a_joining_node_takes_over_what_its_witness_saw(world: World) -> None:
    """Small steps, each while another pair of nodes looks on, add up to one that counts."""
    old = Node(Machine(world, "computer-0"))
    begun, begun_us = old.now(), world.true_us
    latest = begun
    for number in range(1, 12):
        new = Node(Machine(world, f"computer-{number}"))
        new.now()
        world.pass_s(3)
        old.kill()
        old = new
        world.stepped_us += 400_000
        world.pass_s(3)
        latest = new.now()
        assert elapsed(begun, latest).least_us <= world.true_us - begun_us
    assert latest.boot != begun.boot


def test_many_small_steps_count_as_one(world: World, two: tuple[Node, Node]) -> None:
    two[1].now()
    begun, begun_us = two[0].now(), world.true_us
    for _ in range(60):
        world.stepped_us += 300_000
        world.pass_s(1)
        assert elapsed(begun, two[1].now()).least_us <= world.true_us - begun_us
    assert two[0].now().boot != begun.boot


@pytest.mark.parametrize(("database", "machine"), [(500, 0), (-500, 0), (0, 500), (250, -250), (500, -490)])
def test_drift_of_500_parts_in_a_million_opens_no_epoch(world: World, database: int, machine: int) -> None:
    """500 parts in a million is the most by which Linux slews a clock (`man 2 adjtimex`)."""
    world.ppm = database
    node, other = Node(Machine(world, "one", ppm=machine)), Node(Machine(world, "two"))
    node.now()
    other.now()
    span, true_us = spans(world, node, other, lambda: world.pass_s(3_600))
    assert span.same_boot
    assert span.least_us <= true_us <= span.greatest_us


def test_a_clock_that_runs_one_percent_too_fast_is_found(world: World, two: tuple[Node, Node]) -> None:
    begun = two[0].now()
    two[1].now()
    world.drift_to(10_000)
    world.pass_s(MINUTES_10)
    assert two[1].now().boot != begun.boot


def test_a_frozen_node_looks_again_before_it_tells_the_time(world: World, two: tuple[Node, Node]) -> None:
    one, two_ = two
    one.now()
    two_.now()
    one.frozen = True
    world.pass_s(30)
    world.stepped_us += 100 * SECOND_US
    world.pass_s(40)
    one.frozen = False
    assert one.now().boot == two_.now().boot == world.epoch


def test_a_node_frozen_while_it_looked_does_not_believe_the_answer(world: World) -> None:
    node = Node(Machine(world, "one"))
    node.now()
    world.latency_us = (70 * SECOND_US, 300)
    with pytest.raises(LedgerBusyError, match="too slowly"):
        node.clock.renew()


def test_a_testimony_given_after_a_freeze_witnesses_nothing(world: World) -> None:
    """A process that looked, froze and then writes its beacon moves the counter once only; once is not enough."""
    first = Node(Machine(world, "one"))
    begun = first.now()
    world.pass_s(5)
    late = world.beacons["one", "boot-1"]
    first.kill()
    world.stepped_us += 4 * SECOND_US
    second = Node(Machine(world, "two"))
    real = second.clock._authority.wait
    waited = []

    def wait_then_thaw(seconds: float) -> None:
        real(seconds)
        waited.append(seconds)
        if len(waited) == 2:
            second.clock._authority.testify(late)

    second.clock._authority.wait = wait_then_thaw  # type: ignore[method-assign]
    assert second.now().boot != begun.boot


def test_a_computer_that_slept_asks_the_others(world: World, two: tuple[Node, Node]) -> None:
    one, two_ = two
    begun = one.now()
    two_.now()
    one.frozen = True
    world.pass_s(300)
    one.machine.slept_us += 300 * SECOND_US
    one.frozen = False
    assert one.now().boot == begun.boot
    told = one.clock.health()
    assert told is not None
    assert told.joined == 1


def test_time_that_all_slept_through_is_not_proven(world: World) -> None:
    one = Node(Machine(world, "one"))
    begun = one.now()
    one.frozen = True
    world.pass_s(300)
    one.machine.slept_us += 300 * SECOND_US
    one.frozen = False
    assert one.now().boot != begun.boot


@pytest.mark.parametrize("restarted", [True, False])
def test_a_sleep_that_a_step_of_the_database_hides_is_not_believed(world: World, *, restarted: bool) -> None:
    """Database and node on one computer, whose wall clock stands still while it sleeps as its monotonic one does."""
    one = Node(Machine(world, "one"))
    begun = one.now()
    one.frozen = True
    world.pass_s(300)
    one.machine.slept_us += 300 * SECOND_US
    world.stepped_us -= 300 * SECOND_US
    one.kill()
    one.frozen = False
    assert (Node(one.machine) if restarted else one).now().boot != begun.boot


def test_a_step_while_a_node_joins_is_not_believed(world: World) -> None:
    first = Node(Machine(world, "one"))
    begun = first.now()
    second = Node(Machine(world, "two"))
    real = second.clock._authority.wait
    waited = []

    def wait_then_step(seconds: float) -> None:
        real(seconds)
        waited.append(seconds)
        if len(waited) == 8:
            first.kill()
            world.stepped_us += SECOND_US

    second.clock._authority.wait = wait_then_step  # type: ignore[method-assign]
    assert second.now().boot != begun.boot
    assert len(waited) == 8


def test_a_computer_whose_own_clock_jumped_joins_the_others_again(world: World, two: tuple[Node, Node]) -> None:
    """As a virtual machine that was stopped whole: its monotonic clock stands, all others went on."""
    one, two_ = two
    begun = one.now()
    two_.now()
    one.frozen = True
    world.pass_s(60)
    one.machine.booted_us += 60 * SECOND_US
    one.frozen = False
    world.pass_s(10)
    assert one.now().boot == two_.now().boot == begun.boot
    assert world.epochs == 1


def test_a_rebooted_computer_proves_nothing_alone_and_all_beside_another(world: World, two: tuple[Node, Node]) -> None:
    one, two_ = two
    begun = one.now()
    two_.now()
    one.kill()
    one.machine.reboot()
    world.pass_s(60)
    assert Node(one.machine).now().boot == begun.boot
    for node in list(world.nodes):
        node.kill()
    one.machine.reboot()
    world.pass_s(60)
    assert Node(one.machine).now().boot != begun.boot


def test_without_the_database_a_node_goes_on_for_a_while_and_then_tells_no_time(world: World) -> None:
    node = Node(Machine(world, "one"))
    begun = node.now()
    world.down = True
    world.pass_us(STALE_US - SECOND_US)
    assert node.now().boot == begun.boot
    world.pass_s(3)
    with pytest.raises(LedgerBusyError, match="nothing was recorded"):
        node.now()
    world.down = False
    assert node.now().boot == begun.boot


def test_a_slow_answer_is_asked_again_and_the_best_one_counts(world: World) -> None:
    node = Node(Machine(world, "one"))
    world.latency_us = (90_000, 90_000)
    node.now()
    told = node.clock.health()
    assert told is not None
    assert told.error_us == 90_000
    world.latency_us = (150_000, 150_000)
    world.pass_s(11)
    with pytest.raises(LedgerBusyError):
        node.now()


def test_a_reading_never_runs_backwards_within_an_epoch(world: World) -> None:
    node = Node(Machine(world, "one"))
    before = node.now()
    world.stepped_us -= 900_000
    world.pass_us(1_000)
    for _ in range(20):
        world.pass_us(100_000)
        after = node.now()
        assert after.boot == before.boot
        assert after.mono_us >= before.mono_us
        before = after


def test_a_reading_of_another_node_that_is_a_little_earlier_takes_no_time_away() -> None:
    later = Moment(5_000_000, 5_000_000, 5_000_000, "shared:x", "one")
    earlier = Moment(4_990_000, 4_990_000, 4_990_000, "shared:x", "two")
    assert elapsed(later, earlier) == Elapsed(0, STEP_US, 0, -10_000, 0, same_boot=True, anomaly=False)
    far = Moment(2_000_000, 2_000_000, 2_000_000, "shared:x", "two")
    assert not elapsed(later, far).same_boot


@pytest.mark.parametrize(("span_s", "least_s"), [(0, 0), (2, 0), (602, "599.398"), (602.603, "600.000397")])
def test_what_the_shared_clock_may_be_off_is_taken_off(span_s: float, least_s: float | str) -> None:
    """2 s and 0.1 % (design, section 3): 602.603 s are needed to prove ten minutes."""
    start = Moment(0, 0, 0, "shared:x", "one")
    end_us = round(span_s * SECOND_US)
    span = elapsed(start, Moment(end_us, end_us, end_us, "shared:x", "two"))
    assert span.least_us == round(float(least_s) * SECOND_US)
    assert span.greatest_us == end_us + tolerance_us(end_us)


def test_ids_sort_by_the_shared_clock(world: World) -> None:
    machine = Machine(world, "one", wall_off_us=-86_400 * SECOND_US)
    node = Node(machine)
    node.now()
    milliseconds = int(node.clock.new_id().replace("-", "")[:12], 16)
    assert abs(milliseconds - world.clock_us // 1000) <= 1


@st.composite
def stories(draw: st.DrawFn) -> list[tuple[str, int, float]]:
    """Returns what happens: a word, a node's number, an amount."""
    ops = (
        "pass",
        "pass",
        "pass",
        "step",
        "creep",
        "freeze",
        "thaw",
        "kill",
        "start",
        "new",
        "reboot",
        "sleep",
        "drift",
    )
    number, amount = st.integers(0, 2), st.floats(-1, 1)
    return draw(st.lists(st.tuples(st.sampled_from(ops), number, amount), min_size=5, max_size=40))


class Told:
    """Is a world with up to three nodes, in which one thing after another happens."""

    def __init__(self) -> None:
        self.world = World()
        drifts = (0, 300, -400)
        self.machines = [Machine(self.world, f"computer-{number}", ppm=ppm) for number, ppm in enumerate(drifts)]
        self.nodes = {0: Node(self.machines[0]), 1: Node(self.machines[1])}

    def goes_on(self, word: str, which: int, much: float) -> None:
        """Lets one thing happen, if it can."""
        if word in ("step", "creep", "drift"):
            self._clock(word, much)
        elif word == "pass":
            self.world.pass_s(0.1 + abs(much) * 40)
        elif which in self.nodes:
            self._at_work(word, self.nodes[which], abs(much) * 300)
        else:
            self._at_rest(word, which, much)

    def _clock(self, word: str, much: float) -> None:
        if word == "drift":
            self.world.drift_to(round(much * 500))
        else:
            self.world.stepped_us += round(much * SECOND_US * (900 if word == "step" else 1.4))

    def _at_work(self, word: str, node: Node, sleeps_s: float) -> None:
        if word == "sleep":
            node.frozen = True
            self.world.pass_s(sleeps_s)
            node.machine.slept_us += round(sleeps_s * SECOND_US)
        if word == "kill":
            self.nodes = {number: one for number, one in self.nodes.items() if one is not node}
            node.kill()
        node.frozen = word == "freeze"

    def _at_rest(self, word: str, which: int, much: float) -> None:
        machine = self.machines[which]
        if word == "reboot":
            machine.reboot()
        elif word == "new":
            machine = self.machines[which] = Machine(self.world, f"{machine.name}+", ppm=round(much * 400))
        if word in ("start", "new"):
            self.nodes[which] = Node(machine)


@given(stories())
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_whatever_happens_no_two_readings_prove_more_than_passed(story: list[tuple[str, int, float]]) -> None:
    """Least times are never longer, greatest ones never shorter than true time, less the drift of true clocks."""
    told = Told()
    read: list[tuple[Moment, int]] = []
    for word, which, much in story:
        told.goes_on(word, which, much)
        for node in told.nodes.values():
            if node.frozen:
                continue
            moment = node.now()
            for before, before_us in read:
                span, true_us = elapsed(before, moment), told.world.true_us - before_us
                if span.same_boot:
                    assert span.least_us <= true_us + 1_000
                    assert span.greatest_us >= true_us - 1_000
            read.append((moment, told.world.true_us))


def test_the_time_of_this_test_is_the_shared_one() -> None:
    """The invented world begins at the instant that it says."""
    assert BEGAN_US == 1_772_694_300 * SECOND_US
    assert isinstance(Node(Machine(World(), "one")).clock, SharedClock)
