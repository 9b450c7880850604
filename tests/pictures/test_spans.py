"""Intervals in rows without overlap; the referee counts at every instant how many go on."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from reprocess.pictures.rows.spans import in_rows, overlaps


@dataclass(frozen=True)
class Piece:
    from_us: int
    until_us: int


PIECES = st.lists(st.tuples(st.integers(0, 40), st.integers(1, 12)).map(lambda one: Piece(one[0], one[0] + one[1])))


@given(PIECES)
def test_no_row_overlaps_and_there_are_no_more_rows_than_ever_go_on_at_once(pieces: list[Piece]) -> None:
    rows = in_rows(pieces)
    assert sorted((one.from_us, one.until_us) for row in rows for one in row) == sorted(
        (one.from_us, one.until_us) for one in pieces
    )
    for row in rows:
        assert all(one.until_us <= two.from_us for one, two in pairwise(row))
    at_once = max((sum(one.from_us <= at < one.until_us for one in pieces) for at in range(60)), default=0)
    assert len(rows) == at_once


def test_intervals_that_touch_do_not_overlap() -> None:
    """Half open: `[0, 5)` and `[5, 9)` have no instant in common."""
    assert len(in_rows([Piece(0, 5), Piece(5, 9)])) == 1
    assert (overlaps(Piece(0, 5), 5, 9), overlaps(Piece(0, 5), 4, 9)) == (False, True)
