"""`reprocess wear`: putting an assembly on, what its wearer tells, changing a part in use, taking it off."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from reprocess.definitions.wearing import Wearing

from reprocess.commandline.options import (
    BadgeOption,
    DepartmentOption,
    JsonOption,
    KeyOption,
    SecondOption,
    StationOption,
    pairs,
    readable,
    whole_numbers,
)


class WearVerb(StrEnum):
    """Lists what can be said about wearing."""

    PUT_ON = "put-on"
    SIGNAL = "signal"
    SWAP = "swap"
    TAKE_OFF = "take-off"


def wear(
    item: Annotated[str, typer.Argument(help="The respirator's id.")],
    verb: Annotated[WearVerb | None, typer.Argument(help="What happened; nothing shows the sequence.")] = None,
    what: Annotated[str | None, typer.Argument(help="The step, the signal, or the slot of the part.")] = None,
    part: Annotated[str | None, typer.Argument(help="swap: the part that goes in.")] = None,
    good: Annotated[bool, typer.Option("--pass", help="Every line of the checklist is good.")] = False,
    no: Annotated[list[str] | None, typer.Option("--no", help="A line that is not good.")] = None,
    seen: Annotated[list[str] | None, typer.Option("--seen", help="take-off: what is seen on it.")] = None,
    reading: Annotated[list[str] | None, typer.Option("--reading", help="A reading: flow_l_per_min=182.")] = None,
    count: Annotated[list[str] | None, typer.Option("--count", help="Counted parts: gaskets=2, plugs=1.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", help="The measuring instrument used.")] = None,
    badge: BadgeOption = None,
    second: SecondOption = None,
    station: StationOption = None,
    department: DepartmentOption = None,
    key: KeyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Look a respirator over and put it on; tell an alarm; change its battery; take it off in order."""
    from reprocess.commandline import say, showing
    from reprocess.commandline.opening import bench_at, department_at
    from reprocess.engine import request as asking
    from reprocess.engine.request import WearRequest
    from reprocess.errors import WrongUseError

    name = readable(item)
    with department_at(department) as opened:
        known = opened.part(name)
        wearing = known.workflow.wearing if known is not None else None
        if verb is None:
            if known is None or wearing is None:
                message = f"{name} is nothing that is put on."
                raise WrongUseError(message)
            print("\n".join(showing.wearing_lines(known, wearing)))
            return
        if what is None or (part is None) == (verb is WearVerb.SWAP):
            message = f"Say what: `wear {name} {verb} ...`, for a swap the part too; `wear {name}` shows the sequence."
            raise WrongUseError(message)

        answers = (_answers(wearing, verb, what) if good else {}) | dict.fromkeys(no or (), False)
        request: WearRequest
        match verb:
            case WearVerb.PUT_ON:
                tool = readable(instrument) if instrument is not None else None
                request = asking.PutOn(name, what, answers, pairs(reading, "reading"), whole_numbers(count), tool)
            case WearVerb.SIGNAL:
                request = asking.TellSignal(name, what)
            case WearVerb.SWAP:
                request = asking.SwapPart(name, what, readable(part or ""), answers)
            case WearVerb.TAKE_OFF:
                request = asking.TakeOff(name, what, answers, tuple(seen or ()))
        bench = bench_at(opened, station, badge, second)
        answer = bench.ask(request, key=key)
        raise typer.Exit(say.tell(answer, say.local_in(opened.zone_of_station(bench.station)), as_json=as_json))


def _answers(wearing: Wearing | None, verb: WearVerb, what: str) -> dict[str, bool]:
    """Returns every line of the checklist that is asked, answered yes."""
    if wearing is None:
        return {}
    asked = {
        WearVerb.PUT_ON: [one.checks for one in wearing.put_on if one.step == what],
        WearVerb.TAKE_OFF: [one.checks for one in wearing.take_off if one.step == what],
        WearVerb.SWAP: [one.checks for one in wearing.swaps if one.slot == what],
    }
    return {check.check: True for checks in asked.get(verb, []) for check in checks}
