"""`reprocess sheet` as it is typed: languages, sizes, names from the record, and labels that are refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from freezegun import freeze_time

from reprocess.commandline import main
from tests.engine.floor import Floor

Typed = Callable[..., int]


@pytest.fixture
def typed(floor: Floor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Typed:
    """Returns what runs `reprocess sheet` into a file of that name, at two in the afternoon."""
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))

    def run(out: str, *words: str) -> int:
        monkeypatch.setattr("sys.argv", ["reprocess", "sheet", *words, "--out", str(tmp_path / out)])
        with freeze_time("2026-03-05T14:00:00Z"):
            return main.run()

    return run


LINES = (
    ("commands", "--language", "es"),
    ("defects", "--language", "ar"),
    ("form", "FEN-0101", "--count", "2", "--language", "ar"),
    ("tags", "BLW-1", "--size", "25x15"),
    ("slips", "BLW-1", "TUB-1"),
    ("stations", "BENCH"),
    ("label", "KIT-7", "BLW-3"),
)


@pytest.mark.parametrize("words", LINES, ids=lambda words: str(words[0]))
def test_each_sort_is_printed(
    typed: Typed, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    assert typed("a.pdf", *words, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["day"] == "2026-03-05"
    assert told["codes"]
    assert (tmp_path / "a.pdf").read_bytes().startswith(b"%PDF-1.7")
    assert typed("b.pdf", *words) == 0
    assert (tmp_path / "b.pdf").read_bytes() == (tmp_path / "a.pdf").read_bytes()


def test_names_come_from_the_record_where_it_is_named(
    typed: Typed, floor: Floor, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = str(floor.department.ledger.path)
    assert typed("bare.pdf", "tags", "BLW-1") == 0
    assert typed("named.pdf", "tags", "BLW-1", "-d", place) == 0
    assert (tmp_path / "bare.pdf").read_bytes() != (tmp_path / "named.pdf").read_bytes()
    capsys.readouterr()
    assert typed("all.pdf", "stations", "-d", place, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert len(told["codes"]) == len(floor.department.stations())


def test_no_label_is_printed_for_what_is_not_ready(
    typed: Typed, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert typed("no.pdf", "label", "KIT-7", "BLW-1") == 1
    told = capsys.readouterr().err
    assert "NO LABEL  BLW-1" in told
    assert "BLW-1 is used, not ready." in told
    assert not (tmp_path / "no.pdf").exists()


WRONG = (
    ("label",),
    ("label", "BLW-404"),
    ("label", "<b>"),
    ("tags", "BLW-1", "--size", "a5"),
    ("tags", "BLW-1", "--language", "xx"),
    ("stations",),
    ("form", "FEN-0101", "--count", "0"),
    ("form", "FEN-0101", "FEN-0102"),
)


@pytest.mark.parametrize("words", WRONG, ids="-".join)
def test_what_cannot_be_printed_is_said_in_one_sentence(
    typed: Typed, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    assert typed("no.pdf", *words) == 2
    assert capsys.readouterr().err.strip()
    assert not (tmp_path / "no.pdf").exists()
