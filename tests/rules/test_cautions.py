"""Every caution that a file names has its text."""

from reprocess.definitions.label import Agent
from reprocess.definitions.model import Workflow
from reprocess.rules.cautions import CAUTIONS
from tests.engine.floor import files


def test_every_caution_named_has_a_text() -> None:
    named: set[str] = set()
    for file in files():
        if isinstance(file.holds, Workflow):
            named |= {step.caution for step in file.holds.steps if step.caution is not None}
        elif isinstance(file.holds, Agent):
            named |= set(file.holds.cautions)
    assert named
    assert named <= set(CAUTIONS)
    assert all(text.endswith(".") for text in CAUTIONS.values())
