"""Readings or hours as CSV, in a form that a spreadsheet opens: UTC times, one row per reading or hour."""

from __future__ import annotations

import csv
import datetime
import math
from collections.abc import Iterator, Sequence
from typing import TextIO

from monitor.records import MS_PER_SECOND, QUANTITIES, SensorKey
from monitor.store.readings import Readings
from monitor.store.summaries import Summaries

RAW_HEADER = ("time_utc", "node", "probe", "quantity", "unit", "value", "flag")
HOUR_HEADER = (
    *("hour_utc", "node", "probe", "quantity", "unit"),
    *("count", "minimum", "mean", "maximum", "flagged"),
)


def write_csv(
    stream: TextIO,
    readings: Readings,
    summaries: Summaries,
    sensors: Sequence[SensorKey],
    span_ms: tuple[int, int],
    hourly: bool = False,
) -> int:
    """Write raw readings or hours of sensors in [start, end) to a text stream; gives the rows written."""
    writer = csv.writer(stream)
    writer.writerow(HOUR_HEADER if hourly else RAW_HEADER)
    written = 0
    for sensor in sensors:
        rows = _hour_rows(summaries, sensor, span_ms) if hourly else _raw_rows(readings, sensor, span_ms)
        for row in rows:
            writer.writerow(row)
            written += 1
    return written


def _raw_rows(
    readings: Readings, sensor: SensorKey, span_ms: tuple[int, int]
) -> Iterator[tuple[object, ...]]:
    names = _names(sensor)
    for at_ms, value, flag in readings.iterate(sensor, *span_ms):
        yield (_time(at_ms), *names, _number(value), int(flag))


def _hour_rows(
    summaries: Summaries, sensor: SensorKey, span_ms: tuple[int, int]
) -> Iterator[tuple[object, ...]]:
    names = _names(sensor)
    for hour in summaries.hours(sensor, *span_ms):
        values = (_number(hour.minimum), _number(round(hour.mean, 6)), _number(hour.maximum))
        yield (_time(hour.hour_ms), *names, hour.count, *values, hour.flagged)


def _names(sensor: SensorKey) -> tuple[str, str, str, str]:
    facts = QUANTITIES.get(sensor.quantity)
    return sensor.node, sensor.probe, sensor.quantity, facts.unit if facts else ""


def _number(value: float) -> str:
    return "" if math.isnan(value) else repr(value)


def _time(at_ms: int) -> str:
    whole = datetime.datetime.fromtimestamp(at_ms // MS_PER_SECOND, tz=datetime.UTC)
    moment = whole.replace(microsecond=at_ms % MS_PER_SECOND * 1000)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
