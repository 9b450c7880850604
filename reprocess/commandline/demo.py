"""`reprocess demo`: one day of the fictional network, told as it happens."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from reprocess.commandline.options import JsonOption

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
    as_json: JsonOption = False,
) -> None:
    """Play one day of the fictional Larkmoor network: from used to ready, refusals and all."""
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


def _command() -> str:
    """Returns how this program was started, so that what is printed works as it stands."""
    return "python3 -m reprocess" if Path(sys.argv[0]).name == "__main__.py" else "reprocess"
