"""Figures of the benchmarks beside their goals; the last line of a run names the goals that are missed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture


@dataclass(frozen=True)
class Figure:
    """A measured figure with its goal, if it has one."""

    name: str
    value: float
    unit: str
    at_most: float | None
    at_least: float | None

    @property
    def is_missed(self) -> bool:
        """Whether there is a goal and the figure does not reach it."""
        above = self.at_most is not None and self.value > self.at_most
        return above or (self.at_least is not None and self.value < self.at_least)

    def __str__(self) -> str:
        text = f"{self.name}: {self.value:.4g} {self.unit}".rstrip()
        for words, goal in (("at most", self.at_most), ("at least", self.at_least)):
            if goal is not None:
                text += f", goal {words} {goal:g} {self.unit}".rstrip()
        return f"{text}: MISSED" if self.is_missed else text


FIGURES = pytest.StashKey[list[Figure]]()


class FigureRecorder:
    """Takes the figures of one benchmark; without a time of its own a figure is the benchmark's median."""

    def __init__(self, figures: list[Figure], benchmark: Any) -> None:
        self._figures, self._benchmark = figures, benchmark

    def __call__(
        self,
        name: str,
        value: float,
        unit: str = "",
        *,
        at_most: float | None = None,
        at_least: float | None = None,
    ) -> None:
        self._figures.append(Figure(name, value, unit, at_most, at_least))

    def median_s(self) -> float:
        """The median time of one round [s]; it is not a number where benchmarks are disabled."""
        stats = self._benchmark.stats
        return float("nan") if stats is None else float(stats.stats.median)


@pytest.fixture
def figure(request: pytest.FixtureRequest, benchmark: BenchmarkFixture) -> Iterator[FigureRecorder]:
    """Records a figure of this benchmark beside its goal."""
    yield FigureRecorder(request.config.stash.setdefault(FIGURES, []), benchmark)


TABLES = pytest.StashKey[list[str]]()


@pytest.fixture
def table(request: pytest.FixtureRequest) -> list[str]:
    """Lines of a table that is printed before the figures."""
    return request.config.stash.setdefault(TABLES, [])


def pytest_unconfigure(config: pytest.Config) -> None:
    """All tables and figures, and a last line that says what is missed."""
    figures = config.stash.get(FIGURES, [])
    terminal = config.pluginmanager.get_plugin("terminalreporter")
    if not figures or terminal is None:
        return
    terminal.write_line("")
    for line in config.stash.get(TABLES, []):
        terminal.write_line(line)
    for recorded in figures:
        terminal.write_line(str(recorded))
    missed = [recorded.name for recorded in figures if recorded.is_missed]
    with_goal = [each for each in figures if each.at_most is not None or each.at_least is not None]
    terminal.write_line(f"goals missed: {', '.join(missed)}" if missed else f"all {len(with_goal)} goals met")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The forecasts first: the product shares them between processes only where no other thread runs, and
    some of the other benchmarks leave theirs behind."""
    items.sort(key=lambda item: "test_development_bench" not in item.nodeid)
