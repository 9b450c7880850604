"""From the words of `reprocess lookback` to a question, and how its answer is shown."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

from reprocess.commandline.asking import at_instant, said
from reprocess.commandline.baths import needed
from reprocess.commandline.options import readable
from reprocess.commandline.recalling import CALLED
from reprocess.commandline.say import Local
from reprocess.department import Department
from reprocess.engine.request import ReadCase, Request, TraceWearer
from reprocess.errors import WrongUseError
from reprocess.gathering.recalls import ITEMS, RECALLED_BY
from reprocess.lookback.trace import Lookback, Passed, Touching, Wearing
from reprocess.record.moment import Moment
from reprocess.record.standing import Standing
from reprocess.terms import as_text

SORTS = tuple(sorted({"case", "item", *RECALLED_BY} - {ITEMS}))
"""What can be asked about."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Is a question as it was typed, its instants read."""

    sort: str
    name: str
    from_us: int | None
    until_us: int | None
    as_of_us: int | None


def asked(sort: str, name: str, since: str | None, until: str | None, as_of: str | None) -> Asked:
    """Returns the question that the words mean.

    Raises:
        WrongUseError: there is no such question, the name cannot be read, or a time has no offset.
    """
    if CALLED.get(sort, sort) not in SORTS:
        message = f"Look back by one of {', '.join(SORTS)}, not {sort[:20]}."
        raise WrongUseError(message)
    called = readable(name) if sort in {"item", "bath", "solution"} else needed(said(name), "a name")
    read = [at_instant(one) if one is not None else None for one in (since, until, as_of)]
    return Asked(CALLED.get(sort, sort), called, *read)


def permission_for(question: Asked) -> Request | None:
    """Returns what is asked before the answer is shown, where it is about a wearer or an exposure case (H07)."""
    match question.sort:
        case "case":
            return ReadCase(question.name)
        case "wearer":
            return TraceWearer(question.name)
        case _:
            return None


def moment_then(item: Standing, at_us: int) -> Moment:
    """Returns the clocks at a past instant, as if nothing had happened to them since the item's latest entry."""
    if item.change is None:
        return Moment(at_us, 0, None, "", "")
    last = item.change.moment
    return replace(last, wall_us=at_us, mono_us=last.mono_us + at_us - last.wall_us)


def zone_of(opened: Department, question: Asked) -> str:
    """Returns the time zone in which the answer is shown: the item's site's, else the first site's."""
    part = opened.part(question.name) if question.sort == "item" else None
    return opened.zone_of_site(part.standing.site) if part is not None else opened.zone()


NOTHING = "Nothing on record matches. Check the spelling before you believe it."
"""What is said of an empty answer: a misread id looks the same as a bath that touched nothing."""


def lines(found: Lookback, show: Local) -> list[str]:
    """Returns an answer as lines; wearers are pseudonyms."""
    as_of = f", as of {show(found.as_of_us)}" if found.as_of_us is not None else ""
    total = f"{len(found.items)} items, {len(found.uses)} uses, {len(found.wearers)} wearers"
    head = f"{found.sort} {found.name}{as_of}: {total}"
    touched = [_touching(one, show) for one in found.touched]
    uses = [line for use in found.uses for line in _wearing(use, show, asked_of=found.sort == "item")]
    return [head, *touched, *uses] if found.items else [head, f"  {NOTHING}"]


def _touching(one: Touching, show: Local) -> str:
    until = show(one.until_us) if one.until_us is not None else "now"
    when = show(one.from_us) if one.until_us == one.from_us else f"{show(one.from_us)} to {until}"
    held = f"  HOLD {', '.join(one.holds)}" if one.holds else ""
    later = f", now cycle {one.now_cycle}" if one.now_cycle != one.cycle else ""
    step = f" {one.step}" if one.step is not None else ""
    return f"  {one.item:<12} cycle {one.cycle}{step}  {when}  {one.stage}{later}, {one.custody} {one.place}{held}"


def _wearing(use: Wearing, show: Local, *, asked_of: bool) -> list[str]:
    until = show(use.until_us) if use.until_us is not None else "still out"
    inside = f" in {use.whole}" if use.whole != use.item else ""
    place = f"  at {use.place}" if use.place is not None else ""
    line = f"  worn by {use.wearer:<14} {use.item}{inside}, cycle {use.cycle}  {show(use.from_us)} to {until}{place}"
    if not asked_of or use.first:
        return [line]
    if not use.between:
        return ["  between: NO full cycle on record", line]
    return [*(_passed(one, show) for one in use.between), line]


def _passed(one: Passed, show: Local) -> str:
    told = "a full valid cycle" if one.valid else "IN DOUBT, an exposure case names it"
    return f"  between: cycle {one.cycle}, released {show(one.released_us)}: {told}"


def as_json(found: Lookback) -> str:
    """Returns an answer as JSON text; instants as RFC 3339 in UTC."""
    fields = {
        "sort": found.sort,
        "name": found.name,
        "as_of": _at(found.as_of_us),
        "wearers": found.wearers,
        "touched": [_touching_fields(one) for one in found.touched],
        "uses": [_use_fields(one) for one in found.uses],
    }
    return json.dumps(fields, ensure_ascii=False)


def _at(at_us: int | None) -> str | None:
    return None if at_us is None else as_text(at_us)


def _touching_fields(one: Touching) -> dict[str, object]:
    return {
        "item": one.item,
        "cycle": one.cycle,
        "step": one.step,
        "from": _at(one.from_us),
        "until": _at(one.until_us),
        "stage": one.stage,
        "cycle_now": one.now_cycle,
        "holds": one.holds,
        "custody": one.custody,
        "place": one.place,
    }


def _use_fields(one: Wearing) -> dict[str, object]:
    between = [{"cycle": c.cycle, "released": _at(c.released_us), "valid": c.valid} for c in one.between]
    return {
        "item": one.item,
        "whole": one.whole,
        "cycle": one.cycle,
        "wearer": one.wearer,
        "place": one.place,
        "from": _at(one.from_us),
        "until": _at(one.until_us),
        "between": between,
        "first": one.first,
    }
