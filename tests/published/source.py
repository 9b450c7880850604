"""Where a checked value comes from. A row without a source cannot be made.

A check file copies a value with its unit, its condition and its source, never a quotation, and the
value must come out of our own code. A row of `memory` is printed at the end of the run and asserts
nothing; the others are asserted. The ids name the project's list of published values.
"""

from dataclasses import dataclass, fields
from typing import Literal, get_args

Evidence = Literal["seen", "computed", "memory"]
"""Read in the source or in a copy of it; worked out by ourselves; neither."""

Basis = Literal["published", "derived"]
"""The source prints the expected value; or we worked it out from what the source prints."""


@dataclass(frozen=True, slots=True)
class Published:
    """One value from elsewhere: what it says, in which unit, when it holds, and who says so.

    Raises:
        ValueError: something is missing. Only a value of our own working may lack an address.
    """

    id: str
    statement: str
    unit: str
    condition: str
    source: str
    address: str
    evidence: Evidence
    basis: Basis

    def __post_init__(self) -> None:
        if self.evidence not in get_args(Evidence) or self.basis not in get_args(Basis):
            sentence = f"{self.id} states no known evidence or basis"
            raise ValueError(sentence)
        optional = {"address"} if self.evidence == "computed" else set[str]()
        for name in (field.name for field in fields(self)):
            if name not in optional and not str(getattr(self, name)).strip():
                sentence = f"{self.id or self.statement} has no {name}"
                raise ValueError(sentence)

    def __str__(self) -> str:
        return self.id
