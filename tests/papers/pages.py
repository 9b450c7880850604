"""Pictures of pages as grey pixels: a PNG reader for what the layout program writes, by the PNG specification.

PNG (ISO/IEC 15948), 8-bit RGBA, not interlaced; filters of section 9.2.
"""

from __future__ import annotations

import struct
import zlib


def pixels(png: bytes) -> tuple[int, int, bytes]:
    """Returns (width, height, one byte a pixel) of a picture; the green channel serves as grey."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    at, packed, width, height = 8, b"", 0, 0
    while at < len(png):
        size, kind = struct.unpack(">I4s", png[at : at + 8])
        data = png[at + 8 : at + 8 + size]
        if kind == b"IHDR":
            width, height, depth, colour, _, _, interlaced = struct.unpack(">IIBBBBB", data)
            assert (depth, colour, interlaced) == (8, 6, 0)
        elif kind == b"IDAT":
            packed += data
        at += 12 + size
    return width, height, b"".join(_rows(zlib.decompress(packed), width))


def _rows(raw: bytes, width: int) -> list[bytes]:
    wide, before, rows = width * 4, bytearray(width * 4), []
    for start in range(0, len(raw), wide + 1):
        line = bytearray(raw[start + 1 : start + 1 + wide])
        _unfilter(raw[start], line, before)
        rows.append(bytes(line[1::4]))
        before = line
    return rows


def _unfilter(sort: int, line: bytearray, above: bytearray) -> None:
    for at in range(len(line)):
        left = line[at - 4] if at >= 4 else 0
        corner = above[at - 4] if at >= 4 else 0
        match sort:
            case 0:
                return
            case 1:
                guess = left
            case 2:
                guess = above[at]
            case 3:
                guess = (left + above[at]) // 2
            case _:
                guess = _paeth(left, above[at], corner)
        line[at] = (line[at] + guess) & 255


def _paeth(left: int, above: int, corner: int) -> int:
    estimate = left + above - corner
    return min((left, above, corner), key=lambda one: abs(estimate - one))
