"""Which role, and which scope of a token, opens which operation: one table, default deny (A08, D10).

The table only opens the door. Who may go through it on this item, now, the engine judges: competencies (A02), separate
hands (S01, S02), second persons (S03). Facts are never refused to anybody who works here; an auditor reads everything
and writes nothing; a system administrator has no process rights at all (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from reprocess.definitions.holds import LIFTS
from reprocess.record.people import Person
from reprocess.rules import competence, custody, lots, override, privacy
from reprocess.rules.answer import Reason

TECHNICIAN: Final = "technician"
INSPECTOR: Final = "inspector"
RELEASER: Final = "releaser"
SUPERVISOR: Final = "supervisor"
ENGINEER: Final = "clinical-engineer"
WARD: Final = "unit-coordinator"
STOCK: Final = "supply-coordinator"
SUPPLY: Final = "supply"
QUALITY: Final = "quality"
AUTHOR: Final = "author"
APPROVER: Final = "approver"
AUDITOR: Final = "auditor"
SYSTEM: Final = "system-administrator"

BENCH: Final = frozenset(
    {TECHNICIAN, INSPECTOR, RELEASER, SUPERVISOR, ENGINEER, privacy.PROGRAMME, privacy.INFECTION},
)
"""Who works at the benches; which step is whose, competencies say."""
FLOOR: Final = BENCH | {WARD, STOCK, privacy.HEALTH}
"""Who also issues, wears, takes back and stores."""
STORE: Final = BENCH | {WARD, STOCK, SUPPLY}
"""Who also counts and receives what is used up."""
OFFICE: Final = frozenset({SUPERVISOR, privacy.PROGRAMME, privacy.INFECTION})
"""Who enrols people and reviews what was unusual; the engine asks for the same roles."""
WORKING: Final = FLOOR | STORE | {QUALITY, privacy.RISK, AUTHOR, APPROVER}
"""Everybody but auditors and system administrators: a fact is refused to none of them."""
READING: Final = WORKING | {AUDITOR}
ROLES: Final = READING | {SYSTEM}
"""Every role word that the table knows."""
LIFTING: Final = frozenset(role for lift in LIFTS.values() for role in lift.roles)
OVERRIDING: Final = frozenset(role for row in override.OVERRIDABLE.values() for role in row.roles)
RECALLING: Final = OFFICE | {ENGINEER, STOCK}
RECORD: Final = OFFICE | {ENGINEER, QUALITY, privacy.RISK, AUDITOR}
"""Who reads the record as a whole: every entry, every person, what was refused."""

CLAIM: Final = "badges:claim"
"""The scope with which a token may name a badge; the entry then says that the badge is only claimed."""
SCREEN: Final = "screens:show"
"""The only scope of a screen: a browser at a station, which shows what everybody who stands there may see."""
ENROL_SCREEN: Final = "enrol-screen"
"""The operation of issuing a token that is a screen's."""
_PLAIN: Final = (TECHNICIAN,)
"""What somebody without a role word works as: their competencies say what they may do."""


@dataclass(frozen=True, slots=True)
class Permission:
    """Is one row of the table.

    Attributes:
        operation: the `asked` word of a request, or the name of a reading.
        scope: what a token must hold; None where no token may ever ask it.
        roles: one of these opens it to a person.
        signed: whether the PIN is given again in the same request.
        second: whether a second person signs too, whatever it is about; the engine asks for more where it must.
        machine: whether a token may ask it without a person: facts, results and readings only.
        screen: whether a screen shows it although nobody is signed in there.
    """

    operation: str
    scope: str | None
    roles: frozenset[str]
    signed: bool = False
    second: bool = False
    machine: bool = False
    screen: bool = False


Row = tuple[str, Permission]


def _rows(
    scope: str | None,
    roles: Collection[str],
    *operations: str,
    signed: bool = False,
    second: bool = False,
    machine: bool = False,
    screen: bool = False,
) -> tuple[Row, ...]:
    """Returns one row for each operation, all alike."""
    allowed = frozenset(roles)
    return tuple((name, Permission(name, scope, allowed, signed, second, machine, screen)) for name in operations)


_ITEMS: Final = (
    *_rows("scans:write", WORKING, "contaminate", "fail-step", "break-dwell", "set-aside", "note-item", machine=True),
    *_rows("scans:write", WORKING, "report-method", "take-off", "tell-signal", machine=True),
    *_rows("scans:write", WORKING, "move-counted"),
    *_rows("scans:write", BENCH, "do-step", "start-dwell", "rewet", "end-dwell", "undo", "assemble"),
    *_rows("scans:write", BENCH, "finish-repair"),
    *_rows("scans:write", FLOOR, "put-on", "swap-part"),
    *_rows("holds:write", WORKING, "place-hold", "put-in-quarantine", "doubt-identity", machine=True),
    *_rows(None, BENCH, "release", signed=True),
    *_rows(None, LIFTING, "lift-hold", signed=True),
    *_rows(None, OVERRIDING, "override", signed=True),
    *_rows(None, competence.CONDEMN_ROLES, "condemn", signed=True),
    *_rows(None, BENCH, "correct", signed=True, second=True),
    *_rows("items:write", BENCH, "type-code", "give-tag", "withdraw-tag"),
    *_rows(None, {SUPERVISOR}, "split-history", "recommission", signed=True, second=True),
)
_WORK: Final = (
    *_rows("solutions:write", BENCH, "make-solution", "top-up-solution"),
    *_rows("solutions:write", WORKING, "test-solution", "end-solution"),
    *_rows("lots:write", STORE, "receive-lot", "use-lot", "count-lot", machine=True),
    *_rows("lots:write", WORKING, "recall-lot", machine=True),
    *_rows(None, lots.CLEAR_ROLES, "clear-lot", signed=True, second=True),
    *_rows("loads:write", BENCH, "open-load", "add-to-load", "remove-from-load", "unload-load"),
    *_rows("loads:result", WORKING, "start-load", "end-load", "fail-load", machine=True),
    *_rows("loads:write", BENCH, "set-programme"),
)
_CUSTODY: Final = (
    *_rows("custody:write", FLOOR, "issue-item", "hand-on", "identify-wearer", "send-item", "receive-item"),
    *_rows("custody:write", WORKING, "return-item", machine=True),
    *_rows("custody:write", custody.LEND_ROLES, "lend-item", "dedicate-item"),
    *_rows("places:write", FLOOR, "put-away", "inspect-unit", "seal-cabinet"),
    *_rows("places:write", WORKING, "take-out", "read-place", "alarm-vapour", "open-cabinet", machine=True),
    *_rows("places:write", OFFICE, "open-place"),
    *_rows("forms:write", BENCH, "enter-form", "enter-line", "off-limits"),
    *_rows("files:write", WORKING, "keep-file", machine=True),
)
_DOUBT: Final = (
    *_rows(None, RECALLING, "preview-recall", "commit-recall"),
    *_rows(None, RECALLING, "close-recall", signed=True),
    *_rows(None, WORKING, "consent", signed=True),
    *_rows(None, OFFICE, "review-entry", "review-refusals", signed=True),
    *_rows(None, privacy.CASE_ROLES, "read-case", "grade-use", "tell-wearer", "act-on-case", "list-names"),
    *_rows(None, privacy.CASE_ROLES, "decide-case", "close-case", signed=True),
    *_rows(None, privacy.REPORT_ROLES, "settle-report", signed=True),
)
_WEARERS: Final = (
    *_rows("wearers:write", privacy.KEEPING_ROLES, "register-wearer", "train-wearer", "clear-wearer"),
    *_rows("wearers:write", privacy.KEEPING_ROLES, "fit-test-wearer", "wearer-leaves"),
    *_rows(None, privacy.NAME_ROLES, "trace-wearer", "read-names"),
    *_rows(None, privacy.NAME_ROLES, "erase-name", "purge-names", signed=True),
)
_DEPARTMENT: Final = (
    *_rows(None, OFFICE, "enrol", "site-opened", "station-opened", "person-registered", "badge-given", signed=True),
    *_rows(None, OFFICE, "enrol-roles", signed=True, second=True),
    *_rows(None, OFFICE, "competency-granted", "programme-evaluated", "quiet-hours-set", signed=True),
    *_rows(None, {privacy.PROGRAMME}, "emergency-declared", signed=True),
    *_rows(None, OFFICE, "person-left", "badge-withdrawn", "competency-withdrawn"),
    *_rows("instruments:write", OFFICE, "instrument-registered", "instrument-verified"),
    *_rows("instruments:write", WORKING, "instrument-faulty", machine=True),
    *_rows("items:write", OFFICE, "commission"),
    *_rows(None, OFFICE | {AUTHOR}, "publish", signed=True),
    *_rows(None, OFFICE | {APPROVER}, "approve", signed=True),
    *_rows(None, OFFICE, "confirm-sources", signed=True),
)
_ACCESS: Final = (
    *_rows(None, ROLES, "sign-in", "sign-out", "change-pin"),
    *_rows(None, {SYSTEM, SUPERVISOR, privacy.PROGRAMME}, "set-pin", signed=True, second=True),
    *_rows(None, {SUPERVISOR, privacy.PROGRAMME}, "unlock-sign-in", signed=True),
    *_rows(None, {SYSTEM, privacy.PROGRAMME}, "issue-token", signed=True),
    *_rows(None, OFFICE, ENROL_SCREEN, signed=True),
    *_rows(None, {SYSTEM, SUPERVISOR, privacy.PROGRAMME}, "withdraw-token"),
    *_rows(None, {SYSTEM}, "rotate-key", signed=True, second=True),
    *_rows(
        None, {SYSTEM, privacy.PROGRAMME}, "make-subscription", "change-subscription", "end-subscription", signed=True
    ),
    *_rows(None, {SYSTEM, privacy.PROGRAMME}, "rekey-subscription", "replay-subscription", signed=True),
    *_rows(None, {SYSTEM}, "back-up"),
)
_READ: Final = (
    *_rows("items:read", READING, "read-items", "read-board", "read-due", machine=True, screen=True),
    *_rows("items:read", READING, "read-history", machine=True),
    *_rows("work:read", READING, "read-solutions", "read-lots", "read-loads", machine=True, screen=True),
    *_rows("work:read", READING, "read-instruments", machine=True),
    *_rows("places:read", READING, "read-places", machine=True, screen=True),
    *_rows("definitions:read", ROLES, "read-files", machine=True),
    *_rows("lookback:read", RECORD | {STOCK}, "read-lookback", "read-recalls", machine=True),
    *_rows("entries:read", RECORD, "read-entries", "read-forms", "read-reviews", "read-exports", machine=True),
    *_rows("people:read", RECORD | {SYSTEM}, "read-people", machine=True),
    *_rows("wearers:read", {*privacy.NAME_ROLES, WARD, SUPERVISOR, AUDITOR}, "read-wearers", machine=True),
    *_rows(None, privacy.REPORT_ROLES, "read-cases"),
    *_rows("metrics:read", OFFICE | {QUALITY, AUDITOR, SYSTEM}, "read-metrics", machine=True),
    *_rows("feed:read", {SYSTEM, AUDITOR, *OFFICE}, "read-feed", machine=True),
    *_rows("subscriptions:read", {SYSTEM, AUDITOR, privacy.PROGRAMME}, "read-subscriptions", machine=True),
    *_rows(None, {SYSTEM, SUPERVISOR, AUDITOR, privacy.PROGRAMME}, "read-tokens", "verify"),
)

PERMISSIONS: Final[Mapping[str, Permission]] = MappingProxyType(
    dict((*_ITEMS, *_WORK, *_CUSTODY, *_DOUBT, *_WEARERS, *_DEPARTMENT, *_ACCESS, *_READ)),
)
"""Every operation, in the order of the job; what has no row is refused to everybody."""
SCOPES: Final = frozenset({one.scope for one in PERMISSIONS.values() if one.scope is not None} | {CLAIM})
"""Every scope that a program's token can hold."""


def operation_of(asked: str, kind: str | None = None) -> str:
    """Returns the operation that a request is: its `asked` word, and where it enrols, the kind of what is written."""
    return kind if asked == "enrol" and kind is not None and kind in PERMISSIONS else asked


def scopes_of(roles: Collection[str]) -> frozenset[str]:
    """Returns the scopes of the readings that these roles open, so that people and tokens are asked alike."""
    mine = set(roles or _PLAIN)
    return frozenset(row.scope for row in PERMISSIONS.values() if row.scope is not None and row.roles & mine)


def may_person(roles: Collection[str], operation: str) -> Reason | None:
    """Returns why a person with these roles may not ask for an operation, or None where they may (A08)."""
    row = PERMISSIONS.get(operation)
    if row is not None and row.roles & set(roles or _PLAIN):
        return None
    able = sorted(row.roles) if row is not None else []
    return Reason(
        "A08", "not-your-role", {"operation": operation, "roles": able or ["nobody"]}, role=next(iter(able), None)
    )


def may_token(scopes: Collection[str], operation: str, *, badge: bool = False) -> Reason | None:
    """Returns why a token with these scopes may not ask for an operation, or None where it may (D10).

    Args:
        scopes: what the token holds.
        operation: what is asked.
        badge: whether the request names the badge of a person, who is then only claimed.
    """
    row = PERMISSIONS.get(operation)
    if row is None or row.scope is None or row.signed:
        return Reason("D10", "person-signs", {"operation": operation})
    if row.scope not in scopes:
        return Reason("D10", "scope-needed", {"operation": operation, "scope": row.scope})
    if badge and CLAIM not in scopes:
        return Reason("D10", "scope-needed", {"operation": operation, "scope": CLAIM})
    if not badge and not row.machine:
        return Reason("D10", "person-needed", {"operation": operation})
    return None


def may_screen(operation: str) -> Reason | None:
    """Returns why a screen where nobody is signed in may not ask for an operation, or None where it shows it (D10)."""
    row = PERMISSIONS.get(operation)
    return None if row is not None and row.screen else Reason("D10", "person-needed", {"operation": operation})


def may_at(sites: Collection[str], site: str) -> Reason | None:
    """Returns why a person or token limited to sites may not act or read at this one (D10); empty means every site."""
    return Reason("D10", "not-your-site", {"site": site}) if sites and site not in sites else None


def may_hand_on(people: Collection[Person], scopes: Collection[str], sites: Collection[str]) -> list[Reason]:
    """Returns why people may not let a program have these scopes at these sites: what none of them has, none gives.

    Args:
        people: whoever signs, one or two.
        scopes: what is given; `badges:claim` opens nothing without another one.
        sites: where it counts; everywhere when empty.
    """
    own = {CLAIM, *(scope for one in people for scope in scopes_of(one.roles))}
    strange = sorted(set(scopes) - own)
    found = [Reason("A08", "scope-not-yours", {"scope": strange})] if strange else []
    theirs = {site for one in people for site in one.sites}
    if all(one.sites for one in people) and (not sites or set(sites) - theirs):
        found.append(Reason("D10", "not-your-site", {"site": sorted(set(sites) - theirs) or ["every site"]}))
    return found


def as_table() -> str:
    """Returns the whole table in Markdown, operations that are alike in one line."""
    lines = [
        "| Operation | Roles | PIN again | Second person | A token's scope | Without a person | On a screen |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    alike: dict[str, list[str]] = {}
    for row in PERMISSIONS.values():
        who = _GROUPS.get(row.roles) or ", ".join(sorted(row.roles))
        marks = ["yes" if mark else "" for mark in (row.signed, row.second)]
        scope = f"`{row.scope}`" if row.scope is not None else "never"
        without = " | ".join("yes" if mark else "" for mark in (row.machine, row.screen))
        cells = f"{who} | {' | '.join(marks)} | {scope} | {without}"
        alike.setdefault(cells, []).append(f"`{row.operation}`")
    lines += [f"| {', '.join(names)} | {cells} |" for cells, names in alike.items()]
    return "\n".join(lines)


_GROUPS: Final = {
    ROLES: "everybody",
    READING: "everybody but system administrators",
    WORKING: "everybody who works here",
    FLOOR: "benches and wards",
    STORE: "benches, wards and stores",
    BENCH: "benches",
}
"""How groups of roles are called in the table."""
