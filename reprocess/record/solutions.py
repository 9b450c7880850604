"""The standing of a solution: a prepared bath or an opened container, folded from its stream."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Solution:
    """Is where a solution stands. A bath is one solution wherever it is used (E33).

    Attributes:
        expires_us: in-use expiry; topping up never moves it (L04).
        made_feed: the entry by which it was made, in the order of the whole record.
        doubt_feed: the entry since which a failing test reaches every contact: the last valid pass, or the making;
            a bath made anew under the same id without a pass reaches back over its earlier makings. The order of the
            record decides, never the wall clock, which may have been corrected meanwhile (I6).
        passed_us: when it last passed a valid test, or None.
        touched_since_pass: contacts begun since then (L03).
        failed_us: when a valid test failed it, or None; a failed bath is never used again.
        doubted: whether a test that does not count, made since the last one that does, showed it too weak (L08).
        ended: why it is no longer in use, or None.
        recalled: the lot in it that was recalled, or None (L01).
    """

    solution: str
    agent: str = ""
    digest: str = ""
    form: str = "bath"
    site: str = ""
    lot: str = ""
    lots: tuple[str, ...] = ()
    lot_expiry_us: int = 0
    expires_us: int = 0
    made_us: int = 0
    made_feed: int = 0
    doubt_feed: int = 0
    passed_us: int | None = None
    touched_since_pass: int = 0
    touched: int = 0
    failed_us: int | None = None
    doubted: bool = False
    ended: str | None = None
    ended_us: int | None = None
    recalled: str | None = None
    number: int = 0

    @property
    def known(self) -> bool:
        """Tells whether it was ever made up or opened."""
        return self.number > 0


def apply(solution: Solution, entry: Entry) -> Solution:  # noqa: PLR0911 - one case a kind
    """Returns the solution after one more entry of its stream."""
    body = entry.body
    after = replace(solution, number=entry.number)
    match body:
        case words.SolutionMade():
            return Solution(
                solution=subject_of(entry.stream),
                agent=body.agent,
                digest=body.digest,
                form=body.form,
                site=body.site,
                lot=body.lot,
                lots=(body.lot,),
                lot_expiry_us=body.lot_expiry_us,
                expires_us=body.expires_us,
                made_us=entry.at_us,
                made_feed=entry.feed,
                doubt_feed=solution.doubt_feed if solution.known and solution.failed_us is None else entry.feed,
                number=entry.number,
            )
        case words.SolutionTested() if body.valid and body.passed:
            return replace(after, passed_us=entry.at_us, doubt_feed=entry.feed, touched_since_pass=0, doubted=False)
        case words.SolutionTested() if body.valid:
            return replace(after, failed_us=entry.at_us)
        case words.SolutionTested() if not body.passed:
            return replace(after, doubted=True)
        case words.SolutionTouched():
            return replace(
                after,
                touched=solution.touched + 1,
                touched_since_pass=solution.touched_since_pass + 1,
            )
        case words.SolutionToppedUp():
            return replace(
                after,
                lots=(*solution.lots, body.lot),
                lot_expiry_us=min(solution.lot_expiry_us, body.lot_expiry_us),
            )
        case words.SolutionLotRecalled():
            return replace(after, recalled=body.lot)
        case words.SolutionEnded():
            return replace(after, ended=body.cause, ended_us=entry.at_us)
        case _:
            return after
