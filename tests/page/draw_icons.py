"""Draws the icons of the installed page into monitor/page/static: run by hand, with nothing but Python.

The same drawing as icon.svg, on a square. A launcher that cuts a circle out of a maskable icon leaves the
inner four fifths (W3C, Web Application Manifest, "icon masks and safe zone").
"""

from __future__ import annotations

import math
import struct
import zlib
from itertools import pairwise
from pathlib import Path

STATIC = Path(__file__).parents[2] / "monitor" / "page" / "static"
GROUND, INK = (0x2B, 0x2F, 0x33), (0xF3, 0xF3, 0xF1)
LINE = ((5.0, 21.0), (11.0, 13.0), (17.0, 18.0), (27.0, 8.0))
DOT, DOT_RADIUS, HALF_WIDTH, SIDE = (27.0, 8.0), 3.0, 1.5, 32.0
SAMPLES = 4
ICONS = {"icon-192.png": (192, 1.0), "icon-512.png": (512, 1.0), "icon-maskable-512.png": (512, 0.7)}


def distance(x: float, y: float) -> float:
    """How far a point is outside of the drawing; below nought inside."""
    nearest = math.hypot(x - DOT[0], y - DOT[1]) - DOT_RADIUS
    for (x0, y0), (x1, y1) in pairwise(LINE):
        along = ((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / ((x1 - x0) ** 2 + (y1 - y0) ** 2)
        share = min(1.0, max(0.0, along))
        nearest = min(
            nearest, math.hypot(x - x0 - share * (x1 - x0), y - y0 - share * (y1 - y0)) - HALF_WIDTH
        )
    return nearest


def pixel(column: int, row: int, size: int, scale: float) -> bytes:
    """The colour of one pixel: a mean of samples only where the edge passes."""
    unit = SIDE / size / scale

    def at(offset_x: float, offset_y: float) -> float:
        return distance(
            16.0 + (column + offset_x - size / 2) * unit, 16.0 + (row + offset_y - size / 2) * unit
        )

    middle = at(0.5, 0.5)
    if abs(middle) > unit:
        share = 1.0 if middle < 0 else 0.0
    else:
        steps = [(step + 0.5) / SAMPLES for step in range(SAMPLES)]
        share = sum(at(x, y) < 0 for x in steps for y in steps) / SAMPLES**2
    return bytes(round(ground + share * (ink - ground)) for ground, ink in zip(GROUND, INK, strict=True))


def drawn(size: int, scale: float) -> bytes:
    """A PNG file."""
    rows = (
        b"\0" + b"".join(pixel(column, row, size, scale) for column in range(size)) for row in range(size)
    )

    def chunk(name: bytes, content: bytes) -> bytes:
        body = name + content
        return struct.pack(">I", len(content)) + body + struct.pack(">I", zlib.crc32(body))

    head = struct.pack(">IIBBBBB", size, size, 8, 2, 0, 0, 0)
    packed = zlib.compress(b"".join(rows), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


if __name__ == "__main__":
    for name, (size, scale) in ICONS.items():
        (STATIC / name).write_bytes(drawn(size, scale))
