"""What is advice only never reaches a decision: no rule and no engine reads it, directly or through others."""

import ast
from pathlib import Path

import pytest

import reprocess

ROOT = Path(reprocess.__file__).resolve().parent
ADVICE = frozenset(f"reprocess.quantities.{name}" for name in ("decay", "equivalence", "kinetics", "reduction"))
DECIDES = ("definitions", "record", "rules", "engine", "ledger", "timetable")


def modules() -> dict[str, Path]:
    """Returns every module of ours by its name."""
    return {
        ".".join(("reprocess", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(".__init__"): path
        for path in ROOT.rglob("*.py")
    }


def imports_of(path: Path) -> set[str]:
    """Returns every name that a module imports, and what it imports it from, wherever in the file."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def reached_from(start: set[str], known: dict[str, Path]) -> set[str]:
    """Returns the modules of ours that these import, directly or through others."""
    reached, ahead = set(start), set(start)
    for _ in known:
        ahead = {name for one in ahead for name in imports_of(known[one]) if name in known} - reached
        reached |= ahead
    return reached


@pytest.mark.parametrize("part", DECIDES)
def test_no_decision_reads_advice(part: str) -> None:
    known = modules()
    start = {name for name in known if name.startswith(f"reprocess.{part}.") or name == f"reprocess.{part}"}
    assert start
    assert not reached_from(start, known) & ADVICE


def test_the_look_is_able_to_find_advice() -> None:
    known = modules()
    assert set(known) >= ADVICE
    assert "reprocess.quantities.lethality" in reached_from({"reprocess.engine.ending"}, known)
    assert "reprocess.quantities.trace" in reached_from({"reprocess.quantities.decay"}, known)


@pytest.mark.parametrize("name", sorted(ADVICE))
def test_advice_says_that_the_label_governs(name: str) -> None:
    text = ast.get_docstring(ast.parse(modules()[name].read_text(encoding="utf-8"))) or ""
    assert "Advice only." in text.partition("\n\n")[0]
    assert "govern" in text
    assert "is ever" in text
