"""Calibrations of capacitive moisture probes: kept in the logbook, one entry each, none is ever lost."""

from __future__ import annotations

from collections.abc import Mapping

from monitor.model.bins import PROBE_KIND
from monitor.model.probe_calibration import (
    CalibrationPoint,
    ProbeCalibration,
    ProbeReading,
    calibrated,
    read_probe,
)
from monitor.records import LogbookEntry, SensorKey, SubjectKind
from monitor.store import Store

RAW_AIR, RAW_WATER = 0.0, 1.0
"""What a probe that already sends a share says in air and in water, until it was dipped."""


def probe_calibration(store: Store, sensor: SensorKey) -> ProbeCalibration:
    """The newest calibration of a probe; without one, an index between air and water alone."""
    entries = store.logbook.in_force(SubjectKind.BIN, str(sensor))
    mine = [entry for entry in entries if entry.kind == PROBE_KIND]
    if not mine:
        return ProbeCalibration(RAW_AIR, RAW_WATER)
    return _from_body(mine[-1].body)


def probe_reading(store: Store, sensor: SensorKey, raw: float) -> ProbeReading:
    """What a raw value of a probe says."""
    return read_probe(raw, probe_calibration(store, sensor))


def calibration_entry(
    sensor: SensorKey,
    points: tuple[CalibrationPoint, ...],
    air_and_water: tuple[float, float],
    at_ms: int,
    now_ms: int,
    author: str,
) -> tuple[LogbookEntry, ProbeCalibration]:
    """The entry for a calibration, and what it makes; UsageError for points that cannot be."""
    air, water = air_and_water
    made = calibrated(points, air, water) if points else ProbeCalibration(air, water)
    body = {
        "raw_air": air,
        "raw_water": water,
        "points": [[point.raw, point.moisture] for point in points],
    }
    return LogbookEntry(SubjectKind.BIN, str(sensor), PROBE_KIND, at_ms, now_ms, author, body), made


def _from_body(body: Mapping[str, object]) -> ProbeCalibration:
    air, water = (_number(body.get(key)) for key in ("raw_air", "raw_water"))
    written = body.get("points")
    pairs = written if isinstance(written, list) else []
    points = [CalibrationPoint(_number(raw), _number(moisture)) for raw, moisture in pairs]
    return calibrated(points, air, water) if points else ProbeCalibration(air, water)


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else float("nan")
