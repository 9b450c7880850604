"""What may be done with an item next, and why not for the rest: every request is decided, and nothing is written.

A rehearsal says yes to every line of a checklist, as somebody at the bench might; what was assumed is told with it.
Readings, counts and whatever else only the bench knows are never assumed: the request then still asks for them.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from reprocess.definitions.model import Step
from reprocess.definitions.wearing import WearStep
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.request import Request
from reprocess.errors import ReprocessError
from reprocess.ledger.append import Transaction
from reprocess.record.standing import Standing
from reprocess.record.stores import Place
from reprocess.rules.answer import Answer, Reason, Verdict
from reprocess.rules.custody import look_of
from reprocess.rules.scene import Part
from reprocess.service.operations import WRITES, Operation
from reprocess.station import Call
from reprocess.terms import ASIDE, Stage, StreamKind

ASKS: Final = frozenset(
    {
        "charge-temp-missing",
        "check-missing",
        "container-needed",
        "count-missing",
        "field-missing",
        "inspection-reading-missing",
        "instrument-needed",
        "reading-missing",
        "second-needed",
        "solution-unknown",
        "temperature-missing",
        "two-people-needed",
        "water-unknown",
        "wearer-missing",
    }
)
"""Keys of reasons that the same request settles by bringing more, such as a reading or a second badge."""


@dataclass(frozen=True, slots=True)
class Given:
    """Is what a caller already knows that a request would bring."""

    solution: str | None = None
    instrument: str | None = None
    configuration: str | None = None
    members: tuple[str, ...] = ()
    wearer: str | None = None
    place: str | None = None
    second: str | None = None


@dataclass(frozen=True, slots=True)
class Action:
    """Is one thing that might be done: the request, the step it is about, and what it must bring.

    Attributes:
        assumed: the lines of the checklist to which the rehearsal says yes.
    """

    request: Request
    title: str
    step: Step | WearStep | None = None
    assumed: dict[str, bool] = field(default_factory=dict)

    @property
    def operation(self) -> Operation:
        """Returns the writing operation that asks it."""
        return OF_REQUESTS[type(self.request)]

    @property
    def path(self) -> str:
        """Returns the address at which it is asked."""
        return "/v1" + self.operation.path.format(**_fields(self.request))

    @property
    def body(self) -> dict[str, Any]:
        """Returns the members of its body that are known already, without what is only assumed."""
        inside = {*re.findall(r"\{(\w+)\}", self.operation.path), "checks"}
        told = ((one, getattr(self.request, one.name)) for one in dataclasses.fields(self.request))
        return {one.name: value for one, value in told if one.name not in inside and value != _default(one)}


def _default(field_: dataclasses.Field[Any]) -> Any:
    """Returns what a field is where nothing is said; nothing at all where something must be."""
    if field_.default_factory is not dataclasses.MISSING:
        return field_.default_factory()
    return field_.default


OF_REQUESTS: Final[dict[type[Any], Operation]] = {one.request: one for one in WRITES}


def _fields(request: Request) -> dict[str, Any]:
    return {one.name: getattr(request, one.name) for one in dataclasses.fields(request)}


def actions(part: Part, given: Given, store: str | None) -> list[Action]:
    """Returns everything that might be done with an item: its steps in the workflow's order, then what is beside them.

    Args:
        part: the item with its workflow.
        given: what the caller already knows.
        store: a place in which it could be put away, or None.
    """
    item = part.standing
    return [*(_step(item, one, given) for one in part.workflow.steps), *_beside(part, given, store)]


def _step(item: Standing, step: Step, given: Given) -> Action:
    name, yes = item.item, {one.check: True for one in step.checks}
    if step.reaches is Stage.READY:
        return Action(asking.Release(name, yes), step.title, step, yes)
    if step.assembles:
        members = given.members or tuple(item.members.values())
        wanted = given.configuration or item.configuration or "none"
        return Action(asking.Assemble(name, wanted, members, checks=yes), step.title, step, yes)
    if step.dwell is None:
        return Action(asking.DoStep(name, step.step, yes, instrument=given.instrument), step.title, step, yes)
    if item.dwell is not None and item.dwell.step == step.step:
        return Action(asking.EndDwell(name, step.step, checks=yes), step.title, step, yes)
    started = asking.StartDwell(name, step.step, given.solution, instrument=given.instrument)
    return Action(started, step.title, step)


def _beside(part: Part, given: Given, store: str | None) -> Iterator[Action]:
    """Yields what may be done beside the steps, where the item is such that it makes sense."""
    item = part.standing
    if item.dwell is not None and item.dwell.film_s is not None:
        yield Action(asking.Rewet(item.item), "Wet it again")
    for hold in item.holds:
        yield Action(asking.LiftHold(item.item, hold, "to be said"), f"Lift the hold {hold}")
    if item.stage in ASIDE:
        return
    if item.custody is not None:
        moving = item.custody.sort == "moving"
        yield (
            Action(asking.ReceiveItem(item.item), "Receive it")
            if moving
            else Action(asking.ReturnItem(item.item), "Take it back")
        )
        return
    look = look_of(part.workflow)
    if look is not None:
        yes = {one.check: True for one in look.checks}
        place = given.place or "to be said"
        issue = asking.IssueItem(item.item, given.wearer, place, checks=yes, instrument=given.instrument)
        yield Action(issue, "Issue it", look, yes)
    if item.place is not None:
        yield Action(asking.TakeOut(item.item), f"Take it out of {item.place}")
    elif store is not None:
        yield Action(asking.PutAway(item.item, store), f"Put it in {store}")


def store_for(read: Transaction, site: str, named: str | None) -> str | None:
    """Returns the place in which something could be put away: the one named, else the first store of the site."""
    if named is not None:
        return named
    places = (one for one in read.states_of(StreamKind.PLACE) if isinstance(one, Place))
    return next((one.place for one in places if one.site == site and one.sort in STORES), None)


STORES: Final = ("store", "cabinet")


@dataclass(frozen=True, slots=True)
class Rehearsed:
    """Is what one action would be answered now.

    Attributes:
        fault: why the request means nothing as it is, or None.
    """

    action: Action
    answer: Answer | None
    fault: str | None = None

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """Returns every reason why not; none where it would be accepted."""
        return () if self.answer is None or self.answer.accepted else self.answer.reasons

    @property
    def state(self) -> str:
        """Returns `allowed`, `held`, `asks` where only what a fuller request brings is missing, else `refused`."""
        if self.answer is None:
            return "refused"
        if self.answer.verdict is not Verdict.REFUSED:
            return "allowed" if self.answer.accepted else "held"
        return "asks" if all(one.key in ASKS for one in self.reasons) else "refused"


def rehearse(
    department: Department, found: list[Action], station: str, badge: str | None, second: str | None
) -> list[Rehearsed]:
    """Returns what each action would be answered now at a station; nothing is written."""
    key = department.clock.new_id()
    calls = [Call(one.request, station, badge, second, f"{key}/{number}") for number, one in enumerate(found)]
    outcomes = department.desk.rehearse(calls)
    return [
        Rehearsed(one, None, outcome.sentence) if isinstance(outcome, ReprocessError) else Rehearsed(one, outcome)
        for one, outcome in zip(found, outcomes, strict=True)
    ]
