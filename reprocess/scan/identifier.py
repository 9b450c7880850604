"""What a maker's label says about a device, whichever agency's standard it is written in."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum, unique


@unique
class Standard(StrEnum):
    """The standards of the three issuing agencies; the values are stored words."""

    GS1 = "gs1"
    HIBC = "hibc"
    ISBT_128 = "isbt-128"


@dataclass(frozen=True, slots=True)
class DeviceIdentifier:
    """A unique device identifier (UDI): which device, and what the label adds to that.

    `device` is what the agency assigned to the model and its packing; it alone never tells one item
    from another. What the label leaves out is None. `expires` is the last day that is still good.
    """

    standard: Standard
    device: str
    lot: str | None = None
    serial: str | None = None
    donation: str | None = None
    manufactured: date | None = None
    expires: date | None = None


@unique
class LabelFault(StrEnum):
    """What kept a string from being read as a device label; the values are stored words."""

    EMPTY = "empty"
    TOO_LONG = "too-long"
    STRANGE_CHARACTER = "strange-character"
    UNKNOWN_STANDARD = "unknown-standard"
    MALFORMED = "malformed"
    NO_DEVICE = "no-device"
    REPEATED = "repeated"
    WRONG_CHECK_CHARACTER = "wrong-check-character"
    NO_SUCH_DAY = "no-such-day"


_SENTENCES = {
    LabelFault.EMPTY: "Nothing was scanned; scan the label again.",
    LabelFault.TOO_LONG: "That is too long for the label of a device; scan the label again.",
    LabelFault.STRANGE_CHARACTER: "That holds characters that no device label uses; scan the label again.",
    LabelFault.UNKNOWN_STANDARD: "That is no device label of a known standard; look for the label with the device.",
    LabelFault.MALFORMED: "Something is missing or out of place in that label; scan it again.",
    LabelFault.NO_DEVICE: "That label does not say which device it is on; scan the label with the device.",
    LabelFault.REPEATED: "That label says the same thing twice; scan it again.",
    LabelFault.WRONG_CHECK_CHARACTER: "The check character of that label is wrong; scan or type it again.",
    LabelFault.NO_SUCH_DAY: "That label names a day that does not exist; scan it again.",
}


@dataclass(frozen=True, slots=True)
class UnreadableLabel:
    """A string that is no device label; `echo` is a harmless shortened copy that may be shown."""

    fault: LabelFault
    echo: str

    @property
    def reason(self) -> str:
        """Returns the reason as one sentence for the operator."""
        return _SENTENCES[self.fault]
