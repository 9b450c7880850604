"""`wearer` and `case` as they are typed: pseudonyms everywhere, names for three roles, each time on record."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from freezegun import freeze_time

from reprocess.commandline import main
from reprocess.record.words import CaseOpened, ExposedUse
from tests.engine.floor import OPENING_US, Floor
from tests.engine.wearing_people import PRIVATE, with_health, write

NAMED = ("--name", "Ilse Varga", "--badge", "W-7041", "--contact", "ilse.varga@larkmoor.example")


class Typed:
    """Types commands in the department of the engine's tests, at eight in the morning of its day."""

    def __init__(self, floor: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self.floor, self.monkeypatch, self.capsys = floor, monkeypatch, capsys

    def __call__(self, *words: str) -> tuple[int, str]:
        """Returns the exit code and what was printed, on either side."""
        self.monkeypatch.setattr("sys.argv", ["reprocess", *words])
        self.capsys.readouterr()
        with freeze_time("2026-03-05T08:00:00Z"):
            code = main.run()
        told = self.capsys.readouterr()
        assert "Traceback" not in told.out + told.err
        return code, told.out if "--json" in words and code < 2 else told.out + told.err

    def json(self, *words: str) -> object:
        code, out = self(*words, "--json")
        assert code in (0, 1), out
        return json.loads(out)

    def register(self, *words: str) -> str:
        told = self.json("wearer", "register", "--unit", "ED", *NAMED, "--as", "B-HANA", *words)
        assert isinstance(told, dict)
        return str(told["subject"]).removeprefix("wearer:")


@pytest.fixture
def typed(floor: Floor, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Typed:
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    return Typed(with_health(floor), monkeypatch, capsys)


def test_a_wearer_is_registered_found_by_badge_and_shown_without_a_name(typed: Typed) -> None:
    """D13."""
    wearer = typed.register()
    assert typed.json("wearer", "find", "W-7041") == {"wearer": wearer}
    assert typed("wearer", "train", wearer, "--until", "2027-03-05", "--as", "B-HANA")[0] == 0
    assert typed("wearer", "clear", wearer, "--as", "B-OLA")[0] == 0
    assert typed("wearer", "fit", wearer, "--model", "LM-M", "--until", "2027-03-05", "--as", "B-OLA")[0] == 0
    code, shown = typed("wearer", "show", wearer)
    assert code == 0
    assert "cleared: without an end" in shown
    assert "fits: LM-M until Sat 06 Mar 2027 00:00:00" in shown
    assert [one for one in PRIVATE if one in shown + str(typed.json("wearer", "show", wearer))] == []


def test_the_name_may_be_typed_at_the_terminal_so_that_no_history_keeps_it(typed: Typed) -> None:
    typed.monkeypatch.setattr("sys.stdin", io.StringIO("Ilse Varga\n"))
    assert typed("wearer", "register", "--unit", "ED", "--badge", "W-7041", "--as", "B-HANA")[0] == 0
    assert typed("wearer", "find", "W-7041")[0] == 0


def test_a_name_is_told_to_a_role_that_may_know_it_for_a_reason(typed: Typed) -> None:
    """I21, D13."""
    wearer = typed.register()
    code, told = typed("wearer", "name", wearer, "--why", "recall", "--as", "B-ANNA")
    assert (code, "Ilse" in told) == (1, False)
    assert typed("wearer", "name", wearer, "--as", "B-FAY")[0] == 2
    assert typed("wearer", "name", wearer, "--why", "gossip", "--as", "B-FAY")[0] == 2
    code, told = typed("wearer", "name", wearer, "--why", "recall", "--as", "B-FAY", "--key", "k-1")
    assert code == 0
    assert "Confidential. Access is recorded." in told
    assert f"{wearer}  Ilse Varga  W-7041  ilse.varga@larkmoor.example" in told.splitlines()
    code, told = typed("wearer", "name", wearer, "--why", "recall", "--as", "B-FAY", "--key", "k-1")
    assert (code, "Ilse" in told) == (2, False)
    code, told = typed("history", f"wearer:{wearer}")
    assert told.count("wearer-name-read") == 1


def test_a_name_is_erased_and_the_record_stays_sound(typed: Typed) -> None:
    """E40."""
    wearer = typed.register()
    assert typed("wearer", "erase", wearer, "--as", "B-ANNA")[0] == 1
    assert typed("wearer", "erase", wearer, "--as", "B-HANA")[0] == 0
    assert "no name is kept" in typed("wearer", "name", wearer, "--why", "audit", "--as", "B-FAY")[1]
    assert typed("wearer", "find", "W-7041")[0] == 2
    assert typed("verify", "--full")[0] == 0


def test_retention_says_what_is_kept_and_purge_goes_by_policy(typed: Typed) -> None:
    """D12."""
    wearer = typed.register()
    code, told = typed("wearer", "retention")
    assert code == 0
    assert "names: 1 kept, 0 past" in told
    assert "entries are never deleted" in told
    assert typed("wearer", "purge", wearer, "--as", "B-HANA")[0] == 1
    assert typed("wearer", "purge", "--as", "B-HANA")[0] == 0
    rows = typed.json("wearer", "retention")
    assert isinstance(rows, list)
    assert {one["record"] for one in rows} >= {"cycles", "exposure cases", "fit tests", "names"}


def test_a_repeated_key_registers_one_wearer(typed: Typed) -> None:
    """I9."""
    assert typed.register("--key", "reg-1") == typed.register("--key", "reg-1")


@pytest.mark.parametrize(
    "words",
    [
        ("wearer", "show"),
        ("wearer", "show", "A-1", "B-1"),
        ("wearer", "show", "A-1"),
        ("wearer", "register", "--name", "X", "--as", "B-HANA"),
        ("wearer", "train", "A-1", "--as", "B-HANA"),
        ("wearer", "fit", "A-1", "--as", "B-HANA"),
        ("wearer", "clear", "A-1", "--until", "soon"),
        ("wearer", "find", "W-1"),
        ("case", "C-1", "grade", "one", "gross", "--why", "x"),
        ("case", "C-1", "decide", "perhaps", "--why", "x"),
        ("case", "C-1", "act"),
        ("case", "C-1", "keep", "nowhere.jpg"),
    ],
)
def test_what_cannot_be_meant_is_wrong_use(typed: Typed, words: tuple[str, ...]) -> None:
    assert typed(*words)[0] == 2


@pytest.fixture
def wearers(typed: Typed) -> str:
    """Returns the wearer of a case with two uses."""
    wearer = typed.register()
    uses = [
        ExposedUse("KIT-7", 1, "KIT-7", wearer, OPENING_US, "ED", OPENING_US + 60_000_000),
        ExposedUse("KIT-7", 1, "KIT-7", wearer, OPENING_US + 90_000_000, "ICU"),
    ]
    opened = CaseOpened(rule="L07", cause="HYP-1 failed its test", items=("KIT-7",), uses=tuple(uses))
    write(typed.floor, "case:HYP-1-7", opened)
    return wearer


def test_a_case_is_worked_through_from_the_command_line(typed: Typed, wearers: str, tmp_path: Path) -> None:
    """H07: look, grade, decide, list, tell, act, report, keep a file, close."""
    code, told = typed("case")
    assert "HYP-1-7  undecided: HYP-1 failed its test; uses 2, wearers 1" in told
    assert wearers not in told
    fay = ("--as", "B-FAY")
    code, told = typed("case", "HYP-1-7", *fay)
    assert code == 0
    assert "Confidential. Access is recorded." in told
    assert "risk management decides by 2026-03-19 (10 work days, 21 CFR 803.30)" in told
    assert "still out  not graded" in told
    words: tuple[str, ...]
    for words in (
        ("grade", "1", "gross", "--why", "bath failed"),
        ("grade", "2", "lower", "--why", "bath failed"),
        ("decide", "yes", "--why", "both"),
    ):
        assert typed("case", "HYP-1-7", *words, *fay)[0] == 0
    code, told = typed("case", "HYP-1-7", "list", *fay)
    assert code == 0
    assert "copy 1." in told
    assert f"{wearers}  Ilse Varga  W-7041  ilse.varga@larkmoor.example  gross" in told
    listed = typed.json("case", "HYP-1-7", "list", *fay)
    assert isinstance(listed, dict)
    assert (listed["copy"], listed["wearers"][0]["name"]) == (2, "Ilse Varga")
    photo = tmp_path / "bath.jpg"
    photo.write_bytes(b"photo")
    afterwards: tuple[tuple[str, ...], ...] = (
        ("told", wearers, "telephone"),
        ("act", "--why", "two people read strips"),
        ("report", "no", "--why", "nobody was harmed"),
        ("keep", str(photo), "--media-type", "image/jpeg"),
        ("close", "--why", "no failed test since"),
    )
    for words in afterwards:
        assert typed("case", "HYP-1-7", *words, *fay)[0] == 0
    assert "HYP-1-7  closed" in typed("case")[1]
    rows = typed.json("case")
    assert isinstance(rows, list)
    assert rows[0]["state"] == "closed"
    assert typed("verify", "--full")[0] == 0


@pytest.mark.parametrize("verb", ["show", "list"])
def test_a_case_is_hidden_from_everybody_else(typed: Typed, wearers: str, verb: str) -> None:
    """H07."""
    for who in ("B-ANNA", "B-CORA", "B-HANA"):
        code, told = typed("case", "HYP-1-7", verb, "--as", who)
        assert code == 1
        assert [one for one in (*PRIVATE, wearers) if one in told] == []


def test_the_reminder_of_a_case_names_nobody(typed: Typed, wearers: str) -> None:
    """D13: reminders and their JSON."""
    typed.floor.clock.push(1)
    assert typed("case", "HYP-1-7", "--as", "B-FAY")[0] == 0
    code, told = typed("due", "--json")
    assert "case-undecided" in told or "decide who is told" in told
    assert [one for one in (*PRIVATE, wearers) if one in told] == []
    assert code in (0, 1)
