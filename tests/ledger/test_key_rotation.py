"""The record goes on under a new key: from one entry on, for every process, and an old key alone is worth nothing."""

from __future__ import annotations

import hashlib
import hmac
import json
import stat
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department, Server
from reprocess.engine.enrolling import Enrol
from reprocess.engine.request import NoteItem, RotateKey
from reprocess.errors import InvariantError, LedgerError, LedgerFullError, TamperedError
from reprocess.gathering import Library
from reprocess.ledger.append import looking, transaction
from reprocess.ledger.backup import backup, keep_key_apart, restore
from reprocess.ledger.keys import Keys, keys_in
from reprocess.ledger.move import Moving, source_at
from reprocess.ledger.open import open_ledger
from reprocess.ledger.rebuild import rebuild
from reprocess.ledger.sealing import seal, unseal
from reprocess.ledger.statements import ENTRY_COLUMNS
from reprocess.ledger.verify import Report, verify
from reprocess.record.chain import digest_of, mac_of
from reprocess.record.entry import Draft, Envelope
from reprocess.record.keys import KEYS_MAX
from reprocess.record.words import BadgeGiven, KeyRotated, PersonLeft, PersonRegistered
from reprocess.rules.answer import Answer
from reprocess.scheduling import refresh_all
from reprocess.signing_in.pins import Pins
from tests.faults.crashing import CrashError, Fuse, connecting, copied
from tests.ledger import raw, small
from tests.ledger.conftest import BOTH, EVENING_US, Command
from tests.ledger.day import Asked
from tests.ledger.forging import Forger, forging
from tests.ledger.raw import place_of
from tests.ledger.test_two_processes import CLONE, PATIENCE_S, told_of

KEY, DIGEST, MAC, BODY = (ENTRY_COLUMNS.index(name) for name in ("mac_key", "digest", "mac", "body"))
PREV = ENTRY_COLUMNS.index("prev")
REFRESH = partial(refresh_all, library=Library())
POINTS_MAX = 200


def rotate(
    department: Department, key: str = "rotate", badge: str | None = "B-A", second: str | None = "B-B"
) -> Answer:
    return department.station("LMG-1", badge=badge, second=second).ask(RotateKey(), key=key)


def note(department: Department, key: str) -> None:
    assert Asked(key, NoteItem("S-1", minutes=1)).put(department).accepted


def key_file(place: Path | Server) -> Path:
    return place.key_file if isinstance(place, Server) else place.with_name(f"{place.name}.key")


def entries(place: Path | Server) -> list[tuple[Any, ...]]:
    return raw.asked(place, "SELECT feed, mac_key, digest, mac, kind, body FROM entry ORDER BY feed")


def judged(place: Path | Server) -> Report:
    with closing(open_ledger(place)) as ledger:
        return verify(ledger, full=True, refresh=REFRESH)


@pytest.fixture
def rotated(department: Department, place: Path | Server) -> Path | Server:
    """Returns the department that goes on with key 2, after two more entries; closed."""
    assert rotate(department).accepted
    note(department, "one more")
    note(department, "another")
    department.close()
    return place


@BOTH
def test_every_entry_is_sealed_with_the_key_that_was_in_use(department: Department, place: Path | Server) -> None:
    """HMAC-SHA-256 by the standard library (RFC 2104), over the stored digests, with the bytes of the key file."""
    file = key_file(place)
    before = file.read_bytes()
    last = len(entries(place))
    answer = rotate(department)
    assert (answer.accepted, answer.subject) == (True, "key:record")
    note(department, "after")
    content = file.read_bytes()
    assert (len(content), content[:32]) == (64, before)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert list(file.parent.glob("*.aside")) == []
    found = entries(place)
    for feed, number, digest, mac, *_ in found:
        assert number == (1 if feed <= last else 2)
        assert mac == hmac.new(content[32 * (number - 1) : 32 * number], digest, hashlib.sha256).digest()
    begun = found[last]
    past = hashlib.sha256(b"".join(row[2] for row in found[:last])).hexdigest()
    named = hashlib.sha256(content[32:]).hexdigest()[:16]
    assert begun[4] == "key-rotated"
    assert json.loads(begun[5]) == {"number": 2, "key_id": named, "before": past}
    report = department.verify(full=True)
    assert report.sound, report.findings
    assert (report.entries, report.unused) == (last + 2, 0)


@BOTH
def test_the_same_request_again_begins_no_other_key(department: Department, place: Path | Server) -> None:
    assert not rotate(department).repeated
    assert rotate(department).repeated
    assert len(key_file(place).read_bytes()) == 64


def test_pins_and_sealed_secrets_outlive_every_rotation(department: Department) -> None:
    ledger = department.ledger
    sealed = seal(ledger.key, "subscription:S", b"a secret")
    kept = Pins(ledger.key).kept("604812")
    for number in range(3):
        assert rotate(department, f"rotate-{number}").accepted
    with closing(open_ledger(ledger.path)) as again:
        assert again.keys.newest == 4
        assert unseal(again.key, "subscription:S", sealed) == b"a secret"
        assert Pins(again.key).matches(kept, "604812")


def test_the_key_stands_nowhere_but_in_its_file(rotated: Path, command: Command) -> None:
    secret = key_file(rotated).read_bytes()[32:]
    shown = "".join("".join(str(part) for part in command("keys", *more, "-d", rotated)) for more in ([], ["--json"]))
    held = b"".join(one.read_bytes() for one in rotated.parent.iterdir() if one.is_file() and one.suffix != ".key")
    assert secret not in held
    assert secret.hex().encode() not in held
    assert secret.hex() not in shown
    assert "secrets" not in repr(Keys((secret,)))


REFUSED: dict[str, tuple[str | None, str | None, str]] = {
    "alone": ("B-A", None, "two-people-needed"),
    "the same person twice": ("B-A", "B-A", "same-person"),
    "an unknown second badge": ("B-A", "B-X", "badge-unknown"),
    "nobody": (None, "B-B", "badge-missing"),
}


@pytest.mark.parametrize(("badge", "second", "told"), REFUSED.values(), ids=REFUSED.keys())
def test_a_rotation_is_refused_to(
    department: Department, path: Path, badge: str | None, second: str | None, told: str
) -> None:
    before = key_file(path).read_bytes()
    answer = rotate(department, badge=badge, second=second)
    assert not answer.accepted
    assert told in [one.key for one in answer.reasons]
    assert key_file(path).read_bytes() == before
    note(department, "goes on")
    assert {row[1] for row in entries(path)} == {1}
    assert department.verify(full=True).sound


def test_where_somebody_administers_the_system_one_of_the_two_does(department: Department, path: Path) -> None:
    def told(key: str, person: str, body: Any) -> None:
        assert Asked(key, Enrol(f"person:{person}", body), second="B-B").put(department).accepted, key

    told("sam", "P-S", PersonRegistered(name="Sam Hale", roles=("system-administrator",), sites=()))
    refused = rotate(department, "without")
    assert [one.key for one in refused.reasons] == ["role-needed"]
    told("sam's badge", "P-S", BadgeGiven(badge="B-S"))
    assert rotate(department, "with", "B-S", "B-B").accepted
    told("sam left", "P-S", PersonLeft(reason="moved away"))
    assert rotate(department, "after", "B-A", "B-B").accepted


def test_after_the_sixteenth_key_the_newest_goes_on(department: Department, path: Path) -> None:
    for number in range(KEYS_MAX - 1):
        assert rotate(department, f"rotate-{number}").accepted
    assert [one.key for one in rotate(department, "one too many").reasons] == ["no-key-left"]
    note(department, "goes on")
    assert len(key_file(path).read_bytes()) == 32 * KEYS_MAX
    assert entries(path)[-1][1] == KEYS_MAX
    assert department.verify(full=True).sound


@pytest.mark.parametrize(("length", "held"), [(0, 0), (31, 0), (32, 1), (33, 0), (64, 2), (512, 16), (544, 0)])
def test_a_key_file_holds_one_to_sixteen_whole_keys(length: int, held: int) -> None:
    content = (bytes(range(256)) * 3)[:length]
    keys = keys_in(content)
    assert (keys.newest if keys is not None else 0) == held
    assert keys is None or keys.as_bytes() == content


# Whoever holds the old key alone


class Old(Forger):
    """Is somebody with the database and key 1, and nothing else."""

    key = b""

    def resealed(self, feed: int, number: int, **changed: Any) -> None:
        """Writes an entry anew: its columns as given, its digest right, its seal made with key 1."""
        row = list(self.row(feed))
        for name, value in changed.items():
            row[ENTRY_COLUMNS.index(name)] = value
        digest = digest_of(tuple(row[:DIGEST]))
        row[DIGEST], row[MAC], row[KEY] = digest, mac_of(digest, self.key), number
        self.run("DELETE FROM entry WHERE feed = ?", feed)
        self.insert(tuple(row))
        self.run("UPDATE standing SET head = ? WHERE stream = ? AND number = ?", digest, row[2], row[3])


def old(forger: Forger, place: Path | Server) -> Old:
    found = Old(forger.raw)
    found.key = key_file(place).read_bytes()[:32]
    return found


def last_feed(forger: Forger) -> int:
    return int(forger.raw.execute("SELECT max(feed) FROM entry").fetchone()[0])


def changed_after(forger: Old) -> None:
    forger.resealed(last_feed(forger), 1, occurred_us=5)


def changed_after_under_the_new_number(forger: Old) -> None:
    forger.resealed(last_feed(forger), 2, occurred_us=5)


def added_after(forger: Old) -> None:
    last = last_feed(forger)
    row = list(forger.row(last))
    row[0], row[1], row[3], row[PREV] = last + 1, "forged", row[3] + 1, row[DIGEST]
    row[ENTRY_COLUMNS.index("request_key")] = "forged"
    digest = digest_of(tuple(row[:DIGEST]))
    row[DIGEST], row[MAC], row[KEY] = digest, mac_of(digest, forger.key), 1
    forger.insert(tuple(row))


def changed_before(forger: Old) -> None:
    """Rewrites the whole stream of a file, which ends before the rotation, as whoever holds key 1 can."""
    stream = forger.raw.execute(
        "SELECT stream FROM entry WHERE stream LIKE 'workflow:%' ORDER BY feed LIMIT 1"
    ).fetchone()[0]
    forger.run("UPDATE entry SET occurred_us = occurred_us + 1 WHERE stream = ? AND number = 1", stream)
    forger.rehash(stream, forger.key)


def rotation(forger: Old) -> tuple[Any, ...]:
    feed = forger.raw.execute("SELECT feed FROM entry WHERE kind = 'key-rotated'").fetchone()[0]
    return forger.row(feed)


def a_key_of_their_own(forger: Old) -> None:
    """Names a key that the file does not hold, and says so with key 1."""
    row = rotation(forger)
    forger.resealed(row[0], 1, body=row[BODY].replace('"number":2', '"number":3'))


def the_rotation_under_the_old_key(forger: Old) -> None:
    forger.resealed(rotation(forger)[0], 1, occurred_us=5)


def the_rotation_under_the_new_number(forger: Old) -> None:
    forger.resealed(rotation(forger)[0], 2, occurred_us=5)


def an_unknown_key(forger: Old) -> None:
    forger.run("UPDATE entry SET mac_key = 7 WHERE feed = ?", last_feed(forger))


def too_early(forger: Old) -> None:
    """Says of an entry before the rotation that key 2 sealed it."""
    forger.run("UPDATE entry SET mac_key = 2 WHERE feed = 9")


FORGERIES: dict[str, tuple[Callable[[Old], None], str]] = {
    "an entry changed after the rotation": (changed_after, "is sealed with key 1 after key 2 began"),
    "the same, called key 2": (changed_after_under_the_new_number, "was not written with this ledger's key"),
    "an entry added after the rotation": (added_after, "is sealed with key 1 after key 2 began"),
    "entries changed before the rotation": (changed_before, "began key 2 on other entries than stand before it"),
    "a rotation to another key": (a_key_of_their_own, "begins a key that is not its own"),
    "the rotation under the old key": (the_rotation_under_the_old_key, "begins a key that is not its own"),
    "the rotation called key 2": (the_rotation_under_the_new_number, "was not written with this ledger's key"),
    "an unknown key": (an_unknown_key, "is sealed with key 7, which the key file does not hold"),
    "a key before it began": (too_early, "was not written with this ledger's key"),
}


@BOTH
@pytest.mark.parametrize(("forge", "told"), FORGERIES.values(), ids=FORGERIES.keys())
def test_the_old_key_alone_writes_nothing_that_verifies(
    rotated: Path | Server, forge: Callable[[Old], None], told: str
) -> None:
    assert judged(rotated).sound
    with forging(rotated) as forger:
        forge(old(forger, rotated))
    report = judged(rotated)
    assert not report.sound
    assert told in report.findings[0].sentence


def test_a_planted_rotation_begins_nothing(department: Department, path: Path) -> None:
    """Whoever holds key 1 says that key 2 began, and seals that and what follows with key 1."""
    secret = key_file(path).read_bytes()
    with transaction(department.ledger) as work:
        work._offered = Keys((secret, bytes(32)))
        body = KeyRotated(number=2, key_id=hashlib.sha256(bytes(32)).hexdigest()[:16], before="0" * 64)
        envelope = Envelope(department.clock.now(), 0, None, None, None, "planted", "0" * 32)
        work.write(work.prepare([Draft("key:record", body)], envelope, iter(["an-id"])), "{}")
    department.close()
    key_file(path).write_bytes(secret)
    with forging(path) as forger:
        last = last_feed(forger)
        old(forger, path).resealed(last, 1)
    assert f"entry {last} begins a key that is not its own" in [one.sentence for one in judged(path).findings]


def test_only_the_key_that_was_offered_begins(department: Department) -> None:
    body = KeyRotated(number=2, key_id="0" * 16, before="0" * 64)
    envelope = Envelope(department.clock.now(), 0, None, None, None, "planted", "0" * 32)
    with pytest.raises(InvariantError, match="was not offered"), transaction(department.ledger) as work:
        work.write(work.prepare([Draft("key:record", body)], envelope, iter(["an-id"])), "{}")


# A computer whose key file is behind


@BOTH
@pytest.mark.parametrize("another", [False, True], ids=["the old file", "another second key"])
def test_a_computer_without_the_new_key_reads_and_does_not_write(
    department: Department, place: Path | Server, evening: StoryClock, library: Library, *, another: bool
) -> None:
    file = key_file(place)
    with small.opened(place, evening, library=library) as late:
        note(late, "before")
        assert rotate(department).accepted
        whole = file.read_bytes()
        file.write_bytes(whole[:32] + (bytes(32) if another else b""))
        for asked in (lambda: note(late, "after"), lambda: rotate(late, "late")):
            with pytest.raises(
                LedgerError, match=r"goes on with key 2, which .* lacks; nothing was recorded"
            ) as refused:
                asked()
            assert refused.value.sentence.endswith("Copy the key file to this computer.")
            assert refused.value.exit_code == 3
        assert late.item("S-1").used_minutes == department.item("S-1").used_minutes
        first = late.verify().findings[0]
        assert "is sealed with key 2, which the key file does not hold" in first.sentence or another
        file.write_bytes(whole)
        note(late, "after")
        assert late.verify(full=True).sound


@BOTH
def test_a_process_at_work_goes_on_with_the_new_key_at_once(
    department: Department, place: Path | Server, evening: StoryClock, library: Library
) -> None:
    with small.opened(place, evening, library=library) as other:
        for number in range(3):
            note(other, f"a-{number}")
            note(department, f"b-{number}")
            assert rotate(department, f"rotate-{number}").accepted
            note(other, f"c-{number}")
            note(department, f"d-{number}")
    used = [row[1] for row in entries(place)]
    assert used == sorted(used)
    assert used[-15:] == [1, 1, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3, 4, 4, 4]
    assert department.verify(full=True).sound


@BOTH
def test_another_process_writes_while_the_key_changes(department: Department, place: Path | Server) -> None:
    rival = subprocess.Popen(
        [sys.executable, "-m", "tests.ledger.paced", *told_of(place_of(department.ledger))],
        cwd=CLONE,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert rival.stdin is not None
    assert rival.stdout is not None
    assert rival.stdout.readline() == "ready\n"

    def ask(times: int) -> None:
        rival.stdin.write("go\n" * times)  # type: ignore[union-attr]
        rival.stdin.flush()  # type: ignore[union-attr]

    def told(times: int) -> list[str]:
        return [rival.stdout.readline().strip() for _ in range(times)]  # type: ignore[union-attr]

    ask(1)
    assert told(1) == ["accepted"]
    ask(30)
    assert rotate(department).accepted
    assert told(30) == ["accepted"] * 30
    ask(1)
    assert told(1) == ["accepted"]
    rival.communicate(timeout=PATIENCE_S)
    assert rival.returncode == 0
    used = [row[1] for row in entries(place)]
    assert used == sorted(used)
    assert set(used) == {1, 2}
    assert department.verify(full=True).sound


# A rotation that breaks off


def test_a_crash_at_any_statement_leaves_a_record_that_goes_on(path: Path, tmp_path: Path) -> None:
    unused: set[int] = set()
    library = Library()
    for at in count(1):
        assert at < POINTS_MAX
        fuse = Fuse(at)
        copy = copied(path, tmp_path / "rotating")
        killed = tmp_path / "killed" / path.name
        fuse.burn = partial(copied, copy, killed.parent)
        with small.opened(copy, StoryClock(EVENING_US, 100_000), connect=connecting(fuse), library=library) as rotating:
            fuse.lit = True
            done = not _killed(rotating)
            fuse.lit = False
        if done:
            break
        unused |= {_goes_on(killed, library), _goes_on(copy, library)}
    assert unused == {0, 1}


def _killed(department: Department) -> bool:
    try:
        rotate(department)
    except CrashError:
        return True
    return False


def _goes_on(place: Path, library: Library) -> int:
    """Returns how many keys nothing uses, after the record went on and was rotated (again)."""
    report = judged(place)
    assert report.sound, report.findings
    held = key_file(place).read_bytes()
    with small.opened(place, StoryClock(EVENING_US + 5_000_000, 200_000), library=library) as again:
        note(again, "goes on")
        assert rotate(again, "another").accepted
        note(again, "goes on still")
        assert again.verify(full=True).sound
    now = key_file(place).read_bytes()
    assert now[: len(held)] == held
    assert len(now) == len(held) + 32 * (1 - report.unused)
    return report.unused


@pytest.mark.parametrize("step", ["os.fsync", "_write", "Path.replace", "sync_folder"])
@pytest.mark.parametrize("fault", [OSError(28, "No space left on device"), CrashError()], ids=["a fault", "a crash"])
def test_a_key_file_that_cannot_be_written_changes_nothing(
    department: Department, path: Path, monkeypatch: pytest.MonkeyPatch, step: str, fault: BaseException
) -> None:
    def fail(*_: object) -> None:
        raise fault

    before = len(entries(path))
    with monkeypatch.context() as patch:
        patch.setattr(f"reprocess.ledger.keys.{step}", fail)
        with pytest.raises(LedgerFullError if isinstance(fault, OSError) else CrashError):
            rotate(department)
    assert len(entries(path)) == before
    assert list(path.parent.glob("*.aside")) == []
    assert len(key_file(path).read_bytes()) in {32, 64}
    note(department, "goes on")
    assert department.verify(full=True).sound
    assert rotate(department).accepted
    assert len(key_file(path).read_bytes()) == 64
    assert department.verify(full=True).sound


def test_what_a_killed_rotation_left_beside_the_file_is_no_hindrance(department: Department, path: Path) -> None:
    path.with_name(f"{path.name}.key.aside").write_bytes(b"half a ke")
    assert rotate(department).accepted
    assert not path.with_name(f"{path.name}.key.aside").exists()


@BOTH
def test_a_commit_that_fails_leaves_a_key_that_nothing_uses(
    department: Department, place: Path | Server, monkeypatch: pytest.MonkeyPatch, command: Command
) -> None:
    database = department.ledger.database

    def lost(*_: object) -> None:
        message = "lost"
        raise LedgerError(message)

    with monkeypatch.context() as patch:
        patch.setattr(database, "commit", lost)
        with pytest.raises(LedgerError, match="lost"):
            rotate(department)
    left = key_file(place).read_bytes()
    assert len(left) == 64
    report = department.verify(full=True)
    assert (report.sound, report.unused) == (True, 1)
    code, out, _ = command("verify", "-d", place)
    assert code == 0
    assert "`reprocess keys rotate` goes on with it" in out
    assert "not in use yet" in command("keys", "-d", place)[1]
    assert rotate(department, "rotated after all").accepted
    assert key_file(place).read_bytes() == left
    assert department.verify(full=True).unused == 0


def test_a_rehearsal_writes_no_key(department: Department, path: Path) -> None:
    with looking(department.ledger) as read:
        offered = read.new_key()
    assert offered is not None
    assert offered.number == 2
    assert len(key_file(path).read_bytes()) == 32


# Copies, moves, rebuilding


def test_a_backup_and_its_keys_are_the_department_again(department: Department, tmp_path: Path) -> None:
    ledger = department.ledger
    keep_key_apart(ledger, tmp_path / "old.key")
    early = backup(ledger, tmp_path / "early.db")
    assert rotate(department).accepted
    note(department, "after")
    late = backup(ledger, tmp_path / "late.db")
    keep_key_apart(ledger, tmp_path / "new.key")
    assert (tmp_path / "new.key").stat().st_size == 64
    with pytest.raises(TamperedError, match="is sealed with key 2, which the key file does not hold"):
        restore(late.path, tmp_path / "old.key", tmp_path / "no" / "department.db")
    for copy, unused in ((late, 0), (early, 1)):
        path = tmp_path / copy.path.stem / "department.db"
        restore(copy.path, tmp_path / "new.key", path)
        assert key_file(path).read_bytes() == (tmp_path / "new.key").read_bytes()
        assert (judged(path).sound, judged(path).unused) == (True, unused)
        with small.opened(path, StoryClock(EVENING_US + 9_000_000, 300_000)) as again:
            assert rotate(again, "once more").accepted
            assert again.verify(full=True).sound


def test_a_move_carries_every_key(
    department: Department, path: Path, postgres_address: Server, evening: StoryClock, library: Library
) -> None:
    assert rotate(department).accepted
    department.close()
    with closing(source_at(path)) as source:
        Moving(source, postgres_address, REFRESH, EVENING_US + 10**12).go()
    assert postgres_address.key_file.read_bytes() == key_file(path).read_bytes()
    with small.opened(postgres_address, evening, library=library) as there:
        note(there, "after the move")
        assert rotate(there, "there").accepted
        assert there.verify(full=True).sound


@pytest.mark.parametrize("broke_off", ["files kept", "copied"])
def test_a_move_that_broke_off_before_a_rotation_goes_on_after_it(
    department: Department, path: Path, postgres_address: Server, broke_off: str
) -> None:
    def stop(step: str) -> None:
        if step == broke_off:
            raise CrashError

    late_us = EVENING_US + 10**12
    with closing(source_at(path)) as source, pytest.raises(CrashError):
        Moving(source, postgres_address, REFRESH, late_us, stop).go()
    assert rotate(department).accepted
    department.close()
    with closing(source_at(path)) as source:
        Moving(source, postgres_address, REFRESH, late_us).go()
    assert postgres_address.key_file.read_bytes() == key_file(path).read_bytes()
    assert judged(postgres_address).sound


@BOTH
def test_what_is_rebuilt_is_sealed_as_before(department: Department, place: Path | Server) -> None:
    assert rotate(department).accepted
    with raw.raw(place) as cursor:
        cursor.execute("DELETE FROM standing WHERE stream = 'key:record'")
    rebuilt = rebuild(department.ledger, refresh=REFRESH)
    assert [one.subject for one in rebuilt.differences] == ["key:record"]
    note(department, "after")
    assert entries(place)[-1][1] == 2
    assert department.verify(full=True).sound


# The command


def test_the_command_rotates_and_lists(path: Path, command: Command) -> None:
    code, out, _ = command("keys", "rotate", "--as", "B-A", "--with", "B-B", "-d", path)
    content = key_file(path).read_bytes()
    ids = [hashlib.sha256(content[at : at + 32]).hexdigest()[:16] for at in (0, 32)]
    assert code == 0
    assert f"Key 2 ({ids[1]}) seals every entry from now on." in out
    assert f"Copy {key_file(path)} to every computer" in out
    _, out, _ = command("keys", "list", "--json", "-d", path)
    first, second = (json.loads(line) for line in out.splitlines())
    total = len(entries(path))
    assert (first["key_id"], first["entries"], first["by"]) == (ids[0], total - 1, [])
    assert (second["key_id"], second["entries"], second["by"]) == (ids[1], 1, ["P-A", "P-B"])
    assert first["since_us"] == small.START_US
    assert second["since_us"] > first["since_us"]
    code, out, _ = command("keys", "-d", path)
    assert "begun by P-A and P-B; entries: 1; in use" in out
    key_file(path).write_bytes(content[:32])
    assert "MISSING in the key file" in command("keys", "-d", path)[1]


def test_the_command_is_refused_to_one_person(path: Path, command: Command) -> None:
    code, out, _ = command("keys", "rotate", "--as", "B-A", "-d", path)
    assert code == 1
    assert "Two people must decide this." in out
    assert key_file(path).stat().st_size == 32
