"""The answer to one request: accepted, refused or held, with every reason at once.

The same object drives the screen, the API, the command line and the tests. Sentences are made from it in
`reprocess.rules.words`; what is stored is the rule, the key and the facts, so that a language can change later.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from enum import StrEnum

import orjson
from pydantic import TypeAdapter

Fact = str | int | list[str]


class Verdict(StrEnum):
    """Lists the three answers."""

    ACCEPTED = "accepted"
    REFUSED = "refused"
    HELD = "held"


@dataclass(frozen=True, slots=True)
class Reason:
    """Is one reason why not (or one warning), under its rule.

    Attributes:
        rule: the id in the rule catalogue, such as T01.
        key: which sentence of `words` says it.
        facts: what the sentence needs; whole numbers, texts and lists of texts.
        wait_s: seconds after which the same request would pass this rule, rounded up; None where waiting does not help.
        competency: what somebody who can help must hold, with the kind of item in `item_kind`.
        role: the role that can help, where no competency says it.
        helpers: names of people who can help, filled in by the station.
    """

    rule: str
    key: str
    facts: dict[str, Fact] = field(default_factory=dict)
    wait_s: int | None = None
    competency: str | None = None
    item_kind: str | None = None
    role: str | None = None
    helpers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Clock:
    """Is a running clock: what it counts, how much is left and what is due next.

    Attributes:
        step: the step whose dwell runs.
        left_s: seconds until the least time is met, rounded up; zero once met.
        rewet_s: seconds until the surface must be wetted again, or None.
        most_s: seconds until the longest allowed time, or None.
        attempt: which attempt this is, from 1.
    """

    step: str
    left_s: int
    rewet_s: int | None = None
    most_s: int | None = None
    attempt: int = 1


@dataclass(frozen=True, slots=True)
class Signature:
    """Is what a signature shows: who by printed name, when, what it means, and of what exactly (21 CFR 11.50, I22).

    It stands in the answer, which is hashed with its entry, so that it cannot be moved to another record.

    Attributes:
        utc: the time in UTC, RFC 3339.
        local: the same in the site's local time with its offset.
        shown: SHA-256 of what was shown, in hexadecimal.
        quoted: whether the signer gave that digest; else it is what stood on record when they signed.
    """

    name: str
    meaning: str
    utc: str
    local: str
    shown: str
    second: str | None = None
    quoted: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """Is what a station says to one request.

    Attributes:
        subject: the stream asked about.
        asked: the kind of request.
        reasons: why not, all of them; empty when accepted.
        warnings: what the person must know although it was accepted.
        found: defects that the request reported.
        stage: the stage after the request.
        next_steps: the steps that may follow, in the workflow's order.
        cautions: keys of further cautions, in the order in which they are shown.
        key: the request's key.
        repeated: whether this answers a repetition; nothing was recorded anew.
        signature: who signed what, where the request is one that is signed.
    """

    verdict: Verdict
    subject: str
    asked: str
    step: str | None = None
    reasons: tuple[Reason, ...] = ()
    warnings: tuple[Reason, ...] = ()
    found: tuple[str, ...] = ()
    stage: str | None = None
    next_steps: tuple[str, ...] = ()
    clock: Clock | None = None
    caution: str | None = None
    cautions: tuple[str, ...] = ()
    key: str = ""
    repeated: bool = False
    signature: Signature | None = None

    @property
    def word(self) -> str:
        """Returns the one word that is shown first: a fact that was recorded and says something is noted."""
        return "NOTED" if self.accepted and self.reasons else self.verdict.upper()

    @property
    def accepted(self) -> bool:
        """Tells whether what was asked now stands on record."""
        return self.verdict is Verdict.ACCEPTED

    def rules(self) -> tuple[str, ...]:
        """Returns the rule ids of all reasons, in order, each once."""
        return tuple(dict.fromkeys(reason.rule for reason in self.reasons))


_ADAPTER = TypeAdapter(Answer)


def as_text(answer: Answer) -> str:
    """Returns the answer as the JSON that the record keeps; empty fields are left out."""
    return orjson.dumps(_full(answer), option=orjson.OPT_SORT_KEYS).decode()


def as_fields(answer: Answer) -> dict[str, object]:
    """Returns the answer as plain values, for JSON output; empty fields are left out."""
    fields: dict[str, object] = orjson.loads(as_text(answer))
    return fields


def from_text(text: str) -> Answer:
    """Returns the answer that the record kept."""
    return _ADAPTER.validate_json(text)


_NAMES: dict[type, tuple[str, ...]] = {
    kind: tuple(one.name for one in fields(kind)) for kind in (Answer, Reason, Clock, Signature)
}


def _full(value: Answer | Reason | Clock | Signature) -> dict[str, object]:
    full: dict[str, object] = {}
    for name in _NAMES[type(value)]:
        held = getattr(value, name)
        if held or (held == 0 and held is not False) or (held == "" and isinstance(value, Signature)):
            full[name] = held
    for name in ("reasons", "warnings"):
        if name in full:
            full[name] = [_full(one) for one in getattr(value, name)]
    if isinstance(value, Answer) and value.clock is not None:
        full["clock"] = _full(value.clock)
    if isinstance(value, Answer) and value.signature is not None:
        full["signature"] = _full(value.signature)
    return full
