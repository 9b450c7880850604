"""The reminders of an open recall: look who and what is still missing after an hour, a day and a week (H09)."""

from __future__ import annotations

from typing import Final

from reprocess.record.recalls import Recall
from reprocess.terms import SECOND_US, StreamKind, stream
from reprocess.timetable.due import GRAVE, Due, Words, key_of

LOOKS: Final = ((3600, "1 h"), (86_400, "24 h"), (7 * 86_400, "7 d"))
"""When the effectiveness of a recall is looked at, since it was committed (trade practice, no source)."""


def for_recall(recall: Recall, site: str) -> tuple[Due, ...]:
    """Returns every reminder that a recall calls for; `site` is where it is told."""
    if not recall.is_open or recall.committed_us is None:
        return ()
    subject = stream(StreamKind.RECALL, recall.recall)
    found = []
    for after_s, age in LOOKS:
        words: Words = {"say": "recall-open", "site": site, "recall": recall.recall, "age": age, "to": recall.owner}
        key = key_of("H09", subject, str(recall.committed_us), age.replace(" ", ""))
        found.append(Due(key, subject, "H09", recall.committed_us + after_s * SECOND_US, GRAVE, words))
    return tuple(found)
