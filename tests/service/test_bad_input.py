"""Hostile requests: never a server error, never a trace of the program, never a value given back raw as HTML."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from reprocess.service import who
from reprocess.service.document import Told, operations
from reprocess.service.limits import USUAL
from tests.faults.crashing import copied
from tests.ledger.conftest import day_over  # noqa: F401 - a fixture of both rooms
from tests.service.conftest import Bench, serving
from tests.service.fuzz import LEFT_OUT

SCRIPT = "<script>alert(1)</script>"
TRACES = ("Traceback", 'File "', "site-packages", ".py:", "sqlite", "psycopg", "/home/", "/usr/")
"""What only the inside of the program knows."""
NAMES = (
    "..", ".", "../../etc/passwd", "..\\..\\windows", "%2e%2e%2f", "\x00", "a\x00b", "a\r\nSet-Cookie: s=1",
    "\x1b[2J",
    "\u202eBLW-1", "\u200f", "\ufeff", "é", "\U0001f4a3", SCRIPT, "' OR 1=1 --", "{{7*7}}", "${jndi:ldap://x}", "-1",
    "0", "9" * 30, "a" * 3000, "nan", "null", "item:BLW-1", "*", "~",
)  # fmt: skip
"""Names that no thing here has; some are a path, a header, a query or a page to somebody careless."""
RAW = ("%ff%fe", "%c0%ae%c0%ae", "%ed%a0%80", "%", "%zz", "%00")
"""Parts of an address that are no text: broken, over-long and surrogate UTF-8 (RFC 3629, section 3)."""
ARABIC = "\u0662\u0660\u0662\u0666-\u0660\u0663-\u0660\u0665T00:00:00Z"
"""A date in Arabic-Indic digits, which are digits to a careless pattern."""
BODIES: dict[str, tuple[bytes, set[int]]] = {
    "a member twice": (b'{"step": "clean", "step": "release"}', {400}),
    "a member twice, the second escaped": (b'{"step": "clean", "st\\u0065p": "release"}', {400}),
    "NaN": (b'{"step": NaN}', {400}),
    "Infinity": (b'{"step": "clean", "readings": {"temp_c": -Infinity}}', {400}),
    "a number beyond a double": (b'{"step": "clean", "counts": {"plugs": 1e999}}', {400, 422}),
    "a number of a thousand digits": (b'{"step": "clean", "counts": {"plugs": ' + b"9" * 1000 + b"}}", {400}),
    "a number beyond 64 bits": (b'{"step": "clean", "counts": {"plugs": 99999999999999999999}}', {422}),
    "100 000 deep": (b"[" * 30_000 + b"]" * 30_000, {400}),
    "100 000 deep, and never closed": (b'{"a":' * 10_000, {400}),
    "a lone surrogate": (b'{"step": "\\ud800"}', {422}),
    "a surrogate in a member's name": (b'{"step": "clean", "\\udfff": 1}', {422}),
    "NUL": (b'{"step": "clean\\u0000"}', {422}),
    "a control character raw": (b'{"step": "cl\x01ean"}', {400}),
    "a mark that turns the text": ('{"step": "\u202eclean"}'.encode(), {422, 409}),
    "no UTF-8": (b'{"step": "\xff\xfe"}', {400}),
    "UTF-16": ('{"step": "clean"}'.encode("utf-16"), {400}),
    "a mark of byte order": (b'\xef\xbb\xbf{"step": "clean"}', {400}),
    "nothing": (b"", {422, 400}),
    "a list": (b"[]", {422}),
    "a text": (b'"clean"', {422}),
    "null": (b"null", {422}),
    "two values": (b'{"step": "clean"} {"step": "clean"}', {400}),
    "a comment": (b'{"step": "clean" /* yes */}', {400}),
    "a member that is none": (b'{"step": "clean", "__class__": "x", "constructor": {"prototype": 1}}', {422}),
    "too large": (b'{"step": "' + b"a" * USUAL.bytes_most + b'"}', {413}),
    "10 MB": (b'{"step": "' + b"a" * 10_000_000 + b'"}', {413}),
}
"""What no body is, and how it may be answered."""


@pytest.fixture(scope="module")
def bench(day_over: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:  # noqa: F811
    """One small department for all of it; whoever asks has given every PIN, so that a request goes as far as it can."""
    with (
        pytest.MonkeyPatch.context() as patch,
        serving(copied(day_over, tmp_path_factory.mktemp("bad") / "copy")) as one,
    ):
        patch.setattr(who, "signs", lambda *_: "signed")
        yield one


PROBLEMS = ("application/problem+json", "application/fhir+json")


def must_be_harmless(told: Any, *, sent: str = SCRIPT) -> None:
    """Fails where an answer is a fault, tells of the inside of the program, or could run what was sent."""
    assert told.status_code < 500, (told.request.url, told.status_code, told.text[:400])
    assert told.headers["x-content-type-options"] == "nosniff"
    assert "script" not in told.headers["content-security-policy"].replace("script-src 'self'", "")
    text = told.text
    assert not [one for one in TRACES if one in text], text[:400]
    if "html" in told.headers.get("content-type", ""):
        assert sent not in text
    if told.status_code >= 400:
        page = told.headers["content-type"].startswith("text/html") and not told.request.url.path.startswith("/v1/")
        assert page or told.headers["content-type"] in PROBLEMS, text[:200]
    assert "set-cookie" not in told.headers or "s=1" not in told.headers["set-cookie"]


def raw(**headers: str) -> list[tuple[bytes, bytes]]:
    """Returns headers as the bytes that they are, which a careful client would not send."""
    return [(name.replace("_", "-").encode(), value.encode("latin-1")) for name, value in headers.items()]


def _asked(bench: Bench) -> Iterator[Told]:
    for one in operations(bench.client.get("/openapi.json").json()):
        if one.name not in LEFT_OUT:
            yield one


@pytest.mark.parametrize("name", BODIES)
def test_a_body_that_is_none_is_refused(bench: Bench, name: str) -> None:
    body, allowed = BODIES[name]
    before = bench.department.last_feed()
    told = bench.client.post(
        "/v1/items/S-1/steps", content=body, headers={"Content-Type": "application/json", "Idempotency-Key": "bad"}
    )
    must_be_harmless(told)
    assert told.status_code in allowed, told.text
    if told.status_code != 409:
        assert bench.department.last_feed() == before


def test_no_operation_meets_a_fault_with_any_such_body(bench: Bench) -> None:
    kept = {name: body for name, (body, _) in BODIES.items() if len(body) < 100_000}
    for number, one in enumerate(_asked(bench)):
        if one.reads:
            continue
        path = re.sub(r"{\w+}", "S-1", one.path)
        for name, body in list(kept.items())[number % 3 :: 3]:
            sort = next(iter(one.own.get("requestBody", {}).get("content", {"application/json": {}})))
            headers = {"Content-Type": sort, "Idempotency-Key": f"bad-{number}-{len(name)}"}
            must_be_harmless(bench.client.request(one.method, path, content=body, headers=headers))


def test_no_part_of_an_address_leads_anywhere_else(bench: Bench) -> None:
    """Every parameter of every address gets names that are none; each is quoted as a client would (RFC 3986, 2.1)."""
    for number, one in enumerate(_asked(bench)):
        holes = re.findall(r"{\w+}", one.path)
        parts = [*(quote(name, safe="") for name in NAMES), *RAW]
        for hostile in parts[number % 4 :: 4] if holes else ():
            path = re.sub(r"{\w+}", lambda _, each=hostile: each, one.path)  # type: ignore[misc]
            body: dict[str, Any] | None = None if one.reads else {}
            told = bench.client.request(one.method, path, headers={"Idempotency-Key": "k"}, json=body)
            must_be_harmless(told)


def test_no_query_leads_to_a_fault(bench: Bench) -> None:
    hostile = (*NAMES[:-4], "a" * 200)
    for number, one in enumerate(_asked(bench)):
        queries = [each["name"] for each in one.own.get("parameters", ()) if each["in"] == "query"]
        if not one.reads:
            continue
        path = re.sub(r"{\w+}", "S-1", one.path)
        for place, name in enumerate(queries):
            told = bench.client.get(path, params={name: hostile[(number + place) % len(hostile)]})
            must_be_harmless(told)
        must_be_harmless(bench.client.get(path, params={"nobody-knows": SCRIPT, "__proto__": "1"}))
        must_be_harmless(bench.client.get(f"{path}?limit=1&limit=2&after=%00&after[]=1&=&&%ff"))


@pytest.mark.parametrize("accept", ["text/html", "text/html,application/json;q=0.1", "*/*", "\xff", "a" * 300, ""])
def test_what_was_sent_is_never_given_back_as_a_page(bench: Bench, accept: str) -> None:
    headers = raw(Accept=accept)
    for path in (
        f"/v1/problems/{SCRIPT}", f"/v1/items/{SCRIPT}", f"/v1/scanned?code={SCRIPT}", f"/{SCRIPT}", f"/docs/{SCRIPT}",
        f"/v1/single-sign-on/back?state={SCRIPT}&code={SCRIPT}", f"/v1/single-sign-on?station={SCRIPT}",
        f"/assets/documentation/{SCRIPT}", "/assets/documentation/..%2f..%2fpyproject.toml", "/v1/fhir/Device/x y",
    ):  # fmt: skip
        must_be_harmless(bench.client.get(path, headers=headers))
    key = [(b"Idempotency-Key", b"page")]
    must_be_harmless(bench.client.post("/v1/scans", json={"codes": [SCRIPT]}, headers=headers + key))


@pytest.mark.parametrize(
    "sort",
    ["", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "application/xml",
     "application/json, text/plain", "application/javascript", "text/json", "\xff\xfe", "application/jsonx", "+json"],
)  # fmt: skip
def test_what_is_not_json_is_not_read(bench: Bench, sort: str) -> None:
    told = bench.client.post(
        "/v1/items/S-1/steps",
        content=b'{"step": "clean"}',
        headers=raw(Content_Type=sort, Idempotency_Key="k"),
    )
    must_be_harmless(told)
    assert told.status_code == 415, told.text


@pytest.mark.parametrize(
    "name",
    ["../../x.csv", "a\r\nX-Evil: 1", 'a"; filename="b.html', "\u202egpj.exe", ".hidden", "con\x00.csv", "a" * 101],
)
def test_a_files_name_is_a_name_and_nothing_else(bench: Bench, name: str) -> None:
    told = bench.client.post(
        "/v1/files",
        params={"about": "item:S-1", "name": name},
        content=b"a,b\n1,2\n",
        headers={"Content-Type": "text/csv", "Idempotency-Key": "file"},
    )
    must_be_harmless(told)
    assert told.status_code == 422, told.text


@pytest.mark.parametrize("key", ["", " ", "a b", "é", "a" * 129, "a\tb", "\xff", "a" * 20_000])
def test_a_key_is_printable_and_short(bench: Bench, key: str) -> None:
    headers = raw(Idempotency_Key=key, Content_Type="application/json")
    told = bench.client.post("/v1/items/S-4/contaminations", content=b'{"cause": "used"}', headers=headers)
    must_be_harmless(told)
    assert told.status_code in ({431} if len(key) > 10_000 else {400}), told.text


def test_no_header_turns_one_method_into_another(bench: Bench) -> None:
    before = bench.department.last_feed()
    for name in ("X-HTTP-Method-Override", "X-HTTP-Method", "X-Method-Override"):
        for method in ("POST", "DELETE", "PUT"):
            told = bench.client.get("/v1/items/S-1?_method=DELETE", headers={name: method})
            must_be_harmless(told)
            assert told.status_code == 200
    assert bench.department.last_feed() == before


@pytest.mark.parametrize("method", ["HEAD", "OPTIONS", "TRACE", "PATCH", "CONNECT", "BREW", "PROPFIND", "A" * 300])
def test_other_methods_are_refused_and_the_right_ones_named(bench: Bench, method: str) -> None:
    """RFC 9110, 15.5.6: `Allow` names every method of the address."""
    for path, allowed in {
        "/v1/items": "GET, POST",
        "/v1/items/S-1": "GET",
        "/v1/items/S-1/steps": "POST",
        "/v1/tokens/T-1": "DELETE",
        "/v1/people/P-A/pin": "PUT",
        "/openapi.json": "GET",
        "/docs": "GET",
    }.items():
        told = bench.client.request(method, path, headers={"Content-Type": "application/json"})
        must_be_harmless(told)
        assert (told.status_code, told.headers["allow"]) == (405, allowed), path


def test_a_page_of_another_site_changes_nothing(bench: Bench) -> None:
    """ASVS 5.0, 3.5.1 to 3.5.3."""
    before = bench.department.last_feed()
    for headers in (
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "https://testserver.elsewhere.example"},
        {"Origin": "https://elsewhere.example/testserver"},
    ):
        told = bench.post("/items/S-4/contaminations", {"cause": "used"}, headers=headers)
        must_be_harmless(told)
        assert (told.status_code, told.json()["type"]) == (403, "/v1/problems/wrong-origin"), headers
        seen = bench.get("/items/S-4", headers=headers)
        assert "access-control-allow-origin" not in seen.headers
    assert bench.department.last_feed() == before


@pytest.mark.parametrize(
    "secret",
    ["Bearer", "Bearer ", "Bearer rpt_", "Bearer rps_" + "a" * 5000, "Bearer \xff", "Basic YTpi", "bearer rpt_\x01",
     "Bearer rpt_' OR 1=1 --", "Bearer rps_../../x", "Negotiate x", "Bearer rpt_a rpt_b"],
)  # fmt: skip
def test_a_secret_that_is_none_lets_nobody_in(bench: Bench, secret: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench.app, "dependency_overrides", {})
    for path in ("/v1/items", "/v1/sessions/current", "/v1/fhir/Device"):
        told = bench.client.get(path, headers=raw(Authorization=secret))
        must_be_harmless(told)
        assert told.status_code == 401, told.text
    for cookie in ("__Host-session=\xff", f"__Host-session={SCRIPT}", "__Host-session=; __Host-session=a", "=;;,=\x01"):
        told = bench.client.get("/v1/items", headers=raw(Cookie=cookie))
        must_be_harmless(told)
        assert told.status_code == 401, told.text


def test_a_long_or_odd_text_of_a_person_is_kept_as_text(bench: Bench) -> None:
    """Words of people may hold any letters; they come back as JSON, escaped, and never as markup."""
    words = f"\u202e{SCRIPT} \U0001f4a3 עברית {'x' * 900}"
    told = bench.post("/items/S-4/contaminations", {"cause": "used", "note": words})
    assert told.status_code == 200, told.text
    entry = bench.get("/items/S-4/entries").json()["entries"][-1]
    assert words in json.dumps(entry, ensure_ascii=False)
    for note in ("x" * 1001, "a\x00b", "a\x1bb", "\x7f", ""):
        told = bench.post("/items/S-4/contaminations", {"cause": "used", "note": note})
        assert told.status_code == 422, told.text


@pytest.mark.parametrize("url", ["https://[", "https://]x", "https://host:port/", "https://host:99999/", "http://[::1"])
def test_an_address_that_is_none_is_told_and_not_tried(bench: Bench, url: str) -> None:
    """Found by test_fuzz.py: the standard library raises for a bracket that is never closed."""
    body = {"subscription": "S", "title": "T", "url": url, "pin": "1"}
    told = bench.post("/subscriptions", body)
    must_be_harmless(told)
    assert told.status_code == 422, told.text


@pytest.mark.parametrize("at", [5, "5", 0.5, "1772694300", "2026-03-05", "2026-03-05T07:05:00", True, "12:00Z", ARABIC])
def test_an_instant_is_written_out_with_its_offset(bench: Bench, at: Any) -> None:
    """RFC 3339, section 5.6. Found by test_fuzz.py: a bare number was read as seconds since 1970."""
    told = bench.post("/items/S-4/contaminations", {"cause": "used", "use_ended": at})
    assert told.status_code == 422, told.text
    assert bench.get("/people/capabilities", params={"at": str(at)}).status_code == 422


def test_a_cookie_with_an_origin_that_is_none_is_refused(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench.app, "dependency_overrides", {})
    headers = {"Cookie": "__Host-session=rps_a", "Origin": "http://[", "Host": "[", "Idempotency-Key": "k"}
    must_be_harmless(bench.client.post("/v1/items/S-4/contaminations", json={"cause": "used"}, headers=headers))
