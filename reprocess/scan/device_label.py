"""What the label of a device's maker says: one way in for the three standards.

A label is either understood as a whole or asked again, with the reason. Nothing is guessed: which
standard it is follows from its first character, or from the symbology identifier (ISO/IEC 15424)
that the scanner puts in front, and the two must not contradict each other.
"""

from biip.symbology import GS1Symbology

from reprocess.scan.code import echo
from reprocess.scan.gs1 import SEPARATOR, read_gs1
from reprocess.scan.hibc import read_hibc
from reprocess.scan.identifier import DeviceIdentifier, LabelFault, UnreadableLabel
from reprocess.scan.isbt_128 import read_isbt_128

CHARACTERS_MAX = 128
"""Longer input is refused before it is looked at. The longest label has 87 characters (FDA, 2017)."""

_GS1_CARRIERS = frozenset(symbology.value for symbology in GS1Symbology.with_gs1_messages())
_PREFIX = 3


def read_device_label(scanned: str, *, this_year: int) -> DeviceIdentifier | UnreadableLabel:
    """Returns what the label says; every string has an answer.

    `this_year` is the calendar year of the scan; it settles which century two digits mean.
    """
    answer = _strange_text(scanned) or _read(scanned, this_year)
    return UnreadableLabel(answer, echo(scanned)) if isinstance(answer, LabelFault) else answer


def _strange_text(scanned: str) -> LabelFault | None:
    if not scanned:
        return LabelFault.EMPTY
    if len(scanned) > CHARACTERS_MAX:
        return LabelFault.TOO_LONG
    if not scanned.isascii() or not scanned.replace(SEPARATOR, "").isprintable():
        return LabelFault.STRANGE_CHARACTER
    return None


def _read(scanned: str, this_year: int) -> DeviceIdentifier | LabelFault:
    carrier, text = "", scanned
    if scanned.startswith("]"):
        carrier, text = scanned[1:_PREFIX], scanned[_PREFIX:]
    if not text:
        return LabelFault.EMPTY
    if carrier in _GS1_CARRIERS:
        # A carrier of GS1 sends what machines read; the brackets are for people.
        return LabelFault.MALFORMED if text.startswith("(") else read_gs1(text, this_year)
    if text.startswith("+"):
        return read_hibc(text, this_year)
    if text.startswith(("=", "&")):
        return read_isbt_128(text)
    if not carrier and (text.startswith("(") or text[0].isdigit()):
        return read_gs1(text, this_year)
    return LabelFault.UNKNOWN_STANDARD
