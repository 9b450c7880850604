"""The lines of the log: an event and known fields, whoever gave what."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Iterator
from typing import Any

import pytest
import structlog

from reprocess.service import logs
from reprocess.service.edge import Link
from tests.service.conftest import Bench


@pytest.fixture
def lines() -> Iterator[io.StringIO]:
    """Where the log goes in a test; afterwards everything is as before."""
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    written = io.StringIO()
    logs.begin(written)
    yield written
    root.handlers[:] = handlers
    root.setLevel(level)
    structlog.reset_defaults()


def told(lines: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in lines.getvalue().splitlines()]


def test_a_line_is_json_with_known_fields_and_nothing_else(lines: io.StringIO) -> None:
    logs.tell("request", route="/v1/items/{item}", status=200, badge="B-A", body="x", path="/v1/items/SH-1")
    [line] = told(lines)
    assert line.pop("at").endswith("Z")
    assert line == {"event": "request", "level": "info", "route": "/v1/items/{item}", "status": 200}


def test_a_long_or_broken_value_stays_one_short_line(lines: io.StringIO) -> None:
    logs.tell("request", route="a\nb\x1b[31m", said="c" * 1000)
    [line] = told(lines)
    assert (line["route"], len(line["said"])) == ("a", logs.TEXT_MOST)


def test_what_libraries_say_comes_without_what_they_put_into_it(lines: io.StringIO) -> None:
    try:
        int("badge B-A")
    except ValueError:
        logging.getLogger("uvicorn.error").exception("Exception in ASGI application of %s", "B-A")
    logging.getLogger("uvicorn.error").warning("Invalid HTTP request received.")
    fault, warned = told(lines)
    assert (fault["event"], fault["level"], fault["cause"]) == ("server", "error", "ValueError")
    assert fault["said"] == "Exception in ASGI application of %s"
    assert fault["where"].startswith("test_logs.py:")
    assert "B-A" not in lines.getvalue()
    assert (warned["level"], warned["code"]) == ("warning", "uvicorn.error")


def test_a_request_is_one_line_without_what_stood_in_it(served: Bench, lines: io.StringIO) -> None:
    served.app.state.link = Link(logged=True)
    served.app.middleware_stack = None
    answer = served.post(
        "/items/SH-1/contaminations", {"cause": "used"}, headers={"Authorization": "Bearer rpt_secret"}
    )
    [line] = told(lines)
    assert line["request_id"] == answer.headers["X-Request-Id"]
    assert (line["event"], line["method"], line["status"]) == ("request", "POST", 200)
    assert line["route"] == "/v1/items/{item}/contaminations"
    assert set(line) <= logs.FIELDS
    for secret in ("SH-1", "B-A", "anna", "rpt_secret", "LMG-1", "used"):
        assert secret not in lines.getvalue()


def test_a_fault_is_told_once_and_its_words_are_not(served: Bench, lines: io.StringIO) -> None:
    served.app.state.link = Link(logged=True)
    served.app.middleware_stack = None

    @served.app.get("/broken")
    def broken() -> None:
        message = "badge B-A"
        raise RuntimeError(message)

    assert served.client.get("/broken").status_code == 500
    found = told(lines)
    assert {line["event"] for line in found} == {"fault", "request"}
    assert any("test_logs.py:" in line.get("where", "") for line in found)
    assert "B-A" not in lines.getvalue()
