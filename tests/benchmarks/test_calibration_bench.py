"""Intake beside many calibrations: a message must not cost more because other sensors were calibrated."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

from service_farm import MINUTE, NODES, T0, farm

from monitor.climate.calibration import CalibrationTable
from monitor.records import Calibration, NodeMessage, Reading, SensorKey, TimeSource
from monitor.service.site_state import AlarmChanges, SiteState
from monitor.settings.plan import build_plan

MESSAGES = 2000
QUANTITIES = ("substrate_temperature", "air_temperature", "air_humidity", "battery")
# Cost of a message beside 1,000 calibrations, as a multiple of that beside none.
GOAL = 1.3


def _calibrations(count: int) -> list[Calibration]:
    """So many, spread over all sensors of the farm and of boards that are gone."""
    nodes = [*NODES, *(f"gone-{number}" for number in range(50))]
    sensors = [SensorKey(node, "", quantity) for node in nodes for quantity in QUANTITIES]
    return [Calibration(sensors[number % len(sensors)], T0 + number, 1.0, 0.1) for number in range(count)]


def _messages() -> list[NodeMessage]:
    return [
        NodeMessage(node, at_ms, tuple(_readings(node, at_ms)), TimeSource.NODE, 1, number)
        for number in range(MESSAGES // len(NODES))
        for node in NODES
        for at_ms in (T0 + number * MINUTE,)
    ]


def _readings(node: str, at_ms: int) -> list[Reading]:
    return [Reading(SensorKey(node, "", quantity), at_ms, 30.0) for quantity in QUANTITIES]


def _microseconds(folder: Path, count: int) -> float:
    """CPU time of one message of four readings, the best of three rounds."""
    times = []
    for _ in range(3):
        site = SiteState(build_plan(farm(folder)), {}, CalibrationTable(_calibrations(count)))
        messages = _messages()
        began = time.process_time()
        for message in messages:
            site.take(message, T0, AlarmChanges())
        times.append((time.process_time() - began) / len(messages) * 1e6)
    return min(times)


def test_a_message_costs_the_same_beside_many_calibrations(
    tmp_path: Path, benchmark: Any, figure: Any
) -> None:
    times_us = benchmark.pedantic(
        lambda: {count: _microseconds(tmp_path, count) for count in (0, 1000)}, rounds=1
    )
    figure("one message", times_us[0], "µs")
    figure("1,000 calibrations against none", times_us[1000] / times_us[0], at_most=GOAL)
