"""How often somebody may try to sign in, and how long a session lasts: A07 and D10, as plain numbers.

One person's limit bars that person alone, a station's that station alone, a source's that source alone. NIST SP
800-63B (draft of revision 4, section 5.2.2) has 100 failed tries as its ceiling; ours are stricter, by our own choice.
"""

from __future__ import annotations

from typing import Final

from reprocess.record.access import Access, Proved
from reprocess.rules.answer import Reason
from reprocess.terms import SECOND_US

FREE: Final = 5
"""So many tries fail before the next one has to wait."""
WAITS_S: Final = (30, 120, 480, 1_800, 3_600)
"""How long the try after the fifth, sixth, ... failure waits."""
LOCKED_AFTER: Final = FREE + len(WAITS_S)
"""After so many failures a supervisor must allow the next try."""
STATION_TRIES: Final = 20
STATION_S: Final = 600
"""So many failures at one station within so many seconds, whoever's badges they named."""
SOURCE_TRIES: Final = 60
SOURCE_S: Final = 60
"""So many tries from one address of the network within so many seconds; a node counts them by itself."""
LOCKS_MANY: Final = 3
LOCKS_S: Final = 3_600
"""So many locks within so many seconds are a matter to look into."""

IDLE_S: Final = 300
"""A session that nobody uses ends after so many seconds; each scan begins them anew (A07)."""
SHIFT_S: Final = 12 * 3_600
"""A session ends after one shift, however busy (NIST SP 800-63B draft of revision 4, AAL2: 12 h). So long a badge alone
opens a session at a screen of the site where badge and PIN were given."""


def barred(access: Access, now_us: int) -> Reason | None:
    """Returns why a person may not try now: locked, or too soon after the last failure; None where they may (D10)."""
    if access.locked_us is not None or access.failures >= LOCKED_AFTER:
        return Reason("D10", "sign-in-locked", {}, role="supervisor")
    if access.failures < FREE:
        return None
    left_us = access.failed_us + WAITS_S[access.failures - FREE] * SECOND_US - now_us
    return _later(left_us) if left_us > 0 else None


def in_shift(proved: Proved, now_us: int) -> bool:
    """Tells whether badge and PIN were given within the shift; a clock that was set back by as much ends it too."""
    return abs(now_us - proved.at_us) < SHIFT_S * SECOND_US


def station_barred(failed_us: list[int], now_us: int) -> Reason | None:
    """Returns why nobody may try at a station now, from when tries failed there, oldest first (D10).

    What fails at a station's own screen bars that screen alone, and whoever names the station without it never bars it.
    """
    recent = [one for one in failed_us if one > now_us - STATION_S * SECOND_US]
    if len(recent) < STATION_TRIES:
        return None
    return _later(recent[-STATION_TRIES] + STATION_S * SECOND_US - now_us)


def _later(left_us: int) -> Reason:
    return Reason("D10", "try-later", {}, wait_s=max(1, -(-left_us // SECOND_US)))


def session_over(seen_us: int, ends_us: int, now_us: int) -> Reason | None:
    """Returns why a session counts no more: nobody used it, or its shift is over (A07).

    A clock that was set back by as long as an unused session lasts ends it too; it would last longer otherwise.
    """
    if now_us >= ends_us:
        return Reason("A07", "session-over", {})
    if abs(now_us - seen_us) >= IDLE_S * SECOND_US:
        return Reason("A07", "signed-out", {})
    return None
