"""A small typed client for integrators: it retries with the same key, and a refusal is a value that says why.

    with Client("http://127.0.0.1:8470", token="rpt_...") as client:
        answer = client.report_contamination("BLW-0041", "dropped", station="LMG-D1")
        for entry in client.entries(after=0): ...

Every writing method takes `key`; without one a new key is made, and the client's own retries keep it.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from http import HTTPStatus
from types import TracebackType
from typing import Any, Final

import httpx2

from reprocess.clock import SystemClock
from reprocess.errors import ReprocessError
from reprocess.reminders.signing import secret_from, signed
from reprocess.terms import SECOND_US

TRIES: Final = 6
"""Times that one request is sent at most."""
WAITS_S: Final = (0.2, 0.5, 1.0, 2.0, 5.0)
"""Seconds between two tries where the server names none (our choice: together as long as a node takes to restart)."""
WAIT_S_MAX: Final = 30.0
"""Seconds that one wait takes at most, whatever the server asks for."""
AGAIN: Final = frozenset({429, 502, 503, 504})
"""Answers after which the same request is sent again."""
TIMEOUT_S: Final = 30.0
FOLLOW_S: Final = 20
"""Seconds that one request for the feed waits for the next entry."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Is one reason why not, or one warning: its rule, what to say and what to do."""

    rule: str
    key: str
    sentence: str
    next_action: str
    facts: Mapping[str, Any] = field(default_factory=dict)
    wait_s: int | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """Is what the department says to one request.

    Attributes:
        verdict: accepted, refused or held.
        subject: the stream asked about, such as `item:BLW-0041`.
        reasons: why not, all of them.
        warnings: what must be known although it was accepted.
        next_steps: what may follow.
        repeated: whether the request was on record before.
        fields: the whole answer as it came.
    """

    verdict: str
    subject: str
    reasons: tuple[Reason, ...]
    warnings: tuple[Reason, ...]
    stage: str | None
    next_steps: tuple[str, ...]
    repeated: bool
    key: str
    fields: Mapping[str, Any]

    @property
    def accepted(self) -> bool:
        """Tells whether what was asked stands on record."""
        return self.verdict == "accepted"

    @property
    def on_record(self) -> bool:
        """Tells whether what was reported stands on record, be it that the item is on hold because of it."""
        return self.verdict in {"accepted", "held"}


@dataclass(frozen=True, slots=True)
class Entry:
    """Is one entry of the record, as this caller may see it.

    Attributes:
        feed: its number in the one gap-free order of the whole record.
        type: its name outside, such as `item.released`; None where the entry is withheld.
        body: what it says, as the catalogue describes it.
        fields: all of it as it came.
    """

    feed: int
    type: str | None
    stream: str | None
    recorded_at: str | None
    body: Mapping[str, Any]
    fields: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Use:
    """Is one time that an item was with a wearer, by pseudonym."""

    item: str
    wearer: str
    since: str
    until: str | None


@dataclass(frozen=True, slots=True)
class Trace:
    """Is the answer to a trace question: every item and wearer, and when which item was with whom."""

    items: tuple[str, ...]
    wearers: tuple[str, ...]
    uses: tuple[Use, ...]


class ProblemError(ReprocessError):
    """Says that a request could not be answered: the problem's kind, status and detail (RFC 9457)."""

    code = "problem"

    def __init__(self, kind: str, status: int, detail: str, fields: Mapping[str, Any]) -> None:
        super().__init__(f"{kind} ({status}): {detail}", status=status)
        self.kind = kind
        self.status = status
        self.detail = detail
        self.problem = fields


class NoAnswerError(ReprocessError):
    """Says that no answer came, after all tries; whether it is on record, the same key finds out later."""

    code = "no-answer"

    def __init__(self, key: str | None, tries: int) -> None:
        super().__init__(f"No answer after {tries} tries. Send it again with the same key.", key=key)
        self.key = key


class Client:
    """Is a connection to one department. Use it in a `with` block, from one thread.

    Args:
        url: where it is served, such as `http://127.0.0.1:8470`; several nodes are tried in turn.
        token: the program's own token.
        transport: what carries the requests instead of the network, for tests.
        sleep: what waits between two tries.
    """

    def __init__(
        self,
        *url: str,
        token: str | None = None,
        transport: httpx2.BaseTransport | None = None,
        sleep: Callable[[float], None] = time.sleep,  # noqa: TID251 - a program at the other end waits by itself
        timeout_s: float = TIMEOUT_S,
    ) -> None:
        if not url:
            message = "Name at least one address."
            raise ValueError(message)
        self._nodes = [one.rstrip("/") for one in url]
        self._sleep = sleep
        self._http = httpx2.Client(transport=transport, timeout=timeout_s, follow_redirects=False)
        self._secret = token

    def __enter__(self) -> Client:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Closes the connections."""
        self._http.close()

    # Who asks.

    def sign_in(self, badge: str, pin: str, station: str, *, new_pin: str | None = None) -> None:
        """Signs a person in at a station; what follows is asked in their session.

        Args:
            badge: the person's badge.
            pin: their PIN.
            station: where they are.
            new_pin: the PIN of their own choice, where somebody else chose the first one.

        Raises:
            ProblemError: badge and PIN do not fit, or a wait is asked for.
        """
        told = _said(badge=badge, pin=pin, station=station, new_pin=new_pin, bearer=True)
        self._secret = str(self._json("POST", "/v1/sessions", told)["secret"])

    def sign_out(self) -> None:
        """Ends the session."""
        self._send("DELETE", "/v1/sessions/current")
        self._secret = None

    # What is asked.

    def ask(
        self,
        path: str,
        body: Mapping[str, Any] | None = None,
        *,
        key: str | None = None,
        version: str | None = None,
    ) -> Answer:
        """Returns the answer to any writing operation, such as `ask("/items/BLW-0041/steps", {"step": "clean"})`.

        Args:
            path: the address after `/v1`.
            body: the members of the request.
            key: the request's own key; a new one where it is left out.
            version: for a change of master data, the version that was read, as `version()` returns it.

        Raises:
            ProblemError: the request was not understood or not allowed.
            NoAnswerError: no node answered.
        """
        own = key or new_key()
        headers = {"Idempotency-Key": own} | ({"If-Match": version} if version is not None else {})
        return _answered(self._send("POST", f"/v1{path}", dict(body or {}), headers=headers, key=own))

    def commission(
        self, item: str, workflow: str, model: str, *, station: str | None = None, key: str | None = None, **more: Any
    ) -> Answer:
        """Returns the answer to making an item known; `more` are further members, such as `serial`."""
        return self.ask("/items", _said(item=item, workflow=workflow, model=model, station=station, **more), key=key)

    def log_step(
        self, item: str, step: str, *, station: str | None = None, key: str | None = None, **more: Any
    ) -> Answer:
        """Returns the answer to a step without a clock; `more`: `checks`, `readings`, `counts`, `instrument` ..."""
        return self.ask(f"/items/{item}/steps", _said(step=step, station=station, **more), key=key)

    def report_contamination(
        self, item: str, cause: str, *, station: str | None = None, key: str | None = None, **more: Any
    ) -> Answer:
        """Returns the answer to a report of use, a fall or another contamination."""
        return self.ask(f"/items/{item}/contaminations", _said(cause=cause, station=station, **more), key=key)

    def place_hold(
        self,
        item: str,
        sort: str,
        cause: str,
        owner: str,
        *,
        station: str | None = None,
        key: str | None = None,
        **more: Any,
    ) -> Answer:
        """Returns the answer to a hold."""
        told = _said(sort=sort, cause=cause, owner=owner, station=station, **more)
        return self.ask(f"/items/{item}/holds", told, key=key)

    # What is read.

    def read(self, path: str, **query: Any) -> Any:
        """Returns what a reading address says, such as `read("/board")`.

        Raises:
            ProblemError: it is not allowed, or not on record.
        """
        return self._json("GET", f"/v1{path}", query=_said(**query))

    def version(self, path: str) -> str:
        """Returns the version (ETag) of a person, an instrument, a place or a file, such as `version("/people/P-07")`.

        Raises:
            ProblemError: it is not allowed, or not on record, or has no version.
        """
        response = self._send("GET", f"/v1{path}")
        if not response.is_success or "ETag" not in response.headers:
            raise _problem(response)
        return str(response.headers["ETag"])

    def item(self, item: str, *, as_of: str | None = None) -> dict[str, Any]:
        """Returns where an item stands, now or at a past instant (RFC 3339 with its offset)."""
        return dict(self.read(f"/items/{item}", as_of=as_of))

    def next_steps(self, item: str, *, station: str | None = None, **given: Any) -> dict[str, Any]:
        """Returns what may be done next with an item, and why not for the rest.

        Args:
            item: which one.
            station: where; a token says it, a session knows its own.
            **given: what would be brought along: `badge`, `solution`, `instrument`, `place`, `wearer`, `member` ...
        """
        return dict(self.read(f"/items/{item}/next", station=station, **given))

    def who_wore(self, sort: str, name: str, **span: str) -> Trace:
        """Returns the items and wearers that something touched: `who_wore("solution", "LMG-B2")`.

        Args:
            sort: item, solution, load, lot, instrument, person, model ...
            name: which one.
            **span: `from`, `until`, `as_of`, as instants in RFC 3339.
        """
        uses: list[Use] = []
        items: list[str] = []
        wearers: list[str] = []
        after: int | None = 0
        while after is not None:
            told = self.read("/lookbacks", sort=sort, name=name, after=after, **span)
            items, wearers = told["items"], told["wearers"]
            uses += [Use(one["item"], one["wearer"], one["since"], one["until"]) for one in told["uses"]]
            after = told["next"]
        return Trace(tuple(items), tuple(wearers), tuple(uses))

    def entries(self, after: int = 0, *, kinds: tuple[str, ...] = ()) -> Iterator[Entry]:
        """Yields the entries after a number, in the one order of the record, up to the latest."""
        while (page := self._page(after, kinds, wait_s=0))["entries"] or page["next_after"] > after:
            yield from (_entry(one) for one in page["entries"])
            after = int(page["next_after"])

    def follow(self, after: int = 0, *, kinds: tuple[str, ...] = ()) -> Iterator[Entry]:
        """Yields the entries after a number and then each new one, for as long as it is asked.

        Whoever keeps the number of the last entry that was dealt with goes on there, on any node.
        """
        while True:
            page = self._page(after, kinds, wait_s=FOLLOW_S)
            yield from (_entry(one) for one in page["entries"])
            after = int(page["next_after"])

    def _page(self, after: int, kinds: tuple[str, ...], *, wait_s: int) -> dict[str, Any]:
        query: dict[str, Any] = {"after": after, "wait": wait_s}
        if kinds:
            query["kinds"] = list(kinds)
        return dict(self._json("GET", "/v1/entries", query=query))

    # What machines report.

    def post_result(self, source: str, secret: str, result: Mapping[str, Any], *, key: str | None = None) -> Answer:
        """Returns the answer to a result of a washer, charger or sensor, signed by the open Standard Webhooks scheme.

        Args:
            source: the name under which the department knows the sender.
            secret: the sender's secret, as `whsec_...`.
            result: what the machine says, such as `{"sort": "washer", "load": "QAW-L7"}`.
            key: the message's own id without a full stop, the same for every retry.

        Raises:
            ProblemError: the signature is not believed, or the result does not fit.
        """
        own = key or new_key()
        raw = json.dumps(result).encode()
        at_s = SystemClock().now().wall_us // SECOND_US
        headers = {"Content-Type": "application/json"} | signed([secret_from(secret)], own, at_s, raw)
        return _answered(self._send("POST", f"/v1/results/{source}", raw=raw, headers=headers, key=own))

    # How it is sent.

    def _json(
        self, method: str, path: str, body: Mapping[str, Any] | None = None, *, query: Mapping[str, Any] | None = None
    ) -> Any:
        response = self._send(method, path, body, query=query)
        if not response.is_success:
            raise _problem(response)
        return response.json()

    def _send(
        self,
        method: str,
        path: str,
        body: Mapping[str, Any] | None = None,
        *,
        raw: bytes | None = None,
        query: Mapping[str, Any] | None = None,
        headers: Mapping[str, str] | None = None,
        key: str | None = None,
    ) -> httpx2.Response:
        """Returns the first response that is an answer; what may be sent again is, to the next node."""
        sent = dict(headers or {})
        if self._secret is not None and raw is None:
            sent["Authorization"] = f"Bearer {self._secret}"
        more: dict[str, Any] = {"json": body} if body is not None else {"content": raw} if raw is not None else {}
        last: httpx2.Response | None = None
        for number in range(TRIES):
            try:
                last = self._http.request(method, self._nodes[0] + path, params=query, headers=sent, **more)
            except httpx2.TransportError:
                last = None
            if last is not None and last.status_code not in AGAIN:
                return last
            self._nodes.append(self._nodes.pop(0))
            if number + 1 < TRIES:
                self._sleep(_wait_s(last, number))
        if last is None:
            raise NoAnswerError(key, TRIES)
        return last


def _answered(response: httpx2.Response) -> Answer:
    """Returns the answer in a response, also where a rule refused; anything else is a problem."""
    told = response.json() if _is_json(response) else {}
    if response.status_code == HTTPStatus.CONFLICT and "answer" in told:
        told = told["answer"]
    elif not response.is_success:
        raise _problem(response)
    return _answer(told)


def _is_json(response: httpx2.Response) -> bool:
    return "json" in response.headers.get("Content-Type", "")


def _wait_s(response: httpx2.Response | None, number: int) -> float:
    asked = response.headers.get("Retry-After", "") if response is not None else ""
    return min(float(asked), WAIT_S_MAX) if asked.isdigit() else WAITS_S[number]


def _problem(response: httpx2.Response) -> ProblemError:
    told = response.json() if _is_json(response) else {}
    kind = str(told.get("type", "")).rpartition("/")[2] or "unknown"
    return ProblemError(kind, response.status_code, str(told.get("detail", "nothing is known")), told)


def _answer(told: Mapping[str, Any]) -> Answer:
    return Answer(
        verdict=str(told["verdict"]),
        subject=str(told["subject"]),
        reasons=tuple(_reason(one) for one in told.get("reasons", ())),
        warnings=tuple(_reason(one) for one in told.get("warnings", ())),
        stage=told.get("stage"),
        next_steps=tuple(told.get("next_steps", ())),
        repeated=bool(told.get("repeated", False)),
        key=str(told.get("key", "")),
        fields=told,
    )


def _reason(told: Mapping[str, Any]) -> Reason:
    return Reason(
        rule=str(told["rule"]),
        key=str(told["key"]),
        sentence=str(told["sentence"]),
        next_action=str(told["next_action"]),
        facts=told.get("facts", {}),
        wait_s=told.get("wait_s"),
    )


def _entry(told: Mapping[str, Any]) -> Entry:
    return Entry(
        feed=int(told["feed"]),
        type=told.get("type"),
        stream=told.get("stream"),
        recorded_at=told.get("recorded_at"),
        body=told.get("body") or {},
        fields=told,
    )


def _said(**members: Any) -> dict[str, Any]:
    """Returns the members that are said at all."""
    return {name: value for name, value in members.items() if value is not None}


def new_key() -> str:
    """Returns a new key for a request: a UUID version 7, so that keys sort by time."""
    return SystemClock().new_id()
