"""What regulations ask of electronic records, held against one day in the smallest department.

A list that a source prints is compared with the words of it that were found to hold on that day.
"""

import json
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.commandline.say import local_in
from reprocess.commandline.showing import entry_json, entry_line
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Enrol
from reprocess.errors import LedgerError
from reprocess.ledger.backup import backup
from reprocess.ledger.open import key_path
from reprocess.record.entry import Entry
from reprocess.record.words import BadgeGiven
from reprocess.rules.answer import Answer
from reprocess.terms import SECOND_US, as_text
from tests.faults.crashing import copied
from tests.ledger import small
from tests.ledger.day import DAY, play
from tests.ledger.forging import forging
from tests.published.memory import FromMemory
from tests.published.report import Agrees
from tests.published.source import Published

PART_11 = "http://www.law.cornell.edu/cfr/text/21/11.10"
ITEM = "item:S-1"
UNTOUCHED = "S-4"
CHANGED_WORDS = {"entry-undone", "entry-corrected"}


def rule(id: str, statement: str, paragraph: str, address: str = PART_11) -> Published:
    condition = "electronic records; a department validates for itself"
    return Published(id, statement, "list", condition, f"21 CFR {paragraph}", address, "seen", "published")


def holding(found: Mapping[str, bool]) -> tuple[str, ...]:
    """Returns the words that were found to hold, in their order."""
    return tuple(word for word, holds in found.items() if holds)


def altered(path: Path, folder: Path, column: str, value: str) -> bool:
    """Returns whether a copy of the record is still sound after somebody changed one word of a release in it."""
    spoilt = copied(path, folder)
    with small.opened(spoilt, StoryClock(small.START_US)) as department:
        released = next(entry.id for entry in department.history(ITEM) if entry.kind == "item-released")
    with forging(spoilt) as forger:
        forger.run(f"UPDATE entry SET {column} = ? WHERE id = ?", value, released)  # noqa: S608 - our name
        assert forger.raw.execute("SELECT changes()").fetchone()[0] > 0
    with small.opened(spoilt, StoryClock(small.START_US)) as department:
        return department.verify().sound


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Returns where the department whose day is over lies; only ever copied or read."""
    return tmp_path_factory.mktemp("records") / "department.db"


@pytest.fixture(scope="module")
def clock() -> StoryClock:
    return StoryClock(small.START_US)


@pytest.fixture(scope="module")
def answers(path: Path, clock: StoryClock) -> dict[str, Answer]:
    """Returns what the stations said on that day, by key."""
    with small.found(path, clock) as department:
        return play(department, clock)


@pytest.fixture
def department(path: Path, clock: StoryClock, answers: dict[str, Answer], tmp_path: Path) -> Iterator[Department]:
    """Yields a copy of the department after its day."""
    assert answers
    with small.opened(copied(path, tmp_path / "copy"), clock) as opened:
        yield opened


@pytest.fixture
def everything(department: Department) -> list[Entry]:
    """Returns every entry of the day, the oldest first."""
    with department.ledger.reading() as cursor:
        streams = [row[0] for row in cursor.execute("SELECT DISTINCT stream FROM entry")]
    return sorted((entry for stream in streams for entry in department.history(stream)), key=lambda entry: entry.feed)


def test_v12_01_altered_records_are_discerned(
    agrees: Agrees, department: Department, path: Path, tmp_path: Path
) -> None:
    row = rule("V12-01", "the system can discern invalid or altered records", "11.10(a)")
    found = {
        "untouched record sound": department.verify(full=True).sound,
        "altered actor found": not altered(path, tmp_path / "actor", "actor", "P-B"),
        "altered words found": not altered(path, tmp_path / "words", "body", "{}"),
        "altered time found": not altered(path, tmp_path / "time", "occurred_us", "1"),
    }
    agrees(row, theirs=tuple(found), ours=holding(found))


def test_v12_02_copies_for_people_and_for_machines(agrees: Agrees, department: Department) -> None:
    row = rule("V12-02", "complete copies in human readable and electronic form", "11.10(b)")
    entries = department.history(ITEM)
    lines = [entry_line(entry, local_in(department.zone())) for entry in entries]
    texts = [json.loads(json.dumps(entry_json(entry))) for entry in entries]
    found = {
        "human readable": all(entry.kind in line for entry, line in zip(entries, lines, strict=True)),
        "electronic": [text["feed"] for text in texts] == [entry.feed for entry in entries],
    }
    agrees(row, theirs=("human readable", "electronic"), ours=holding(found))


def test_v12_03_records_are_retrieved_accurately_from_a_copy(
    agrees: Agrees, department: Department, clock: StoryClock, tmp_path: Path
) -> None:
    row = rule("V12-03", "entries retrieved from a copy are those that were recorded", "11.10(c)")
    before = department.history(ITEM)
    done = backup(department.ledger, tmp_path / "kept.db")
    key_path(done.path).write_bytes(key_path(tmp_path / "copy" / "department.db").read_bytes())
    with small.opened(done.path, clock) as restored:
        assert restored.verify(full=True).sound
        after = restored.history(ITEM)
        agrees(row, theirs=len(before), ours=sum(entry in before for entry in after))
        assert after == before


def test_v12_04_nobody_acts_without_a_known_badge(agrees: Agrees, department: Department) -> None:
    row = rule("V12-04", "access is limited to authorized individuals", "11.10(d)")
    tried = {badge: department.station("LMG-1", badge=badge) for badge in (None, "B-X", "B-B2", "B-A")}
    verdicts = tuple(str(bench.ask(asking.DoStep(UNTOUCHED, "clean")).verdict) for bench in tried.values())
    agrees(row, theirs=("refused", "refused", "refused", "accepted"), ours=verdicts)


def test_v12_05_audit_trail(agrees: Agrees, department: Department, everything: list[Entry], path: Path) -> None:
    row = rule("V12-05", "secure, computer-generated, time-stamped audit trail", "11.10(e)")
    by_number = {(entry.stream, entry.number): entry for entry in everything}
    changes = [entry for entry in everything if entry.kind in CHANGED_WORDS]
    said = [json.loads(entry.body.model_dump_json()) for entry in changes]
    found = {
        "secure": department.verify(full=True).sound,
        "computer-generated": len({entry.id for entry in everything}) == len(everything),
        "time-stamped": [entry.at_us for entry in everything] == sorted(entry.at_us for entry in everything),
        "independent of the operator": any(entry.kind == "advance-refused" for entry in everything),
        "create, modify, delete": {entry.kind for entry in changes} == CHANGED_WORDS,
        "old values not obscured": all(
            (entry.stream, words["number"]) in by_number for entry, words in zip(changes, said, strict=True)
        ),
        "kept as long as the record": _cannot_go(department),
        "available for copying": all(entry_json(entry)["recorded_us"] == entry.at_us for entry in everything),
    }
    agrees(row, theirs=tuple(found), ours=holding(found))
    assert path.exists()


def _cannot_go(department: Department) -> bool:
    """Returns whether the database refuses to delete what was changed and what it was changed by."""
    try:
        with department.ledger.writing() as cursor:
            cursor.execute("DELETE FROM entry WHERE kind LIKE 'entry-%'")
    except LedgerError:
        return True
    return False


def test_v12_06_steps_are_taken_in_their_order_only(agrees: Agrees, answers: dict[str, Answer]) -> None:
    row = rule("V12-06", "permitted sequencing of steps and events is enforced", "11.10(f)")
    agrees(
        row,
        theirs=("refused", "refused", "accepted"),
        ours=tuple(str(answers[key].verdict) for key in ("too-soon", "early", "release")),
    )


def test_v12_08_source_training_accountability_and_documents(
    agrees: Agrees, department: Department, everything: list[Entry]
) -> None:
    row = rule("V12-08", "device checks, training, accountability, documentation control", "11.10(h)-(k)")
    acts = [entry for entry in everything if entry.kind in {"step-done", "item-released", "dwell-ended"}]
    untrained = department.station("LMG-1", badge="B-B").ask(asking.DoStep(UNTOUCHED, "clean"))
    files = [entry for entry in everything if entry.kind in {"workflow-published", "workflow-approved"}]
    shells = [entry for entry in files if json.loads(entry.body.model_dump_json())["name"] == "shell"]
    found = {
        "source of the input": all(entry.envelope.station == "LMG-1" for entry in acts),
        "training": [one.rule for one in untrained.reasons] == ["A02"],
        "accountability": all(entry.envelope.actor in {"P-A", "P-B"} for entry in acts),
        "documents in their order": [entry.kind for entry in shells] == ["workflow-published", "workflow-approved"] * 2,
    }
    agrees(row, theirs=tuple(found), ours=holding(found))


def test_v12_09_a_release_shows_who_when_and_what_it_means(agrees: Agrees, department: Department) -> None:
    row = rule(
        "V12-09",
        "printed name, date and time, meaning",
        "11.50(a)",
        "https://elsmar.com/elsmarqualityforum/threads/fda-21-cfr-part-11-meaning-of-signature.76361/",
    )
    entry = next(entry for entry in department.history(ITEM) if entry.kind == "item-released")
    asked = next(asked for asked in DAY if asked.key == "release")
    due_us = small.START_US + sum(each.after_s for each in DAY[: DAY.index(asked) + 1]) * SECOND_US
    assert entry.envelope.actor is not None
    agrees(
        row,
        theirs=("Anna Brook", as_text(due_us), "item-released"),
        ours=(department.person(entry.envelope.actor).name, as_text(entry.at_us), entry.kind),
    )


def test_v12_11_who_acted_cannot_be_moved_to_another_record(
    agrees: Agrees, answers: dict[str, Answer], path: Path, tmp_path: Path
) -> None:
    row = rule(
        "V12-11",
        "what signs a record cannot be excised, copied or transferred unnoticed",
        "11.70",
        "http://www.gpo.gov/fdsys/pkg/CFR-1999-title21-vol1/xml/CFR-1999-title21-vol1-sec11-70.xml",
    )
    assert answers
    found = {
        "excised": altered(path, tmp_path / "excised", "second", ""),
        "copied": altered(path, tmp_path / "copied", "actor", "P-B"),
        "transferred": altered(path, tmp_path / "transferred", "stream", "item:S-9"),
    }
    agrees(row, theirs=(), ours=holding(found))


def test_v12_12_is_known_from_memory_only(from_memory: FromMemory, department: Department) -> None:
    row = Published(
        id="V12-12",
        statement="a signature is one person's, never given to another",
        unit="answer to a badge given to a second person",
        condition="the rest of the section concerns the organisation",
        source="21 CFR 11.100",
        address="from memory",
        evidence="memory",
        basis="published",
    )
    asking_for = department.station("LMG-1", badge="B-A")
    given = asking_for.enrol(Enrol("person:P-B", BadgeGiven(badge="B-A")))
    from_memory(row, remembered="refused", ours=str(given.verdict))


def test_v12_15_nine_properties_of_good_records(
    agrees: Agrees, department: Department, everything: list[Entry], answers: dict[str, Answer]
) -> None:
    row = Published(
        id="V12-15",
        statement="attributable, legible, contemporaneous, original, accurate, and four more",
        unit="list",
        condition="each word as far as software can keep it",
        source="data-integrity guidance of MHRA, WHO and FDA, as summed up by a trade journal",
        address="https://blog.qualitytribe.net/tag/data-integrity/page/2",
        evidence="seen",
        basis="published",
    )
    inspected = next(entry for entry in department.history(ITEM) if entry.kind == "step-done" and "1.5" in str(entry))
    refused = sum(str(answer.verdict) == "refused" for answer in answers.values())
    acts = [entry for entry in everything if entry.at_us > small.START_US and entry.envelope.station is not None]
    lines = [entry_line(entry, local_in("Europe/London")) for entry in department.history(ITEM)]
    found = {
        "attributable": all(entry.envelope.actor for entry in acts),
        "legible": all(line.isprintable() for line in lines),
        "contemporaneous": all(entry.occurred_us == entry.at_us for entry in acts if entry.kind == "step-done"),
        "original": department.verify(full=True).sound,
        "accurate": json.loads(inspected.body.model_dump_json())["readings"] == {"gap_mm": "1.5"},
        "complete": refused == sum(entry.kind == "advance-refused" for entry in everything) > 0,
        "consistent": [entry.feed for entry in everything] == list(range(1, len(everything) + 1)),
        "enduring": _cannot_go(department),
        "available": bool(department.history(ITEM)),
    }
    agrees(row, theirs=tuple(found), ours=holding(found))
