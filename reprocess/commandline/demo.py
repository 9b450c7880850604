"""`reprocess demo`: one day of the fictional network, told as it happens."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import JsonOption

SHARES = 200
"""Steps of the progress bar."""
LOOK_AROUND = (
    "board --site LMG",
    "item TUB-117",
    "history TUB-117",
    "history station:LMG-D1",
    "solution LMG-B2",
    "person P-QD",
    "due --within 720h",
    "log BLW-043 disinfect start --in LMG-W1 --as B-MT --station LMG-D1",
    "draw blower --as table",
    "verify --full",
)
"""Commands that the demo offers at its end; a test runs them as printed."""


def demo(
    department: Annotated[
        Path, typer.Option("--department", "-d", help="Where the demo's database is made anew.")
    ] = Path("larkmoor-demo.db"),
    month: Annotated[
        bool, typer.Option("--month", help="Play thirty-five days at three sites, over both changes of the clocks.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Play one day of the fictional Larkmoor network: from used to ready, refusals and all."""
    if month:
        _month(department, as_json=as_json)
        return
    from reprocess.demo.places import clear
    from reprocess.demo.story import play
    from reprocess.rules.cautions import DEMO, EXAMPLE, GENERAL

    clear(department)
    say = (lambda _: None) if as_json else print
    for line in (DEMO, EXAMPLE, GENERAL):
        say(line)
    told = play(department, say)
    if as_json:
        fields = {"scans": told.scans, "refusals": told.refusals, "entries": told.entries, "sound": told.sound}
        print(json.dumps({**fields, "told": told.told}, ensure_ascii=False))
        return
    print()
    print(f"{told.scans} scans, {told.refusals} refused or stopped. {DEMO}")
    print("Look around; the demo keeps its own clock:")
    command = _command()
    for words in LOOK_AROUND:
        place = "" if words.startswith("draw") else f" -d {department}"
        print(f"  {command} {words}{place}")


def _month(department: Path, *, as_json: bool) -> None:
    from reprocess.demo.month.play import play
    from reprocess.demo.places import clear
    from reprocess.rules.cautions import DEMO, EXAMPLE, GENERAL

    clear(department)
    said: list[str] = [DEMO, EXAMPLE, GENERAL]
    with typer.progressbar(length=SHARES, label="35 days", file=sys.stderr) as bar:
        done = 0

        def tick(share: float) -> None:
            nonlocal done
            bar.update(max(0, int(share * SHARES) - done))
            done = max(done, int(share * SHARES))

        told = play(department, said.append, tick=tick)
    if as_json:
        print(json.dumps({"facts": told.facts, "entries": told.entries, "sound": told.sound}, ensure_ascii=False))
        return
    print("\n".join(said))
    print()
    print(f"{told.scans} scans, {told.entries} entries, {'sound' if told.sound else 'NOT SOUND'}. {DEMO}")
    print(f"Ask it: {_command()} lookback item KIT-041 -d {department}")


def _command() -> str:
    """Returns how this program was started, so that what is printed works as it stands."""
    return "python3 -m reprocess" if Path(sys.argv[0]).name == "__main__.py" else "reprocess"
