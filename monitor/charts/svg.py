"""The one writer of SVG: elements with escaped words, and whole files with their colours inside. Pure."""

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


def element(name: str, *content: str, **attributes: str | float) -> str:
    """One element. `class_` is written as class, other underscores as hyphens, floats with one decimal.

    Attributes are escaped here and left out when empty; `content` is SVG already.
    """
    written = "".join(f' {_name(key)}="{_value(value)}"' for key, value in attributes.items() if value != "")
    return f"<{name}{written}>{''.join(content)}</{name}>" if content else f"<{name}{written}/>"


def _name(key: str) -> str:
    return key.removesuffix("_").replace("_", "-")


def _value(value: str | float) -> str:
    return f"{value:.1f}" if isinstance(value, float) else escape(str(value))


def picture(width: float, height: float, words: str, parts: Iterable[str]) -> str:
    """A whole SVG file; `words` say what it shows to those who cannot see it."""
    style, ground = f"<style>{STYLE}</style>", rect("ground", 0.0, 0.0, width, height)
    box = f"0 0 {width:g} {height:g}"
    root = {"xmlns": "http://www.w3.org/2000/svg", "viewBox": box, "role": "img", "aria_label": words}
    return element("svg", style, ground, *parts, **root) + "\n"


def inline(kind: str, height: int, words: str, parts: Iterable[str]) -> str:
    """A drawing inside a page, as wide as its place; `words` say what it shows."""
    return element("svg", *parts, class_=kind, role="img", aria_label=words, width="100%", height=height)


def percent(share: float) -> str:
    """A share of the width."""
    return f"{100.0 * share:.2f}%"


def title(words: str) -> tuple[str, ...]:
    """What shows when a pointer rests on an element; nothing without words."""
    return (element("title", escape(words)),) if words else ()


def text(x: float | str, y: float, words: str, kind: str = "", anchor: str = "start") -> str:
    """One line of text."""
    return element("text", escape(words), x=x, y=y, class_=kind, text_anchor=anchor)


def line(kind: str, x1: float | str, y1: float, x2: float | str, y2: float) -> str:
    """One straight line."""
    return element("line", class_=kind, x1=x1, y1=y1, x2=x2, y2=y2)


def rect(kind: str, x: float | str, y: float, width: float | str, height: float, words: str = "") -> str:
    """One rectangle; `words` show when a pointer rests on it."""
    return element("rect", *title(words), class_=kind, x=x, y=y, width=width, height=height)


def dot(kind: str, x: float, y: float, radius: float, words: str = "") -> str:
    """One circle; `words` show when a pointer rests on it."""
    return element("circle", *title(words), class_=kind, cx=x, cy=y, r=radius)


def path(kind: str, steps: str) -> str:
    """A line or area along steps, such as those of `along` and `between`."""
    return element("path", class_=kind, d=steps)


def along(xs: Iterable[float], ys: Iterable[float], decimals: int = 1) -> str:
    """Steps of a line through points."""
    pairs = (f"{x:.1f} {y:.{decimals}f}" for x, y in zip(xs, ys, strict=True))
    return f"M{'L'.join(pairs)}"


def between(xs: list[float], lows: list[float], highs: list[float], decimals: int = 1) -> str:
    """Steps round the area between two lines."""
    back = along(reversed(xs), reversed(lows), decimals).removeprefix("M")
    return f"{along(xs, highs, decimals)}L{back}Z"
