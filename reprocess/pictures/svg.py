"""What is done to a drawing so that it may stand in a page, several beside each other.

The page's policy allows no style within the document, and its ids must be its own. So: the drawing is read with the
standard library's XML parser, roles and labels of single marks become `title` elements, ids begin with the picture's
key, patterns are defined inside, and whatever is not on the list of elements and attributes is left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final
from xml.etree import ElementTree as ET

from reprocess.pictures import looks
from reprocess.pictures.looks import Look

NAMESPACE: Final = "http://www.w3.org/2000/svg"
_TAG: Final = f"{{{NAMESPACE}}}"
ELEMENTS: Final = frozenset({"svg", "g", "path", "rect", "line", "text", "tspan", "circle"})
ATTRIBUTES: Final = frozenset(
    {
        *(
            "x",
            "y",
            "x1",
            "x2",
            "y1",
            "y2",
            "dx",
            "dy",
            "cx",
            "cy",
            "r",
            "d",
            "width",
            "height",
            "viewBox",
            "transform",
        ),
        *("fill", "fill-opacity", "opacity", "display", "stroke", "stroke-width", "stroke-dasharray", "stroke-linecap"),
        *("stroke-linejoin", "stroke-miterlimit", "stroke-opacity"),
        *("text-anchor", "font-family", "font-size", "font-weight", "font-style"),
    }
)
"""What a drawing is made of; everything else that the library writes is for its own scripts."""
_REFERENCE: Final = re.compile(r"url\(#fill-([a-z-]+)\)")
_ADDRESS: Final = re.compile(r"url\(|//|javascript:", re.IGNORECASE)


def finished(drawing: str, key: str, title: str, alt: str) -> str:
    """Returns a drawing as an image with a name and a description, ready to stand in a page.

    Args:
        drawing: what the library drew.
        key: with what the ids begin.
        title: its name.
        alt: what it shows.

    Raises:
        ValueError: it is no drawing, or holds what cannot be left out.
    """
    ET.register_namespace("", NAMESPACE)
    try:
        root = ET.fromstring(drawing)  # noqa: S314 - drawn by our own worker; entities cannot come from data
    except ET.ParseError as fault:
        message = f"The drawing cannot be read: {fault}"
        raise ValueError(message) from fault
    _clean(root)
    used = sorted({name for one in root.iter() for name in _references(one)})
    for one in root.iter():
        _own(one, key)
    root.attrib.update({"role": "img", "aria-labelledby": f"{key}-title", "aria-describedby": f"{key}-alt"})
    heads = [_named("title", f"{key}-title", title), _named("desc", f"{key}-alt", alt)]
    root[:0] = [*heads, *([_patterns(used, key)] if used else [])]
    return ET.tostring(root, encoding="unicode")


def _clean(element: ET.Element) -> None:
    """Leaves out whatever is not on the lists, and turns the words of a mark into its title."""
    told = element.attrib.get("aria-label") if element.attrib.get("role") == "graphics-symbol" else None
    axis = "axis" in element.attrib.get("aria-roledescription", "")
    legend = "legend" in element.attrib.get("aria-roledescription", "")
    for name in [one for one in element.attrib if one not in ATTRIBUTES]:
        del element.attrib[name]
    for child in list(element):
        if child.tag.removeprefix(_TAG) in ELEMENTS and not _empty(child):
            _clean(child)
        else:
            element.remove(child)
    if told and not axis and not legend:
        element.insert(0, _named("title", None, told))


def _empty(element: ET.Element) -> bool:
    """Tells whether an element draws nothing: the library writes a ground and a rim for each group."""
    return element.tag == f"{_TAG}path" and (not element.get("d") or element.get("d") == "M0,0h0v0h0Z")


def _references(element: ET.Element) -> Iterator[str]:
    for name in ("fill", "stroke"):
        found = _REFERENCE.fullmatch(element.get(name, ""))
        if found is not None:
            yield found[1]


def _own(element: ET.Element, key: str) -> None:
    """Makes the references of an element the picture's own.

    Raises:
        ValueError: it refers to something else.
    """
    for name, value in element.attrib.items():
        if _REFERENCE.fullmatch(value):
            element.set(name, _REFERENCE.sub(rf"url(#{key}-fill-\1)", value))
        elif _ADDRESS.search(value):
            message = f"A drawing refers to nothing outside itself, such as {value[:40]!r}."
            raise ValueError(message)


def _named(tag: str, name: str | None, text: str) -> ET.Element:
    made = ET.Element(f"{_TAG}{tag}", {} if name is None else {"id": name})
    made.text = text
    return made


def _patterns(names: list[str], key: str) -> ET.Element:
    made = ET.Element(f"{_TAG}defs")
    for name in names:
        look = looks.ALL[name]
        if look.pattern is not None:
            made.append(_pattern(look, *looks.TILES[look.pattern], key))
    return made


def _pattern(look: Look, side: int, lines: str, key: str) -> ET.Element:
    size = {"width": str(side), "height": str(side)}
    made = ET.Element(f"{_TAG}pattern", {"id": f"{key}-fill-{look.name}", "patternUnits": "userSpaceOnUse", **size})
    ET.SubElement(made, f"{_TAG}rect", {**size, "fill": look.paint})
    wide = looks.STROKES.get(look.pattern, 1) if look.pattern is not None else 1
    drawn = {"d": lines, "stroke": look.lines or look.ink, "stroke-width": str(wide), "fill": "none"}
    ET.SubElement(made, f"{_TAG}path", drawn)
    return made
