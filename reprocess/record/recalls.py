"""The standing of a recall; where its items are is asked of what they touched (record/touching.py)."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import subject_of


@dataclass(frozen=True, slots=True)
class Recall:
    """Is where a recall stands.

    Attributes:
        sort: what is recalled by, such as lot; `items` where the list itself was given.
        items: the list of the latest preview that was not committed yet; empty otherwise.
        digest: the digest of that list.
        listed: how many items were on the latest preview.
        previewed: whether a preview waits for its commit.
        committed_us: when it was first committed, or None.
        case: the exposure case that it opened, or None.
    """

    recall: str
    sort: str = ""
    name: str = ""
    cause: str = ""
    owner: str = ""
    from_us: int | None = None
    until_us: int | None = None
    notice: str | None = None
    items: tuple[str, ...] = ()
    digest: str = ""
    listed: int = 0
    previewed: bool = False
    committed_us: int | None = None
    closed_us: int | None = None
    case: str | None = None
    number: int = 0

    @property
    def is_open(self) -> bool:
        """Tells whether it was committed and is not closed."""
        return self.committed_us is not None and self.closed_us is None


def apply(recall: Recall, entry: Entry) -> Recall:
    """Returns the recall after one more entry of its stream."""
    body = entry.body
    after = replace(recall, recall=subject_of(entry.stream), number=entry.number)
    match body:
        case words.RecallPreviewed():
            return replace(
                after,
                sort=body.sort,
                name=body.name,
                cause=body.cause,
                owner=body.owner,
                from_us=body.from_us,
                until_us=body.until_us,
                notice=body.notice,
                items=body.items,
                digest=body.digest,
                listed=len(body.items),
                previewed=True,
            )
        case words.RecallCommitted():
            first_us = after.committed_us if after.committed_us is not None else entry.at_us
            return replace(after, items=(), previewed=False, committed_us=first_us, case=body.case or after.case)
        case words.RecallClosed():
            return replace(after, closed_us=entry.at_us)
        case _:
            return after
