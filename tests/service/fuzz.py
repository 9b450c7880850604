"""Random and hostile requests made from the OpenAPI document itself, one after the other and linked to chains.

The generator is schemathesis (https://schemathesis.readthedocs.io); what it must not find is said in CHECKS.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Final

import schemathesis
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import events, from_schema

from tests.service.conftest import Bench

CHECKS: Final = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_schema_conformance",
    "response_headers_conformance",
    "negative_data_rejection",
    "missing_required_header",
)
"""What is checked of every answer.

Left out: `positive_data_acceptance` (a rule may refuse what is well-formed; that is the whole point of the service),
`use_after_free` and `ensure_resource_availability` (nothing is ever deleted here, and what is made may not be seen by
everybody), `ignored_auth` and `object_level_authorization` (the caller of this test is set from within; who may do what
is tested in test_signing_in.py, test_who.py and by every route's own tests), `unsupported_method` (what is not JSON is
refused before anybody looks for a route, so 415 comes before 405; test_bad_input.py tries the methods),
`allow_header_conformance` (`/wearers/names` is an address of `/wearers/{wearer}` too, and `Allow` says so). Of
`negative_data_rejection` two sorts of body are left out: a member that may be absent may also be null, and a table is
any text, whose faults the answer tells line by line.
"""
LEFT_OUT: Final = frozenset({"follow-entries", "ready"})
"""Operations with a test of their own: one never ends by itself (test_feed.py), one answers 503 on purpose, while no
bell looks for what is due (test_health.py)."""
REFUSED: Final = ["400", "401", "403", "404", "405", "409", "412", "413", "415", "422", "428", "429", "431"]
"""What a request that does not fit the document may be answered."""
LOADING_S: Final = 120
"""Seconds within which the document must be there, on a busy computer."""
KNOWN: Final[Mapping[str, tuple[str, ...]]] = {
    "item": ("S-1", "S-2", "S-3", "S-4", "SET-1"),
    "solution": ("W-1", "W-2"),
    "person": ("P-A", "P-B"),
    "site": ("LMG",),
    "station": ("LMG-1",),
    "step": ("clean", "disinfect", "inspect", "release"),
    "badge": ("B-A",),
    "second_badge": ("B-B",),
    "workflow": ("shell", "set"),
    "sort": ("workflow", "agent"),
    "name": ("shell", "wipe"),
    "agent": ("wipe",),
}
"""Names of the small department: with them a generated request reaches further than to "not on record"."""


@dataclass
class Found:
    """Is what came of a run.

    Attributes:
        cases: how many requests were answered.
        statuses: how often each status was.
        faults: each fault once, as it is told.
        errors: what kept an operation from being tried at all.
    """

    cases: int = 0
    statuses: Counter[int] = field(default_factory=Counter)
    faults: dict[str, str] = field(default_factory=dict)
    errors: list[str] = field(default_factory=list)

    def add(self, other: Found) -> None:
        """Adds what another run found."""
        self.cases += other.cases
        self.statuses += other.statuses
        self.faults |= other.faults
        self.errors += other.errors


def settings(seed: int, each: int, phases: tuple[str, ...], steps: int) -> SchemathesisConfig:
    """Returns how schemathesis runs: from one seed, without its own database, without network or files."""
    told: dict[str, Any] = {
        "seed": seed,
        "continue-on-failure": True,
        "parameters": {"query.wait": 0},
        "generation": {
            "max-examples": each,
            "database": "none",
            "deterministic": True,
            "no-shrink": True,
            "with-security-parameters": False,
        },
        "phases": {name: {"enabled": name in phases} for name in ("examples", "coverage", "fuzzing", "stateful")},
        "checks": {
            "enabled": False,
            **{name: {"enabled": True} for name in CHECKS},
            "negative_data_rejection": {"enabled": True, "expected-statuses": REFUSED},
            "missing_required_header": {"enabled": True, "expected-statuses": REFUSED},
        },
        "suppress-health-check": ["all"],
    }
    told["phases"]["stateful"] |= {"generation": {"max-examples": steps}}
    return SchemathesisConfig.from_dict(told)


SHORT: Final = partial(settings, each=1, phases=("fuzzing", "stateful"), steps=15)
"""About 350 requests: one of each operation, and fifteen chains."""
LONG: Final = partial(settings, each=8, phases=("examples", "coverage", "fuzzing", "stateful"), steps=300)
"""About 29,000 requests: every example, every bound of every schema from both sides, chance, and chains."""


def run(bench: Bench, config: SchemathesisConfig) -> Found:
    """Returns what a run against a served department finds."""
    whole = schemathesis.openapi.from_asgi("/openapi.json", bench.app, config=config, timeout=LOADING_S)
    schema = whole.exclude(operation_id=list(LEFT_OUT))
    found = Found()
    schemathesis.hook("before_call")(with_known_names)
    try:
        for event in from_schema(schema).execute():
            _hear(event, found)
    finally:
        schemathesis.hooks.unregister(with_known_names)
    return found


def _hear(event: events.EngineEvent, found: Found) -> None:
    if isinstance(event, events.ScenarioFinished):
        _count(event, found)
    elif isinstance(event, events.NonFatalError):
        found.errors.append(f"{event.label}: {event.value}"[:400])
    elif isinstance(event, events.FatalError):
        found.errors.append(str(event.exception))


def with_known_names(_: Any, case: Any, __: dict[str, Any]) -> None:
    """Puts names of the department into every second well-formed request, by its own content."""
    if case.meta is None or not case.meta.generation.mode.is_positive or len(repr(case.body)) % 2:
        return
    for place in (case.path_parameters, case.query, case.body):
        if isinstance(place, dict):
            place |= {name: known[len(repr(case.body)) % len(known)] for name, known in KNOWN.items() if name in place}


def _count(event: events.ScenarioFinished, found: Found) -> None:
    recorder = event.recorder
    found.cases += len(recorder.interactions)
    for one in recorder.interactions.values():
        if one.response is not None:
            found.statuses[one.response.status_code] += 1
    for case_id, checks in recorder.checks.items():
        case = recorder.cases[case_id].value
        for check in checks:
            if check.failure_info is not None and not _is_taken_on_purpose(check.name, case.operation.path, case.body):
                failure = check.failure_info.failure
                first = (failure.message or failure.title).splitlines()[0]
                told = f"{check.failure_info.code_sample}\n{failure.message}"
                found.faults.setdefault(f"{case.operation.label} | {check.name} | {first}", told)


def _is_taken_on_purpose(check: str, path: str, body: Any) -> bool:
    """Tells whether what does not fit the document is taken all the same: a null for what is absent, and any table."""
    if check != "negative_data_rejection":
        return False
    return path.startswith("/v1/imports/") or (isinstance(body, dict) and None in body.values())
