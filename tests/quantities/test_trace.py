"""What a logger wrote is a trace, or a sample is named and the reason given."""

from itertools import count
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reprocess.quantities.trace import SAMPLES_MAX, BadTrace, Trace, TraceFault, read_trace


@pytest.mark.parametrize(
    ("samples", "fault", "number"),
    [
        ([], TraceFault.TOO_FEW, 0),
        ([(0.0, 80.0)], TraceFault.TOO_FEW, 1),
        ([(0.0, 80.0), (0.0, 80.0)], TraceFault.NOT_INCREASING, 2),
        ([(0.0, 80.0), (5.0, 80.0), (4.0, 80.0)], TraceFault.NOT_INCREASING, 3),
        ([(0.0, nan), (5.0, 80.0)], TraceFault.NOT_FINITE, 1),
        ([(0.0, 80.0), (nan, 80.0)], TraceFault.NOT_FINITE, 2),
        ([(0.0, 80.0), (5.0, inf)], TraceFault.NOT_FINITE, 2),
        ([(0.0, 80.0), (5.0, 200.1)], TraceFault.IMPLAUSIBLE, 2),
        ([(0.0, -40.1), (5.0, 80.0)], TraceFault.IMPLAUSIBLE, 1),
        ([(-1e300, 80.0), (1e300, 80.0)], TraceFault.IMPLAUSIBLE, 1),
    ],
)
def test_a_bad_trace_names_the_sample_and_the_reason(
    samples: list[tuple[float, float]], fault: TraceFault, number: int
) -> None:
    answer = read_trace(samples, gap_s_max=inf)
    assert answer == BadTrace(fault, number)
    assert str(number) in answer.sentence
    assert "{" not in answer.sentence


def test_a_file_without_end_is_read_only_up_to_the_greatest_number_of_samples() -> None:
    endless = ((float(second), 80.0) for second in count())
    assert read_trace(endless, gap_s_max=inf) == BadTrace(TraceFault.TOO_MANY, SAMPLES_MAX + 1)


def test_irregular_spacing_is_kept_as_it_is() -> None:
    trace = read_trace([(-3.0, 20.0), (0.5, 30.0), (100.0, 40.0)], gap_s_max=10.0)
    assert isinstance(trace, Trace)
    assert [part.seconds for part in trace.intervals()] == [3.5, 99.5]
    assert [part.observed for part in trace.intervals()] == [True, False]


@given(st.lists(st.tuples(st.floats(), st.floats()), max_size=8), st.floats())
def test_any_samples_have_an_answer(samples: list[tuple[float, float]], gap_s_max: float) -> None:
    assert isinstance(read_trace(samples, gap_s_max=gap_s_max), Trace | BadTrace)
