"""The words of a table line, turned into a request.

clean                                       a step without a clock, every line of its checklist good
inspect no case-whole                       ... one line answered no
clean without no-soil                       ... one line, reading, count or instrument left out
functional-test flow_l_per_min=150          ... one reading or count as given
functional-test with FI-2                   ... another instrument
clean because it was one small spot         ... a reason, to the end of the line
clean on form P-7 at -600                   ... a late entry; seconds since seven in the morning
disinfect start in QAW-1 at 21              a dwell begins, in a solution, at degrees Celsius
rewet · break dried · done · done at 21     a dwell goes on, breaks, is confirmed (its lines good, as above)
done undisturbed                            ... two people say so (E07)
disinfect done on form P-7 from 0 to 180    ... both ends from a form
heat done with trace 0:90 60:90             ... seconds:degrees
used · dropped · used class blood           what sends an item back
used ended -7200                            ... when use ended
method immerse · fail clean SOIL            facts
hold recall lot 7 · lift 1                  a hold of a sort; the first open hold lifted
condemn · repair · lost · undo              as they say
correct 5 flow_l_per_min=150 · no case-ok   what entry 5 should have said
assemble three-port-hepa of A B C gaskets=2 plugs=1
move 4 to CLP-2                             counted parts go into another batch
issue W-1 ward-7 for care minutes=120 no tube-sound without plugs    who takes it (`nobody`), and where
return A B missing C seen blood drop bin-3 · soiled · unused · incident IR-9        what came back, with which parts
identify W-1 entry=7 · hand-on W-1 · lend crew 3 · send SAL clean in BOX-1 · receive · receive opened · keep ward-7
put-on look-over no tube-sound · take-off hands seen blood · signal low-battery · swap battery BAT-3
recalled model LF-H · recalled items of A B · commit · commit 59 · close     about a recall, such as R-1
quarantine Q-1                              a held item is put there
note opened · note charge 3 · note minutes 60 · note found cracked · note looked-at
entered                                     about a form: its one digest, `entered other` another one
line 1 of P-7 by anna 100 820 : disinfect done in OPA-1 at 21     a line of it; began (where it did) and ended
typed BLW-2 · tag T-9 · untag T-9 · doubt BLW-3 · split BLW-3 : 5 6 · renamed BLW-900     which item it is
agree lift-hold 1 · agree override P14      a second person's consent, at their own station
review 120                                  the entry of that number in the whole record was looked at
... passing over P14 supply-shortage until 7 ref M-1    any advance with an override: rule, reason, days, statement
load-open WD-1 P90 · load-add A B · load-end held 90 60 · ...       about a load (`tests.engine.loading`)
received 12 of quat-alcohol-wipe · set-up store · put-in ST-1 · ...   lots, places, repair (`tests.engine.stocking`)
made of opa-055 · tested 0.3 · tested passed · tested failed · topped-up · ended dumped     about a solution
"""

from __future__ import annotations

from collections.abc import Callable

from reprocess.definitions.model import Step
from reprocess.definitions.wearing import WearStep
from reprocess.engine import request as asking
from reprocess.engine.facts import CAUSES
from reprocess.engine.request import Request
from reprocess.engine.request.paper import LineWork
from reprocess.rules.asked import Late, Override
from reprocess.rules.custody import look_of
from reprocess.terms import DAY_S, SECOND_US
from tests.engine.floor import BADGES, INSTRUMENTS, OPENING_US, Floor, good_checks, good_counts, good_readings
from tests.engine.loading import load_request
from tests.engine.stocking import STOCK

MODIFIERS = (
    "for",
    "missing",
    "drop",
    "fault",
    "incident",
    "no",
    "without",
    "seen",
    "with",
    "in",
    "at",
    "from",
    "to",
    "of",
    "class",
    "ended",
    "because",
    "form",
    "trace",
)


class Words:
    """Is the rest of a line: plain words, `name=value` pairs and what follows each modifier."""

    def __init__(self, text: str) -> None:
        text, _, self.reason = f" {text}".partition(" because ")
        self.plain: list[str] = []
        self.pairs: dict[str, str] = {}
        self.after: dict[str, list[str]] = {name: [] for name in MODIFIERS}
        into = self.plain
        for word in text.split():
            if word in MODIFIERS:
                into = self.after[word]
            elif "=" in word:
                name, _, value = word.partition("=")
                self.pairs[name] = value
            elif word != "on":
                into.append(word)

    def one(self, modifier: str) -> str | None:
        """Returns the word after a modifier, or None."""
        return self.after[modifier][0] if self.after[modifier] else None

    def seconds(self, modifier: str) -> int | None:
        """Returns the seconds since seven in the morning that stand after a modifier, as an instant."""
        text = self.one(modifier)
        return None if text is None else OPENING_US + int(text) * SECOND_US


def request_of(floor: Floor, item: str, text: str) -> Request:
    """Returns the request that the words of a line mean."""
    verb, _, rest = text.strip().partition(" ")
    if verb.startswith("load-"):
        return load_request(item, verb, rest)
    if verb == "line":
        return _line(floor, item, rest)
    if verb == "split":
        return _split(item, rest)
    words = Words(rest)
    if verb in CAUSES:
        ended = words.seconds("ended")
        return asking.Contaminate(item, verb, words.one("class") or "routine", ended)
    plain = PLAIN.get(verb)
    if plain is not None:
        return plain(floor, item, words)
    if verb == "done":
        return _done(floor, item, None, words)
    return _step(floor, item, verb, words)


def _step(floor: Floor, item: str, name: str, words: Words) -> Request:
    step = floor.workflow(item).step_named(name)
    if "start" in words.plain:
        return asking.StartDwell(item, name, words.one("in"), None, words.one("at"), _tool(step, words))
    if "done" in words.plain:
        return _done(floor, item, name, words)
    checks = _checks(step, words) if step is not None else {}
    counts = {key: int(value) for key, value in words.pairs.items() if not _is_reading(step, key)}
    if step is not None and step.step == "release":
        return asking.Release(item, checks, counts, words.reason or None)
    late = None
    if words.after["form"]:
        late = Late(words.seconds("at") or 0, words.after["form"][0])
    readings = {**(good_readings(step) if step is not None else {}), **_readings(step, words)}
    left_out = words.after["without"]
    return asking.DoStep(
        item,
        name,
        checks,
        {key: value for key, value in readings.items() if key not in left_out},
        {key: v for key, v in {**(good_counts(step) if step else {}), **counts}.items() if key not in left_out},
        _tool(step, words),
        words.reason or None,
        late,
    )


def _tool(step: Step | WearStep | None, words: Words) -> str | None:
    if step is None or "instrument" in words.after["without"]:
        return words.one("with")
    return words.one("with") or INSTRUMENTS.get(step.instrument or "")


def _is_reading(step: Step | WearStep | None, name: str) -> bool:
    return step is not None and any(one.reading == name for one in step.readings)


def _readings(step: Step | WearStep | None, words: Words) -> dict[str, str]:
    return {name: value for name, value in words.pairs.items() if _is_reading(step, name)}


def _checks(step: Step | WearStep, words: Words) -> dict[str, bool]:
    checks = {**good_checks(step), **dict.fromkeys(words.after["no"], False)}
    return {name: good for name, good in checks.items() if name not in words.after["without"]}


def _done(floor: Floor, item: str, name: str | None, words: Words) -> Request:
    opened = floor.item(item).dwell
    step = floor.workflow(item).step_named(name or (opened.step if opened is not None else ""))
    late = None
    if words.after["form"]:
        late = Late(words.seconds("to") or 0, words.after["form"][0], words.seconds("from"))
    trace = tuple((pair.partition(":")[0], pair.partition(":")[2]) for pair in words.after["trace"])
    return asking.EndDwell(
        item,
        name,
        words.one("at"),
        _checks(step, words) if step is not None else {},
        dict(words.pairs),
        "undisturbed" in words.plain,
        trace,
        late,
        words.one("in"),
    )


def _correct(_: Floor, item: str, words: Words) -> Request:
    readings = {name: value for name, value in words.pairs.items() if "_" in name}
    counts = {name: int(value) for name, value in words.pairs.items() if "_" not in name}
    checks = dict.fromkeys(words.after["no"], False)
    wrong_item = "not-this-item" in words.plain
    because = words.reason or "misread"
    return asking.Correct(item, int(words.plain[0]), because, checks, readings, counts, mistaken=wrong_item)


def _assemble(floor: Floor, item: str, words: Words) -> Request:
    step = next(one for one in floor.workflow(item).steps if one.assembles)
    counts = {name: int(value) for name, value in words.pairs.items()}
    return asking.Assemble(item, words.plain[0], tuple(words.after["of"]), counts, _checks(step, words))


def _note(_: Floor, item: str, words: Words) -> Request:
    match words.plain:
        case ["opened"]:
            return asking.NoteItem(item, opened=True)
        case ["charge", number]:
            return asking.NoteItem(item, charge_cycles=int(number))
        case ["minutes", number]:
            return asking.NoteItem(item, minutes=int(number))
        case ["found", *what]:
            return asking.NoteItem(item, findings=" ".join(what), action="taken out", passed=False)
        case ["looked-at"]:
            return asking.NoteItem(item, findings="nothing")
        case _:
            return asking.NoteItem(item)


def _lift(floor: Floor, item: str, words: Words) -> Request:
    holds = [one.hold for one in sorted(floor.item(item).holds.values(), key=lambda one: one.number)]
    hold = holds[int(words.plain[0]) - 1] if words.plain[0].isdigit() else words.plain[0]
    return asking.LiftHold(item, hold, "settled")


def _agree(floor: Floor, item: str, words: Words) -> Request:
    to, *about = words.plain
    detail = about[0] if about else None
    if to == "lift-hold":
        lifted = _lift(floor, item, Words(detail or "1"))
        detail = getattr(lifted, "hold", None)
    return asking.Consent(f"item:{item}", to, detail)


def override_of(floor: Floor, text: str) -> Override:
    """Returns the override behind `passing over`: a rule, a reason's code, `until` days, `ref` a statement."""
    rule, because, *more = text.split()
    said = dict(zip(more[::2], more[1::2], strict=True))
    until_us = floor.clock.now().wall_us + int(said["until"]) * DAY_S * SECOND_US if "until" in said else None
    return Override(rule, because, "as agreed by telephone", until_us, said.get("ref"))


def _far_us(floor: Floor) -> int:
    return floor.clock.now().wall_us + 200 * DAY_S * SECOND_US


def _made(floor: Floor, solution: str, words: Words) -> Request:
    lot_until = int(words.pairs.get("lot_s", 200 * DAY_S)) * SECOND_US + floor.clock.now().wall_us
    hours = words.pairs.get("hours")
    return asking.MakeSolution(
        solution,
        words.after["of"][0],
        words.pairs.get("lot", "LOT-9"),
        lot_until,
        None if hours is None else int(hours),
        words.pairs.get("percent"),
        words.pairs.get("stock"),
        words.pairs.get("water"),
        words.pairs.get("one_in"),
    )


def _tested(floor: Floor, solution: str, words: Words) -> Request:
    told = words.plain[0] if words.plain else None
    strips_us = floor.clock.now().wall_us if "expired-strips" in words.plain else _far_us(floor)
    after = words.pairs.get("after", "80")
    return asking.TestSolution(
        solution,
        "STRIPS-9",
        strips_us,
        reading=told if told not in {None, "passed", "failed"} else words.pairs.get("reading"),
        passed={"passed": True, "failed": False}.get(told or ""),
        read_after_s=None if after == "?" else int(after),
    )


def _put_on(floor: Floor, item: str, words: Words) -> Request:
    wearing = floor.workflow(item).wearing
    step = next(one for one in wearing.put_on if one.step == words.plain[0]) if wearing is not None else None
    assert step is not None
    asked = {one.count for one in step.counts}
    counts = {name: number for name, number in (("gaskets", 2), ("plugs", 1)) if name in asked}
    counts |= {name: int(value) for name, value in words.pairs.items() if not _is_reading(step, name)}
    readings = {**good_readings(step), **_readings(step, words)}
    return asking.PutOn(item, step.step, _checks(step, words), readings, counts, _tool(step, words))


def _take_off(floor: Floor, item: str, words: Words) -> Request:
    wearing = floor.workflow(item).wearing
    steps = [one for one in wearing.take_off if one.step == words.plain[0]] if wearing is not None else []
    checks = _checks(steps[0], words) if steps else {}
    return asking.TakeOff(item, words.plain[0], checks, tuple(words.after["seen"]))


def _swap(floor: Floor, item: str, words: Words) -> Request:
    wearing = floor.workflow(item).wearing
    swaps = [one for one in wearing.swaps if one.slot == words.plain[0]] if wearing is not None else []
    checks = {one.check: True for one in swaps[0].checks} | dict.fromkeys(words.after["no"], False) if swaps else {}
    return asking.SwapPart(item, words.plain[0], words.plain[1], checks)


def _recalled(_: Floor, recall: str, words: Words) -> Request:
    sort, *name = words.plain
    items = tuple(words.after["of"])
    from_us, until_us = words.seconds("from"), words.seconds("to")
    called = " ".join(name) or "a list"
    notice = words.pairs.get("notice")
    return asking.PreviewRecall(recall, sort, called, "field notice", "hana", from_us, until_us, items, notice)


def _line(floor: Floor, item: str, text: str) -> Request:
    told, _, work = text.partition(" : ")
    number, _, form, _, by, *rest = told.split()
    times = [OPENING_US + int(one) * SECOND_US for one in rest if one.lstrip("-").isdigit()]
    with_ = next((BADGES[one] for one in rest if one in BADGES), None)
    began_us = times[0] if len(times) == 2 else None
    inner = request_of(floor, item, work)
    assert isinstance(inner, LineWork)
    return asking.EnterLine(form, int(number), inner, BADGES[by], times[-1], began_us, with_)


def _split(item: str, text: str) -> Request:
    other, _, numbers = text.partition(" : ")
    return asking.SplitHistory(item, other, tuple(int(one) for one in numbers.split()), "two bore one code")


def _issue(floor: Floor, item: str, words: Words) -> Request:
    part = floor.department.part(item)
    look = look_of(part.workflow) if part is not None else None
    wearer, place = words.plain
    left_out = words.after["without"]
    checks, readings, counts = {}, {}, {}
    if look is not None:
        checks, readings = _checks(look, words), {**good_readings(look), **_readings(look, words)}
        given = {name: int(value) for name, value in words.pairs.items() if name not in {*readings, "minutes"}}
        counts = {one.count: n for one, n in ((one, {"gaskets": 2, "plugs": 1}[one.count]) for one in look.counts)}
        counts = {name: n for name, n in {**counts, **given}.items() if name not in left_out}
        readings = {name: value for name, value in readings.items() if name not in left_out}
    minutes = words.pairs.get("minutes")
    return asking.IssueItem(
        item,
        None if wearer == "nobody" else wearer,
        place,
        words.one("for") or "care",
        None if minutes is None else int(minutes),
        checks,
        readings,
        counts,
        _tool(look, words),
    )


def _return(_: Floor, item: str, words: Words) -> Request:
    said = ("soiled", "unused", "cut-off")
    parts = tuple(word for word in words.plain if word not in said)
    return asking.ReturnItem(
        item,
        words.one("drop"),
        parts or None,
        tuple(words.after["missing"]),
        words.one("seen") or "routine",
        soiled="soiled" in words.plain,
        used="unused" not in words.plain,
        fault=" ".join(words.after["fault"]) or None,
        cut_off="cut-off" in words.plain,
        incident=words.one("incident"),
        use_ended_us=words.seconds("ended"),
    )


def _lend(floor: Floor, item: str, words: Words) -> Request:
    due_us = floor.clock.now().wall_us + int(words.plain[1]) * DAY_S * SECOND_US
    return asking.LendItem(item, words.plain[0], due_us)


def _kept_for(_: Floor, item: str, words: Words) -> Request:
    name = words.plain[0] if words.plain else None
    to_wearer = name is not None and name.startswith("W-")
    return asking.DedicateItem(item, None if to_wearer else name, name if to_wearer else None)


PLAIN: dict[str, Callable[[Floor, str, Words], Request]] = {
    **STOCK,
    "agree": _agree,
    "review": lambda _, __, words: asking.ReviewEntry(int(words.plain[0]), words.reason or "looked at"),
    "entered": lambda _, form, words: asking.EnterForm(form, 9, "other" if words.plain else "digest"),
    "typed": lambda _, item, words: asking.TypeCode(item, words.plain[0] if words.plain else None),
    "tag": lambda _, item, words: asking.GiveTag(item, words.plain[0]),
    "untag": lambda _, item, words: asking.WithdrawTag(item, words.plain[0], "torn off"),
    "doubt": lambda _, item, words: asking.DoubtIdentity(
        item, "two bear one code", words.plain[0] if words.plain else None
    ),
    "renamed": lambda _, item, words: asking.Recommission(item, words.plain[0], "nothing settles it"),
    "rewet": lambda _, item, __: asking.Rewet(item),
    "break": lambda _, item, words: asking.BreakDwell(item, words.plain[0]),
    "method": lambda _, item, words: asking.ReportMethod(item, words.plain[0]),
    "fail": lambda _, item, words: asking.FailStep(item, words.plain[0], tuple(words.plain[1:])),
    "hold": lambda _, item, words: asking.PlaceHold(item, words.plain[0], " ".join(words.plain[1:]), "cora"),
    "lift": _lift,
    "condemn": lambda _, item, __: asking.Condemn(item, "worn out"),
    "repair": lambda _, item, words: asking.SetAside(
        item, "repair", "rattles", None if "unstated" in words.plain else "the outside"
    ),
    "lost": lambda _, item, __: asking.SetAside(item, "lost", "not in the store"),
    "undo": lambda _, item, __: asking.Undo(item),
    "correct": _correct,
    "assemble": _assemble,
    "note": _note,
    "issue": _issue,
    "return": _return,
    "identify": lambda _, item, words: asking.IdentifyWearer(
        item, words.plain[0], int(words.pairs["entry"]) if "entry" in words.pairs else None
    ),
    "hand-on": lambda _, item, words: asking.HandOn(item, words.plain[0]),
    "lend": _lend,
    "send": lambda _, item, words: asking.SendItem(item, words.plain[0], words.one("in"), "clean" in words.plain),
    "receive": lambda _, item, words: asking.ReceiveItem(item, "opened" not in words.plain),
    "keep": _kept_for,
    "put-on": _put_on,
    "take-off": _take_off,
    "signal": lambda _, item, words: asking.TellSignal(item, words.plain[0]),
    "swap": _swap,
    "recalled": _recalled,
    "commit": lambda _, name, words: asking.CommitRecall(name, int(words.plain[0]) if words.plain else None),
    "close": lambda _, name, __: asking.CloseRecall(name, "all seen"),
    "quarantine": lambda _, item, words: asking.PutInQuarantine(item, words.plain[0]),
    "move": lambda _, item, words: asking.MoveCounted(item, words.after["to"][0], int(words.plain[0])),
    "made": _made,
    "tested": _tested,
    "topped-up": lambda floor, name, words: asking.TopUpSolution(
        name, "LOT-8", int(words.pairs.get("lot_s", 200 * DAY_S)) * SECOND_US + floor.clock.now().wall_us, "1"
    ),
    "ended": lambda _, name, words: asking.EndSolution(name, words.plain[0]),
}
