"""The picture of a look-back: what was asked about, the item cycles that touched it, their issues, the wearers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from reprocess.gathering import local_text
from reprocess.lookback.trace import Lookback, Wearing
from reprocess.pictures import layers
from reprocess.pictures.looks import INK, LINE
from reprocess.pictures.picture import Cells, Frame, Plot, Spec, plain, sentences, short, tell

Sort = Literal["asked", "cycle", "issue", "wearer"]
SHAPES: Final[dict[Sort, str]] = {"asked": "diamond", "cycle": "square", "issue": "triangle-right", "wearer": "circle"}
"""The columns from left to right, and the mark of what stands in each."""
ROW_HIGH: Final = 22
COLUMN_WIDE: Final = 210
LABEL_MOST: Final = 24
MARK_WIDE: Final = 14
"""Pixels that the mark of a node takes before its label."""


@dataclass(frozen=True, slots=True)
class Node:
    """Is one thing in the graph, once however often it is met; `name` tells it apart within its column."""

    sort: Sort
    name: str


@dataclass(frozen=True, slots=True)
class Edge:
    """Is one connection, from a column to one further to the right, and a row of the table."""

    start: Node
    end: Node
    note: str


@dataclass(frozen=True, slots=True)
class Graph:
    """Is a look-back as nodes in columns and edges, in a fixed order."""

    columns: tuple[tuple[Node, ...], ...]
    edges: tuple[Edge, ...]


def trace(found: Lookback, frame: Frame, *, named: bool, hidden: frozenset[str] = frozenset()) -> Plot:
    """Returns the graph of a look-back.

    Args:
        found: the look-back.
        frame: in what it is made.
        named: whether pseudonyms may be shown; without, the column of wearers is left out.
        hidden: items of sites that the reader may not see.
    """
    drawn = graph(found, frame, named=named, hidden=hidden)
    sorts: list[Sort] = [sort for sort in SHAPES if named or sort != "wearer"]
    nodes = [_node(one, *place, frame) for one, place in _places(drawn).items()]
    columns = (frame.word("column.start"), frame.word("column.end"), frame.word("column.note"))
    told = tuple(_cells(one, frame) for one in drawn.edges)
    title = frame.word("trace.title", sort=frame.known("touched", found.sort), name=plain(found.name))
    alt = _alt(found, drawn, frame, named=named)
    spec = _spec(drawn, nodes, sorts, frame)
    caption = (
        frame.word("trace.caption") if named else sentences((frame.word("trace.caption"), frame.word("trace.withheld")))
    )
    return Plot(
        frame.key, frame.texts.language, spec, title, alt, caption, columns, told, len(nodes) + len(drawn.edges)
    )


def graph(found: Lookback, frame: Frame, *, named: bool, hidden: frozenset[str] = frozenset()) -> Graph:
    """Returns a look-back as a graph.

    Each column is in order of name and time; wearers are in the order of the middle of what leads to them, which
    crosses fewer lines (the barycentre heuristic of Sugiyama, Tagawa and Toda, 1981; from memory), then by name.
    """
    edges = list(dict.fromkeys(_edges(found, frame, named=named, hidden=hidden)))
    met = dict.fromkeys(node for one in edges for node in (one.start, one.end))
    met = dict.fromkeys([Node("asked", f"{found.sort} {found.name}"), *met])
    columns = [sorted((one for one in met if one.sort == sort), key=lambda one: one.name) for sort in SHAPES]
    issues = {node: number for number, node in enumerate(columns[2])}
    columns[3].sort(key=lambda one: (_middle(one, edges, issues), one.name))
    return Graph(tuple(tuple(one) for one in columns), tuple(edges))


def _middle(node: Node, edges: Sequence[Edge], places: dict[Node, int]) -> float:
    found = [places[one.start] for one in edges if one.end == node and one.start in places]
    return sum(found) / len(found) if found else 0


def _edges(found: Lookback, frame: Frame, *, named: bool, hidden: frozenset[str]) -> Iterator[Edge]:
    root = Node("asked", f"{found.sort} {found.name}")
    for one in found.touched:
        if one.item not in hidden:
            note = frame.known("step", one.step) if one.step is not None else ""
            when = local_text(frame.zone, one.from_us)
            yield Edge(root, _cycle(one.item, one.cycle), sentences((note, when)))
    for use in found.uses:
        if use.item in hidden:
            continue
        cycle, issue = _cycle(use.item, use.cycle), _issue(use)
        if not found.touched:
            yield Edge(root, cycle, "")
        yield Edge(cycle, issue, "" if use.whole == use.item else frame.word("trace.in", whole=plain(use.whole)))
        if named:
            yield Edge(issue, Node("wearer", use.wearer), _until(use, frame))


def _cycle(item: str, cycle: int) -> Node:
    return Node("cycle", f"{item}\n{cycle:06d}")


def _issue(use: Wearing) -> Node:
    """Returns the node of one issue: what went out when is one issue, whichever of its parts led there."""
    return Node("issue", f"{use.from_us:020d}\n{use.whole}\n{use.place or ''}")


def _until(use: Wearing, frame: Frame) -> str:
    return (
        frame.word("trace.until", until=local_text(frame.zone, use.until_us))
        if use.until_us is not None
        else frame.word("trace.out")
    )


def label_of(node: Node, frame: Frame) -> str:
    """Returns what a node says."""
    match node.sort:
        case "cycle":
            item, cycle = node.name.rsplit("\n", 1)
            return frame.word("trace.cycle", item=plain(item), cycle=int(cycle))
        case "issue":
            from_us, whole, place = node.name.split("\n", 2)
            return f"{plain(place or whole)} {local_text(frame.zone, int(from_us))}"
        case _:
            return plain(node.name)


def _places(drawn: Graph) -> dict[Node, tuple[int, float]]:
    """Returns the column and the row of each node; shorter columns stand in the middle of the longest."""
    most = max(len(column) for column in drawn.columns)
    return {
        node: (number, row + (most - len(column)) / 2)
        for number, column in enumerate(drawn.columns)
        for row, node in enumerate(column)
    }


def _node(node: Node, column: int, row: float, frame: Frame) -> dict[str, Any]:
    label = label_of(node, frame)
    return {"from": column, "row": row, "shape": node.sort, "text": short(label, LABEL_MOST), "tell": label}


def _taken(label: str) -> float:
    """Returns which part of a column a mark and its label take; the lines to the next column begin there."""
    return min(COLUMN_WIDE - 20, MARK_WIDE + layers.LETTER_WIDE * len(short(label, LABEL_MOST))) / COLUMN_WIDE


def _cells(edge: Edge, frame: Frame) -> Cells:
    return (label_of(edge.start, frame), label_of(edge.end, frame), edge.note)


def _spec(drawn: Graph, nodes: list[dict[str, Any]], sorts: Sequence[Sort], frame: Frame) -> Spec:
    places = _places(drawn)
    lines = [
        {
            "from": places[one.start][0] + _taken(label_of(one.start, frame)),
            "row": places[one.start][1],
            "until": places[one.end][0] - 0.04,
            "row_end": places[one.end][1],
            "tell": tell(_cells(one, frame)),
        }
        for one in drawn.edges
    ]
    high = max(len(column) for column in drawn.columns)
    words: dict[str, Any] = {f"at-{number}": frame.word(f"trace.column.{sort}") for number, sort in enumerate(sorts)}
    x: Spec = {
        "field": "from",
        "type": "quantitative",
        "scale": {"domain": [-0.06, len(sorts) - 0.1], "nice": False, "zero": False},
        "axis": {
            "title": None,
            "orient": "top",
            "values": list(range(len(sorts))),
            "labelExpr": "words['at-' + datum.value]",
            "labelAlign": "left",
            "labelFontWeight": "bold",
            "grid": False,
            "domain": False,
            "ticks": False,
        },
    }
    y: Spec = {
        "field": "row",
        "type": "quantitative",
        "scale": {"domain": [-0.6, high - 0.4], "nice": False, "zero": False, "reverse": True},
        "axis": None,
    }
    edge = {
        "data": {"values": lines},
        "mark": {"type": "rule", "stroke": LINE, "strokeWidth": 1.2},
        "encoding": {"x2": {"field": "until"}, "y2": {"field": "row_end"}, **layers.TOLD},
    }
    labels = {
        "data": {"values": nodes},
        "mark": {"type": "text", "align": "left", "dx": 9, "fontSize": 11, "fill": INK, "aria": False},
        "encoding": {"text": {"field": "text"}},
    }
    marks = layers.points(nodes, list(sorts), [SHAPES[one] for one in sorts], legend=False)
    spec = layers.chart([edge, marks, labels], {"x": x, "y": y}, (1, 1), words)
    return {**spec, "width": COLUMN_WIDE * len(sorts), "height": ROW_HIGH * max(1, high)}


def _alt(found: Lookback, drawn: Graph, frame: Frame, *, named: bool) -> str:
    asked, cycles, issues, wearers = drawn.columns
    return sentences(
        (
            frame.word(
                "trace.alt", sort=frame.known("touched", found.sort), name=plain(asked[0].name.partition(" ")[2])
            ),
            frame.word("trace.alt-cycles", number=len(cycles)),
            frame.word("trace.alt-issues", number=len(issues)),
            frame.word("trace.alt-wearers", number=len(wearers)) if named else frame.word("trace.withheld"),
        )
    )
