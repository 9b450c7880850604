"""What somebody signs: what exactly was shown to them, its digest, and what the signature means (I22).

21 CFR 11.50 (names, time and meaning stand with the signature) and 11.70 (it cannot be moved to another record).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from reprocess.record.entry import Entry
from reprocess.record.form import body_text
from reprocess.record.standing import Standing
from reprocess.record.states import State
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Bench
from reprocess.terms import as_text, subject_of

MEANINGS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "release": "released: every mandated step is on record",
        "lift-hold": "hold lifted",
        "condemn": "condemned",
        "correct": "corrected and countersigned",
        "consent": "agreed as second person",
        "review-entry": "reviewed and countersigned",
        "review-refusals": "refusals reviewed",
        "approve": "approved",
        "confirm-sources": "sources confirmed",
    }
)
"""What a signature means, by the kind of request; the other requests are not signed."""
OVERRIDDEN: Final = "one rule passed over"
SHOWN_LEAST: Final = 12
"""So many hexadecimal digits of a digest name it (48 bits; two texts of one desk do not share them by chance)."""


def shown_text(subject: str, state: State) -> str:
    """Returns what is shown of a subject to whoever signs: its latest entry's number and how it stands."""
    lines = [f"{subject} entry {state.number}"]
    if isinstance(state, Standing):
        lines.append(f"stage {state.stage}, cycle {state.cycle}, workflow {state.workflow} {state.digest}")
        lines += [f"{step}: entry {one.number}, {one.sort}, by {one.actor}" for step, one in state.satisfied.items()]
        lines += [f"hold {one.hold}: {one.cause}; {one.lift_requires}" for one in state.holds.values()]
    return "\n".join(lines)


def entry_text(entry: Entry) -> str:
    """Returns what is shown of an entry to whoever reviews it: which one, when, by whom, where, and what it says."""
    envelope = entry.envelope
    who = f"by {envelope.actor or 'nobody'} and {envelope.second or 'nobody'} at {envelope.station or 'no station'}"
    head = f"entry {entry.feed}: {entry.stream} entry {entry.number} {entry.kind} {as_text(entry.at_us)} {who}"
    return f"{head}\n{body_text(entry.body)}"


def digest_of(text: str) -> str:
    """Returns the digest of what was shown, in hexadecimal."""
    return hashlib.sha256(text.encode()).hexdigest()


def shown_digest(subject: str, state: State) -> str:
    """Returns the digest of what is shown of a subject now."""
    return digest_of(shown_text(subject, state))


def changed_since(bench: Bench, subject: str, now: str) -> list[Reason]:
    """Returns that what was shown to whoever signs is not what stands now; `now` is the digest of that."""
    given = bench.special.shown
    if given is None or (len(given) >= SHOWN_LEAST and now.startswith(given.lower())):
        return []
    return [Reason("I22", "changed-since", {"subject": subject_of(subject)})]
