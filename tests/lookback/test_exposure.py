"""From cycles in doubt to the uses that rest on them (H06, H07)."""

from __future__ import annotations

from collections.abc import Iterable

from hypothesis import given, settings
from hypothesis import strategies as st

from reprocess.lookback.exposure import Doubt, doubts_of, exposed, whole_cycles
from reprocess.record import words
from reprocess.record.entry import Entry, Envelope
from reprocess.record.moment import Moment
from reprocess.record.touching import Touched, TouchRow, closed, in_cycles, not_undone, opened
from reprocess.terms import subject_of
from tests.lookback.plain import Row, exposed_plainly


class Story:
    """Collects what happened to items: the entries as we keep them, and the plain list beside them."""

    def __init__(self) -> None:
        self.entries: dict[str, list[Entry]] = {}
        self.plain: list[Row] = []
        self.feed = 0

    def tell(self, item: str, at: int, body: words.Body, what: str, **more: object) -> None:
        """Adds one entry."""
        self.feed += 1
        of_item = self.entries.setdefault(item, [])
        moment = Moment(at, at, None, "boot", "node")
        envelope = Envelope(moment, 0, "ANNA", None, "BENCH", f"k{self.feed}", "r")
        of_item.append(Entry(self.feed, f"i{self.feed}", f"item:{item}", len(of_item) + 1, body, at, envelope, 0, "{}"))
        self.plain.append({"feed": self.feed, "at": at, "item": item, "what": what, **more})

    def rows(self) -> dict[str, list[TouchRow]]:
        """Returns the intervals of each item, as the ledger keeps them."""
        return {item: _rows(item, entries) for item, entries in self.entries.items()}

    def rows_of(self, item: str, feed: int, at_us: int) -> list[TouchRow]:
        """Returns what an item touched that had not ended before."""
        return [row for row in self.rows().get(item, []) if _after(row, feed, at_us)]

    def commissioned(self, item: str, at: int) -> None:
        """Makes an item known."""
        body = words.ItemCommissioned(
            item_kind="blower", model="LB-3", site="LMG", workflow="blower", digest="d1", in_service_us=0
        )
        self.tell(item, at, body, "commissioned")

    def used(self, item: str, at: int, cycle: int) -> None:
        """Begins a new cycle."""
        body = words.ItemContaminated(
            cause="used", contamination_class="routine", cycle=cycle, workflow="blower", digest="d1"
        )
        self.tell(item, at, body, "used", cycle=cycle)

    def released(self, item: str, at: int, cycle: int) -> None:
        """Calls it ready."""
        body = words.ItemReleased(step="release", stage="ready", digest="d1", cycle=cycle, evidence={})
        self.tell(item, at, body, "released")

    def issued(self, item: str, at: int, wearer: str | None, place: str = "WARD-5") -> None:
        """Gives it to somebody."""
        body = words.ItemIssued(cycle=1, wearer=wearer, place=place, purpose="isolation")
        self.tell(item, at, body, "issued", wearer=wearer)

    def returned(self, item: str, at: int) -> None:
        """Takes it back."""
        self.tell(item, at, words.ItemReturned(place="SINK"), "returned")

    def joined(self, item: str, at: int, whole: str) -> None:
        """Builds it into an assembly."""
        self.tell(item, at, words.MemberJoined(assembly=whole, slot="blower"), "joined", whole=whole)

    def left(self, item: str, at: int, whole: str) -> None:
        """Takes it out of an assembly."""
        self.tell(item, at, words.MemberLeft(assembly=whole, cause="used"), "left", whole=whole)

    def undone(self, item: str, at: int) -> None:
        """Takes back the latest entry of an item as a mis-scan."""
        last = self.entries[item][-1]
        body = words.EntryUndone(number=last.number, undone_kind=last.kind, numbers=(last.number,))
        self.tell(item, at, body, "undone", feeds=[last.feed])


def _rows(item: str, entries: list[Entry]) -> list[TouchRow]:
    rows: list[TouchRow] = []
    for entry, cycle in in_cycles(not_undone(entries)):
        for place, row in enumerate(rows):
            if row.open_now and row.sort in closed(entry.body):
                rows[place] = _ended(row, entry)
        for one in opened(entry):
            until = (None, None) if one.lasts else (entry.at_us, entry.feed)
            rows.append(
                TouchRow(item, entry.number, one.sort, one.name, cycle, one.step, entry.at_us, entry.feed, *until)
            )
    return rows


def _ended(row: TouchRow, entry: Entry) -> TouchRow:
    return TouchRow(
        row.item,
        row.number,
        row.sort,
        row.name,
        row.cycle,
        row.step,
        row.from_us,
        row.from_feed,
        entry.at_us,
        entry.feed,
    )


def _after(row: TouchRow, feed: int, at_us: int) -> bool:
    return row.until_feed is None or row.until_feed >= feed or (row.until_us is not None and row.until_us >= at_us)


def uses(story: Story, doubts: Iterable[Doubt]) -> set[tuple[str, str, str, int]]:
    """Returns who wore what, as we find it."""
    return {(use.item, use.whole, use.wearer, use.from_us) for use in exposed(doubts, story.rows_of)}


def a_life() -> Story:
    """A blower: three cycles, each worn by somebody; the doubt is of the second."""
    story = Story()
    story.commissioned("BLW-1", 0)
    for cycle, wearer in ((1, "W-1"), (2, "W-2"), (3, "W-3")):
        at = cycle * 100
        if cycle > 1:
            story.used("BLW-1", at, cycle)
        story.released("BLW-1", at + 20, cycle)
        story.issued("BLW-1", at + 30, wearer)
        story.returned("BLW-1", at + 100)
    return story


def test_the_release_of_the_next_valid_cycle_ends_the_window() -> None:
    """H07: only who wore it between the doubt and that release."""
    assert uses(a_life(), [Doubt("BLW-1", 2, 8, 210)]) == {("BLW-1", "BLW-1", "W-2", 230)}


def test_a_cycle_in_doubt_does_not_end_the_window_of_the_one_before() -> None:
    """H07: two bad cycles in a row are two exposures, each told with its own cycle."""
    story = a_life()
    doubts = [Doubt("BLW-1", 1, 1, 0), Doubt("BLW-1", 2, 8, 210)]
    found = exposed(doubts, story.rows_of)
    assert [(use.wearer, use.cycle) for use in found] == [("W-1", 1), ("W-2", 2)]


def test_a_cycle_that_is_doubted_only_late_is_no_valid_cycle_before_that_either() -> None:
    """H07: whoever wore it between its release and the doubt still rests on the bad cycle before."""
    story = a_life()
    late = [Doubt("BLW-1", 1, 1, 0), Doubt("BLW-1", 2, 9, 400)]
    story_of_two = [use for use in exposed(late, story.rows_of) if use.wearer == "W-2"]
    assert [(use.cycle, use.from_us) for use in story_of_two] == [(1, 230)]


def test_without_a_later_release_the_window_stays_open() -> None:
    """H07: whoever has it now is concerned."""
    story = a_life()
    story.used("BLW-1", 400, 4)
    story.issued("BLW-1", 410, None)
    found = exposed([Doubt("BLW-1", 3, 13, 310)], story.rows_of)
    assert [(use.wearer, use.until_us) for use in found] == [("W-3", 400), ("not-identified", None)]


def test_a_clock_that_was_set_back_hides_no_use() -> None:
    """H07: the order of the record or the clock, either is enough."""
    story = Story()
    story.commissioned("BLW-1", 1000)
    story.released("BLW-1", 1010, 1)
    story.issued("BLW-1", 200, "W-1")
    story.returned("BLW-1", 300)
    assert uses(story, [Doubt("BLW-1", 1, 2, 1005)]) == {("BLW-1", "BLW-1", "W-1", 200)}


def test_a_part_is_worn_with_what_it_is_built_into_and_only_while_it_is() -> None:
    """H07: co-use through assemblies."""
    story = Story()
    for name in ("BLW-1", "KIT-1", "KIT-2"):
        story.commissioned(name, 0)
    story.joined("BLW-1", 10, "KIT-1")
    story.issued("KIT-1", 20, "W-1")
    story.returned("KIT-1", 30)
    story.left("BLW-1", 30, "KIT-1")
    story.joined("BLW-1", 40, "KIT-2")
    story.issued("KIT-1", 50, "W-2")
    story.issued("KIT-2", 60, "W-3")
    found = uses(story, [Doubt("BLW-1", 1, 1, 0)])
    assert found == {("BLW-1", "KIT-1", "W-1", 20), ("BLW-1", "KIT-2", "W-3", 60)}


def test_an_issue_that_was_undone_is_no_use() -> None:
    story = Story()
    story.commissioned("BLW-1", 0)
    story.issued("BLW-1", 10, "W-1")
    story.undone("BLW-1", 12)
    assert uses(story, [Doubt("BLW-1", 1, 1, 0)]) == set()


def test_a_lot_puts_every_later_cycle_in_doubt_and_a_bath_only_its_own() -> None:
    """H03: no cleaning makes a bad lot good."""
    story = a_life()
    row = next(one for one in story.rows()["BLW-1"] if one.sort == Touched.MODEL)
    assert {(one.item, one.cycle) for one in doubts_of([row], story.rows_of)} == {("BLW-1", c) for c in (1, 2, 3)}
    bath = TouchRow("BLW-1", 9, Touched.SOLUTION, "HYP-1", 2, "disinfect", 210, 8, 215, 8)
    assert doubts_of([bath], story.rows_of) == [Doubt("BLW-1", 2, 8, 210)]
    place = TouchRow("BLW-1", 9, Touched.PLACE, "WARD-5", 2, None, 210, 8, 215, 8)
    assert doubts_of([place], story.rows_of) == []


def test_a_use_that_ended_with_the_very_scan_that_began_a_cycle_is_of_the_cycle_before() -> None:
    """H03: a recall of a workflow's version reaches whole cycles."""
    story = a_life()
    second = [row for row in story.rows()["BLW-1"] if row.sort == Touched.WORKFLOW and row.cycle == 2]
    assert uses(story, whole_cycles(second)) == {("BLW-1", "BLW-1", "W-2", 230)}


def test_a_recurring_result_counts_until_the_step_is_done_again() -> None:
    """H08: a pass of the first cycle carries the second; the third was measured anew."""
    story = a_life()
    measured = TouchRow("BLW-1", 2, Touched.INSTRUMENT, "FI-9", 1, "capacity", 5, 1, 5, 1)
    again = TouchRow("BLW-1", 99, Touched.INSTRUMENT, "FI-2", 3, "capacity", 305, 13, 305, 13)

    def rows_of(item: str, feed: int, at_us: int) -> list[TouchRow]:
        return [*story.rows_of(item, feed, at_us), again]

    found = doubts_of([measured], rows_of, {("BLW-1", "capacity")})
    assert [one.cycle for one in found] == [1, 2]
    assert [one.cycle for one in doubts_of([measured], rows_of)] == [1]


ACTS = st.tuples(
    st.sampled_from(["use", "release", "issue", "return", "join", "leave", "undo", "doubt"]),
    st.sampled_from(["BLW-1", "BLW-2", "KIT-1"]),
    st.integers(min_value=-30, max_value=60),
    st.sampled_from(["W-1", "W-2", None]),
)


@settings(max_examples=400, deadline=None)
@given(st.lists(ACTS, max_size=40))
def test_ours_finds_exactly_the_uses_that_a_plain_walk_through_the_record_finds(
    acts: list[tuple[str, str, int, str | None]],
) -> None:
    """H07: whatever happens in which order and however the clock jumps."""
    story, at, cycles = Story(), 1000, dict.fromkeys(("BLW-1", "BLW-2", "KIT-1"), 1)
    doubts: list[Doubt] = []
    for name in cycles:
        story.commissioned(name, at)
    for act, item, later, wearer in acts:
        at = max(1, at + later)
        _act(story, cycles, (act, item, at, wearer), doubts)
    asked = [(one.item, one.cycle, one.feed, one.at_us) for one in _first(doubts)]
    assert uses(story, doubts) == exposed_plainly(story.plain, asked)


def _first(doubts: list[Doubt]) -> list[Doubt]:
    """Returns the first doubt of each cycle; a later one adds nothing."""
    found: dict[tuple[str, int], Doubt] = {}
    for one in doubts:
        found.setdefault((one.item, one.cycle), one)
    return list(found.values())


def _act(story: Story, cycles: dict[str, int], act: tuple[str, str, int, str | None], doubts: list[Doubt]) -> None:
    what, item, at, wearer = act
    rows = story.rows()[item]
    out = any(row.open_now and row.sort == Touched.WEARER for row in rows)
    inside = next((row.name for row in rows if row.open_now and row.sort == Touched.ASSEMBLY), None)
    match what:
        case "use":
            cycles[item] += 1
            story.used(item, at, cycles[item])
        case "release":
            story.released(item, at, cycles[item])
        case "issue" if not out:
            story.issued(item, at, wearer)
        case "return" if out:
            story.returned(item, at)
        case "join" if inside is None and item != "KIT-1":
            story.joined(item, at, "KIT-1")
        case "leave" if inside is not None:
            story.left(item, at, inside)
        case "undo" if story.plain[-1]["what"] in ("issued", "released"):
            story.undone(subject_of(story.entries[str(story.plain[-1]["item"])][-1].stream), at)
        case "doubt":
            doubts.append(Doubt(item, cycles[item], story.feed, at))
        case _:
            pass
