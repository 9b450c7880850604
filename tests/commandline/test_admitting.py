"""First PINs, unlocking and tokens as they are typed; a secret is never an argument (D10)."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from freezegun import freeze_time

from reprocess.commandline import main
from reprocess.engine.enrolling import Enrol
from reprocess.errors import NotAllowedError, NotSignedInError
from reprocess.record import words
from reprocess.signing_in.programs import Programs
from reprocess.signing_in.sessions import Door
from tests.engine.floor import Floor

Typed = Callable[..., int]
NOW = "2026-03-05T10:00:00Z"


@pytest.fixture
def typed(floor: Floor, monkeypatch: pytest.MonkeyPatch) -> Typed:
    """Returns what runs a command line as Hana, programme administrator, at ten in the morning."""
    monkeypatch.setenv("REPROCESS_DEPARTMENT", str(floor.department.ledger.path))
    monkeypatch.setenv("REPROCESS_STATION", "BENCH")
    monkeypatch.setenv("REPROCESS_BADGE", "B-HANA")
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)

    def run(*words: str, at: str = NOW) -> int:
        monkeypatch.setattr("sys.argv", ["reprocess", *words])
        with freeze_time(at):
            return main.run()

    return run


def secret_file(path: Path, text: str) -> str:
    path.write_text(text, encoding="ascii")
    path.chmod(0o600)
    return str(path)


def test_a_first_pin_comes_from_a_file_that_only_its_owner_reads(
    typed: Typed, floor: Floor, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = secret_file(tmp_path / "pin", "60418275\n")
    assert typed("person", "ANNA", "pin", "--pin-file", good) == 0
    assert "60418275" not in capsys.readouterr().out
    door = Door(floor.department.ledger, floor.department.clock)
    with pytest.raises(NotAllowedError):
        door.sign_in("B-ANNA", "60418275", "BENCH")
    door.sign_in("B-ANNA", "60418275", "BENCH", new_pin="77310264")
    (tmp_path / "pin").chmod(0o644)
    assert typed("person", "ANNA", "pin", "--pin-file", good) == 2
    weak = secret_file(tmp_path / "weak", "12345678")
    assert typed("person", "ANNA", "pin", "--pin-file", weak) == 2
    assert typed("person", "ANNA", "pin") == 2, "there is no terminal to type it at"
    assert typed("person", "ANNA", "pin", "60418275") == 2


def test_a_supervisor_unlocks(typed: Typed, floor: Floor) -> None:
    assert typed("person", "ANNA", "unlock") == 1
    with pytest.raises(NotSignedInError):
        Door(floor.department.ledger, floor.department.clock).sign_in("B-ANNA", "60418275", "BENCH")
    assert typed("person", "ANNA", "unlock", "--why", "seen in person") == 0


def test_a_token_is_shown_once_listed_and_withdrawn(
    typed: Typed, floor: Floor, capsys: pytest.CaptureFixture[str]
) -> None:
    office = floor.department.station("BENCH", badge="B-HANA")
    body = words.PersonRegistered(name="Dara Holt", sites=(), roles=("system-administrator",))
    assert office.enrol(Enrol("person:P-S", body)).accepted
    assert office.enrol(Enrol("person:P-S", words.BadgeGiven(badge="B-S"))).accepted
    assert typed("token") == 0
    assert "No token was issued." in capsys.readouterr().out
    issue = ("token", "issue", "WASHER-1", "--scope", "loads:result", "--until", "2026-12-31", "--label", "the washer")
    assert typed(*issue, "--as", "B-S") == 2, "it must be said where it counts"
    assert typed(*issue, "--every-site", "--as", "B-CORA") == 1, "a supervisor issues none"
    assert typed(*issue, "--every-site", "--as", "B-S") == 1, "alone the system's administrator gives no process rights"
    assert typed(*issue, "--every-site", "--as", "B-S", "--with", "B-CORA") == 0
    out = capsys.readouterr().out
    secret = out.split("keep it now: ")[1].strip()
    with freeze_time(NOW):
        assert Programs(floor.department.ledger, floor.department.clock).whose(secret).label == "the washer"
    assert typed("token", "list", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["token"], told["counts"], told["scopes"]) == ("WASHER-1", True, ["loads:result"])
    assert typed("token", "withdraw", "WASHER-1", "--why", "sold") == 0
    assert typed("token", "list") == 0
    shown = capsys.readouterr().out
    assert "counts no more" in shown
    assert secret not in shown
