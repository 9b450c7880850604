"""A look-back as a graph: what is asked about, the item cycles that touched it, what was issued, and who wore it.

Mermaid's flowchart text, as documented at https://mermaid.js.org/syntax/flowchart.html (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from reprocess.lookback.trace import Lookback, Wearing

Local = Callable[[int], str]
SIGNS: Final = {'"': "#quot;", "<": "#lt;", ">": "#gt;", "\n": " "}
"""Characters that end or change a label, and the entities that stand for them."""


def mermaid(found: Lookback, show: Local) -> str:
    """Returns the graph as text; instants are given as local time by `show`."""
    return "\n".join(_Drawing(show).lines(found)) + "\n"


class _Drawing:
    """Collects nodes and edges, each once, in the order in which they come."""

    def __init__(self, show: Local) -> None:
        self._show = show
        self._ids: dict[str, str] = {}
        self._lines: dict[str, None] = {}

    def lines(self, found: Lookback) -> list[str]:
        root = self._node(f"{found.sort} {found.name}", "([", "])")
        for one in found.touched:
            cycle = self._cycle(one.item, one.cycle)
            self._edge(root, cycle, one.step)
        for use in found.uses:
            cycle = self._cycle(use.item, use.cycle)
            if not found.touched:
                self._edge(root, cycle, None)
            self._use(cycle, use)
        return ["flowchart LR", *self._lines]

    def _use(self, cycle: str, use: Wearing) -> None:
        place = f" at {use.place}" if use.place is not None else ""
        until = self._show(use.until_us) if use.until_us is not None else "still out"
        wearer = self._node(use.wearer, "((", "))")
        when = f"{self._show(use.from_us)} to {until}{place}"
        if use.whole == use.item:
            self._edge(cycle, wearer, when)
            return
        whole = self._node(use.whole, "[[", "]]")
        self._edge(cycle, whole, None)
        self._edge(whole, wearer, when)

    def _cycle(self, item: str, cycle: int) -> str:
        return self._node(f"{item} cycle {cycle}", "[", "]")

    def _node(self, label: str, left: str, right: str) -> str:
        known = self._ids.get(label)
        if known is not None:
            return known
        name = self._ids[label] = f"n{len(self._ids) + 1}"
        self._lines[f'    {name}{left}"{_told(label)}"{right}'] = None
        return name

    def _edge(self, one: str, two: str, label: str | None) -> None:
        told = f'|"{_told(label)}"|' if label is not None else ""
        self._lines[f"    {one} -->{told} {two}"] = None


def _told(label: str) -> str:
    return "".join(SIGNS.get(sign, sign) for sign in label.replace("#", "#35;"))
