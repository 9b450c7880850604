"""The OpenAPI document: valid, complete, with links that lead somewhere and examples that work on the demo."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import openapi_spec_validator
import pytest
import schemathesis

from reprocess.service.document import OPEN, SIGNED, Json, Told, document, operations
from reprocess.service.document_links import LINKS
from reprocess.service.examples import EXAMPLES
from reprocess.service.problems import KINDS
from tests.faults.crashing import copied
from tests.ledger.conftest import day_over  # noqa: F401 - a fixture of both rooms
from tests.service.conftest import Bench, serving
from tests.service.larkmoor import day_at_larkmoor, larkmoor, signed_in  # noqa: F401 - fixtures

HELD = frozenset({"place-hold"})
"""Examples whose answer says `held`: that is what they ask for."""

BY_BODY = frozenset({"look-back", "look-back-guarded", "trace-wearer", "follow-entries"})
"""What goes on by the `next` of its body, or as a stream: each page is asked for anew, with the same question."""


@pytest.fixture(scope="module")
def made(day_over: Path, tmp_path_factory: pytest.TempPathFactory) -> Json:  # noqa: F811
    with serving(copied(day_over, tmp_path_factory.mktemp("document") / "copy")) as bench:
        return document(bench.app)


def _resolved(made: Json, part: Json) -> Json:
    """Returns a part of the document, or the component that it names."""
    while "$ref" in part:
        found: Any = made
        for name in part["$ref"].removeprefix("#/").split("/"):
            found = found[name]
        part = found
    return part


def _wanting(made: Json, one: Told) -> list[str]:
    """Returns what an operation does not say of itself."""
    own = one.own
    found = [name for name in ("operationId", "summary", "tags") if not own.get(name)]
    if not re.fullmatch(r"[a-z]+(-[A-Za-z]+)*", one.name):
        found.append("a readable id")
    statuses = set(own["responses"])
    needed = {"400", "429", "431", "503"} | ({"408", "413", "415", "403"} if not one.reads else set())
    needed |= {"401"} if one.name not in OPEN else set()
    parameters = {each["name"]: each for each in own.get("parameters", ())}
    needed |= {"409", "507"} if "Idempotency-Key" in parameters else set()
    needed |= {"412", "428"} if "If-Match" in parameters else set()
    needed |= (
        {"422"}
        if "fhir" not in one.path and (parameters.keys() - {"Idempotency-Key"} or "requestBody" in own)
        else set()
    )
    found += sorted(needed - statuses)
    for status, answer in own["responses"].items():
        told = _resolved(made, answer)
        if status not in {"204", "303", "304"} and not all(one.get("schema") for one in _contents(told)):
            found.append(f"a schema of {status}")
        found += [f"{status} {name}" for name in _headers_of(one, status) if name not in told["headers"]]
    return found


def _contents(answer: Json) -> list[Json]:
    contents: list[Json] = [*answer.get("content", {}).values()]
    return contents or [{}]


def _headers_of(one: Told, status: str) -> list[str]:
    headers = ["X-Request-ID", "RateLimit"]
    if status in {"429", "503", "507"}:
        headers.append("Retry-After")
    if status == "200" and "304" in one.own["responses"]:
        headers.append("ETag")
    if status == "200" and {"limit", "after"} <= {each["name"] for each in one.own.get("parameters", ())}:
        headers += ["Link"] * (one.name not in BY_BODY)
    return headers


def test_the_document_is_valid_and_every_operation_says_everything(made: Json) -> None:
    """OpenAPI 3.1.0, by the schema of its own authors and by openapi-spec-validator's further checks."""
    openapi_spec_validator.validate(made)
    told = list(operations(made))
    assert len(told) > 200
    names = [one.name for one in told]
    assert len(names) == len(set(names))
    assert {one.name: wanting for one in told if (wanting := _wanting(made, one))} == {}


def test_every_operation_but_those_that_let_in_says_who_may_ask(made: Json) -> None:
    assert made["security"] == [{"session": []}, {"bearer": []}]
    bare = {one.name for one in operations(made) if one.own.get("security") == []}
    assert bare == OPEN
    asked = {
        (one.name, each["name"]): each["required"]
        for one in operations(made)
        for each in one.own.get("parameters", ())
        if each["in"] == "header" and "required" in each
    }
    assert (asked["contaminate", "Idempotency-Key"], asked["badge-given", "If-Match"]) == (True, True)
    assert not asked.get(("open-place", "If-Match"))
    assert {one.name for one in operations(made) if {"signature": []} in one.own.get("security", ())} == SIGNED
    keyless = {
        one.name
        for one in operations(made)
        if one.method != "get" and "Idempotency-Key" not in {each["name"] for each in one.own.get("parameters", ())}
    }
    assert keyless == {
        *("begin", "sign-in", "sign-out", "report-result", "import-table"),
        *("check-file", "see-reminders", "read-scanned-of-any"),
    }, "what writes brings a key; these write nothing, or know a repetition by other means"


def test_every_link_leads_from_what_is_told_to_what_is_asked(made: Json) -> None:
    by_name = {one.name: one for one in operations(made)}
    for name, leads in LINKS.items():
        for one in leads:
            asked = {each["name"] for each in by_name[one.to].own.get("parameters", ())}
            assert set(one.given) <= asked, (name, one.to)
            for expression in one.given.values():
                assert _tells(made, by_name[name], expression), (name, expression)


def _tells(made: Json, one: Told, expression: str) -> bool:
    """Tells whether a request or its answer has what an expression names (OpenAPI 3.1.0, section 4.8.20.3)."""
    source, _, pointer = expression.partition("#/")
    if source == "$response.header.ETag":
        return "ETag" in one.own["responses"]["200"]["headers"]
    if source.startswith("$request.path."):
        return f"{{{source.rpartition('.')[2]}}}" in one.path
    whole = one.own["requestBody"] if source == "$request.body" else one.own["responses"]["200"]
    schema = _resolved(made, whole["content"]["application/json"]["schema"])
    for step in pointer.split("/"):
        schema = _resolved(made, schema["items"] if step.isdigit() else schema["properties"][step])
    return bool(schema)


def test_schemathesis_reads_it_without_a_warning(made: Json) -> None:
    schema = schemathesis.openapi.from_dict(made)
    found = list(schema.get_all_operations())
    assert len(found) == len(list(operations(made)))
    assert all(type(one).__name__ == "Ok" for one in found)


def test_it_is_made_once_and_served_as_it_is(served: Bench) -> None:
    first, second = (served.client.get("/openapi.json") for _ in range(2))
    assert first.headers["content-type"] == "application/json"
    assert first.content == second.content
    assert first.json()["openapi"] == "3.1.0"
    assert {f"/v1/problems/{one}" for one in KINDS} >= set(
        re.findall(r"/v1/problems/[a-z-]+(?=\")", first.text.replace("{kind}", ""))
    )


def test_every_example_is_accepted_on_the_demo(larkmoor: Bench, made: Json) -> None:  # noqa: F811
    by_name = {one.name: one for one in operations(made)}
    program = larkmoor.caller
    for name, example in EXAMPLES.items():
        larkmoor.caller = signed_in(larkmoor, example.by) if example.by is not None else program
        larkmoor.clock.push(30)
        told = _send(larkmoor, by_name[name])
        assert told.is_success or (name in HELD and told.json()["answer"]["verdict"] == "held"), (name, told.text)


def test_every_noun_that_is_written_has_an_example(made: Json) -> None:
    """Cases begin with a wearer, files with bytes, keys with an administrator: their routes' tests show them."""
    nouns = {one.path.split("/")[2] for one in operations(made) if not one.reads}
    shown = {one.path.split("/")[2] for one in operations(made) if one.name in EXAMPLES}
    assert nouns - shown == {
        "first-run",
        "consents",
        "keys",
        "lookbacks",
        "cases",
        "files",
        "imports",
        "subscriptions",
        "results",
    }


def _send(bench: Bench, told: Told) -> Any:
    example = EXAMPLES[told.name]
    headers = {name: text for name, text in example.at.items() if f"{{{name}}}" not in told.path}
    return bench.client.request(
        told.method.upper(),
        told.path.format(**example.at),
        json=example.body,
        headers={"Idempotency-Key": f"example-{told.name}"} | headers,
    )
