"""From a form of the hatch to what is asked of the department; what is missing is told before anything is asked."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from reprocess.definitions.model import CONTAMINATION_CLASSES
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.errors import UnknownSubjectError
from reprocess.rules.answer import Answer, Reason
from reprocess.rules.custody import PURPOSES
from reprocess.scan.asset import read_part
from reprocess.scan.code import ItemTag, StationTag, Unreadable, read_code
from reprocess.service.pages.forms import Form
from reprocess.service.pages.hatch.shown import Thing
from reprocess.service.who import Caller
from reprocess.terms import as_datetime

TEXT_MOST: Final = 200
"""Characters of a place or a fault at most (our choice)."""
NUMBER_DIGITS_MOST: Final = 4
SEAL_MOST: Final = 64
WEARING: Final = frozenset({"wearer", "wearers"})
"""The facts of a reason that name wearers."""


@dataclass(frozen=True, slots=True)
class Made:
    """Is what a form asks for, or the keys of the texts that say what is missing; nothing is asked then.

    Attributes:
        lacking: what went out in number and did not come back, such as one gasket.
    """

    request: Request | None = None
    faults: tuple[str, ...] = ()
    lacking: Mapping[str, int] | None = None


def id_in(text: str | None) -> str | None:
    """Returns the id in a code that was scanned or typed, whatever its kind; None where it holds none."""
    code = read_code(text or "")
    return None if isinstance(code, Unreadable) else code.id


def _part_in(text: str | None, now_us: int) -> str | None:
    """Returns the part that a code means: our own tag, or a maker's code of one single part."""
    part = read_part(text or "", this_year=as_datetime(now_us).year)
    return part.id if isinstance(part, ItemTag) else None


def _text(form: Form, name: str) -> str | None:
    """Returns a short text without what no screen shows; None where nothing is left."""
    kept = "".join(one for one in (form.get(name) or "")[:TEXT_MOST] if one.isprintable()).strip()
    return kept or None


_OF_OURS: Final = re.compile(r"[A-Z]:[!-~]+", re.IGNORECASE)
"""A code that was scanned, read or misread, is nothing that somebody typed."""


def place_in(department: Department, text: str | None) -> str | None:
    """Returns a place: the id of its label where that was scanned, else what was typed.

    A badge, a wearer's pseudonym or another thing's tag is no place: what goes on record as one hangs on walls (D13).
    """
    code = read_code(text or "")
    if isinstance(code, StationTag):
        return code.id
    if text is None or _OF_OURS.fullmatch(text) or wearer_in(department, text) is not None:
        return None
    return text


def _answers(form: Form) -> dict[str, bool]:
    """Returns the lines that were answered; one that says neither yes nor no was not."""
    return {name: said == "yes" for name, said in form.named("check.").items() if said in ("yes", "no")}


def _number(text: str) -> int | None:
    """Returns a whole number in the digits of any script, or None where it is none."""
    return int(text) if text.isdecimal() and len(text) <= NUMBER_DIGITS_MOST else None


def _counts(form: Form, prefix: str = "count.") -> dict[str, int]:
    found = {name: _number(text) for name, text in form.named(prefix).items()}
    return {name: number for name, number in found.items() if number is not None}


def wearer_in(department: Department, text: str | None) -> str | None:
    """Returns the pseudonym that a scanned badge or a typed pseudonym means, or None where it means nobody."""
    for name in dict.fromkeys(one for one in (id_in(text), text) if one):
        found = department.wearer_of_badge(name)
        if found is not None:
            return found
        try:
            return department.wearer(name).wearer
        except UnknownSubjectError:
            continue
    return None


def seal_in(department: Department, form: Form) -> str | None:
    """Returns the number of a seal; a badge that was scanned there is none, and is not kept."""
    seal = (form.get("seal") or "")[:SEAL_MOST]
    badge = _OF_OURS.fullmatch(seal) or wearer_in(department, seal) is not None
    return None if not seal or badge else seal


def issue(department: Department, found: Thing, form: Form) -> Made:
    """Returns the issue of an item, with its look-over and its cautions confirmed one by one (U01-U03)."""
    purpose = form.get("purpose") or ""
    wearer = wearer_in(department, form.get("wearer"))
    nobody = form.get("wearer") is None and purpose == "emergency"
    place = place_in(department, _text(form, "place"))
    minutes = _number(form.get("minutes") or "")
    faults = [
        *(["fault-cautions"] if set(found.cautions) - set(form.named("caution.")) else []),
        *(["fault-wearer"] if wearer is None and not nobody else []),
        *(["fault-place"] if place is None else []),
        *(["fault-purpose"] if purpose not in PURPOSES else []),
        *(["fault-minutes"] if form.get("minutes") is not None and not minutes else []),
    ]
    if faults or place is None:
        return Made(faults=tuple(faults))
    tool = read_code(form.get("instrument") or "")
    return Made(
        asking.IssueItem(
            found.item.item,
            wearer,
            place,
            purpose,
            minutes,
            _answers(form),
            form.named("reading."),
            _counts(form),
            tool.id if isinstance(tool, ItemTag) else None,
        )
    )


def give_back(department: Department, name: str, form: Form) -> Made:
    """Returns the return of an item; nothing of it must be filled in, since it is a fact (P04, U07, U08, U11).

    It is made from the form alone, what the page showed of it included: the same form sent twice asks for the same,
    although nothing is out any more when it comes again.

    Args:
        department: tells a place from a wearer.
        name: what was scanned, also where nothing of that name is on record.
        form: tells which parts are here and which are missing; parts of which it says nothing were not looked at.
    """
    members = (form.get("members") or "").split()
    told = {one: said for one, said in form.named("part.").items() if one in members and said in ("here", "missing")}
    gone = [one for one, said in told.items() if said == "missing"]
    scanned = [read_code(text) for text in (form.get("others") or "").split()]
    others = [one.id for one in scanned if isinstance(one, ItemTag) and wearer_in(department, one.id) is None]
    parts = None
    if others or (members and len(told) == len(members)):
        parts = (*(one for one in members if one not in gone), *others)
    lacking, kind = _lacking(form), form.get("class")
    request = asking.ReturnItem(
        name,
        place_in(department, _text(form, "place")),
        parts,
        (*gone, *(f"{count}={number}" for count, number in sorted(lacking.items()))),
        kind if kind in CONTAMINATION_CLASSES else "routine",
        soiled=form.get("soiled") is not None,
        used=form.get("unused") is None,
        fault=_text(form, "fault"),
        cut_off=form.get("cut_off") is not None,
        incident=_text(form, "incident"),
    )
    return Made(request, lacking=lacking)


def _lacking(form: Form) -> dict[str, int]:
    """Returns how many counted parts did not come back; what nobody counted is not missing."""
    went_out, back = _counts(form, "out."), _counts(form)
    short = {name: number - back[name] for name, number in went_out.items() if name in back}
    return {name: number for name, number in short.items() if number > 0}


def swap(department: Department, found: Thing, form: Form) -> Made:
    """Returns the change of a part while the assembly is worn (U12)."""
    slot, part = form.get("slot"), _part_in(form.get("part"), department.clock.now().wall_us)
    faults = [
        *(["fault-slot"] if slot is None or slot not in {one.slot for one in found.swaps} else []),
        *(["fault-part"] if part is None else []),
    ]
    if faults or slot is None or part is None:
        return Made(faults=tuple(faults))
    return Made(asking.SwapPart(found.item.item, slot, part, _answers(form)))


def quarantine(_: Department, found: Thing, form: Form) -> Made:
    """Returns that a held item lies in a quarantine place (H01, H04)."""
    place = read_code(form.get("place") or "")
    label = isinstance(place, StationTag) or (isinstance(place, ItemTag) and ":" not in (form.get("place") or ""))
    if isinstance(place, Unreadable) or not label:
        return Made(faults=("fault-quarantine",))
    return Made(asking.PutInQuarantine(found.item.item, place.id))


def identify(department: Department, found: Thing, form: Form) -> Made:
    """Returns who has what was issued to nobody on record (U01)."""
    wearer = wearer_in(department, form.get("wearer"))
    if wearer is None:
        return Made(faults=("fault-wearer",))
    return Made(asking.IdentifyWearer(found.item.item, wearer))


MADE: Final[Mapping[str, Callable[[Department, Thing, Form], Made]]] = {
    "issue": issue,
    "swap": swap,
    "quarantine": quarantine,
    "identify": identify,
}


def without_wearer(answer: Answer, caller: Caller, instead: str) -> Answer:
    """Returns an answer that tells no pseudonym to whoever may not know one: a badge would else give it away (D13)."""
    if caller.names_wearers:
        return answer

    def hidden(one: Reason) -> Reason:
        told = {name: instead if name in WEARING else fact for name, fact in one.facts.items()}
        return replace(one, facts=told)

    return replace(
        answer,
        reasons=tuple(hidden(one) for one in answer.reasons),
        warnings=tuple(hidden(one) for one in answer.warnings),
    )
