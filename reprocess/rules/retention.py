"""How long what is kept, and which names are past it (D12, E40). Entries are never deleted; names are what goes."""

from __future__ import annotations

from typing import Final

from reprocess.rules.answer import Fact, Reason
from reprocess.rules.keeping import Link, Period
from reprocess.rules.privacy import HEALTH
from reprocess.terms import as_datetime, instant

CYCLES: Final = Period(5, "our default, the longest that any shipped profile asks for")
"""Records of cycles and uses, where no profile is in force that says otherwise."""
EXPOSURES: Final = Period(30, "29 CFR 1910.1020(d)(1)(ii), employee exposure records (from memory)")
FIT_TESTS: Final = "until the next one: 29 CFR 1910.134(m)(2)(ii) (from memory)"


def years_after(at_us: int, years: int) -> int:
    """Returns the same instant so many years later; from 29 February the first of March where there is none."""
    when = as_datetime(at_us)
    try:
        later = when.replace(year=when.year + years)
    except ValueError:
        later = when.replace(year=when.year + years, month=3, day=1)
    return instant(later)


def exposure_kept_until(link: Link) -> int | None:
    """Returns until when an exposure case keeps the name, or None where none names the wearer."""
    return None if link.exposed_us is None else years_after(link.exposed_us, EXPOSURES.years)


def kept_by_law(link: Link, now_us: int) -> list[Reason]:
    """Returns why a name must stay although its wearer asks for its erasure (E40): every reason at once."""
    who: dict[str, Fact] = {"wearer": link.wearer}
    reasons = []
    if link.out:
        reasons.append(Reason("D12", "still-out", who))
    if link.undecided is not None:
        reasons.append(Reason("D12", "case-not-decided", {**who, "case": link.undecided}, role=HEALTH))
    until_us = exposure_kept_until(link)
    if until_us is not None and now_us < until_us:
        facts: dict[str, Fact] = {**who, "until_us": until_us, "source": EXPOSURES.source}
        reasons.append(Reason("D12", "kept-by-law", facts, role=HEALTH))
    return reasons


def past(link: Link, period: Period, now_us: int) -> bool:
    """Tells whether the name has outlived its use: the wearer left, and no record that is still kept needs it (D12)."""
    if not link.named or link.left_us is None or kept_by_law(link, now_us):
        return False
    return now_us >= years_after(max(link.left_us, link.used_us or 0), period.years)
