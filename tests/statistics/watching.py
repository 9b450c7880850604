"""Observations as tests write and draw them: exact times, ended or not."""

from hypothesis import strategies as st

from reprocess.statistics.survival import Observation

times = st.integers(min_value=0, max_value=60) | st.fractions(min_value=0, max_value=10**6, max_denominator=1000)
observations = st.lists(st.builds(Observation, times, ended=st.booleans()), max_size=40)
lives = st.lists(
    st.builds(Observation, st.fractions(min_value="0.001", max_value=10**6, max_denominator=1000), ended=st.booleans()),
    max_size=40,
)


def ended(*lasted: int) -> list[Observation]:
    return [Observation(one, ended=True) for one in lasted]


def unfinished(*lasted: int) -> list[Observation]:
    return [Observation(one, ended=False) for one in lasted]
