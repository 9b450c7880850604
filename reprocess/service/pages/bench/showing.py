"""Puts what a scan came to in words: one word, one reason, one next action, what the screen sounds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from markupsafe import Markup

from reprocess.definitions.model import Step
from reprocess.languages import Text
from reprocess.record.moment import Moment
from reprocess.rules.answer import Answer, Clock, Reason
from reprocess.rules.contact import clock_of
from reprocess.rules.scene import Part
from reprocess.scan.command import COMMANDS
from reprocess.service.pages import rendering
from reprocess.service.pages.bench import grammar
from reprocess.service.pages.bench.clocks import digits
from reprocess.service.pages.bench.grammar import Word
from reprocess.service.pages.bench.place import Place
from reprocess.service.pages.bench.questions import Question
from reprocess.service.pages.bench.scan import Said, clock_shown
from reprocess.service.pages.rendering import Told, Words, isolated
from reprocess.service.scanning import UNKNOWN
from reprocess.service.taking_scans import Outcome
from reprocess.terms import Stage, subject_of

SOUNDS: Final = {"accepted": "accepted", "noted": "accepted", "refused": "refused", "held": "held", "read": "tick"}
"""What each answer sounds like; what is idle makes none."""
PINNED: Final = frozenset({"pin", "second-pin", "badge-pin"})
"""Questions that a PIN answers, sent with the same scan again."""


@dataclass(frozen=True, slots=True)
class ThingShown:
    """Is one thing of an answer: its short name, big; what it is; what was asked of it; where it stands now."""

    name: str
    kind: Markup | None
    sort: str
    step: Markup | None = None
    stage: Markup | None = None
    stage_name: str | None = None
    clock: Clock | None = None

    @property
    def digits(self) -> str:
        """Returns what is left on its clock, as minutes and seconds."""
        return digits(self.clock.left_s) if self.clock is not None else ""


@dataclass(frozen=True, slots=True)
class HelpShown:
    """Is one reason in full: the rule, what is missing, what to do, and who can help."""

    told: Told
    who: Markup


@dataclass(frozen=True, slots=True)
class Shown:
    """Is everything that a bench shows of one scan.

    Attributes:
        sort: idle, read, accepted, noted, refused or held.
        sound: accepted, refused, held, tick or none.
        next: exactly one line.
        checks: the lines of the step that is offered or asked about, each with its name.
        question: what is asked for, in one word, or None.
        label: what the number is that is asked for.
        pending: the codes that the page carries; paused: the same in words, where the things do not say it.
        again: the scan that a PIN is sent with; noes: the lines of the checklist that are not so, which go with it.
        counts: whether the number is a count; own_pin: whether the person at the bench signs beside the second one.
        clock: the entry that began the clock that is shown with the item that waits.
    """

    sort: str
    sound: str
    word: Markup
    things: tuple[ThingShown, ...]
    why: Markup | None
    rule: str | None
    next: Markup
    warnings: tuple[Markup, ...]
    cautions: tuple[Markup, ...]
    checks: tuple[tuple[str, Markup], ...]
    step: Markup | None
    question: str | None
    label: Markup | None
    batch: Markup | None
    helps: tuple[HelpShown, ...]
    pending: tuple[str, ...]
    paused: tuple[Markup, ...]
    again: str | None
    offered: str | None
    last: str | None
    echo: str | None
    noes: tuple[str, ...]
    counts: bool
    own_pin: bool
    clock: str | None


@dataclass(frozen=True, slots=True)
class _In:
    """Is in whose words, in which zone and at what time something is shown."""

    words: Words
    zone: str
    now: Moment

    def told(self, reason: Reason) -> Told:
        return rendering.told(reason, self.words, self.zone)


def shown(said: Said, place: Place, words: Words, now: Moment) -> Shown:
    """Returns what a scan came to, in the words of the page."""
    here = _In(words, place.zone, now)
    sort, repeated = _sort(said)
    text = _text_of(said, here, sort)
    question = said.question.what if said.question is not None else None
    pending, again = _carried(said)
    things = _things(said, here)
    helps = _helps(said, here) if said.what == "help" else ()
    plain = len(things) == 1 and len(said.sentence) == 1
    return Shown(
        sort=sort,
        sound="tick" if repeated else SOUNDS.get(sort, "none"),
        word=_word(said, here, sort),
        things=things,
        why=text.why if not helps else None,
        rule=text.rule,
        next=text.next,
        warnings=tuple(here.told(one).why for answer in _answers(said) for one in answer.warnings),
        cautions=_cautions(said, here, sort),
        checks=_checks(said, here),
        step=_step_word(said, here),
        question=question,
        label=_label(said, here),
        batch=_batch(said, here),
        helps=helps,
        pending=pending,
        paused=() if plain else tuple(_paused(one, here) for one in said.sentence),
        again=again,
        offered=said.offered,
        last=said.last,
        echo=said.echo,
        noes=said.noes if again is not None else (),
        counts=said.question is not None and said.question.value is not None and said.question.value.sort == "count",
        own_pin=said.question is not None and said.question.signed,
        clock=clock_shown(said.scan),
    )


def _answers(said: Said) -> list[Answer]:
    return [one.answer for one in said.outcomes if one.answer is not None]


def _sort(said: Said) -> tuple[str, bool]:
    """Returns (the sort of the answer, whether it answers a repetition)."""
    if said.outcomes:
        words = [one.answer.word.lower() if one.answer is not None else "refused" for one in said.outcomes]
        gravest = next(one for one in ("held", "refused", "noted", "accepted") if one in words)
        return gravest, said.what in {"repeated", "help"} or all(one.repeated for one in _answers(said))
    if said.what == "read" and any(part.standing.held for part in _parts(said)):
        return "held", False
    if said.what == "read":
        return ("read" if _parts(said) else "refused"), False
    if said.what == "question" and _waits_in_peace(said):
        return "read", False
    plain = {"question": "refused", "refused": "refused", "person": "read"}
    return plain.get(said.what, "idle"), False


def _waits_in_peace(said: Said) -> bool:
    """Tells whether a question is only the other half of a sentence, so that it is no refusal."""
    what = said.question.what if said.question is not None else None
    return what in {"item", "command", "pin", "second-pin"} and said.text is None


def _parts(said: Said) -> list[Part]:
    return [one for one in said.scan.parts.values() if one is not None] if said.scan is not None else []


def _word(said: Said, here: _In, sort: str) -> Markup:
    """Returns the word that is shown first."""
    words = here.words
    if sort in {"idle", "read"}:
        return words(f"bench.{'batch' if grammar.is_batch(said.sentence) else sort}")
    if sort == "refused" and said.question is not None:
        return words("bench.not-yet")
    return words(f"shared.{sort}")


@dataclass(frozen=True, slots=True)
class _Text:
    """Is why, under which rule, and the one next action."""

    next: Markup
    why: Markup | None = None
    rule: str | None = None


def _text_of(said: Said, here: _In, sort: str) -> _Text:
    if said.outcomes:
        return _of_outcome(next(one for one in said.outcomes if _is(one, sort)), here)
    if said.question is not None:
        return _of_question(said, said.question, here)
    if sort == "held":
        return _of_waiting(said, here, sort)
    if said.fault is not None:
        again = "bench.ask-badge" if said.code is not None else "bench.scan-again"
        return _Text(here.words(again), here.words.told(Text(said.fault, "en")))
    if said.text is not None:
        return _Text(_following(said, here), here.words(said.text))
    return _of_waiting(said, here, sort)


def _is(one: Outcome, sort: str) -> bool:
    return (one.answer.word.lower() if one.answer is not None else "refused") == sort


def _of_outcome(one: Outcome, here: _In) -> _Text:
    """Returns the first reason of an answer and its next action; of an accepted one, what follows."""
    if one.answer is None:
        if one.bar is not None:
            told = here.told(one.bar)
            return _Text(told.next, told.why, told.rule)
        return _Text(here.words("bench.scan-again"), here.words.told(Text(one.fault or "", "en")))
    if one.answer.reasons:
        told = here.told(one.answer.reasons[0])
        return _Text(told.next, told.why, told.rule)
    done = here.words("bench.undone") if one.answer.asked == "undo" else None
    return _Text(_after(one.answer, here), done)


def _after(answer: Answer, here: _In) -> Markup:
    """Returns the one thing that follows an accepted request."""
    words = here.words
    if answer.clock is not None and answer.clock.left_s > 0:
        key = "bench.next-wet" if answer.clock.rewet_s is not None else "bench.next-wait"
        return words(key, step=words.texts.known("step", answer.clock.step))
    if answer.next_steps:
        return words("bench.next-step", step=words.texts.known("step", answer.next_steps[0]))
    return words("bench.next-ready" if answer.stage == Stage.READY else "bench.next-none")


def _of_question(said: Said, question: Question, here: _In) -> _Text:
    """Returns why something is asked for, and what to scan or enter."""
    words = here.words
    why = here.told(question.reason) if question.reason is not None else None
    told = words(said.text) if said.text is not None else None
    return _Text(
        words(f"bench.ask-{question.what}"),
        told or (why.why if why is not None else None),
        why.rule if why is not None else None,
    )


def _of_waiting(said: Said, here: _In, sort: str) -> _Text:
    words = here.words
    if sort == "held":
        hold = next(iter(_parts(said)[0].standing.holds.values()))
        why = words("bench.on-hold", cause=words.texts.known("end", hold.cause), hold=hold.hold)
        return _Text(words("bench.next-held"), why, hold.rule)
    if said.what == "read" and not _parts(said):
        return _Text(words("bench.next-unknown"), words("bench.unknown"))
    return _Text(_following(said, here))


def _following(said: Said, here: _In) -> Markup:
    """Returns what to scan while nothing is amiss."""
    if grammar.of_sort(said.sentence, "item") and not grammar.is_batch(said.sentence):
        return here.words("bench.scan-command" if said.offered is not None else "bench.scan-any-command")
    return here.words("bench.ask-item" if said.sentence else "bench.scan-first")


def _cautions(said: Said, here: _In, sort: str) -> tuple[Markup, ...]:
    """Returns the cautions of the moment, each once."""
    keys = [key for one in _answers(said) for key in (one.caution, *one.cautions) if key is not None]
    if sort == "held":
        keys.insert(0, "hold")
    step = said.question.step if said.question is not None else _offered(said)
    if step is not None and step.caution is not None:
        keys.append(step.caution)
    return tuple(here.words.known("caution", one) for one in dict.fromkeys(keys))


def _offered(said: Said) -> Step | None:
    if said.what != "read" or said.offered is None:
        return None
    return next((part.workflow.step_named(said.offered) for part in _parts(said)), None)


def _checks(said: Said, here: _In) -> tuple[tuple[str, Markup], ...]:
    """Returns the lines of the checklist that an answer would be about; they are written in the workflow's language."""
    asked = said.question is not None and said.question.what in {"yes-no", "pin"}
    step = said.question.step if asked and said.question is not None else _offered(said)
    if step is None:
        return ()
    return tuple((one.check, here.words.told(Text(one.text, "en"))) for one in step.checks)


def _step_word(said: Said, here: _In) -> Markup | None:
    """Returns what the step is called that is offered or asked about."""
    step = said.question.step if said.question is not None else _offered(said)
    return here.words.known("step", step.step) if step is not None else None


def _label(said: Said, here: _In) -> Markup | None:
    """Returns what the number is called that is asked for, with its unit."""
    value = said.question.value if said.question is not None else None
    if value is None:
        return None
    texts = here.words.texts
    if value.unit is None:
        return here.words("bench.count-of", what=texts.known("kind", value.name))
    return here.words("bench.value-of", what=texts.known("reading", value.name), unit=texts.known("unit", value.unit))


def _batch(said: Said, here: _In) -> Markup | None:
    """Returns the command that waits for its items, or None."""
    command = next((one.seen.name for one in said.sentence if one.sort == "command"), None)
    if command is None or command not in COMMANDS or not grammar.is_batch(said.sentence):
        return None
    return here.words.known("command", command)


def _helps(said: Said, here: _In) -> tuple[HelpShown, ...]:
    reasons = [reason for answer in _answers(said) for reason in (*answer.reasons, *answer.warnings)]
    reasons += [one.bar for one in said.outcomes if one.bar is not None]
    return tuple(HelpShown(here.told(one), _who_can(one, here)) for one in reasons)


def _who_can(reason: Reason, here: _In) -> Markup:
    """Returns who can help, by name where the record knows somebody."""
    words = here.words
    if reason.helpers:
        return words("bench.help-names", names=list(reason.helpers))
    if reason.role is not None:
        return words("bench.help-role", role=words.texts.known("role", reason.role))
    return words("bench.help-self")


def _paused(word: Word, here: _In) -> Markup:
    """Returns one word of the sentence that waits; of a badge only that it is one."""
    name = word.seen.name or word.seen.seen
    match word.sort:
        case "command" | "answer":
            return here.words.known("command", name)
        case "defect":
            return here.words.known("defect", name)
        case "badge":
            return here.words("shared.badge")
        case _:
            return isolated(name)


def _carried(said: Said) -> tuple[tuple[str, ...], str | None]:
    """Returns (the codes that wait, the one that is sent again with a PIN)."""
    codes = tuple(one.text for one in said.sentence)
    question = said.question.what if said.question is not None else None
    if question == "badge-pin":
        return codes, said.code
    if question in PINNED and codes:
        return codes[:-1], codes[-1]
    return codes, None


def _things(said: Said, here: _In) -> tuple[ThingShown, ...]:
    """Returns what the answer is about: each thing that was asked, else the item that waits."""
    if said.outcomes:
        return tuple(_asked_thing(one, here) for one in said.outcomes)
    found = tuple(_waiting_thing(part, here) for part in _parts(said))
    unknown = [one for one in said.sentence if one.seen.sort == UNKNOWN and one.seen.name is not None]
    return found or tuple(ThingShown(one.seen.name or "", None, "refused") for one in unknown)


def _asked_thing(one: Outcome, here: _In) -> ThingShown:
    answer, words = one.answer, here.words
    name = subject_of(one.subject)
    if answer is None:
        return ThingShown(name, None, "refused", words.known("asked", one.asked))
    step = words.known("step", answer.step) if answer.step is not None else words.known("asked", answer.asked)
    stage = words.known("stage", answer.stage) if answer.stage is not None else None
    return ThingShown(name, None, answer.word.lower(), step, stage, answer.stage, answer.clock)


def _waiting_thing(part: Part, here: _In) -> ThingShown:
    item, words = part.standing, here.words
    clock = clock_of(item.dwell, here.now) if item.dwell is not None else None
    sort = "held" if item.held else "read"
    kind, stage = words.known("kind", item.item_kind), words.known("stage", item.stage)
    return ThingShown(item.item, kind, sort, None, stage, str(item.stage), clock)
