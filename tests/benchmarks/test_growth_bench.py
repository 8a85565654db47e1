"""How the page grows with boards, cohorts and years: each farm in a process of its own, with exponents."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from grown_farm import Size, grown_farm
from pytest_benchmark.fixture import BenchmarkFixture

FIGURES = Path(__file__).parents[1] / "builders" / "grown_figures.py"
DAYS = 2
"""Days of minutes of every farm but the one that is old; hours go back for 60 days."""
BOARDS, COHORTS = (10, 100, 1000), (10, 100, 1000)
COLUMNS = {
    "now_ms": "Now",
    "night_ms": "Night",
    "first_night_ms": "first",
    "forecast_ms": "forecast",
    "cohorts_ms": "Cohorts",
    "first_wall_ms": "first",
    "entry_wall_ms": "entry",
    "cohorts_bytes": "bytes",
    "cohorts_sent": "sent",
    "resident_mb": "MB",
    "highest_mb": "peak",
}
MOST_MS, MOST_FORECAST_MS, MOST_BYTES, MOST_MB = 100.0, 400.0, 100_000, 200.0
MOST_EXPONENT, FLAT = 1.1, 1.2
"""Linear, and the same, but for what the machine does besides."""

Row = Mapping[str, float]


def measured(folder: Path, size: Size) -> Row:
    grown_farm(folder, size)
    paths = [str(FIGURES.parent), *sys.path]
    ran = subprocess.run(
        [sys.executable, str(FIGURES), str(folder)],
        capture_output=True,
        check=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
    )
    (folder / "rearing.sqlite").unlink()
    found: Row = json.loads(ran.stdout)
    return found


def exponent(smaller: tuple[int, float], larger: tuple[int, float]) -> float:
    """The power of its size by which something grows."""
    return math.log(larger[1] / smaller[1]) / math.log(larger[0] / smaller[0])


def line(name: str, row: Row) -> str:
    return f"{name:34s} " + " ".join(f"{row[key]:8.0f}" for key in COLUMNS)


def told(table: list[str], name: str, rows: Mapping[int, Row]) -> None:
    """Lines of a table, and between each two of them how fast each figure grows."""
    before: tuple[int, Row] | None = None
    for number, row in rows.items():
        if before is not None:
            powers = (exponent((before[0], before[1][key]), (number, row[key])) for key in COLUMNS)
            table.append(f"{'  grows with the power':34s} " + " ".join(f"{each:8.2f}" for each in powers))
        table.append(line(f"{number} {name}", row))
        before = number, row


@pytest.mark.timeout(3600)
@pytest.mark.benchmark(group="growth")
def test_growth(benchmark: BenchmarkFixture, figure: Any, table: list[str], tmp_path: Path) -> None:
    def measure() -> None:
        by_boards = {each: measured(tmp_path / f"b{each}", Size(each, 0, DAYS)) for each in BOARDS}
        by_cohorts = {each: measured(tmp_path / f"c{each}", Size(10, each, DAYS)) for each in COHORTS}
        both = measured(tmp_path / "both", Size(100, 100, DAYS))
        old = measured(tmp_path / "old", Size(10, 10, 365))

        table.append(f"{'':34s} " + " ".join(f"{each:>8s}" for each in COLUMNS.values()))
        told(table, "boards, no cohorts", by_boards)
        told(table, "cohorts, 10 boards", by_cohorts)
        table.append(line("100 boards, 100 cohorts", both))
        table.append(line("10 boards, 10 cohorts, a year", old))
        for key, name in (("now_ms", "Now"), ("night_ms", "Night")):
            figure(f"{name} at 100 boards", by_boards[100][key], "ms", at_most=MOST_MS)
            power = exponent((10, by_boards[10][key]), (1000, by_boards[1000][key]))
            figure(f"{name} with boards, exponent", power, at_most=MOST_EXPONENT)
            years = old[key] / by_cohorts[10][key]
            figure(f"{name} of a year against two days", years, at_most=FLAT)
        hundred = by_cohorts[100]
        figure("forecast of 100 cohorts", hundred["forecast_ms"], "ms", at_most=MOST_FORECAST_MS)
        figure("Cohorts of 100 kept", hundred["cohorts_ms"], "ms", at_most=MOST_MS)
        figure("Cohorts of 100, first look, waited", hundred["first_wall_ms"], "ms", at_most=MOST_MS)
        figure("Cohorts of 100 after an entry, waited", hundred["entry_wall_ms"], "ms", at_most=MOST_MS)
        figure("Cohorts of 100", hundred["cohorts_bytes"], "bytes", at_most=MOST_BYTES)
        figure("100 boards, 100 cohorts, memory", both["resident_mb"], "MB", at_most=MOST_MB)

    benchmark.pedantic(measure, rounds=1)
