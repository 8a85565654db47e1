"""A reader of HTML that notes what is not well formed."""

from __future__ import annotations

from collections import Counter
from html.parser import HTMLParser

VOID = frozenset({"meta", "link", "input", "br", "hr", "img"})


class Outline(HTMLParser):
    """Tags that do not fit together, ids used twice, fields without a label."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: Counter[str] = Counter()
        self.faults: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if named.get("id"):
            self.ids[str(named["id"])] += 1
        if tag in self.open and tag in ("a", "form", "button", "label", "main", "p", "h1", "h2"):
            self.faults.append(f"<{tag}> inside <{tag}>")
        field = tag == "select" or (tag == "input" and named.get("type") != "hidden")
        if field and "label" not in self.open:
            self.faults.append(f"<{tag} name={named.get('name')}> without a label")
        if tag in ("p", "h1", "h2", "h3") or tag in VOID:
            self.faults += [
                f"<{tag}> in <{each}>" for each in self.open if tag == "p" and each in ("p", "span")
            ]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Shapes inside a drawing."""

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.faults.append(f"</{tag}> closes nothing")
