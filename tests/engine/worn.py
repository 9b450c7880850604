"""Issues and returns as they stand on record, written into a table's department without asking anybody."""

from __future__ import annotations

from collections.abc import Iterator

from reprocess.gathering import bench
from reprocess.ledger.append import transaction
from reprocess.record import words
from reprocess.record.entry import Draft
from reprocess.rules.answer import Answer, Verdict, as_text
from reprocess.station import envelope_of
from tests.engine.floor import Floor


def write(floor: Floor, *drafts: Draft) -> None:
    """Writes entries of one request as they are given."""
    key = floor.clock.new_id()
    with transaction(floor.department.ledger) as work:
        at = bench(work, floor.clock.now(), "BENCH", "B-BEN", None)
        prepared = work.prepare(drafts, envelope_of(at, key, "written"), _ids(floor))
        work.write(prepared, as_text(Answer(Verdict.ACCEPTED, drafts[0].stream, "written", key=key)))


def _ids(floor: Floor) -> Iterator[str]:
    while True:
        yield floor.clock.new_id()


def issue(floor: Floor, item: str, wearer: str | None, place: str = "WARD-5") -> None:
    """Gives an item to a wearer, as it is."""
    one = floor.item(item)
    body = words.ItemIssued(cycle=one.cycle, wearer=wearer, place=place, purpose="isolation", members=one.members)
    write(floor, Draft(f"item:{item}", body))


def take_back(floor: Floor, item: str, place: str = "SINK") -> None:
    """Takes an item back, with no more than that it is here again."""
    write(floor, Draft(f"item:{item}", words.ItemReturned(place=place)))
