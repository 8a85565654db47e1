"""Speed of what runs for each reading. Aim: below 10 µs a reading for the flags, on one core."""

from __future__ import annotations

from typing import Any

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


def test_ten_thousand_flags(benchmark: Any) -> None:
    memory = benchmark(judge_all)

    assert memory.at_ms == READINGS[-1].at_ms


def test_one_deficit(benchmark: Any) -> None:
    assert benchmark(vapour_pressure_deficit_pa, 28.0, 70.0) > 0.0


def test_one_dew_point(benchmark: Any) -> None:
    assert benchmark(dew_point_c, 28.0, 70.0) < 28.0
