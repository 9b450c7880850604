"""One day in the small department: every kind of request at least once, each with its key, in an order that works."""

from __future__ import annotations

from dataclasses import dataclass

from reprocess import enrolment
from reprocess.clock import StoryClock
from reprocess.definitions.read import digest_of
from reprocess.department import Department
from reprocess.engine import request as asking
from reprocess.engine.enrolling import Approve, Commission, Enrol, EnrolRequest, Publish
from reprocess.engine.request import Request
from reprocess.record import words
from reprocess.rules.answer import Answer
from reprocess.station import Call
from tests.ledger.small import SHELL

LASTING_US = 4_000_000_000_000_000
"""An expiry in the year 2096."""
CHANGED = SHELL.replace("most: 50", "most: 40")


@dataclass(frozen=True, slots=True)
class Asked:
    """Is one request of the day.

    Attributes:
        key: the request's key, and its name in the tests.
        verdict: what the answer must be, so that the day tries what it means to try.
        after_s: how long after the request before it.
    """

    key: str
    request: Request | EnrolRequest
    verdict: str = "accepted"
    badge: str = "B-A"
    second: str | None = None
    after_s: int = 60

    def put(self, department: Department) -> Answer:
        """Returns the department's answer."""
        desk = department.desk
        if isinstance(self.request, EnrolRequest):
            call = enrolment.EnrolCall(self.request, "LMG-1", self.badge, self.second, self.key)
            return enrolment.take(desk.ledger, desk.library, desk.clock, call)
        return desk.take(Call(self.request, "LMG-1", self.badge, self.second, self.key))


def _wiped(item: str, prefix: str, solution: str) -> tuple[Asked, ...]:
    return (
        Asked(f"{prefix}-clean", asking.DoStep(item, "clean")),
        Asked(f"{prefix}-start", asking.StartDwell(item, "disinfect", solution)),
        Asked(f"{prefix}-rewet", asking.Rewet(item), after_s=90),
        Asked(f"{prefix}-met", asking.EndDwell(item, "disinfect"), after_s=100),
        Asked(f"{prefix}-inspect", asking.DoStep(item, "inspect", {"whole": True}, {"gap_mm": "1.5"}), badge="B-B"),
    )


DAY: tuple[Asked, ...] = (
    Asked("make", asking.MakeSolution("W-1", "wipe", "Q-1", LASTING_US)),
    Asked("top-up", asking.TopUpSolution("W-1", "Q-2", LASTING_US, "1")),
    Asked("unknown", asking.Contaminate("X-9", "dropped"), "accepted"),
    Asked("too-soon", asking.Release("S-1"), "refused"),
    Asked("clean", asking.DoStep("S-1", "clean")),
    Asked("start", asking.StartDwell("S-1", "disinfect", "W-1")),
    Asked("dried", asking.BreakDwell("S-1", "dried")),
    Asked("again", asking.StartDwell("S-1", "disinfect", "W-1")),
    Asked("rewet", asking.Rewet("S-1"), after_s=90),
    Asked("early", asking.EndDwell("S-1", "disinfect"), "refused", after_s=30),
    Asked("met", asking.EndDwell("S-1", "disinfect")),
    Asked("inspect", asking.DoStep("S-1", "inspect", {"whole": True}, {"gap_mm": "1.5"}), badge="B-B"),
    Asked("release", asking.Release("S-1")),
    Asked("undo", asking.Undo("S-1"), after_s=10),
    Asked("release-again", asking.Release("S-1")),
    Asked("note", asking.NoteItem("S-1", opened=True, charge_cycles=1, minutes=3)),
    Asked("assemble", asking.Assemble("SET-1", "one-port", ("S-1",), {"gaskets": 1, "plugs": 0})),
    Asked("look-at-set", asking.DoStep("SET-1", "inspect"), badge="B-B"),
    Asked("release-set", asking.Release("SET-1")),
    *_wiped("S-2", "second", "W-1"),
    Asked("correct", asking.Correct("S-2", 6, "the other gauge", {}, {"gap_mm": "4"}), second="B-B"),
    Asked("hold", asking.PlaceHold("S-2", "administrative", "a recall notice", "Anna Brook"), "held"),
    Asked("lift", asking.LiftHold("S-2", "administrative-9", "notice withdrawn"), badge="B-B", second="B-A"),
    Asked("boiled", asking.ReportMethod("S-2", "boil"), "held"),
    Asked("failed-bath", asking.TestSolution("W-1", "T-1", LASTING_US, passed=False), "held"),
    Asked("make-second", asking.MakeSolution("W-2", "wipe", "Q-3", LASTING_US)),
    Asked("third-clean", asking.DoStep("S-3", "clean")),
    Asked("third-slip", asking.StartDwell("S-3", "disinfect", "W-2")),
    Asked("third-undo", asking.Undo("S-3"), after_s=10),
    Asked("third-start", asking.StartDwell("S-3", "disinfect", "W-2")),
    Asked("end-bath", asking.EndSolution("W-2", "empty"), "accepted"),
    Asked("fail", asking.FailStep("S-3", "inspect", ("CRACK",)), "held"),
    Asked("aside", asking.SetAside("S-3", "repair", "cracked", "the inside of its ports")),
    Asked("used", asking.Contaminate("SET-1", "used")),
    Asked("condemn", asking.Condemn("S-2", "worn"), second="B-B"),
    Asked("commission", Commission("S-4", "shell", "M-1")),
    Asked("badge", Enrol("person:P-B", words.BadgeGiven(badge="B-B2"))),
    Asked("badge-back", Enrol("person:P-B", words.BadgeWithdrawn(badge="B-B2", reason="lost"))),
    Asked("publish", Publish("workflow", "shell", digest_of(CHANGED), CHANGED)),
    Asked("approve", Approve("workflow", "shell", digest_of(CHANGED)), badge="B-B"),
)


def play(department: Department, clock: StoryClock, day: tuple[Asked, ...] = DAY) -> dict[str, Answer]:
    """Plays a day and returns the answers by key."""
    answers = {}
    for asked in day:
        clock.push(asked.after_s)
        answers[asked.key] = asked.put(department)
    return answers
