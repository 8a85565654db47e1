"""A calibration entered while the service runs reaches its alarms."""

from __future__ import annotations

from pathlib import Path

from service_farm import MINUTE, T0, farm, raw_message

from monitor.records import Calibration, SensorKey
from monitor.service import Service

HOT = "bin-1/substrate_temperature/high/high"


def test_a_calibration_entered_later_moves_the_alarm(tmp_path: Path) -> None:
    now = {"ms": T0}
    service = Service(farm(tmp_path), clock=lambda: now["ms"], inline=True)
    service.prepare()

    def minutes(first: int, count: int) -> None:
        for sequence in range(first, first + count):
            now["ms"] += MINUTE
            service.processor.process([raw_message("node-1", now["ms"], 41.5, sequence)], now["ms"])

    minutes(1, 10)
    assert not service.processor.site.state(HOT).active
    sensor = SensorKey("node-1", "", "substrate_temperature")
    service.store.calibrations.add(Calibration(sensor, T0, offset=1.0))
    minutes(11, 10)
    assert service.processor.site.state(HOT).active
    assert service.processor.site.state(HOT).last_value == 42.5
    service.stop()
