"""A workflow as a picture in the page: one row for each stage and step, ways on at the left, ways back at the right."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reprocess.definitions.draw import Edge, Node, edges, nodes
from reprocess.definitions.model import Workflow

ROW: Final = 46
BOX: Final = 34
LEFT: Final = 90
WIDTH: Final = 430
GAP: Final = 13
MOST: Final = 12
"""Heights and widths in units of the picture; so many lanes of arrows at most stand beside each other on one side."""
LETTERS: Final = 56
"""So many letters of 14 units fit in a box."""


@dataclass(frozen=True, slots=True)
class Box:
    """Is one row: where its box begins, and what stands in it."""

    node: Node
    y: int

    @property
    def label(self) -> str:
        """Returns what stands in it: the name and the first line, as far as they fit."""
        whole = ": ".join((self.node.title, *self.node.lines[:1]))
        return whole if len(whole) <= LETTERS else f"{whole[: LETTERS - 1].rstrip()}…"

    @property
    def middle(self) -> int:
        """Returns the height of its middle."""
        return self.y + BOX // 2


@dataclass(frozen=True, slots=True)
class Arrow:
    """Is one arrow as the points of a path; `back` is drawn dashed, with its words."""

    path: str
    back: bool
    words: str | None
    x: int
    y: int


@dataclass(frozen=True, slots=True)
class Diagram:
    """Is the whole picture and its size."""

    boxes: list[Box]
    arrows: list[Arrow]
    width: int
    height: int


def diagram(workflow: Workflow) -> Diagram:
    """Returns the picture of a workflow: rows in an order in which each way on leads downwards where one exists."""
    found = edges(workflow)
    rows = _rows(nodes(workflow), [one for one in found if one.words is None])
    boxes = [Box(node, 8 + number * ROW) for number, node in enumerate(rows)]
    at = {box.node.node: box for box in boxes}
    on = [one for one in found if one.words is None]
    back = [one for one in found if one.words is not None]
    arrows = [*_side(on, at, left=True), *_side(back, at, left=False)]
    return Diagram(boxes, arrows, LEFT + WIDTH + GAP * (MOST + 2) + 60, 16 + len(boxes) * ROW)


def _rows(found: list[Node], on: list[Edge]) -> list[Node]:
    """Returns the nodes so that each stands after all that lead to it; of several the first given stands first."""
    order = [one for one in found if one.sort == "step"]
    rank = {one.node: number for number, one in enumerate(order)}
    stages = {one.node: one for one in found if one.sort == "stage"}
    placed: list[Node] = []
    seen: set[str] = set()

    def place(name: str) -> None:
        if name in seen:
            return
        seen.add(name)
        for edge in on:
            if edge.after == name:
                place(edge.before)
        placed.append(stages.get(name) or order[rank[name]])

    for node in order:
        place(node.node)
        for edge in on:
            if edge.before == node.node and edge.after in stages and _all_placed(edge.after, on, seen):
                place(edge.after)
    for name in stages:
        place(name)
    return placed


def _all_placed(stage: str, on: list[Edge], seen: set[str]) -> bool:
    return all(edge.before in seen for edge in on if edge.after == stage)


def _side(found: list[Edge], at: dict[str, Box], *, left: bool) -> list[Arrow]:
    """Returns the arrows of one side, shorter ones further in, so that as few as possible cross."""
    drawn: list[Arrow] = []
    lanes: list[list[tuple[int, int]]] = []
    edge_x = LEFT if left else LEFT + WIDTH
    for one in sorted(found, key=lambda one: abs(at[one.after].y - at[one.before].y)):
        before, after = at[one.before], at[one.after]
        if left and after.y - before.y == ROW:
            x = LEFT + WIDTH // 2
            drawn.append(Arrow(f"M{x} {before.y + BOX}V{after.y - 1}", back=False, words=None, x=x, y=after.y))
            continue
        top, bottom = sorted((before.middle, after.middle))
        lane = _lane(lanes, top, bottom)
        out = GAP * (lane + 1)
        x = edge_x - out if left else edge_x + out
        path = f"M{edge_x} {before.middle}H{x}V{after.middle}H{edge_x}"
        drawn.append(Arrow(path, back=not left, words=one.words, x=x, y=(top + bottom) // 2))
    return drawn


def _lane(lanes: list[list[tuple[int, int]]], top: int, bottom: int) -> int:
    """Returns the first lane in which nothing stands beside this arrow; the last one takes what finds no room."""
    for number, taken in enumerate(lanes):
        if all(bottom < above or top > below for above, below in taken):
            taken.append((top, bottom))
            return number
    if len(lanes) < MOST:
        lanes.append([(top, bottom)])
    return len(lanes) - 1
