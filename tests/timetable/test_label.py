"""E20: an item whose code was typed is reminded of until its new tag is on."""

from dataclasses import replace

from reprocess.record.standing import Standing
from reprocess.terms import SECOND_US
from reprocess.timetable.label import of_label
from tests.timetable.moments import at

NOON_US = at("2026-03-05T12:00+00:00")


def test_a_label_is_called_for_a_quarter_of_an_hour_later() -> None:
    item = Standing(item="BLW-1", site="LMG", number=3, relabel_us=NOON_US)
    due = of_label(item)
    assert [(one.rule, one.due_us, one.words["say"]) for one in due] == [("E20", NOON_US + 900 * SECOND_US, "relabel")]
    assert of_label(replace(item, relabel_us=None)) == []
    assert of_label(replace(item, relabel_us=NOON_US + 1))[0].key != due[0].key
