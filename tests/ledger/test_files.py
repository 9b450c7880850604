"""Files lie under their digest, on the disk before the entry that names them; verify, backup and restore mind them."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from reprocess.clock import StoryClock
from reprocess.department import Department
from reprocess.engine.request import KeepFile
from reprocess.errors import LedgerError, TamperedError, WrongUseError
from reprocess.ledger import files
from reprocess.ledger.backup import backup, keep_key_apart, restore
from reprocess.rules.answer import Answer
from reprocess.station import Call, Desk
from tests.ledger import small

PHOTO = b"\xff\xd8 a photo of a tube"
DIGEST = hashlib.sha256(PHOTO).hexdigest()
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
"""SHA-256 of `abc`: FIPS 180-4, examples of NIST's Cryptographic Standards and Guidelines."""
CASE = "case:C-1"


def kept(department: Department, content: bytes = PHOTO, about: str = CASE) -> str:
    bench = department.station("LMG-1", badge="B-A")
    answer = bench.keep_file(content, about, "tube.jpg", "image/jpeg")
    assert answer.accepted, answer.reasons
    return hashlib.sha256(content).hexdigest()


def place(department: Department, digest: str = DIGEST) -> Path:
    return files.place_of(files.folder_of(department.ledger.path), digest)


def test_a_file_lies_under_its_digest_and_is_read_back(department: Department) -> None:
    assert files.keep_file(department.ledger, b"abc") == ABC
    assert place(department, ABC).name == ABC
    assert place(department, ABC).parent.name == "ba"
    assert files.read_file(department.ledger, ABC) == b"abc"
    assert place(department, ABC).stat().st_mode & 0o777 == 0o600


def test_an_entry_names_it_with_its_size_and_what_it_is_about(department: Department) -> None:
    kept(department)
    last = department.history("site:LMG")[-1]
    assert last.body.model_dump() == {
        "digest": DIGEST,
        "name": "tube.jpg",
        "media_type": "image/jpeg",
        "size": len(PHOTO),
        "about": CASE,
    }
    assert department.verify(full=True).sound


def test_the_same_file_twice_lies_there_once(department: Department) -> None:
    kept(department)
    first = place(department).stat().st_mtime_ns
    kept(department, about="item:S-1")
    assert place(department).stat().st_mtime_ns == first
    assert [one.name for one in place(department).parent.iterdir()] == [DIGEST]


def test_a_stranger_names_no_file(department: Department) -> None:
    """A01: the file lies there and is nobody's; the record does not name it."""
    answer = department.station("LMG-1", badge="B-X").keep_file(PHOTO, CASE, "x", "image/jpeg")
    assert answer.rules() == ("A01",)
    assert [one.kind for one in department.history("site:LMG") if one.kind == "file-kept"] == []
    assert department.verify().sound


@pytest.mark.parametrize("content", [b"", b"x" * (files.FILE_BYTES_MAX + 1)])
def test_a_file_is_neither_empty_nor_endless(department: Department, content: bytes) -> None:
    with pytest.raises(WrongUseError, match="from 1 to"):
        files.keep_file(department.ledger, content)
    assert not files.folder_of(department.ledger.path).exists()


@pytest.mark.parametrize("digest", ["", "../../etc/passwd", "A" * 64, "a" * 63, "/" * 64])
def test_only_a_digest_names_a_file(department: Department, digest: str) -> None:
    with pytest.raises(WrongUseError, match="SHA-256"):
        files.read_file(department.ledger, digest)


@pytest.mark.parametrize(("digest", "size"), [("abc", 1), ("../" * 20 + "abcd", 1), (ABC, 0)])
def test_no_entry_names_what_is_no_file(department: Department, digest: str, size: int) -> None:
    with pytest.raises(WrongUseError):
        department.station("LMG-1", badge="B-A").ask(KeepFile(CASE, digest, "x", "image/jpeg", size))
    assert department.verify().sound


def test_a_file_that_is_missing_or_was_changed_is_named_by_verify(department: Department) -> None:
    kept(department)
    place(department).write_bytes(PHOTO + b"!")
    found = department.verify()
    assert [one.sentence for one in found.findings] == [f"the file {DIGEST[:12]} was changed"]
    assert found.findings[0].feed == department.history("site:LMG")[-1].feed
    with pytest.raises(TamperedError, match="was changed"):
        files.read_file(department.ledger, DIGEST)
    place(department).unlink()
    assert "is missing" in department.verify().findings[0].sentence
    kept(department)
    assert department.verify().sound


def test_a_spoiled_file_that_is_kept_again_is_put_right(department: Department) -> None:
    kept(department)
    place(department).write_bytes(b"spoiled")
    kept(department)
    assert files.read_file(department.ledger, DIGEST) == PHOTO


def test_a_backup_and_a_restored_department_have_every_named_file(department: Department, tmp_path: Path) -> None:
    kept(department)
    files.keep_file(department.ledger, b"no entry names this")
    copy = backup(department.ledger, tmp_path / "backups" / "monday.db")
    keep_key_apart(department.ledger, tmp_path / "key")
    beside = files.folder_of(copy.path)
    assert [one.name for one in beside.rglob("*") if one.is_file()] == [DIGEST]
    back = restore(copy.path, tmp_path / "key", tmp_path / "new" / "department.db")
    with small.opened(back.path, StoryClock(small.START_US * 2)) as again:
        assert files.read_file(again.ledger, DIGEST) == PHOTO
        assert again.verify(full=True).sound


@pytest.mark.parametrize("spoil", ["gone", "changed"])
def test_a_record_whose_file_is_amiss_is_not_backed_up(department: Department, tmp_path: Path, spoil: str) -> None:
    kept(department)
    place(department).unlink() if spoil == "gone" else place(department).write_bytes(b"x")
    with pytest.raises(LedgerError, match=DIGEST[:12]):
        backup(department.ledger, tmp_path / "monday.db")
    assert not (tmp_path / "monday.db").exists()


def test_a_disk_that_fails_leaves_nothing_half_written(department: Department, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fails)
    with pytest.raises(LedgerError, match="full"):
        files.keep_file(department.ledger, PHOTO)
    assert [one for one in files.folder_of(department.ledger.path).rglob("*") if one.is_file()] == []


def test_a_file_is_on_the_disk_before_its_entry(department: Department, monkeypatch: pytest.MonkeyPatch) -> None:
    """An entry that names what is not there would be a finding for ever; a file without an entry is none."""
    there: list[bytes] = []
    real = Desk.take

    def take(desk: Desk, call: Call) -> Answer:
        there.append(place(department).read_bytes())
        return real(desk, call)

    monkeypatch.setattr(Desk, "take", take)
    kept(department)
    assert there == [PHOTO]
