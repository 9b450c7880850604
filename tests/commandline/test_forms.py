"""Forms and queues as they are typed in: every fault with its line, conflicts first, all of a file or nothing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from freezegun import freeze_time

from reprocess.commandline import main
from reprocess.record.queue import QueueLine, written
from tests.engine.floor import OPENING_US, Floor

HEAD = "form,item,did,began,ended,by,with,in,temp,answers,defects,readings,instrument,note\n"
DAY = ("--day", "2026-03-05", "--as", "B-ANNA", "--with", "B-CORA")


@pytest.fixture
def bench(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> Floor:
    """Returns the department of the engine's tests, as the shell finds it."""
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    return floor


def typed(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    """Returns the exit code of a command line, at two in the afternoon of the department's day."""
    monkeypatch.setattr("sys.argv", ["reprocess", *words])
    with freeze_time("2026-03-05T14:00:00Z"):
        return main.run()


def a_file(tmp_path: Path, *lines: str) -> str:
    path = tmp_path / "forms.csv"
    path.write_text(HEAD + "".join(f"{line}\n" for line in lines), encoding="utf-8")
    return str(path)


FORMS = [
    f"FEN-{number:04d},BLW-1,dropped,,0{7 + number // 60}:{number % 60:02d},B-BEN,,,,,,,," for number in range(1, 29)
]
"""Twenty-eight forms of one line each."""
STEPS = "FEN-0100,BLW-2,rinse,,10:00,B-BEN,,,,good,,,,"
AGAINST = ("FEN-0101,BLW-3,clean,,10:00,B-BEN,,,,good,,,,", "FEN-0102,HED-3,used,,10:05,B-BEN,,,,,,,,")


def test_thirty_one_forms_of_which_two_contradict_the_record(
    bench: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """E17, D07: the conflicts come first, in the rehearsal and in the entry; a rehearsal records nothing."""
    path = a_file(tmp_path, *FORMS, "FEN-0100,TUB-1,opened,,10:00,B-BEN,,,,,,,,", *AGAINST)
    before = len(bench.entries("item:BLW-1"))
    assert typed(monkeypatch, "form", "enter", path, *DAY, "--dry-run") == 1
    told = capsys.readouterr().out.splitlines()
    assert told[0] == "Against the record: kept, on hold (2)"
    assert told[-1] == "A rehearsal: nothing was recorded."
    assert len(bench.entries("item:BLW-1")) == before
    assert typed(monkeypatch, "form", "enter", path, *DAY, "--json") == 1
    lines = json.loads(capsys.readouterr().out)["lines"]
    assert [one["form"] for one in lines[:2]] == ["FEN-0101", "FEN-0102"]
    assert [one["verdict"] for one in lines] == ["held"] * 2 + ["accepted"] * 29
    assert {bench.item(item).held for item in ("BLW-3", "HED-3")} == {True}
    assert len(bench.entries("item:BLW-1")) == before + 28


def test_the_same_forms_again_are_told_and_not_doubled(
    bench: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """D05: nothing of the file is taken then, not even the form that is new."""
    path = a_file(tmp_path, FORMS[0])
    assert typed(monkeypatch, "form", "enter", path, *DAY) == 0
    before = len(bench.entries("item:BLW-1"))
    assert typed(monkeypatch, "form", "enter", a_file(tmp_path, FORMS[0], FORMS[1]), *DAY) == 1
    told = capsys.readouterr().out
    assert "entered already" in told
    assert told.rstrip().endswith("Nothing of the file was recorded.")
    assert len(bench.entries("item:BLW-1")) == before
    assert typed(monkeypatch, "form", "show", "FEN-0001") == 0
    assert "1 lines entered" in capsys.readouterr().out
    assert typed(monkeypatch, "form", "show", "FEN-0002", "--json") == 1
    assert json.loads(capsys.readouterr().out)["entered_at"] is None


def test_the_same_key_gives_the_same_answers(
    bench: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """I9"""
    path = a_file(tmp_path, FORMS[0])
    for _ in range(2):
        assert typed(monkeypatch, "form", "enter", path, *DAY, "--key", "k-77") == 0
    assert len([one for one in bench.kinds("BLW-1") if one == "item-contaminated"]) == 1
    assert "already recorded" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("line", "because"),
    [
        ("FEN-1,BLW-1,dance,,10:00,B-BEN,,,,,,,,", "2: dance is no step of BLW-1"),
        ("FEN-1,,clean,,10:00,B-BEN,,,,,,,,", "2: item is empty"),
        ("FEN-1,BLW-1,clean,,25:00,B-BEN,,,,,,,,", "2: A time is 14:05"),
        ("FEN-1,BLW-1,clean,,10:00,B-BEN,,,,perhaps,,,,", "2: An answer is good"),
        ("FEN-1,BLW-1,clean,,10:00,B-BEN,,,,,,flow,,", "2: A reading is name=value"),
        ("FEN-1,BLW-1,take-apart,,10:00,B-BEN,,,,,,plugs=many,,", "2: The count plugs"),
        ("FEN-1,QAW-1,tested,,10:00,B-BEN,,,,failed,,,,", "2: A strip test names its strips"),
        ("FEN-1,I:BLW-1.0,clean,,10:00,B-BEN,,,,,,,,", "2: The check character is wrong"),
        ("FEN-1,BLW-1,clean", "2: 3 cells"),
        ('FEN-1,BLW-1,"clean', "1: it is no CSV"),
    ],
)
def test_one_fault_refuses_the_whole_file_and_names_its_line(
    bench: Floor,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    line: str,
    because: str,
) -> None:
    before = len(bench.entries("item:BLW-1"))
    assert typed(monkeypatch, "form", "enter", a_file(tmp_path, line, *FORMS[:1]), *DAY) == 2
    assert because in capsys.readouterr().err
    assert len(bench.entries("item:BLW-1")) == before


def test_a_time_without_its_day_and_a_time_that_was_there_twice_are_asked_again(
    bench: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """E12: the clocks in London went back at 02:00 on 25 October 2026, so that 01:30 was there twice."""
    path = a_file(tmp_path, FORMS[0])
    assert typed(monkeypatch, "form", "enter", path, "--as", "B-ANNA", "--with", "B-CORA") == 2
    assert "needs its day" in capsys.readouterr().err
    twice = a_file(tmp_path, "FEN-1,BLW-1,dropped,,01:30,B-BEN,,,,,,,,")
    assert typed(monkeypatch, "form", "enter", twice, "--day", "2026-10-25", *DAY[2:]) == 2
    assert "clocks were changed" in capsys.readouterr().err


def test_steps_soaks_failures_and_tests_are_all_read(
    bench: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """D06: each line becomes what the same words at the bench would be; a release is nobody's on paper (D09)."""
    path = a_file(
        tmp_path,
        "FEN-0200,BLW-1,take-apart,,10:00,B-BEN,,,,good,,plugs=3,,by daylight",
        "FEN-0200,BLW-2,disinfect,10:00,10:01,B-BEN,,HPW-1,,good,,,,",
        "FEN-0200,TUB-5,clean-check,,10:02,B-BEN,,,,,SOIL,,,",
        "FEN-0200,BLW-3,release,,10:03,B-BEN,,,,good,,,,",
        "FEN-0200,BLW-3,issue,,10:04,B-BEN,,,,,,,,",
        "FEN-0200,QAW-1,tested,,10:05,B-BEN,,,,failed,,strips=S-1 until=2026-12-31 after=80,,",
        "FEN-0200,NEW-1,dropped,,10:06,B-BEN,B-DAN,,,,,,,",
    )
    assert typed(monkeypatch, "form", "enter", path, *DAY, "--json") == 1
    lines = {one["line"]: one for one in json.loads(capsys.readouterr().out)["lines"]}
    assert {number: one["verdict"] for number, one in lines.items()} == {
        1: "accepted", 2: "accepted", 3: "accepted", 4: "refused", 5: "refused", 6: "held", 7: "refused",
    }  # fmt: skip
    assert [one["rule"] for one in lines[4]["reasons"]] == ["D09"]
    assert bench.item("BLW-2").satisfied["disinfect"].sort == "attested"


def a_queue(tmp_path: Path, *words: tuple[int, str, str], closed: bool = True, key: bytes = b"") -> str:
    lines = [
        QueueLine(number, OPENING_US + at_s * 1_000_000, at_s * 1_000_000, "boot-9", "B-BEN", None, {
            "item": item, "did": did, "answers": "good", **({"in": "HPW-1"} if did == "disinfect start" else {}),
        })
        for number, (at_s, item, did) in enumerate(words, start=1)
    ]  # fmt: skip
    path = tmp_path / "queue.jsonl"
    path.write_text(written("Q-BENCH-1", "BENCH", lines, key, closed=closed), encoding="utf-8")
    return str(path)


def test_a_queue_is_merged_by_its_own_clocks_and_releases_nothing(
    bench: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """D09: 60 s of contact between two scans of one boot; a contact that was broken is no contact; no release."""
    with_ = ("--as", "B-ANNA", "--with", "B-CORA")
    assert typed(monkeypatch, "form", "key", "BENCH") == 0
    assert typed(monkeypatch, "form", "key", "BENCH") == 2
    place = bench.department.ledger.path
    key = place.with_name(f"{place.name}.station-BENCH.key").read_bytes()
    scans = [
        (100, "BLW-2", "disinfect start"),
        (110, "BLW-2", "disinfect dried"),
        (120, "BLW-2", "disinfect start"),
        (150, "BLW-2", "disinfect rewet"),
        (180, "BLW-2", "disinfect done"),
        (190, "BLW-2", "rinse"),
        (200, "BLW-3", "release"),
    ]
    queue = a_queue(tmp_path, *scans, closed=False, key=key)
    assert typed(monkeypatch, "form", "merge", queue, *with_, "--json") == 1
    told = capsys.readouterr()
    assert "no end" in told.err
    lines = json.loads(told.out.splitlines()[-1])["lines"]
    assert [(one["asked"], one["verdict"]) for one in lines] == [
        ("enter-line", "refused"),
        ("end-dwell", "accepted"),
        ("do-step", "accepted"),
    ]
    assert bench.item("BLW-2").satisfied["disinfect"].paper == "Q-BENCH-1"
    assert typed(monkeypatch, "form", "merge", queue, *with_) == 1
    assert "entered already" in capsys.readouterr().out


def test_a_queue_that_cannot_be_believed_records_nothing(
    bench: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with_ = ("--as", "B-ANNA", "--with", "B-CORA")
    queue = a_queue(tmp_path, (100, "BLW-1", "dropped"))
    assert typed(monkeypatch, "form", "merge", queue, *with_) == 2
    assert "has no key here" in capsys.readouterr().err
    assert typed(monkeypatch, "form", "key", "BENCH", "--json") == 0
    assert typed(monkeypatch, "form", "merge", queue, *with_) == 2
    assert "seal is not the station's" in capsys.readouterr().err
    assert typed(monkeypatch, "form", "merge", a_file(tmp_path, FORMS[0]), *with_) == 2
    assert "is no queue" in capsys.readouterr().err
    assert typed(monkeypatch, "form", "enter", str(tmp_path / "nowhere.csv"), *DAY) == 2


def test_sheets_are_printed_and_never_overwritten(
    bench: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for words in (("commands",), ("defects",), ("tags", "BLW-1", "BLW-2"), ("form", "FEN-0101", "--count", "2")):
        out = tmp_path / f"{words[0]}.pdf"
        assert typed(monkeypatch, "sheet", *words, "--out", str(out), "--day", "2026-03-05") == 0
        assert out.read_bytes().startswith(b"%PDF-1.7")
        assert typed(monkeypatch, "sheet", *words, "--out", str(out)) == 2
    assert typed(monkeypatch, "sheet", "form", "--out", str(tmp_path / "x.pdf")) == 2
    assert typed(monkeypatch, "sheet", "tags", "BLW-1", "--out", str(tmp_path / "x.pdf"), "--day", "soon") == 2
    assert typed(monkeypatch, "sheet", "tags", "BLW-1", "--out", str(tmp_path / "no" / "x.pdf")) == 3
    assert typed(monkeypatch, "sheet", "tags", "BLW-1", "--out", str(tmp_path / "y.pdf"), "--json") == 0
    assert json.loads(capsys.readouterr().out.splitlines()[-1])["day"] == "2026-03-05"


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("BLW-1", "typed", "BLW-1"), 0),
        (("BLW-1", "tag", "N-9"), 0),
        (("BLW-1", "untag", "N-9"), 1),
        (("BLW-1", "doubt", "BLW-2", "--why", "one code on both"), 1),
        (("BLW-1", "rename", "BLW-901"), 1),
        (("BLW-1", "split", "BLW-2/3,4"), 1),
        (("BLW-2", "not-this-item", "3"), 0),
        (("BLW-1", "tag"), 2),
        (("BLW-1", "split", "BLW-2/x"), 2),
    ],
)
def test_what_an_item_is_can_be_typed(
    bench: Floor, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], code: int
) -> None:
    """E14, E20-E22"""
    assert typed(monkeypatch, "log", *words, "--as", "B-ANNA", "--with", "B-CORA") == code
