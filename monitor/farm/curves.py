"""What a chart shows of one sensor: single readings for a day, parts of an hour table for longer spans."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo

import numpy as np

from monitor.climate.arrays import FloatArray, IntArray
from monitor.climate.calibration import coefficients
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_SECOND, Calibration, SensorKey, local
from monitor.store import Store
from monitor.store.readings import HourParts

MOST_POINTS = 1500
THINNED_TO = 720


@dataclass(frozen=True, slots=True)
class ChartSpan:
    """A length of time that a person can choose, and how many hours make one point (0: single readings)."""

    name: str
    length_ms: int
    hours: int


SPANS: Mapping[str, ChartSpan] = {
    span.name: span
    for span in (
        ChartSpan("24h", MS_PER_DAY, 0),
        ChartSpan("7d", 7 * MS_PER_DAY, 1),
        ChartSpan("30d", 30 * MS_PER_DAY, 3),
        ChartSpan("year", 365 * MS_PER_DAY, 24),
    )
}


@dataclass(frozen=True, slots=True)
class Points:
    """Lowest, mean and highest value by time; for single readings the three are the same array."""

    at_ms: IntArray
    low: FloatArray
    mean: FloatArray
    high: FloatArray
    step_ms: int

    def __len__(self) -> int:
        return len(self.at_ms)

    @property
    def single(self) -> bool:
        """Whether each point is one reading."""
        return self.step_ms == 0


def span_ending(span: ChartSpan, now_ms: int, zone: tzinfo) -> tuple[int, int]:
    """Start and end of the span: to now for a day, to the end of the running point for longer ones."""
    if span.hours == 0:
        return now_ms - span.length_ms, now_ms
    step_ms = span.hours * MS_PER_HOUR
    shift_ms = _offset_ms(now_ms, zone)
    end_ms = -(-(now_ms + shift_ms) // step_ms) * step_ms - shift_ms
    return end_ms - span.length_ms, end_ms


def _offset_ms(at_ms: int, zone: tzinfo) -> int:
    offset = local(at_ms, zone).utcoffset()
    return round(offset.total_seconds()) * MS_PER_SECOND if offset is not None else 0


def read_points(
    store: Store,
    sensor: SensorKey,
    span: ChartSpan,
    bounds_ms: tuple[int, int],
    calibrations: Sequence[Calibration],
) -> Points:
    """The points of one sensor in the span; a reading of this very moment belongs to it."""
    start_ms, end_ms = bounds_ms
    if span.hours == 0:
        usable = store.readings.series(sensor, start_ms, end_ms + 1, calibrations).usable()
        points = Points(usable.at_ms, usable.value, usable.value, usable.value, 0)
        return points if len(points) <= MOST_POINTS else thinned(points, bounds_ms)
    return _of_hours(store.summaries.parts(sensor, start_ms, end_ms, span.hours), span, calibrations)


def _of_hours(parts: HourParts, span: ChartSpan, calibrations: Sequence[Calibration]) -> Points:
    slope, offset = coefficients(calibrations, parts.start_ms)
    first, mean, last = (slope * value + offset for value in (parts.minimum, parts.mean, parts.maximum))
    step_ms = span.hours * MS_PER_HOUR
    middle_ms = parts.start_ms + step_ms // 2
    return Points(middle_ms, np.minimum(first, last), mean, np.maximum(first, last), step_ms)


def thinned(points: Points, bounds_ms: tuple[int, int], most: int = THINNED_TO) -> Points:
    """At most `most` points, each with the lowest, mean and highest of its part of the span."""
    start_ms, end_ms = bounds_ms
    step_ms = -(-(end_ms - start_ms) // most)
    part = (points.at_ms - start_ms) // step_ms
    first = np.flatnonzero(np.diff(part, prepend=part[0] - 1))
    counts = np.diff(np.append(first, len(part)))
    return Points(
        start_ms + part[first] * step_ms + step_ms // 2,
        np.minimum.reduceat(points.low, first),
        np.add.reduceat(points.mean, first) / counts,
        np.maximum.reduceat(points.high, first),
        step_ms,
    )
