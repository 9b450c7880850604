"""The faults that wait to be mended are still there; the one that is not is to be taken off the list."""

from __future__ import annotations

import pytest

from tests.properties.template import Template
from tests.properties.waiting import WAITING


@pytest.mark.parametrize(
    "number", [pytest.param(number, marks=pytest.mark.xfail(reason=one.reason)) for number, one in enumerate(WAITING)]
)
def test_a_fault_on_the_list_is_mended(number: int, larkmoor: Template) -> None:
    play = larkmoor.play(WAITING[number].script)
    assert not play.tally.counted["ended by a fault that waits"]
