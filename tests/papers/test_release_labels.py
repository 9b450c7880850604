"""Labels of released items: only from a release that stands on record, and refused for everything else.

The rules are the project's own: no label before the entry is committed, none while anything is in the way. What stands
on a label is compared with the entry itself.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from reprocess.engine import request as asking
from reprocess.errors import InvariantError, UnknownSubjectError, WrongUseError
from reprocess.gathering import local
from reprocess.languages import LANGUAGES, texts_of
from reprocess.ledger.append import Transaction, looking
from reprocess.papers import NotReleased, Released, as_pdf, label_sheet, released
from reprocess.papers.sheets import Labels
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.scan.code import ItemTag, read_code
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.floor import Floor
from tests.papers.reading import DAY, pages_of, read_back


def found(floor: Floor, item: str, after_s: int = 0) -> Released | NotReleased:
    """Returns an item with its release, or why it gets no label, as of now or so much later."""
    department = floor.department
    with looking(department.ledger) as read:
        return released(read, department.library, item, department.clock.now().wall_us + after_s * SECOND_US)


def ready(floor: Floor, item: str) -> Released:
    """Returns an item that must have a release that stands."""
    one = found(floor, item)
    assert isinstance(one, Released), one
    return one


def reasons(floor: Floor, item: str, after_s: int = 0) -> set[tuple[str, str]]:
    """Returns the rules and keys for which an item gets no label; none where it gets one."""
    one = found(floor, item, after_s)
    return {(reason.rule, reason.key) for reason in one.reasons} if isinstance(one, NotReleased) else set()


def told(one: Released, language: str = "en") -> dict[str, str]:
    """Returns what stands on a label, line by line."""
    body = label_sheet([one], language).body
    assert isinstance(body, Labels)
    return {str(line.word): str(line.told) for line in body.labels[0].lines}


def test_a_label_says_what_the_entry_says(floor: Floor) -> None:
    one = ready(floor, "KIT-7")
    entry = floor.entries("item:KIT-7")[-1]
    assert isinstance(entry.body, words.ItemReleased)
    zone = floor.department.zone_of_site("LMG")
    lines = told(one)
    assert lines["Ready since"] == f"{local(zone, entry.at_us):%Y-%m-%d %H:%M}"
    assert entry.body.ready_until_us is not None
    assert lines["Use before"] == f"{local(zone, entry.body.ready_until_us):%Y-%m-%d %H:%M}"
    assert lines["Released by"] == entry.envelope.actor == "DAN"
    assert lines["Workflow"] == f"respirator {entry.body.digest[:16]}"
    sealed = floor.department.entries_after(entry.feed - 1, 1)[0]
    assert lines["Entry"] == f"item:KIT-7 {entry.number} ({entry.feed}) {sealed.digest[:16]}"
    assert set(lines["Parts"].split()) == set(floor.item("KIT-7").members.values())


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_code_of_a_label_reads_back_and_means_the_item(floor: Floor, language: str) -> None:
    sheet = label_sheet([ready(floor, "KIT-7"), ready(floor, "BLW-3")], language, ["demo", "example"])
    pages = pages_of(sheet)
    assert len(pages) == 2
    codes = [one.text for one in read_back(pages)]
    assert codes == sheet.codes()
    assert [read_code(one) for one in codes] == [ItemTag("KIT-7", checked=True), ItemTag("BLW-3", checked=True)]
    assert as_pdf(sheet, DAY) == as_pdf(sheet, DAY)
    assert f"/Lang({language})".encode() in as_pdf(sheet, date(2026, 3, 5))


def test_the_same_release_gives_the_same_label_and_a_new_one_another(floor: Floor) -> None:
    first = as_pdf(label_sheet([ready(floor, "BLW-3")]), DAY)
    floor.clock.push(3600)
    assert as_pdf(label_sheet([ready(floor, "BLW-3")]), DAY) == first
    floor.ask(asking.Contaminate("BLW-3", "dropped"))
    assert reasons(floor, "BLW-3") == {("U02", "not-ready-to-issue")}
    floor.bring("BLW-3", "ready")
    assert as_pdf(label_sheet([ready(floor, "BLW-3")]), DAY) != first


def test_what_was_never_released_gets_no_label(floor: Floor) -> None:
    for item in ("BLW-1", "BLW-2", "KIT-1"):
        assert reasons(floor, item) == {("U02", "not-ready-to-issue")}
    with pytest.raises(UnknownSubjectError):
        found(floor, "BLW-404")


def test_a_release_that_was_undone_gets_no_label(floor: Floor) -> None:
    floor.bring("BLW-2", "inspected")
    floor.bring("BLW-2", "ready")
    assert ready(floor, "BLW-2").sealed.entry.kind == "item-released"
    assert floor.ask(asking.Undo("BLW-2"), "dan").accepted
    assert reasons(floor, "BLW-2") == {("U02", "not-ready-to-issue")}


def test_a_release_that_was_corrected_away_gets_no_label(floor: Floor) -> None:
    number = ready(floor, "BLW-3").sealed.entry.number
    asked = asking.Correct("BLW-3", number, "another item was meant", mistaken=True)
    assert floor.ask(asked, "cora", second="dan").accepted
    assert reasons(floor, "BLW-3") == {("U02", "not-ready-to-issue")}


def test_what_is_held_gets_no_label_until_the_hold_is_lifted(floor: Floor) -> None:
    floor.ask(asking.PlaceHold("BLW-3", "administrative", "label", "cora"))
    assert ("G02", "held-here") in reasons(floor, "BLW-3")
    hold = next(iter(floor.item("BLW-3").holds))
    assert floor.ask(asking.LiftHold("BLW-3", hold, "seen and mended"), "cora").accepted
    assert reasons(floor, "BLW-3") == set()


def test_an_assembly_with_a_held_part_gets_no_label(floor: Floor) -> None:
    floor.ask(asking.PlaceHold("TUB-7", "administrative", "label", "cora"))
    assert ("G02", "part-on-hold") in reasons(floor, "KIT-7")


def test_what_is_past_its_last_day_gets_no_label(floor: Floor) -> None:
    assert ("T13", "shelf-over") in reasons(floor, "KIT-7", after_s=400 * DAY_S)


def test_what_is_out_gets_no_label(floor: Floor) -> None:
    assert floor.ask(asking.SendItem("KIT-7", "SAL", "BOX-1", clean=True), "gus").accepted
    assert ("C12", "on-its-way") in reasons(floor, "KIT-7")


@pytest.mark.parametrize("sort", ["undone", "void", "mistaken", "cut"])
def test_ready_without_a_release_on_record_is_no_label_but_a_fault(
    floor: Floor, monkeypatch: pytest.MonkeyPatch, sort: str
) -> None:
    """What is kept of where an item stands is never believed against its entries."""
    entries_of = Transaction.entries_of

    def forged(self: Transaction, stream: str) -> list[Entry]:
        kept = entries_of(self, stream)
        number = kept[-1].number
        bodies = {
            "undone": words.EntryUndone(number=number, undone_kind="item-released", numbers=(number,)),
            "void": words.EntryCorrected(number=number, reason="other", stage="inspected", void=True),
            "mistaken": words.EntryCorrected(number=number, reason="other", stage="inspected", mistaken=True),
        }
        more = [replace(kept[-1], number=number + 1, body=bodies[sort])] if sort in bodies else []
        return [*(kept if more else kept[:-1]), *more]

    monkeypatch.setattr(Transaction, "entries_of", forged)
    with pytest.raises(InvariantError):
        found(floor, "KIT-7")


def test_labels_are_few_and_each_once(floor: Floor) -> None:
    one = ready(floor, "KIT-7")
    for items in ([], [one, one]):
        with pytest.raises(WrongUseError):
            label_sheet(items)


def test_words_that_promise_too_much_stand_nowhere() -> None:
    """The words to avoid: nothing printed calls an item sterile, safe, certified or approved."""
    avoided = r"steril|safe|certif|approv|patient|estéril|segur|aprobad|معقم|آمن|معتمد"
    keys = re.findall(r'^msgid "(.+)"$', catalogue("en"), re.MULTILINE)
    assert len(keys) > 60
    for language in LANGUAGES:
        assert not re.search(avoided, catalogue(language), re.IGNORECASE)
        assert all(texts_of(language).has(key) for key in keys)


def catalogue(language: str) -> str:
    """Returns the texts on what is printed, as they stand in the file."""
    folder = Path(__file__).parents[2] / "reprocess" / "languages"
    return (folder / language / "papers.po").read_text(encoding="utf-8")
