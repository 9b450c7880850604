"""From the words of `reprocess review` to a request, and how the queue is shown."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from reprocess.commandline.asking import DIGITS_MAX, said
from reprocess.commandline.baths import needed
from reprocess.commandline.say import Local
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.errors import WrongUseError
from reprocess.ledger.reviews import Refusals, Waiting
from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.rules import signing
from reprocess.rules.catalogue import FAMILIES, Rule
from reprocess.terms import StreamKind, as_text, subject_of


@dataclass(frozen=True, slots=True)
class Given:
    """Is what was typed, still as text."""

    what: str | None
    to: str | None
    about: str | None
    why: str | None


def number_of(text: str | None) -> int:
    """Returns an entry's number in the whole record.

    Raises:
        WrongUseError: it is no whole number.
    """
    digits = needed(text, "the entry's number, as `review list` shows it")
    if not (digits.isascii() and digits.isdigit() and len(digits) <= 2 * DIGITS_MAX):
        message = f"An entry is named by its number, not {digits[:20]!r}."
        raise WrongUseError(message)
    return int(digits)


def request_of(department: Department, verb: str, given: Given) -> Request:
    """Returns the request that the words mean.

    Raises:
        WrongUseError: something that the verb needs is missing or cannot be read.
    """
    match verb:
        case "countersign":
            finding = said(needed(given.why, "what was found: --why")) or ""
            return asking.ReviewEntry(number_of(given.what), finding)
        case "refusals":
            finding = said(needed(given.why, "what was found: --why")) or ""
            last = max((one.last_feed for one in department.waiting_for_review()[1]), default=0)
            return asking.ReviewRefusals(last, finding)
        case _:
            subject = needed(given.what, "the subject, such as item:KIT-7")
            if ":" not in subject:
                subject = f"{StreamKind.ITEM}:{subject}"
            return asking.Consent(subject, needed(given.to, "to what, such as lift-hold"), given.about)


def queue_lines(waiting: Sequence[Waiting], refusals: Sequence[Refusals], show: Local) -> list[str]:
    """Returns the queue as lines: what waits, oldest first, then the refusals counted by rule and station."""
    if not waiting and not refusals:
        return ["Nothing waits for review."]
    times = sum(one.times for one in refusals)
    lines = [f"Waiting for review: {len(waiting)}; refusals not looked at: {times}."]
    for one in waiting:
        subject = one.stream if not one.stream.startswith("item:") else subject_of(one.stream)
        rules, who = ", ".join(one.rules), one.actor or "the program"
        lines.append(f"{one.feed:>8}  {one.sort:<14} {subject:<16} {rules:<6} {show(one.at_us)}  {who}")
    if waiting:
        lines.append("Look: `reprocess review show NUMBER`.")
    lines += [
        f"{one.times:>8} x refused  {', '.join(one.rules):<14} at {one.station or 'no station'}" for one in refusals
    ]
    if refusals:
        lines.append("What a rule asks: `reprocess review show RULE`.")
        lines.append('Seen: `reprocess review refusals --why "what was found"`.')
    return lines


def queue_json(waiting: Sequence[Waiting], refusals: Sequence[Refusals]) -> dict[str, Any]:
    """Returns the queue as JSON values."""
    return {
        "waiting": [{**asdict(one), "at": as_text(one.at_us)} for one in waiting],
        "refusals": [asdict(one) for one in refusals],
    }


def shown_of(department: Department, feed: int) -> dict[str, Any]:
    """Returns what is shown of an entry, its digest, and the commands that may follow."""
    entry = department.entry(feed)
    text = signing.entry_text(entry)
    digest = signing.digest_of(text)
    return {"entry": feed, "text": text, "shown": digest, "commands": _commands(department, entry, digest)}


def rule_of(what: str | None) -> Rule | None:
    """Returns the rule of that id, or None where what was typed is no rule's."""
    known = {rule.id: rule for rules in FAMILIES.values() for rule in rules}
    return known.get((what or "").upper())


def rule_told(rule: Rule, *, as_json: bool) -> str:
    """Returns what a rule asks and what that rests on."""
    if as_json:
        return json.dumps({"rule": rule.id, "says": rule.says, "source": rule.source}, ensure_ascii=False)
    return f"{rule.id}  {rule.says}\n     rests on: {rule.source}"


def shown_lines(told: dict[str, Any]) -> list[str]:
    """Returns what is shown of an entry as lines."""
    return [*str(told["text"]).splitlines(), f"shown {told['shown']}", *(f"  {one}" for one in told["commands"])]


def _commands(department: Department, entry: Entry, digest: str) -> list[str]:
    """Returns the exact commands: countersign it, and lift what it holds or approve what it proposes."""
    brief = digest[: signing.SHOWN_LEAST]
    waits = any(one.feed == entry.feed for one in department.waiting_for_review()[0])
    found = [f'reprocess review countersign {entry.feed} --shown {brief} --as BADGE --why "..."'] if waits else []
    kind, _, name = entry.stream.partition(":")
    if kind == StreamKind.ITEM:
        now = department.shown(entry.stream)[1][: signing.SHOWN_LEAST]
        holds = department.item(name).holds
        found += [
            f'reprocess hold {name} lift {hold} --shown {now} --as BADGE --with BADGE --why "..."' for hold in holds
        ]
        if holds:
            found.append(f'reprocess log {name} condemn --shown {now} --as BADGE --with BADGE --why "..."')
    if isinstance(entry.body, words.BadgeDoubted):
        found.append(f"reprocess person {entry.body.person} unbadge BADGE --as BADGE --why ...")
    return found
