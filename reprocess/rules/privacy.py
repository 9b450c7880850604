"""Who may know whose pseudonym it is, and who may look into an exposure case (D13, H07, I21)."""

from __future__ import annotations

from typing import Final

from reprocess.rules import competence
from reprocess.rules.answer import Reason
from reprocess.rules.scene import Bench

HEALTH: Final = "occupational-health"
INFECTION: Final = "infection-prevention"
PROGRAMME: Final = "programme-administrator"
RISK: Final = "risk-management"

KEEPING_ROLES: Final = (PROGRAMME, HEALTH)
"""Who registers wearers and records until when they are trained, cleared and fit-tested."""
NAME_ROLES: Final = (HEALTH, INFECTION, PROGRAMME)
"""Who may be shown a wearer's name, and may erase one."""
CASE_ROLES: Final = (HEALTH, INFECTION)
"""Who looks into exposure cases and decides them."""
REPORT_ROLES: Final = (RISK, *CASE_ROLES)
"""Who records whether an authority is told; the decision itself is a legal one and is made elsewhere."""


def may_keep(bench: Bench) -> list[Reason]:
    """Returns why the actor may not register wearers (A08)."""
    return competence.two_with_role(bench, KEEPING_ROLES, "A08", two=False)


def may_know_names(bench: Bench) -> list[Reason]:
    """Returns why the actor may not be shown names (D13)."""
    return competence.two_with_role(bench, NAME_ROLES, "D13", two=False)


def may_see_cases(bench: Bench) -> list[Reason]:
    """Returns why the actor may not look into exposure cases (H07)."""
    return competence.two_with_role(bench, CASE_ROLES, "H07", two=False)


def may_settle_reports(bench: Bench) -> list[Reason]:
    """Returns why the actor may not record whether an authority is told (H07)."""
    return competence.two_with_role(bench, REPORT_ROLES, "H07", two=False)
