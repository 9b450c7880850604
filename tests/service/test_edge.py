"""What every answer carries, and the pages of documentation and problems: nothing comes from elsewhere."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from uuid import UUID

import pytest
from fastapi.testclient import TestClient

from reprocess.service.documentation import START
from reprocess.service.edge import Link
from reprocess.service.problems import KINDS
from tests.service.conftest import Bench

# OWASP Secure Headers Project and HTTP Headers Cheat Sheet (names and values from memory).
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


@pytest.mark.parametrize("path", ["/v1/health/live", "/v1/nowhere", "/v1/health", "/docs", "/openapi.json", "/nowhere"])
def test_every_answer_carries_the_headers_of_security(served: Bench, path: str) -> None:
    told = served.client.get(path)
    data = path.startswith(("/v1/", "/openapi"))
    # Only so does a form say to its own server where it comes from (Fetch standard, "append a request Origin header").
    wanted = HEADERS if data else HEADERS | {"Referrer-Policy": "same-origin"}
    assert {name: told.headers[name] for name in HEADERS} == wanted
    assert "frame-ancestors 'none'" in told.headers["Content-Security-Policy"]
    assert "unsafe" not in told.headers["Content-Security-Policy"]
    assert "Strict-Transport-Security" not in told.headers
    assert ("no-store" in told.headers["Cache-Control"]) == path.startswith(("/v1/", "/openapi"))


def test_a_refused_request_carries_them_too(served: Bench) -> None:
    told = served.client.post("/v1/items/SH-1/undo", content=b"x", headers={"Content-Type": "text/plain"})
    assert (told.status_code, told.headers["X-Frame-Options"]) == (415, "DENY")


def test_over_tls_the_browser_is_told_to_stay_there(served: Bench) -> None:
    served.app.state.link = Link(tls=True)
    served.app.middleware_stack = None
    told = served.client.get("/v1/health/live")
    assert told.headers["Strict-Transport-Security"] == "max-age=31536000"


def test_every_request_has_an_id_that_its_problem_names(served: Bench) -> None:
    first, second = served.get("/nowhere"), served.get("/nowhere")
    own = UUID(first.headers["X-Request-Id"])
    # RFC 9562, section 5.7: version 7, variant 0b10.
    assert (own.version, own.variant) == (7, "specified in RFC 4122")
    assert first.json()["instance"] == f"urn:uuid:{own}"
    assert second.headers["X-Request-Id"] != str(own)


def test_a_fault_of_the_program_is_a_problem_with_its_headers(served: Bench) -> None:
    @served.app.get("/broken")
    def broken() -> None:
        message = "a secret"
        raise RuntimeError(message)

    with TestClient(served.app, base_url="https://testserver", raise_server_exceptions=False) as client:
        told = client.get("/broken")
    assert (told.status_code, told.json()["type"]) == (500, "/v1/problems/internal")
    assert told.headers["X-Frame-Options"] == "DENY"
    assert "secret" not in told.text


class Loaded(HTMLParser):
    """Notes what a page loads, and what scripts, styles and handlers stand in it."""

    def __init__(self) -> None:
        super().__init__()
        self.loads: list[str] = []
        self.inline: list[str] = []
        self._inside = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._inside = tag
        for name, value in attrs:
            if name in {"src", "href", "action", "data", "poster", "srcset"}:
                self.loads.append(str(value))
            if name.startswith("on") or name == "style":
                self.inline.append(name)

    def handle_endtag(self, tag: str) -> None:
        del tag
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside in {"script", "style"} and data.strip():
            self.inline.append(data)


def test_the_documentation_loads_nothing_from_elsewhere_and_holds_no_script(served: Bench) -> None:
    page = served.client.get("/docs")
    assert (page.status_code, page.headers["Content-Type"]) == (200, "text/html; charset=utf-8")
    found = Loaded()
    found.feed(page.text)
    assert found.inline == []
    assert len(found.loads) == 4
    for address in found.loads:
        assert address.startswith("/assets/documentation/")
        assert served.client.get(address).status_code == 200
    assert "script-src 'self'" in page.headers["Content-Security-Policy"]


def test_the_documentations_own_script_names_no_other_server(served: Bench) -> None:
    told = served.client.get("/assets/documentation/start.js")
    assert (told.text, told.headers["Content-Type"]) == (START, "text/javascript; charset=utf-8")
    assert re.findall(r"https?://|//", START) == []
    assert served.client.get("/assets/documentation/__init__.py").status_code == 422
    assert served.client.get("/assets/documentation/../start.js").status_code == 404


def test_every_type_of_a_problem_leads_to_its_page(served: Bench) -> None:
    listed = served.get("/problems").json()["problems"]
    assert [one["type"].rpartition("/")[2] for one in listed] == list(KINDS)
    for one in listed:
        told = served.client.get(one["type"])
        assert told.json() == one
        page = served.client.get(one["type"], headers={"Accept": "text/html,application/xhtml+xml"})
        assert page.headers["Content-Type"] == "text/html; charset=utf-8"
        found = Loaded()
        found.feed(page.text)
        assert (found.loads, found.inline) == ([], [])
        assert one["title"] in page.text.replace("&#x27;", "'")


def test_another_sort_of_problem_is_not_found(served: Bench) -> None:
    told = served.get("/problems/no-such")
    assert (told.status_code, told.json()["type"]) == (404, "/v1/problems/not-found")
