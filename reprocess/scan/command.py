"""What a scanned command means: the words of the command sheet and of the defect sheet.

A command is a tag of kind C (`reprocess.scan.code`), such as `C:CONTACT-DONE.7`; a defect is one whose id begins with
DEFECT, such as `C:DEFECT-SOIL.K`. The words are those of the trade; the ids are printed on laminated sheets and stay.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum, unique
from types import MappingProxyType
from typing import Final

from reprocess.scan.code import CommandTag


@unique
class Group(StrEnum):
    """Lists the bands of the command sheet, each with a title; colour is never the only mark."""

    CLEAN = "Clean"
    CONTACT = "Contact"
    DRY = "Dry and inspect"
    STOP = "Stop and help"
    BATH = "Baths and loads"
    ANSWER = "Answers"


@dataclass(frozen=True, slots=True)
class Command:
    """Is one line of the command sheet.

    Attributes:
        name: its id on the sheet, and what programs call it.
        word: what stands beside the code.
        step: the step or verb of the record that it means, or None where the screen alone acts on it.
        action: what is done with that step, such as `start`, `rewet` or `done`.
    """

    name: str
    word: str
    group: Group
    step: str | None = None
    action: str | None = None


@dataclass(frozen=True, slots=True)
class Defect:
    """Is one line of the defect sheet; `code` is the defect's code in the workflow files."""

    code: str
    word: str


_LINES: Final = (
    Command("CLEAN-DONE", "Clean done", Group.CLEAN, "clean", "done"),
    Command("CLEAN-CHECK-OK", "Clean check OK", Group.CLEAN, "clean-check", "done"),
    Command("START-CONTACT", "Start contact", Group.CONTACT, "disinfect", "start"),
    Command("RE-WET", "Re-wet", Group.CONTACT, "disinfect", "rewet"),
    Command("DRIED-EARLY", "Dried early", Group.CONTACT, "disinfect", "dried"),
    Command("CONTACT-DONE", "Contact done", Group.CONTACT, "disinfect", "done"),
    Command("RINSED", "Rinsed", Group.CONTACT, "rinse", "done"),
    Command("IN-DRYER", "In dryer", Group.DRY, "dry", "start"),
    Command("DRY", "Dry", Group.DRY, "dry", "done"),
    Command("PASS", "Pass", Group.DRY, "inspect", "pass"),
    Command("FAIL", "Fail: then the defect", Group.DRY, "inspect", "fail"),
    Command("TEST-PASS", "Test pass", Group.DRY, "functional-test", "pass"),
    Command("TEST-FAIL", "Test fail: then the defect", Group.DRY, "functional-test", "fail"),
    Command("HOLD", "Hold", Group.STOP, "hold"),
    Command("UNDO", "Undo (60 s)", Group.STOP, "undo"),
    Command("HELP", "Help: supervisor", Group.STOP),
    Command("BATH-TEST", "Bath test", Group.BATH, "solution", "test"),
    Command("NEW-BATH", "New bath", Group.BATH, "solution", "make"),
    Command("LOAD-ADD", "Load: add", Group.BATH, "load", "add"),
    Command("LOAD-START", "Load: start", Group.BATH, "load", "start"),
    Command("LOAD-END", "Load: end", Group.BATH, "load", "end"),
    Command("YES", "Yes", Group.ANSWER),
    Command("NO", "No", Group.ANSWER),
    Command("NEXT", "Next", Group.ANSWER),
    Command("REPEAT", "Say again", Group.ANSWER),
    Command("LANGUAGE", "Language", Group.ANSWER),
)
COMMANDS: Final[Mapping[str, Command]] = MappingProxyType({one.name: one for one in _LINES})
"""Every command of the sheet by its id, in the order in which it is printed."""

DEFECT: Final = "DEFECT-"
"""How the id of a defect's tag begins."""

_DEFECTS: Final = (
    Defect("TUBE-CUT", "Tube cut or torn"),
    Defect("TUBE-KINK", "Tube kinked"),
    Defect("TUBE-WET", "Tube wet"),
    Defect("BLW-CRACK", "Blower cracked"),
    Defect("BLW-ALARM", "Blower alarm fails"),
    Defect("BLW-FLOW", "Blower flow too low"),
    Defect("BLW-IMMERSED", "Blower immersed"),
    Defect("PORT-THREAD", "Port thread worn"),
    Defect("GSK-MISSING", "Gasket missing"),
    Defect("GSK-DAMAGED", "Gasket damaged"),
    Defect("PLUG-MISSING", "Port plug missing"),
    Defect("FLT-DENT", "Filter dented"),
    Defect("FLT-WET", "Filter wet"),
    Defect("FLT-EXPIRED", "Filter expired"),
    Defect("BAT-BULGE", "Battery bulging"),
    Defect("BAT-CAP", "Battery capacity low"),
    Defect("BAT-LATCH", "Battery latch loose"),
    Defect("HOOD-TEAR", "Head cover torn"),
    Defect("LENS-SCRATCH", "Lens scratched"),
    Defect("BELT-FASTENER", "Belt fastener broken"),
    Defect("SOIL", "Visible soil"),
    Defect("RESIDUE", "Residue"),
    Defect("LABEL-ILLEGIBLE", "Label cannot be read"),
    Defect("ID-MISMATCH", "Identity does not match"),
    Defect("DROPPED", "Dropped"),
)
DEFECTS: Final[Mapping[str, Defect]] = MappingProxyType({one.code: one for one in _DEFECTS})
"""Every defect of the sheet by its code, in the order in which it is printed."""


def tag_of(line: Command | Defect) -> CommandTag:
    """Returns the tag that is printed for a line of either sheet."""
    name = line.name if isinstance(line, Command) else f"{DEFECT}{line.code}"
    return CommandTag(name, checked=True)


def read_command(tag: CommandTag) -> Command | Defect | None:
    """Returns what a command tag means, or None where no sheet of this release has it."""
    if tag.id.startswith(DEFECT):
        return DEFECTS.get(tag.id.removeprefix(DEFECT))
    return COMMANDS.get(tag.id)
