"""A queue either settles, with exact answers, or is said not to."""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from math import factorial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.statistics.queueing import (
    SERVERS_MAX,
    Overload,
    Queue,
    disagreement,
    erlang_c,
    fewest_servers,
    mean_number,
    mean_time,
    offered_load,
    units_needed,
)

servers = st.integers(1, 40)
loads = st.fractions(0, 45, max_denominator=1000)
above_zero = st.fractions("0.001", 10**6)


def waiting_share(count: int, load: Fraction) -> Fraction:
    """Returns Erlang's second formula as it is written, with factorials."""
    last = load**count / factorial(count) * count / (count - load)
    return last / (sum((load**busy / factorial(busy) for busy in range(count)), start=Fraction(0)) + last)


@given(servers, loads)
def test_a_queue_settles_only_below_its_servers(count: int, load: Fraction) -> None:
    answer = erlang_c(count, arrivals=load, period=1, service=1)
    assert answer.offered == load
    assert answer.servers == count
    assert isinstance(answer, Overload) is (load >= count)
    if isinstance(answer, Queue):
        assert answer.waiting_share == waiting_share(count, load)
        assert 0 <= answer.waiting_share <= 1


@given(servers, loads, above_zero)
def test_littles_law_holds_between_the_wait_and_the_queue(count: int, load: Fraction, service: Fraction) -> None:
    answer = erlang_c(count, arrivals=load, period=service, service=service)
    if isinstance(answer, Queue):
        assert answer.waiting == answer.wait * load / service
        assert answer.wait >= 0


@given(servers, loads)
def test_one_more_server_never_makes_it_worse(count: int, load: Fraction) -> None:
    one = erlang_c(count, arrivals=load, period=1, service=1)
    more = erlang_c(count + 1, arrivals=load, period=1, service=1)
    if isinstance(one, Queue):
        assert isinstance(more, Queue)
        assert more.waiting_share <= one.waiting_share
        assert more.wait <= one.wait


# One server: everybody who finds it busy waits, and the mean wait is service * load / (1 - load) (M/M/1).
@given(st.fractions("0.01", "0.99"))
def test_one_server_is_the_textbook_case(load: Fraction) -> None:
    answer = erlang_c(1, arrivals=load, period=1, service=1)
    assert isinstance(answer, Queue)
    assert answer.waiting_share == load
    assert answer.wait == load / (1 - load)


@given(st.fractions(0, 500))
def test_the_fewest_servers_are_the_fewest(load: Fraction) -> None:
    fewest = fewest_servers(load)
    assert isinstance(erlang_c(fewest, arrivals=load, period=1, service=1), Queue)
    assert fewest == 1 or isinstance(erlang_c(fewest - 1, arrivals=load, period=1, service=1), Overload)


def test_as_much_as_the_servers_can_do_is_too_much_and_a_hair_less_is_not() -> None:
    full = erlang_c(4, arrivals=4, period=1, service=1)
    assert isinstance(full, Overload)
    assert full.reason == "More arrives than 4 can serve, so the queue never settles; take at least 5."
    hair = Fraction(1, 10**40)
    assert isinstance(erlang_c(4, arrivals=4 - hair, period=1, service=1), Queue)


def test_nobody_comes_and_nobody_waits() -> None:
    assert erlang_c(2, arrivals=0, period=60, service=5) == Queue(
        servers=2, offered=Fraction(0), waiting_share=Fraction(0), wait=Fraction(0), waiting=Fraction(0)
    )


def test_as_many_servers_as_are_believable() -> None:
    answer = erlang_c(SERVERS_MAX, arrivals=990, period=1, service=1)
    assert isinstance(answer, Queue)
    assert 0 < answer.waiting_share < 1


@given(above_zero, above_zero)
def test_the_two_forms_of_littles_law_undo_each_other(rate: Fraction, time: Fraction) -> None:
    assert mean_time(mean_number(rate, time), rate) == time
    assert disagreement(mean_number(rate, time), rate, time) == 0
    assert disagreement(mean_number(rate, time) * Fraction("1.25"), rate, time) == Fraction(1, 4)


@given(above_zero, above_zero, above_zero, st.fractions(0, 2))
def test_units_cover_the_mean_and_not_one_more(
    uses: Fraction, use: Fraction, turnaround: Fraction, spare: Fraction
) -> None:
    units = units_needed(uses, use=use, turnaround=turnaround, spare_share=spare)
    assert units.on_the_way == uses * (use + turnaround) * (1 + spare)
    assert units.needed - 1 < units.on_the_way <= units.needed


def test_a_whole_number_of_units_is_not_raised() -> None:
    # In floats 3 * 1.1 * 10 is more than 33.
    assert units_needed(10, use=1, turnaround=2, spare_share=Decimal("0.1")).needed == 33


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: erlang_c(0, arrivals=1, period=1, service=1), "1 to 1000 servers"),
        (lambda: erlang_c(SERVERS_MAX + 1, arrivals=1, period=1, service=1), "1 to 1000 servers"),
        (lambda: erlang_c(1, arrivals=-1, period=1, service=1), "at least no arrivals"),
        (lambda: offered_load(1, period=0, service=1), "period must be more than zero"),
        (lambda: offered_load(1, period=1, service=0), "service time must be more than zero"),
        (lambda: offered_load(1, period=1, service=Decimal("NaN")), "finite"),
        (lambda: fewest_servers(-1), "not less than nothing"),
        (lambda: mean_number(0, 1), "rate must be more than zero"),
        (lambda: mean_time(1, 0), "rate must be more than zero"),
        (lambda: disagreement(0, 1, 1), "mean number must be more than zero"),
        (lambda: units_needed(0, use=1, turnaround=1, spare_share=0), "rate must be more than zero"),
        (lambda: units_needed(1, use=0, turnaround=0, spare_share=0), "mean time must be more than zero"),
        (lambda: units_needed(1, use=-1, turnaround=3, spare_share=0), "time is not less than none"),
        (lambda: units_needed(1, use=3, turnaround=-1, spare_share=0), "time is not less than none"),
        (lambda: units_needed(1, use=1, turnaround=1, spare_share=-1), "spare share is not less"),
    ],
)
def test_what_cannot_be_is_stopped(ask: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        ask()
