"""Any scans, in any order, by anybody, under any clock: what is on record afterwards is what the oracle allows."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from tests.oracle.rows import raw_rows
from tests.properties.play import Play, Tally, copied, opened
from tests.properties.replaying import otherwise_claimed, replayed
from tests.properties.script import SCRIPTS, Script
from tests.properties.template import Template

LONG = 50
"""How many times more examples `--long` plays."""
REACHED = ("A01", "A02", "C02", "E07", "G02", "H04", "H10", "L07", "P01", "S01", "S02", "T03", "T12")
"""Rules that a run must have met, or it proves little."""


def play_many(judge: Callable[[Script], None], count: int, config: pytest.Config) -> None:
    """Judges that many random scripts: the same ones in every run, or other and many more with `--long`."""
    long = bool(config.getoption("--long"))
    profile = settings(
        max_examples=count * (LONG if long else 1),
        derandomize=not long,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    profile(given(SCRIPTS)(judge))()


def test_any_script_leaves_only_what_the_oracle_finds_lawful(
    larkmoor: Template, pytestconfig: pytest.Config, record_property: Callable[[str, object], None]
) -> None:
    """I1, I2, I3, I4, I9, I11, I12: see `Play`; a run that seldom reaches ready, or misses rules, fails."""
    tally = Tally()

    def judge(script: Script) -> None:
        larkmoor.play(script, tally)

    play_many(judge, 140, pytestconfig)
    record_property("scripts that reached ready", f"{tally.reached_ready} of {tally.examples}")
    record_property("what was reached", dict(sorted(tally.counted.items())))
    assert tally.reached_ready * 2 > tally.examples
    assert not {rule for rule in REACHED if not tally.counted[f"rule {rule}"]}


def test_the_same_script_leaves_the_same_bytes(larkmoor: Template, pytestconfig: pytest.Config) -> None:
    """I23: same script, same clock, same code: the entries are equal in every byte, seals included."""

    def judge(script: Script) -> None:
        first = raw_rows(larkmoor.play(script).path)
        assert raw_rows(larkmoor.play(script).path) == first

    play_many(judge, 20, pytestconfig)


def test_claimed_times_change_no_measured_evidence(larkmoor: Template, pytestconfig: pytest.Config) -> None:
    """I6: without the claims in them, the same requests leave every item where it was.

    An early claimed end of use may ask for more (T11), never for less, so that items it made late are left out; so
    are items one of whose paper entries was accepted in one run only.
    """

    def judge(script: Script) -> None:
        play = larkmoor.play(script)
        other = copied(larkmoor.path, play.path.with_name("other.db"))
        verdicts = replayed(other, play.log, otherwise_claimed)
        assert standings(other, play, script) == standings(play.path, play, script) or excused(play, verdicts)

    play_many(judge, 40, pytestconfig)


def standings(path: Path, play: Play, script: Script) -> list[tuple[object, ...]]:
    """Returns where the items of a script stand, and on what evidence."""
    department = opened(path, play.clock)
    try:
        found = [department.item(name) for name in script.items]
        return [(one.stage, {step: held.sort for step, held in one.satisfied.items()}) for one in found]
    finally:
        department.close()


def excused(play: Play, verdicts: list[str | None]) -> bool:
    """Tells whether a claim asked for more: an item became late, or a paper entry counted in one run only."""
    late = any(row["kind"] == "delay-found" for rows in play.world["rows"].values() for row in rows)
    return late or verdicts != play.verdicts
