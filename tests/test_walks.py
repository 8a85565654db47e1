"""The walks of DEVELOPERS.md: every stop exists, and each stop calls the next one."""

from __future__ import annotations

import ast
import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
STOP = re.compile(r"^\d+\. `([a-z_/]+\.(?:py|html))`(?:: `([A-Za-z_.]+)`)?")
LONGEST = 9


@dataclass(frozen=True)
class Stop:
    """One stop of a walk: a file, and a function, a method (`Class.method`) or a class in it."""

    file: str
    name: str
    first: bool
    """Whether the walk begins here, or begins anew with what was stored (a line "Then, ...")."""

    @property
    def source(self) -> str:
        """The text of the stop: of its function or class, or of the whole file where none is named."""
        path = ROOT / "monitor" / self.file
        text = path.read_text(encoding="utf-8")
        if not self.name:
            return text
        node: ast.AST = ast.parse(text)
        for part in self.name.split("."):
            named = [each for each in ast.iter_child_nodes(node) if getattr(each, "name", "") == part]
            if not named:
                return ""
            node = named[0]
        return ast.get_source_segment(text, node) or ""

    @property
    def called(self) -> str:
        """The name by which another stop calls this one."""
        return self.name.rpartition(".")[2] or Path(self.file).name


def walks() -> dict[str, list[Stop]]:
    """The walks by title, in the order of DEVELOPERS.md."""
    found: dict[str, list[Stop]] = {}
    title, first = "", True
    for line in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines():
        if line.startswith(("#", "Then,")):
            title = line.lstrip("# ") if line.startswith("#") else title
            first = True
        elif (stop := STOP.match(line)) is not None:
            found.setdefault(title, []).append(Stop(stop[1], stop[2] or "", first))
            first = False
    return found


def test_there_are_three_walks() -> None:
    assert len(walks()) == 3


@pytest.mark.parametrize("title", walks())
def test_a_walk_is_short_and_its_stops_exist(title: str) -> None:
    stops = walks()[title]
    assert 3 <= len(stops) <= LONGEST
    assert [stop for stop in stops if not stop.source] == []


@pytest.mark.parametrize("title", walks())
def test_each_stop_leads_to_the_next(title: str) -> None:
    stops = walks()[title]
    broken = [
        f"{here.file}: {here.name} does not call {there.called}"
        for here, there in pairwise(stops)
        if not there.first and not re.search(rf"\b{re.escape(there.called)}\(", here.source)
    ]
    assert broken == []
