"""How answers and standings are said on a terminal: the verdict first, then every reason and the next action."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from typing import Any

from reprocess.gathering import local
from reprocess.rules import words
from reprocess.rules.answer import Answer, Clock, Reason, Signature, Verdict, as_fields
from reprocess.rules.cautions import CAUTIONS
from reprocess.settings import Settings
from reprocess.terms import subject_of

Local = Callable[[int], str]
CALLED = {
    "consent": "agree",
    "contaminate": "starts again",
    "do-step": "step",
    "enrol": "record",
    "enter-line": "line of a form",
    "hand-on": "hand on again",
    "issue-item": "issue",
    "note-item": "note",
    "open-place": "set up",
    "put-away": "put in its place",
    "receive-item": "receive",
    "return-item": "return",
    "review-entry": "countersign",
    "set-aside": "set aside",
}
"""What a request is called on the first line, where its own word is not what people say."""


def local_in(zone: str) -> Local:
    """Returns how instants are shown: the site's local time with its offset, to the second."""
    return lambda at_us: local(zone, at_us).strftime("%a %d %b %Y %H:%M:%S %z")


def minutes(seconds: int) -> str:
    """Returns seconds as m:ss, or h:mm:ss from an hour up."""
    hours, rest = divmod(seconds, 3600)
    if hours:
        return f"{hours}:{rest // 60:02d}:{rest % 60:02d}"
    return f"{rest // 60}:{rest % 60:02d}"


def answer_lines(answer: Answer, show: Local) -> list[str]:
    """Returns an answer as lines for a terminal."""
    again = " (already recorded)" if answer.repeated else ""
    asked = answer.step or CALLED.get(answer.asked, answer.asked.replace("-", " "))
    lines = [f"{answer.word:<9} {subject_of(answer.subject)}  {asked}{again}"]
    unanswered = [one for one in answer.reasons if one.key == "check-missing"]
    for reason in answer.reasons:
        if len(unanswered) < FEW or reason not in unanswered:
            lines += reason_lines(reason, show)
    if len(unanswered) >= FEW:
        lines += unanswered_lines(unanswered)
    for warning in answer.warnings:
        lines.append(f"  note {warning.rule}  {words.sentence(warning, show)} {words.next_action(warning, show)}")
    if answer.clock is not None:
        lines.append(f"  clock {clock_line(answer.clock)}")
    if answer.stage is not None:
        following = ", ".join(answer.next_steps) or "nothing; it stays as it is"
        lines.append(f"  stage {answer.stage}; next: {following}")
    if answer.signature is not None:
        lines += signature_lines(answer.signature)
    if answer.caution is not None and answer.caution in CAUTIONS:
        lines.append(f"  caution: {CAUTIONS[answer.caution]}")
    lines += [f"  caution: {CAUTIONS[one]}" for one in answer.cautions if one in CAUTIONS]
    return lines


def signature_lines(signature: Signature) -> list[str]:
    """Returns a signature as lines: printed name, meaning, both times, and what it is bound to (I22)."""
    names = signature.name if signature.second is None else f"{signature.name} and {signature.second}"
    when = f"{signature.utc}, local {signature.local}"
    shown = f"; shown {signature.shown[:16]}" if signature.shown else ""
    return [f"  signed by {names}: {signature.meaning}", f"       {when}{shown}"]


FEW = 3
"""From so many unanswered lines on they are told together."""


def unanswered_lines(reasons: list[Reason]) -> list[str]:
    """Returns the lines of a checklist that nobody answered, each once, and what to do about all of them."""
    lines = [f"  {reasons[0].rule}  Not answered:"]
    lines += [f"       {one.facts['check']}: {one.facts['text']}" for one in reasons]
    return [*lines, "       Look at each: --pass when all are good, --no LINE for each one that is not."]


def reason_lines(reason: Reason, show: Local) -> list[str]:
    """Returns one reason as two lines: why, and what to do."""
    return [
        f"  {reason.rule}  {words.sentence(reason, show)}",
        f"       {words.next_action(reason, show)}",
    ]


def clock_line(clock: Clock) -> str:
    """Returns a running clock as one line."""
    line = f"{clock.step}, attempt {clock.attempt}: "
    line += f"{minutes(clock.left_s)} left" if clock.left_s else "least time met, confirm its end"
    if clock.rewet_s is not None:
        line += f", wet again in {minutes(clock.rewet_s)}"
    if clock.most_s is not None and not clock.left_s:
        line += f", {minutes(clock.most_s)} to the longest time"
    return line


def answer_json(answer: Answer, show: Local) -> dict[str, Any]:
    """Returns an answer as JSON values, with the sentences beside the facts."""
    fields: dict[str, Any] = as_fields(answer)
    for name in ("reasons", "warnings"):
        for kept, reason in zip(fields.get(name, []), getattr(answer, name), strict=True):
            kept["sentence"] = words.sentence(reason, show)
            kept["next_action"] = words.next_action(reason, show)
    return fields


def tell(answer: Answer, show: Local, *, as_json: bool) -> int:
    """Prints an answer and returns its exit code: 0 accepted and nothing found, 1 otherwise."""
    if as_json:
        print(json.dumps(answer_json(answer, show), ensure_ascii=False))
    else:
        print(painted("\n".join(answer_lines(answer, show)), answer.verdict))
    return 0 if answer.accepted and not answer.reasons else 1


_PAINT = {Verdict.ACCEPTED: "32", Verdict.REFUSED: "33;1", Verdict.HELD: "31;1"}


def painted(text: str, verdict: Verdict) -> str:
    """Returns the text with its first word coloured where a terminal wants colour; the word itself always stands."""
    if not sys.stdout.isatty() or not Settings().colours:
        return text
    word, _, rest = text.partition(" ")
    return f"\033[{_PAINT[verdict]}m{word}\033[0m {rest}"
