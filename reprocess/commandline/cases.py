"""From the words of `reprocess case` to requests, and how a case and the list of those to be told are shown."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from reprocess.commandline import say
from reprocess.commandline.asking import said
from reprocess.commandline.baths import needed
from reprocess.commandline.options import readable
from reprocess.commandline.say import Local
from reprocess.commandline.wearers import name_line
from reprocess.department import Bench, local
from reprocess.engine import request as asking
from reprocess.engine.request import CaseRequest
from reprocess.errors import UnknownSubjectError, WrongUseError
from reprocess.ledger.files import FILE_BYTES_MAX
from reprocess.ledger.names import Name
from reprocess.record.cases import Case
from reprocess.record.states import as_text
from reprocess.rules.answer import Answer
from reprocess.rules.cautions import CAUTIONS
from reprocess.terms import StreamKind, stream
from reprocess.timetable.case import report_day

YES_OR_NO = {"yes": True, "no": False}


@dataclass(frozen=True, slots=True)
class Given:
    """Is what was typed, still as text."""

    case: str | None
    verb: str
    what: str | None
    how: str | None
    why: str | None
    sort: str
    key: str | None


def done(given: Given, bench: Bench, *, as_json: bool) -> int:
    """Does what was typed, prints what came of it, and returns the exit code.

    Raises:
        WrongUseError: the words mean nothing.
    """
    if given.case is None:
        return _all(bench, as_json=as_json)
    zone = bench.department.zone_of_station(bench.station)
    show = say.local_in(zone)
    name = readable(given.case)
    match given.verb:
        case "show":
            return _looked_into(given, name, bench, zone, as_json=as_json)
        case "list":
            return _listed(given, name, bench, show, as_json=as_json)
        case "keep":
            answer = _kept(given, name, bench)
        case _:
            answer = bench.ask(_request(given, name), key=given.key)
    return say.tell(answer, show, as_json=as_json)


def _request(given: Given, case: str) -> CaseRequest:
    match given.verb:
        case "grade":
            number, grade = needed(given.what, "the use's number"), needed(given.how, "gross or lower")
            return asking.GradeUse(case, _number(number), grade, _why(given))
        case "decide":
            return asking.DecideCase(case, _yes(given), _why(given))
        case "told":
            wearer, how = needed(given.what, "the wearer"), needed(given.how, "how the wearer was told")
            return asking.TellWearer(case, readable(wearer), how)
        case "act":
            return asking.ActOnCase(case, _why(given))
        case "report":
            return asking.SettleReport(case, _yes(given), _why(given))
        case _:
            return asking.CloseCase(case, _why(given))


def _why(given: Given) -> str:
    return said(needed(given.why, "--why")) or ""


def _yes(given: Given) -> bool:
    answer = YES_OR_NO.get(given.what or "")
    if answer is None:
        message = f"`case {given.case} {given.verb}` is answered with yes or no."
        raise WrongUseError(message)
    return answer


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 6):
        message = f"A use is named by its number, such as 1, not {text[:20]!r}."
        raise WrongUseError(message)
    return int(text)


def _kept(given: Given, case: str, bench: Bench) -> Answer:
    path = Path(needed(given.what, "the file"))
    bench.department.case(case)
    try:
        with path.open("rb") as file:
            content = file.read(FILE_BYTES_MAX + 1)
    except OSError as fault:
        message = f"{path} cannot be read ({fault.strerror})."
        raise WrongUseError(message) from fault
    about = stream(StreamKind.CASE, case)
    return bench.keep_file(content, about, said(path.name) or "", said(given.sort) or "", key=given.key)


def _all(bench: Bench, *, as_json: bool) -> int:
    """Prints every case by what is in doubt and how many wore it; never who."""
    cases = bench.department.cases()
    rows = [
        {
            "case": one.case,
            "cause": one.cause,
            "uses": len(one.uses),
            "wearers": len(one.wearers),
            "state": _state(one),
        }
        for one in cases
    ]
    if as_json:
        print(json.dumps(rows, ensure_ascii=False))
        return 0
    for row in rows:
        print(f"{row['case']}  {row['state']}: {row['cause']}; uses {row['uses']}, wearers {row['wearers']}")
    if not rows:
        print("There is no exposure case.")
    return 0


def _state(case: Case) -> str:
    if case.closed_us is not None:
        return "closed"
    return "undecided" if case.notify is None else "decided"


def _looked_into(given: Given, name: str, bench: Bench, zone: str, *, as_json: bool) -> int:
    """Shows a case to whoever may see it, once it is on record that they looked into it."""
    show = say.local_in(zone)
    answer = bench.ask(asking.ReadCase(name), key=given.key)
    if not answer.accepted:
        return say.tell(answer, show, as_json=as_json)
    case = bench.department.case(name)
    aware = local(zone, case.asked_us).date()
    if as_json:
        held = json.loads(as_text(case)) | {"report_by": report_day(aware).isoformat()}
        print(json.dumps(held, ensure_ascii=False))
        return 0
    print(CAUTIONS["privacy"])
    print(f"{case.case}  {_state(case)}: {case.cause} ({case.rule}), since {show(case.opened_us)}")
    for number, use in enumerate(case.uses, start=1):
        until = show(use.until_us) if use.until_us is not None else "still out"
        grade = case.grades.get(str(number), "not graded")
        print(
            f"  {number}  {use.whole}  {use.wearer}  {use.place or 'no place'}  {show(use.from_us)} to {until}  {grade}"
        )
    print("\n".join(_lines(case, report_day(aware).isoformat())))
    return 0


def _lines(case: Case, report_by: str) -> list[str]:
    told = [f"{one} {case.told.get(one, 'not yet')}" for one in case.wearers] if case.notify else []
    decided = {None: "not decided", True: "the wearers are told", False: "nobody is told"}[case.notify]
    reported = {
        None: f"risk management decides by {report_by} (10 work days, 21 CFR 803.30)",
        True: "an authority is told",
        False: "no authority is told",
    }[case.report]
    lines = [f"  decision: {decided}", *(f"  told: {one}" for one in told), f"  report: {reported}"]
    return [*lines, *(f"  done: {action}" for action in case.actions), f"  lists given out: {case.copies}"]


def _listed(given: Given, name: str, bench: Bench, show: Local, *, as_json: bool) -> int:
    """Prints the list of those to be told, with names; every copy of it is on record."""
    answer, names = bench.reveal(asking.ListNames(name), key=given.key)
    if not answer.accepted:
        return say.tell(answer, show, as_json=as_json)
    if answer.repeated:
        message = "That key was used already and shows no name again; leave --key out."
        raise WrongUseError(message)
    case = bench.department.case(name)
    if as_json:
        known = {one: names.get(one) or _of_staff(bench, one) for one in case.wearers}
        rows = [{"wearer": one, **(asdict(name) if name is not None else {})} for one, name in known.items()]
        print(json.dumps({"case": name, "copy": case.copies, "wearers": rows}, ensure_ascii=False))
        return 0
    print(f"{CAUTIONS['privacy']} Case {name}, copy {case.copies}.")
    for wearer in case.wearers:
        grades = [case.grades[str(number)] for number, use in enumerate(case.uses, 1) if use.wearer == wearer]
        told = names.get(wearer) or _of_staff(bench, wearer)
        print(f"{name_line(wearer, told)}  {'gross' if 'gross' in grades else 'lower'}")
    return 0


def _of_staff(bench: Bench, person: str) -> Name | None:
    """Returns the name of somebody who works here and wore it, or None where it is nobody of the staff."""
    try:
        return Name(bench.department.person(person).name)
    except UnknownSubjectError:
        return None
