"""Speed of what runs for each reading. Aim: below 10 µs a reading for the flags, on one core."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from monitor.climate.psychrometrics import dew_point_c, vapour_pressure_deficit_pa
from monitor.climate.quality import DEFAULT_LIMITS, SensorMemory, check
from monitor.records import Reading, SensorKey

SENSOR = SensorKey("node-1", "", "air_temperature")
READINGS = [Reading(SENSOR, 10_000 * n, 25.0 + (n * 7919 % 13) / 50.0) for n in range(10_000)]


def judge_all() -> SensorMemory:
    """Flag ten thousand readings of one sensor."""
    memory, limits = SensorMemory(), DEFAULT_LIMITS["air_temperature"]
    for reading in READINGS:
        memory, _ = check(memory, reading, limits)
    return memory


def test_ten_thousand_flags(benchmark: Any, figure: Any) -> None:
    memory = benchmark(judge_all)
    figure("flags of one reading", 1e6 * figure.median_s() / len(READINGS), "µs", at_most=10.0)

    assert memory.at_ms == READINGS[-1].at_ms


@pytest.mark.parametrize(
    ("formula", "arguments"),
    [
        (vapour_pressure_deficit_pa, (28.0, 70.0)),
        (dew_point_c, (28.0, 70.0)),
    ],
)
def test_one_formula(
    benchmark: Any, figure: Any, formula: Callable[..., object], arguments: tuple[float, ...]
) -> None:
    benchmark(formula, *arguments)
    figure(f"one {formula.__name__}", 1e6 * figure.median_s(), "µs")
