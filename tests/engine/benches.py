"""Text tables, a line a scan, played through the real desk on a real record in a temporary file.

    +0    | anna       | BLW-2 disinfect start in QAW-1 | accepted
    +70   | anna       | rewet                          | accepted
    +179  | anna       | done                           | refused T01, left 1
    +180  | anna + ben | done                           | accepted, stage disinfected

The first column is the real time in seconds since the table began (`+2h`, `+3m` and `+1d` too); empty means: at the
same time as the line above. The second is who scans; `anna + ben` are two badges in one scan, `anna @ SINK` is at that
station, `-` shows no badge, `same` repeats the request of the line above with its key. `clock` moves a clock:
`wall +3600`, `sleep 600`, `off 900` (a power cut), `node bench-2`; sleep and power cuts take their time. The third
says what is scanned (`tests.engine.scans`); an id at its beginning is remembered for the lines after it. The fourth is
the answer: `accepted`, `refused` or `held` with the rules of its reasons, all of them, in any order; `accepted` with
rules is a fact that tells a reason. After a comma may follow `warns` with the rules of all warnings (no warning is let
pass unseen), `stage` with the stage after, `left` and `rewet` and `most` with what the clock shows, `next` with the
step named first, `wait` with the seconds after which the first reason would go away, `helps` with somebody who can,
`key` with the sentence of the first reason, `found` with the defects, `attempt` and `repeated`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from reprocess.rules import words
from reprocess.rules.answer import Answer
from tests.engine.floor import Floor
from tests.engine.scans import override_of, request_of

UNITS: Final = {"": 1, "s": 1, "m": 60, "h": 3600, "d": 86_400}
ID: Final = re.compile(r"[A-Z]+-?[A-Z0-9-]*[0-9][A-Z0-9-]*")
LINES_MAX: Final = 200


@dataclass(frozen=True, slots=True)
class Line:
    """Is one line of a table."""

    number: int
    text: str
    at_s: int | None
    who: str
    what: str
    expected: str


def lines_of(table: str) -> list[Line]:
    """Returns the lines of a table; empty lines and lines that begin with `#` are left out."""
    found = []
    for number, text in enumerate(table.splitlines(), start=1):
        if not text.strip() or text.strip().startswith("#"):
            continue
        columns = [column.strip() for column in text.split("|")]
        assert len(columns) == 4, f"line {number} has {len(columns)} columns: {text}"
        found.append(Line(number, text.strip(), _seconds(columns[0]), *columns[1:]))
    assert 0 < len(found) <= LINES_MAX
    return found


def _seconds(text: str) -> int | None:
    if not text:
        return None
    read = re.fullmatch(r"\+(\d+)([smhd]?)", text)
    assert read is not None, f"{text} is no time"
    return int(read[1]) * UNITS[read[2]]


def play(floor: Floor, table: str) -> list[Answer]:
    """Plays a table, asserts each of its answers, and returns them."""
    began_us, item, answers = floor.clock.real_us, "", []
    last: tuple[str, str, str] | None = None
    touched: set[str] = set()
    for line in lines_of(table):
        if line.at_s is not None:
            ahead_us = began_us + line.at_s * 1_000_000 - floor.clock.real_us
            assert ahead_us >= 0, f"{line.text}: that time has passed"
            floor.clock.push(ahead_us / 1_000_000)
        if line.who == "clock":
            _move(floor, line)
            continue
        first, _, rest = line.what.partition(" ")
        named = ID.fullmatch(first) is not None
        item, what = (first, rest) if named else (item, line.what)
        touched.add(item)
        who, key = line.who, floor.clock.new_id()
        if who == "same":
            assert last is not None
            who, what, key = last
        last = (who, what, key)
        answer = _scan(floor, item, who, what, key)
        said, expected = told(answer, line), wanted(line)
        assert said == expected, f"{line.text}\nexpected {expected}\nanswered {said}"
        assert_readable(answer)
        answers.append(answer)
    for name in touched:
        floor.assert_kept_whole(name)
    return answers


def _move(floor: Floor, line: Line) -> None:
    verb, amount = line.what.split()
    match verb:
        case "wall":
            floor.clock.step_wall(float(amount))
        case "sleep":
            floor.clock.sleep(float(amount))
        case "off":
            floor.clock.reboot(float(amount))
        case "node":
            floor.clock.node = amount
        case _:
            raise AssertionError(line.text)


def _scan(floor: Floor, item: str, who: str, what: str, key: str) -> Answer:
    people, _, station = (part.strip() for part in who.partition("@"))
    actor, _, second = (part.strip() for part in people.partition("+"))
    what, _, over = what.partition(" passing over ")
    request = request_of(floor, item, what)
    override = override_of(floor, over) if over else None
    return floor.ask(request, actor, second=second or None, station=station or "BENCH", key=key, override=override)


def wanted(line: Line) -> dict[str, object]:
    """Returns what a line expects, by what it names."""
    first, *others = (part.strip() for part in line.expected.split(","))
    verdict, *rules = first.split()
    expected: dict[str, object] = {"verdict": verdict, "rules": set(rules), "warns": set[str]()}
    for part in others:
        name, _, value = part.partition(" ")
        expected[name] = set(value.split()) if name == "warns" else value
    return expected


def told(answer: Answer, line: Line) -> dict[str, object]:
    """Returns what an answer says of what the line names."""
    said: dict[str, object] = {
        "verdict": str(answer.verdict),
        "rules": set(answer.rules()),
        "warns": {one.rule for one in answer.warnings},
    }
    clock, first = answer.clock, answer.reasons[0] if answer.reasons else None
    more = {
        "stage": answer.stage,
        "left": clock.left_s if clock is not None else None,
        "rewet": clock.rewet_s if clock is not None else None,
        "most": clock.most_s if clock is not None else None,
        "attempt": clock.attempt if clock is not None else None,
        "next": answer.next_steps[0] if answer.next_steps else None,
        "wait": first.wait_s if first is not None else None,
        "key": first.key if first is not None else None,
        "found": " ".join(answer.found),
        "repeated": answer.repeated,
    }
    for part in line.expected.split(",")[1:]:
        name, _, value = part.strip().partition(" ")
        if name == "helps":
            said[name] = value if first is not None and value in first.helpers else first and first.helpers
        elif name != "warns":
            said[name] = str(more[name])
    return said


def assert_readable(answer: Answer) -> None:
    """Asserts that every reason has a sentence and a next action, with nothing left open in them."""
    for reason in (*answer.reasons, *answer.warnings):
        for text in (words.sentence(reason, str), words.next_action(reason, str)):
            assert text, reason
            assert "?" not in text, (text, reason)
            assert "{" not in text, (text, reason)
