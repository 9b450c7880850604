"""From the options of an override to the override."""

from __future__ import annotations

from reprocess.commandline.asking import day_ends_us, said
from reprocess.errors import WrongUseError
from reprocess.rules.asked import Override
from reprocess.rules.override import REASONS


def override_from(
    rule: str | None, because: str | None, why: str | None, until: str | None, reference: str | None, zone: str
) -> Override | None:
    """Returns the override that the options ask for, or None.

    Raises:
        WrongUseError: the reason's code or words are missing, or a detail stands without a rule.
    """
    if rule is None:
        if because is not None or until is not None or reference is not None:
            message = "--because, --over-until and --reference belong to --override."
            raise WrongUseError(message)
        return None
    if because is None or why is None:
        message = f"An override needs --because ({', '.join(REASONS)}) and --why."
        raise WrongUseError(message)
    until_us = day_ends_us(until, zone) if until is not None else None
    return Override(rule.upper(), because, said(why) or "", until_us, said(reference))
