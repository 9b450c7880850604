"""What one scan at a bench does: it goes on with the sentence, asks the department, or makes the screen act.

The page brings everything that is needed: the unfinished sentence, the step that was shown, the key of the last answer.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import anyio.to_thread
from starlette.requests import Request

from reprocess.errors import KeyReusedError, NotAllowedError, NotSignedInError, TooManyTriesError
from reprocess.ledger.append import looking
from reprocess.rules import answer as answers
from reprocess.rules.permissions import PERMISSIONS
from reprocess.rules.sequence import next_steps
from reprocess.scan.code import BadgeTag, echo, printed, read_code
from reprocess.scan.command import COMMANDS, tag_of
from reprocess.service import scanning, who
from reprocess.service.pages.bench import grammar
from reprocess.service.pages.bench.grammar import Sentence, Word
from reprocess.service.pages.bench.place import Place, taken_over
from reprocess.service.pages.bench.questions import WRONG, Question, ahead
from reprocess.service.pages.forms import Form
from reprocess.service.problems import ProblemError
from reprocess.service.scanning import Scan
from reprocess.service.seeing import in_sight
from reprocess.service.served import Served, served
from reprocess.service.taking_scans import Given, Outcome, Understood, answer, understand
from reprocess.terms import StreamKind, subject_of

CODE_MOST: Final = 256
"""Characters of one scanned string; longer ones are shown in part and refused."""
HELD_MOST: Final = 100
"""Requests of one scan whose answers are looked up again."""
_CONTROL: Final = re.compile(r"[\x00-\x1c\x1e\x1f\x7f]")
"""Control characters but the one that parts the fields of a maker's label (GS1 General Specifications, 7.8.3)."""
HIDDEN: Final = "****"
"""Stands for digits that may be somebody's PIN, typed into a field of another kind."""
_PERHAPS_A_PIN: Final = re.compile(r"[0-9]{6,}")
"""A PIN has eight digits at least; of one that is not finished, or lost a digit, nothing is shown either."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Is what a bench page sent.

    Attributes:
        code: what was scanned, exactly as it came.
        pending: the codes of the unfinished sentence.
        offered: the step that was shown as the next one.
        since_ms: when the sentence went on last, on the server's clock.
        last: the key of the last answer.
        noes: the lines of the checklist that are not so.
        person: who was signed in when the page was made; None for nobody.
        clock: the entry that began the clock that was shown with the item, or None.
    """

    code: str
    pending: tuple[str, ...]
    offered: str | None
    since_ms: int
    last: str | None
    noes: tuple[str, ...]
    form: Form
    person: str | None = None
    clock: str | None = None


@dataclass(frozen=True, slots=True)
class Said:
    """Is what a scan came to, before it is put in words.

    Attributes:
        what: idle, read, question, answered, refused, repeated, help, person.
        sentence: what waits for its next word.
        scan: what the codes mean, with the items' workflows.
        outcomes: how each thing was answered.
        offered: the step that `Yes` is about.
        last: the key under which the last answer stands.
        text: the key of a text that says why not, or what was done.
        fault: why not, in English, where no catalogue has it.
        echo: a harmless copy of what could not be read.
        code: the badge that is sent again with a PIN.
        secret: the new session's id, where a badge opened one.
        noes: the lines of the checklist that are not so, which go with a scan that is sent again.
        language: whether the page turns to the next language.
    """

    what: str
    sentence: Sentence = ()
    scan: Scan | None = None
    outcomes: tuple[Outcome, ...] = ()
    question: Question | None = None
    offered: str | None = None
    last: str | None = None
    text: str | None = None
    fault: str | None = None
    echo: str | None = None
    code: str | None = None
    secret: str | None = None
    noes: tuple[str, ...] = ()
    language: bool = False


def read_form(form: Form) -> Asked:
    """Returns what a bench page sent.

    Raises:
        ProblemError: it brings no key, no code, or an endless sentence.
    """
    _ = form.key
    code, noes = _code_of(form) or form.get("again"), tuple(form.all("no"))
    if form.get("not_so") is not None:
        code, noes = printed(tag_of(COMMANDS["NO"])), (form.must("not_so"),)
    pending = tuple(form.all("pending"))
    if code is None or len(pending) > grammar.PENDING_MOST or any(len(one) > CODE_MOST for one in pending):
        message = "The page sent no scan, or too much. Nothing was recorded."
        raise ProblemError("invalid", message)
    since = form.get("since") or ""
    return Asked(
        code.rstrip("\r\n"),
        pending,
        form.get("offered"),
        int(since) if since.isascii() and since.isdigit() and len(since) <= len("9007199254740991") else 0,
        form.get("last"),
        noes,
        form,
        form.get("person"),
        form.get("clock"),
    )


def _code_of(form: Form) -> str | None:
    """Returns what was pressed, entered or scanned, exactly as it came; the field for codes may be empty beside it."""
    sent = [value for name in ("press", "code", "number") for one, value in form.fields if one == name and value]
    return sent[0] if sent else None


async def scanned(request: Request, place: Place, asked: Asked) -> Said:
    """Returns what one scan came to.

    Raises:
        ReprocessError: nothing could be recorded.
    """
    if _is_hostile(asked.code):
        return await _refused(request, place, asked, "bench.unreadable")
    sentence, word = await _meant(request, place, asked)
    if word.sort == "item":
        asked = replace(asked, offered=None)  # the step of now is shown
    if grammar.acts(word) is not None:
        return await _act(request, place, asked, sentence, word)
    if word.sort == "badge":
        return await _badge(request, place, asked, sentence, word)
    if grammar.means_nothing(word):
        key = {scanning.UNKNOWN: "bench.unknown", scanning.UNREADABLE: "bench.unreadable"}.get(word.seen.sort)
        return await _refused(request, place, asked, key or "bench.not-here", word)
    whole = grammar.begun(grammar.joined(sentence, word))
    if grammar.is_denied(sentence, word):
        return replace(await go_on(request, place, asked, whole, recording=False), text="bench.said-no")
    return await go_on(request, place, asked, whole)


def _is_hostile(text: str) -> bool:
    """Tells whether a string is no scan: too long, or with control characters that no label of ours or a maker has."""
    return len(text) > CODE_MOST or _CONTROL.search(text) is not None


async def _meant(request: Request, place: Place, asked: Asked) -> tuple[Sentence, Word]:
    """Returns (the sentence that waits, the word that came).

    What waited too long is left out, and so is the sentence of somebody else, who stood here when the page was made.
    """
    parts = served(request)
    codes = (*asked.pending, asked.code)
    words = await anyio.to_thread.run_sync(_words, parts, place, codes)
    sentence = words[:-1]
    waited_ms = parts.department.clock.now().wall_us // 1000 - asked.since_ms
    strange = place.person and asked.person not in {None, place.caller.person}
    return (() if strange or grammar.is_over(sentence, waited_ms) else sentence), words[-1]


def _words(parts: Served, place: Place, codes: Sequence[str]) -> Sentence:
    with looking(parts.department.ledger) as read:
        now_us = parts.department.clock.now().wall_us
        scan = scanning.understood(read, parts.department.library, place.caller, codes, now_us)
    return tuple(Word(text, seen) for text, seen in zip(codes, scan.codes, strict=True))


async def opened(request: Request, place: Place) -> Said:
    """Returns what a bench shows before anything was scanned."""
    return Said("idle", question=None if place.person else Question("badge"))


async def _refused(request: Request, place: Place, asked: Asked, text: str, word: Word | None = None) -> Said:
    """Returns the refusal of a code that means nothing here; the sentence waits on."""
    waiting = await anyio.to_thread.run_sync(_words, served(request), place, asked.pending) if asked.pending else ()
    seen = word.seen.seen if word is not None else echo(asked.code)
    seen = HIDDEN if _PERHAPS_A_PIN.fullmatch(asked.code.strip()) else seen
    return Said("refused", waiting, offered=asked.offered, last=asked.last, text=text, echo=seen)


async def go_on(request: Request, place: Place, asked: Asked, sentence: Sentence, *, recording: bool = True) -> Said:
    """Returns what a sentence comes to as far as it goes: it is asked, or what is missing is asked for.

    Args:
        request: the HTTP request.
        place: the bench.
        asked: what the page sent.
        sentence: what was scanned.
        recording: whether the department is asked; else the sentence is only shown again.
    """
    offered = asked.offered if _is_same_item(asked, sentence) else None
    codes = tuple(one.text for one in sentence)
    signs = asked.form.signs
    given = Given(codes, asked.form.key, place.station.station, signs.pin, signs.second_pin, offered, asked.noes)
    found = await understand(request, place.caller, given)
    said = Said("question", sentence, found.scan, offered=offered, last=asked.last, noes=asked.noes)
    wanted = found.wanted
    if _is_other_clock(asked, found):
        return replace(said, what="read", sentence=grammar.without(sentence, "answer", "number"))
    if wanted.refused is not None:
        return replace(said, what="refused", fault=wanted.refused, sentence=grammar.rest(sentence))
    if not wanted.requests:
        return _unfinished(request, said, found)
    if not place.person:
        return replace(said, question=Question("badge"), sentence=grammar.without(sentence, "command", "answer"))
    missing = await anyio.to_thread.run_sync(ahead, served(request), found, given)
    if isinstance(missing, Question):
        return replace(said, question=missing, sentence=_before(sentence, missing))
    if missing is not None:
        return replace(said, what="answered", outcomes=(missing,), sentence=grammar.rest(sentence))
    return await _asked(request, place, asked, said, found, given) if recording else replace(said, what="idle")


def _is_same_item(asked: Asked, sentence: Sentence) -> bool:
    """Tells whether the step that was shown is that of the item of this sentence."""
    items = grammar.of_sort(sentence, "item")
    return bool(items) and items[-1].text in asked.pending


def _is_other_clock(asked: Asked, found: Understood) -> bool:
    """Tells whether a yes is about a clock that began, or ended, after the item was shown."""
    return found.scan.names("command") == ["YES"] and clock_shown(found.scan) != asked.clock


def clock_shown(scan: Scan | None) -> str | None:
    """Returns the entry that began the clock of the item of a scan, or None where none runs."""
    part = next((one for one in scan.parts.values() if one is not None), None) if scan is not None else None
    return str(part.standing.dwell.feed) if part is not None and part.standing.dwell is not None else None


def _before(sentence: Sentence, question: Question) -> Sentence:
    """Returns the sentence that waits for an answer: a number that cannot be right is left out."""
    wrong = question.reason is not None and question.reason.key in WRONG
    return grammar.without(sentence, "number") if wrong else sentence


def _unfinished(request: Request, said: Said, found: Understood) -> Said:
    """Returns what a sentence waits for."""
    scan, wanted = found.scan, found.wanted
    if scan.items and wanted.command is None and not grammar.of_sort(said.sentence, "answer", "defect", "number"):
        return replace(said, what="read", offered=said.offered or _first_step(request, scan))
    what = wanted.ask.what if wanted.ask is not None else "item"
    return replace(said, question=Question(what))


def _first_step(request: Request, scan: Scan) -> str | None:
    steps = steps_of(request, scan)
    return steps[0] if steps else None


def steps_of(request: Request, scan: Scan) -> tuple[str, ...]:
    """Returns the steps that may come next for the item of a scan, in the workflow's order."""
    part = next((one for one in scan.parts.values() if one is not None), None)
    now_us = served(request).department.clock.now().wall_us
    return next_steps(part.workflow, part.standing, now_us) if part is not None else ()


async def _asked(request: Request, place: Place, asked: Asked, said: Said, found: Understood, given: Given) -> Said:
    """Returns what the department answered; where somebody has to sign, the PIN is asked for."""
    try:
        outcomes = await answer(request, found, given)
    except TooManyTriesError as fault:
        return replace(said, what="refused", fault=fault.sentence, sentence=grammar.rest(said.sentence))
    except NotSignedInError as fault:
        return _not_signed(said, found, given, fault)
    except KeyReusedError:
        return replace(said, what="refused", text="bench.page-old", sentence=())
    except NotAllowedError as fault:
        return replace(said, what="refused", fault=fault.sentence, sentence=grammar.rest(said.sentence))
    if all(one.answer is not None and one.answer.repeated for one in outcomes) and (
        moved := await _moved_on(request, place, asked, outcomes)
    ):
        return moved
    return replace(said, what="answered", outcomes=outcomes, last=given.key, sentence=grammar.rest(said.sentence))


def _not_signed(said: Said, found: Understood, given: Given, fault: NotSignedInError) -> Said:
    second = found.acting.second is not None
    wrong = given.pin is not None or given.second_pin is not None
    what = "second-pin" if second else "pin"
    text = "sign-in.not-believed" if wrong else None
    signed = PERMISSIONS[found.wanted.requests[0][1].asked].signed
    if not second and not signed:
        return replace(said, what="refused", fault=fault.sentence, sentence=grammar.rest(said.sentence))
    return replace(said, question=Question(what, signed=signed), text=text)


async def _act(request: Request, place: Place, asked: Asked, sentence: Sentence, word: Word) -> Said:
    """Lets the screen act on a command that is about no step."""
    match grammar.acts(word):
        case "NEXT":
            return await _next(request, place, asked, sentence)
        case "UNDO":
            return await _undo(request, place, asked, sentence, word)
        case "LANGUAGE":
            said = await again(request, place, asked, sentence)
            return replace(said, language=True)
        case "REPEAT":
            said = await again(request, place, asked, sentence)
            return replace(said, text=said.text or "bench.nothing-yet") if said.what == "idle" else said
        case _:
            said = await anyio.to_thread.run_sync(_last, served(request), place, asked)
            if (moved := await _moved_on(request, place, asked, said.outcomes)) is not None:
                return moved
            text = None if said.outcomes else "bench.nothing-yet"
            return replace(said, what="help", sentence=sentence, offered=asked.offered, text=text)


async def again(request: Request, place: Place, asked: Asked, sentence: Sentence) -> Said:
    """Returns what was shown last: the last answer as it stands on record, else the sentence that waits."""
    said = await anyio.to_thread.run_sync(_last, served(request), place, asked)
    if said.outcomes and not (sentence and not grammar.is_batch(sentence)):
        if (moved := await _moved_on(request, place, asked, said.outcomes)) is not None:
            return moved
        return replace(said, what="repeated", sentence=sentence, offered=asked.offered)
    if sentence and place.person:
        return await go_on(request, place, asked, sentence, recording=False)
    return Said("idle", sentence, last=asked.last, offered=asked.offered)


async def _moved_on(request: Request, place: Place, asked: Asked, outcomes: Sequence[Outcome]) -> Said | None:
    """Returns an item as it is now, where an answer that is shown again is true of it no more; else None."""
    name = await anyio.to_thread.run_sync(_untrue, served(request), outcomes)
    if name is None:
        return None
    words = await anyio.to_thread.run_sync(_words, served(request), place, (name,))
    return await go_on(request, place, replace(asked, offered=None, noes=()), words, recording=False)


def _untrue(parts: Served, outcomes: Sequence[Outcome]) -> str | None:
    """Returns the first item that was accepted, and has another stage now, is held, or went away."""
    with looking(parts.department.ledger) as read:
        for one in outcomes:
            if one.answer is None or not one.answer.accepted or not one.subject.startswith(f"{StreamKind.ITEM}:"):
                continue
            item = read.item(subject_of(one.subject))
            if item.held or item.custody is not None or str(item.stage) != str(one.answer.stage or item.stage):
                return item.item
    return None


def _last(parts: Served, place: Place, asked: Asked) -> Said:
    """Returns the last answers of this bench as they stand on record; those of another site are nobody's here."""
    outcomes = []
    with looking(parts.department.ledger) as read:
        for number in range(1, HELD_MOST + 1):
            kept = read.answered(f"{asked.last}/{number}") if asked.last is not None else None
            if kept is None:
                break
            told = answers.from_text(kept.answer)
            site = getattr(read.state(told.subject), "site", "")
            if in_sight(place.caller, site) and site in ("", place.station.site):
                outcomes.append(Outcome(told.subject, told.asked, told))
    return Said("idle", outcomes=tuple(outcomes), last=asked.last)


async def _next(request: Request, place: Place, asked: Asked, sentence: Sentence) -> Said:
    """Shows the next of the steps that may come for the item that waits."""
    if not grammar.of_sort(sentence, "item") or grammar.is_batch(sentence):
        return Said("question", sentence, question=Question("item"), last=asked.last)
    said = await go_on(request, place, asked, grammar.of_sort(sentence, "item", *grammar.WITH))
    if said.scan is None:
        return said
    return replace(said, offered=grammar.turned(steps_of(request, said.scan), asked.offered))


async def _undo(request: Request, place: Place, asked: Asked, sentence: Sentence, word: Word) -> Said:
    """Takes back the last scan: of the item that waits, else of the item of the last answer."""
    items = grammar.of_sort(sentence, "item")
    if items and not grammar.is_batch(sentence):
        return await go_on(request, place, asked, (items[-1], word))
    last = await anyio.to_thread.run_sync(_last, served(request), place, asked)
    subjects = [one.subject for one in last.outcomes if one.subject.startswith(f"{StreamKind.ITEM}:")]
    if len(set(subjects)) != 1:
        return Said("question", (word,), question=Question("item"), last=asked.last)
    codes = (subject_of(subjects[0]), word.text)
    made = await anyio.to_thread.run_sync(_words, served(request), place, codes)
    said = await go_on(request, place, asked, made)
    return replace(said, sentence=grammar.rest(sentence))


async def _badge(request: Request, place: Place, asked: Asked, sentence: Sentence, word: Word) -> Said:
    """Takes a badge: as the second person where the sentence waits for one, else the bench goes to that person."""
    tag = read_code(word.text)
    badge = tag.id if isinstance(tag, BadgeTag) else ""
    if place.person and badge != place.caller.badge and await _waits_for_second(request, place, asked, sentence):
        return await go_on(request, place, asked, grammar.joined(sentence, word))
    if badge == place.caller.badge:
        said = await again(request, place, asked, sentence)
        return replace(said, what="person", text="bench.here-already") if said.what == "idle" else said
    return await _switched(request, place, asked, sentence, badge)


async def _waits_for_second(request: Request, place: Place, asked: Asked, sentence: Sentence) -> bool:
    """Tells whether what waits asks for a second person."""
    if not grammar.of_sort(sentence, "command", "answer"):
        return False
    codes = tuple(one.text for one in grammar.without(sentence, "badge"))
    given = Given(codes, asked.form.key, place.station.station, offered=asked.offered, noes=asked.noes)
    found = await understand(request, place.caller, given)
    if not found.wanted.requests:
        return False
    missing = await anyio.to_thread.run_sync(ahead, served(request), found, given)
    return isinstance(missing, Question) and missing.what == "second"


async def _switched(request: Request, place: Place, asked: Asked, sentence: Sentence, badge: str) -> Said:
    """Lets another person take over: at a screen by the badge alone within the shift, else with the PIN."""
    waits = grammar.of_sort(sentence, "item", *grammar.WITH) if not grammar.is_batch(sentence) else ()
    offered = asked.offered if waits else None
    said = Said("person", waits, offered=offered, last=asked.last, code=asked.code, text="bench.switched")
    pin = asked.form.get("pin")
    try:
        secret = await anyio.to_thread.run_sync(_session, request, place, badge, pin)
    except TooManyTriesError as fault:
        return replace(said, what="refused", text=None, fault=fault.sentence)
    except NotAllowedError as fault:
        return replace(said, what="refused", text=None, fault=fault.sentence)
    except NotSignedInError:
        text = "sign-in.not-believed" if pin is not None else None
        return replace(said, what="question", question=Question("badge-pin"), text=text)
    if not waits:
        return replace(said, secret=secret)
    own = await anyio.to_thread.run_sync(taken_over, request, place, secret)
    return replace(await go_on(request, own, asked, waits, recording=False), text="bench.switched", secret=secret)


def _session(request: Request, place: Place, badge: str, pin: str | None) -> str:
    """Returns the id of the session that a badge opens here.

    Raises:
        NotSignedInError: the badge alone is not enough, or the PIN is wrong.
        TooManyTriesError: too many tries came from here.
        NotAllowedError: the person works at other sites.
    """
    if pin is None:
        return who.by_badge(request, badge, place.station.station)[0]
    parts = served(request)
    who.must_not_hurry(request)
    screen = who.screen_at(request, place.station.station)
    return who.door_of(parts).sign_in(badge, pin, place.station.station, screen=screen)[0]
