"""A few lines of SVG, with light and dark colours inside, so that a picture stands by itself. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

STYLE = (
    "text{font:13px system-ui,sans-serif;fill:#3c3c38}.title{font-size:16px;font-weight:600;fill:#1d1d1a}"
    ".small{font-size:11px}.bold{font-weight:600}.grid{stroke:#e3e1d9}.axis{stroke:#8a887f}"
    ".ground{fill:#fdfcf8}.weekend{fill:#f3f1e9}.band{fill:#2f6f8f;fill-opacity:.22}.bar{fill:#2f6f8f}"
    ".line{stroke:#2f6f8f;stroke-width:2.5;fill:none}.dot{fill:#2f6f8f;stroke:#fdfcf8;stroke-width:1.5}"
    ".open{fill:#fdfcf8;stroke:#2f6f8f;stroke-width:2}"
    ".now{stroke:#b0522d;stroke-width:1.5;stroke-dasharray:4 3}"
    ".safe{fill:#6d9a5b;fill-opacity:.16}.warn{stroke:#b98a2f;stroke-dasharray:6 4}"
    ".band.ahead{fill-opacity:.12}.line.ahead{stroke-dasharray:5 4;stroke-width:2}"
    ".line.heat{stroke:#a8433a;stroke-width:2}.line.air{stroke:#7a7f86;stroke-width:1.5}"
    ".nowtext{fill:#b0522d}.least{stroke:#b0522d;stroke-width:1.5}.row{stroke:#c9c6ba}"
    "@media(prefers-color-scheme:dark){text{fill:#c9c7bf}.title{fill:#f2f0e8}.ground{fill:#1b1c1d}"
    ".weekend{fill:#232527}.grid{stroke:#34363a}.axis{stroke:#77787a}.band{fill:#7fb8d4}.bar{fill:#7fb8d4}"
    ".line{stroke:#7fb8d4}.dot{fill:#7fb8d4;stroke:#1b1c1d}.open{fill:#1b1c1d;stroke:#7fb8d4}"
    ".safe{fill:#8fbf7a}.warn{stroke:#d8b25c}.line.heat{stroke:#e2857c}.line.air{stroke:#9aa0a8}"
    ".now,.least{stroke:#e08a5f}.nowtext{fill:#e08a5f}.row{stroke:#4a4c50}}"
)


def picture(width: float, height: float, words: str, parts: Iterable[str]) -> str:
    """A whole SVG file; `words` say what it shows to those who cannot see it."""
    return "".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img" '
            f'aria-label="{escape(words)}"><style>{STYLE}</style>',
            rect("ground", 0, 0, width, height),
            *parts,
            "</svg>\n",
        )
    )


def text(x: float, y: float, words: str, kind: str = "", anchor: str = "start") -> str:
    """One line of text."""
    return f'<text x="{x:.1f}" y="{y:.1f}" class="{kind}" text-anchor="{anchor}">{escape(words)}</text>'


def line(kind: str, x1: float, y1: float, x2: float, y2: float) -> str:
    """One straight line."""
    return f'<line class="{kind}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'


def rect(kind: str, x: float, y: float, width: float, height: float, words: str = "") -> str:
    """One rectangle; `words` show when a pointer rests on it."""
    head = f'<rect class="{kind}" x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"'
    return f"{head}><title>{escape(words)}</title></rect>" if words else f"{head}/>"


def dot(kind: str, x: float, y: float, radius: float, words: str = "") -> str:
    """One circle; `words` show when a pointer rests on it."""
    head = f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}">'
    return f"{head}<title>{escape(words)}</title></circle>"


def path(kind: str, points: Iterable[tuple[float, float]], *, closed: bool = False) -> str:
    """A line through points."""
    steps = " ".join(f"{'M' if index == 0 else 'L'}{x:.1f} {y:.1f}" for index, (x, y) in enumerate(points))
    return f'<path class="{kind}" d="{steps}{"Z" if closed else ""}"/>'
