"""Files over HTTP: kept as they came, handed out as an attachment, and only what they say they are."""

from __future__ import annotations

import hashlib
from typing import Any

from reprocess.ledger.files import folder_of, place_of
from tests.service.conftest import Bench
from tests.service.staff import elsewhere, token

PHOTO = b"\xff\xd8\xff\xe0" + b"invented photo " * 40
"""Begins as ITU-T T.81 lets an image begin: SOI, then the marker of a segment."""


def send(
    bench: Bench, content: bytes = PHOTO, media_type: str = "image/jpeg", *, key: str = "f-1", **query: str
) -> Any:
    """Returns the response to a file that is sent."""
    asked = {"about": "item:S-1", "name": "crack.jpg"} | query
    headers = {"Idempotency-Key": key, "Content-Type": media_type}
    return bench.client.post("/v1/files", content=content, params=asked, headers=headers)


def test_a_photo_is_kept_and_handed_out_byte_by_byte(served: Bench) -> None:
    kept = send(served)
    assert kept.status_code == 200, kept.text
    digest = hashlib.sha256(PHOTO).hexdigest()
    assert (kept.json()["digest"], kept.json()["size"], kept.json()["verdict"]) == (digest, len(PHOTO), "accepted")
    assert kept.headers["location"] == f"/v1/files/{digest}"
    read = served.client.get(kept.headers["location"])
    assert (read.content, read.headers["content-type"]) == (PHOTO, "image/jpeg")
    assert read.headers["content-disposition"] == 'attachment; filename="crack.jpg"'
    assert read.headers["x-content-type-options"] == "nosniff"
    entry = served.department.history("site:LMG")[-1]
    assert (entry.kind, entry.envelope.actor, entry.envelope.identity) == ("file-kept", "P-A", "signed-in")


def test_a_file_sent_again_is_one_entry(served: Bench) -> None:
    send(served)
    before = served.department.last_feed()
    assert send(served).json()["repeated"] is True
    assert served.department.last_feed() == before
    other = send(served, PHOTO + b"!")
    assert (other.status_code, other.json()["type"]) == (422, "/v1/problems/key-reused")


TYPES = (
    (b"<html><script>", "image/jpeg", 415),
    (PHOTO, "image/png", 415),
    (PHOTO, "text/html", 415),
    (PHOTO, "image/svg+xml", 415),
    (b"", "image/jpeg", 415),
    (b"a,b\n\x00", "text/csv", 415),
    (b"\xff\xfe", "text/csv", 415),
    (PHOTO + bytes(10 * 1024 * 1024), "image/jpeg", 413),
    (b"%PDF-2.0 invented", "application/pdf", 200),
    (b"\x89PNG\r\n\x1a\n invented", "image/png", 200),
    (b"RIFF\x10\x00\x00\x00WEBP", "image/webp", 200),
    ("seconds,°C\n".encode(), "text/csv; charset=utf-8", 200),
)
"""Contents with the type that they claim, and the status that answers them."""
QUERIES: tuple[tuple[dict[str, Any], int], ...] = (
    ({"about": "item:NO-1"}, 404),
    ({"about": "planet:S-1"}, 404),
    ({"about": "S-1"}, 422),
    ({"name": "../../etc/passwd"}, 422),
    ({"name": 'a";x="b'}, 422),
    ({"name": "a\r\nSet-Cookie: x"}, 422),
    ({"name": ""}, 422),
    ({"station": "LMG-9"}, 403),
)


def test_only_what_its_type_says_is_taken(served: Bench) -> None:
    for number, (content, media_type, status) in enumerate(TYPES):
        before = served.department.last_feed()
        told = send(served, content, media_type, key=f"type-{number}")
        assert told.status_code == status, (media_type, told.text)
        assert (served.department.last_feed() == before) == (status != 200)


def test_what_it_is_about_and_called_is_looked_at(served: Bench) -> None:
    before = served.department.last_feed()
    for query, status in QUERIES:
        assert send(served, **query).status_code == status, query
    assert served.department.last_feed() == before


def test_a_digest_is_no_path(served: Bench) -> None:
    for name in ("../../department.db", "..%2f..%2fdepartment.db", "A" * 64, "a" * 63):
        assert served.get(f"/files/{name}").status_code in {404, 422}, name
    assert served.get(f"/files/{'a' * 64}").status_code == 404


def test_a_changed_file_is_not_handed_out(served: Bench) -> None:
    digest = send(served).json()["digest"]
    place_of(folder_of(served.department.ledger.path), digest).write_bytes(b"something else")
    told = served.get(f"/files/{digest}")
    assert told.status_code == 503
    assert "something else" not in told.text


def test_another_sites_file_is_not_on_record(served: Bench) -> None:
    digest = send(served).json()["digest"]
    served.caller = elsewhere(token("items:read", "files:write"))
    assert served.get(f"/files/{digest}").status_code == 404
    assert send(served, key="f-2", station="LMG-1").status_code in {403, 404}
    served.caller = token("lots:write")
    assert served.get(f"/files/{digest}").status_code == 403
    assert send(served, key="f-3", station="LMG-1").status_code == 403
