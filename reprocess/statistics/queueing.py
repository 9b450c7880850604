"""Queues at the bench: how long items wait, how many are on the way, and how many units a demand needs.

All times in one question have the same unit, and answers about time have it too. Answers are exact.

Source: A. K. Erlang's second formula (M/M/c: arrivals at random, exponential service times, one queue, nobody gives
up); J. D. C. Little, "A Proof for the Queuing Formula L = lambda W", Operations Research 1961;9:383-387. From memory.
"""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from reprocess.quantities.exact import Exact, require
from reprocess.statistics.sample import number, positive

SERVERS_MAX = 1000
"""More people or machines than any department has. Our own choice."""


@dataclass(frozen=True, slots=True)
class Queue:
    """A queue that settles. `offered` counts the servers that would be busy throughout (erlang).

    `waiting_share` is the share of arrivals that wait at all, `wait` the mean wait over all arrivals, in the unit of
    the question, and `waiting` the mean number that wait.
    """

    servers: int
    offered: Fraction
    waiting_share: Fraction
    wait: Fraction
    waiting: Fraction


@dataclass(frozen=True, slots=True)
class Overload:
    """The answer where more arrives than can be served: the queue grows without end, so there is no mean wait."""

    servers: int
    offered: Fraction

    @property
    def reason(self) -> str:
        """Returns one sentence for the person who plans."""
        return (
            f"More arrives than {self.servers} can serve, so the queue never settles; "
            f"take at least {fewest_servers(self.offered)}."
        )


def offered_load(arrivals: Exact, period: Exact, service: Exact) -> Fraction:
    """Returns how many servers so many arrivals in a period keep busy, with a mean service time, in erlang.

    Raises:
        ValueError: there are fewer than no arrivals, or a time is not above zero.
    """
    require("There are at least no arrivals.", holds=number(arrivals) >= 0)
    return number(arrivals) * positive(service, "A service time") / positive(period, "A period")


def fewest_servers(offered: Exact) -> int:
    """Returns the least number of servers with which the queue settles; as many as the load are too few.

    Raises:
        ValueError: the load is below zero.
    """
    require("A load is not less than nothing.", holds=number(offered) >= 0)
    return floor(number(offered)) + 1


def erlang_c(servers: int, *, arrivals: Exact, period: Exact, service: Exact) -> Queue | Overload:
    """Returns how a queue in front of so many equal servers settles, or that it does not.

    Raises:
        ValueError: there is no server or more than `SERVERS_MAX`, fewer than no arrivals, or a time not above zero.
    """
    require(f"A queue has 1 to {SERVERS_MAX} servers.", holds=1 <= servers <= SERVERS_MAX)
    offered = offered_load(arrivals, period, service)
    spare = servers - offered
    if spare <= 0:
        return Overload(servers, offered)
    blocked = _erlang_b(servers, offered)
    waiting_share = servers * blocked / (servers - offered * (1 - blocked))
    return Queue(
        servers=servers,
        offered=offered,
        waiting_share=waiting_share,
        wait=waiting_share * number(service) / spare,
        waiting=waiting_share * offered / spare,
    )


def mean_number(rate: Exact, time: Exact) -> Fraction:
    """Returns how many are inside on average (L), from what arrives in a unit of time and the mean time inside.

    Little's law holds for what is stable over the period, whatever the order and the distributions.

    Raises:
        ValueError: the rate or the time is not above zero.
    """
    return positive(rate, "A rate") * positive(time, "A mean time")


def mean_time(inside: Exact, rate: Exact) -> Fraction:
    """Returns the mean time inside (W), from how many are inside and what arrives in a unit of time (Little's law).

    Raises:
        ValueError: the number or the rate is not above zero.
    """
    return positive(inside, "A mean number") / positive(rate, "A rate")


def disagreement(inside: Exact, rate: Exact, time: Exact) -> Fraction:
    """Returns how far a counted mean number inside lies from rate times time, as a share of the latter (Little's law).

    Far from 0 the records are incomplete, or the period was not stable.

    Raises:
        ValueError: one of the three is not above zero.
    """
    return positive(inside, "A mean number") / mean_number(rate, time) - 1


@dataclass(frozen=True, slots=True)
class Units:
    """The units that a demand keeps on the way with the spare ones, exactly, and the least whole number of them."""

    on_the_way: Fraction
    needed: int


def units_needed(uses: Exact, *, use: Exact, turnaround: Exact, spare_share: Exact) -> Units:
    """Returns the units that cover a demand when each is used, then away for cleaning, then ready (Little's law).

    `uses` counts the uses that begin in a unit of time, `use` and `turnaround` are mean times, and `spare_share` is
    added on top, as a share. These are means: with as many units as the mean a demand that varies is often unmet.

    Raises:
        ValueError: the uses or the times together are not above zero, or the spare share or a time is below zero.
    """
    away = number(use) + number(turnaround)
    require("A time is not less than none.", holds=number(use) >= 0 and number(turnaround) >= 0)
    require("A spare share is not less than none.", holds=number(spare_share) >= 0)
    on_the_way = mean_number(uses, away) * (1 + number(spare_share))
    return Units(on_the_way, ceil(on_the_way))


def _erlang_b(servers: int, offered: Fraction) -> Fraction:
    """Returns the share of arrivals that find all servers busy if nobody waits (Erlang's first formula).

    The recursion 1 / B(n) = 1 + n / offered / B(n - 1), without a fraction to be shortened at each step.
    """
    up, down = offered.numerator, offered.denominator
    power, inverse = 1, 1
    for busy in range(1, servers + 1):
        power *= up
        inverse = power + busy * down * inverse
    return Fraction(power, inverse)
