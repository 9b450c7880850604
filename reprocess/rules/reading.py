"""What was measured, counted and looked at: M01, M03, M07, M08, M10, M11 and the lines of a checklist.

A value that cannot be a value (M08) is asked again. A value out of its limits is a fact: the step did not pass.
Limits include equality.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from reprocess.definitions.configuration import Configuration
from reprocess.definitions.lines import Count, Failing
from reprocess.definitions.model import Step
from reprocess.definitions.wearing import WearStep
from reprocess.quantities.reading import BadReading, read_number
from reprocess.rules.answer import Fact, Reason


@dataclass(frozen=True, slots=True)
class Judged:
    """Is what the answers, readings and counts of one step come to.

    Attributes:
        unread: what cannot be taken as given and is asked again.
        missing: what was not given at all.
        failed: what is out of its limits or answered no, with what follows.
        limits: the limits that were used, as text, to be stored with the evidence (I4).
    """

    unread: tuple[Reason, ...]
    missing: tuple[Reason, ...]
    failed: tuple[tuple[Reason, Failing], ...]
    limits: dict[str, str]


def judge(
    step: Step | WearStep,
    checks: dict[str, bool],
    readings: dict[str, str],
    counts: dict[str, int],
    configuration: Configuration | None,
) -> Judged:
    """Returns what the evidence of a step comes to; unknown keys are asked again, never ignored."""
    unread = [*_strangers(step, checks, readings, counts)]
    missing: list[Reason] = []
    failed: list[tuple[Reason, Failing]] = []
    limits: dict[str, str] = {}
    for check in step.checks:
        if check.check not in checks:
            missing.append(Reason("P01", "check-missing", {"check": check.check, "text": check.text}))
        elif not checks[check.check]:
            failing = check.failing
            told = Reason(failing.rule or "H01", "check-failed", {"text": check.text, "defect": failing.defect})
            failed.append((told, failing))
    _judge_readings(step, readings, unread, missing, failed, limits)
    for count in step.counts:
        wanted = wanted_count(count, configuration)
        limits[count.count] = str(wanted)
        if count.count not in counts:
            missing.append(Reason("M07", "count-missing", {"count": count.count, "wanted": wanted}))
        elif counts[count.count] != wanted:
            seen: dict[str, Fact] = {"count": count.count, "seen": counts[count.count], "wanted": wanted}
            failed.append((Reason(count.failing.rule or "M07", "count-wrong", seen), count.failing))
    return Judged(tuple(unread), tuple(missing), tuple(failed), limits)


def _judge_readings(
    step: Step | WearStep,
    readings: dict[str, str],
    unread: list[Reason],
    missing: list[Reason],
    failed: list[tuple[Reason, Failing]],
    limits: dict[str, str],
) -> None:
    for reading in step.readings:
        name = reading.reading
        limits[name] = f"{_edge(reading.least)}..{_edge(reading.most)} {reading.unit}"
        if name not in readings:
            if reading.required:
                missing.append(Reason("M01", "reading-missing", {"reading": name, "unit": reading.unit}))
            continue
        value = read_number(readings[name], reading.unit)
        if isinstance(value, BadReading):
            unread.append(Reason("M08", "not-a-number", {"reading": name, "because": value.sentence}))
        elif not reading.plausible_least <= value <= reading.plausible_most:
            unread.append(
                Reason(
                    "M08",
                    "implausible",
                    {
                        "reading": name,
                        "value": readings[name],
                        "least": str(reading.plausible_least),
                        "most": str(reading.plausible_most),
                        "unit": reading.unit,
                    },
                )
            )
        elif not within(value, reading.least, reading.most):
            told = {"reading": name, "value": readings[name], "limit": limits[name]}
            failing = reading.failing or Failing(defect="OUT-OF-LIMITS")
            failed.append((Reason(failing.rule or "H01", "reading-out", {**told}), failing))


def within(value: Decimal, least: Decimal | None, most: Decimal | None) -> bool:
    """Tells whether a value is inside its limits, limits included; never true for anything but a number."""
    low = least if least is not None else value
    high = most if most is not None else value
    return low <= value <= high


def wanted_count(count: Count, configuration: Configuration | None) -> int:
    """Returns how many there must be; without a configuration nothing can be enough."""
    if count.exactly is not None:
        return count.exactly
    if configuration is None or count.from_configuration is None:
        return -1
    return {
        "gaskets": configuration.gaskets,
        "plugs": configuration.plugs,
        "filters": configuration.filters,
    }[count.from_configuration]


def _strangers(
    step: Step | WearStep, checks: dict[str, bool], readings: dict[str, str], counts: dict[str, int]
) -> list[Reason]:
    known = (
        {check.check for check in step.checks}
        | {reading.reading for reading in step.readings}
        | {count.count for count in step.counts}
    )
    given = [*checks, *readings, *counts]
    return [Reason("M08", "not-asked", {"name": name, "known": sorted(known)}) for name in given if name not in known]


def _edge(value: Decimal | None) -> str:
    return "" if value is None else str(value)
