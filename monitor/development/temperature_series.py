"""Temperatures of a place over time: readings, their gaps, and what may be put into a gap.

A gap is never zero growth. Up to two hours it is bridged by a straight line; longer, it is filled from the
place's own day shape and its hours are counted as estimated; beyond two days nothing can be said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR

Span = tuple[int, int]
HOURS_PER_DAY = 24
# What is done with a gap of how many hours; all of these are our own choice.
STRAIGHT_MS = 2 * MS_PER_HOUR
UNKNOWN_MS = 48 * MS_PER_HOUR
SHAPE_MS = 7 * MS_PER_DAY
LEAST_HOURS_OF_DAY = 12
BIN_ABOVE_AIR_K = 6.5
"""How much hotter a probe in a feeding bin is than its air, on the mean of days [K]; only where that air is
not measured. Nine bins of Alciatore et al. 2024 (open data, own means): 5.1 to 7.3."""
HALF_DAY_GROWN = 0.025
"""Growth in half a day where a larva takes 20 days [share of the larval stage]."""


@dataclass(frozen=True, slots=True, eq=False)
class TemperatureSeries:
    """Temperatures [°C] at ascending times [ms]; `estimated[i]` marks the step that ends at point i.

    `unknown` holds the spans about which nothing can be said, as (from, to) in ms.
    """

    times_ms: IntArray
    temperatures_c: FloatArray
    estimated: BoolArray
    unknown: tuple[Span, ...] = ()

    def __post_init__(self) -> None:
        if not len(self.times_ms) == len(self.temperatures_c) == len(self.estimated):
            raise UsageError("a temperature series needs as many temperatures and marks as it has times")
        if len(self.times_ms) == 0:
            raise UsageError("a temperature series needs at least one reading")
        if np.any(np.diff(self.times_ms) <= 0):
            raise UsageError("the times of a temperature series must ascend, each later than the one before")
        if not np.all(np.isfinite(self.temperatures_c)):
            raise UsageError(
                "a temperature series holds a value that is not a number; leave failed readings out"
            )


def series_of(
    times_ms: Sequence[int] | IntArray, temperatures_c: Sequence[float] | FloatArray
) -> TemperatureSeries:
    """A series of readings as they were measured, without failed ones; its gaps are still open."""
    times = np.asarray(times_ms, dtype=np.int64)
    return TemperatureSeries(
        times, np.asarray(temperatures_c, dtype=np.float64), np.zeros(len(times), dtype=bool)
    )


def chosen_by_animals(
    series: TemperatureSeries, refuge: TemperatureSeries, above_c: float
) -> TemperatureSeries:
    """What animals live in that move away from heat: measured at one spot, with a cooler refuge beside it.

    Parameters
    ----------
    series : TemperatureSeries
        The temperature of the spot, such as a probe in the middle of a bin.
    refuge : TemperatureSeries
        The coolest that they can reach, such as the air around the bin.
    above_c : float
        They stay where it is at most so warm, as long as the refuge allows it [°C].

    Returns
    -------
    TemperatureSeries
        min(T, max(above, refuge)) at the times of the spot; the same series where they never flee.

    Source
    ------
    Own choice. Larvae in nine bins stood 24 to 56 h above 40 °C at a logger, in rooms of 28 to 29 °C, with
    usual yield and survival (Alciatore et al. 2024): they move, and the spot is not the bin.
    """
    if not np.any(series.temperatures_c > above_c):
        return series
    around = np.interp(series.times_ms, refuge.times_ms, refuge.temperatures_c)
    chosen = np.minimum(series.temperatures_c, np.maximum(around, above_c))
    return replace(series, temperatures_c=chosen)


def felt_by_animals(temperatures_c: FloatArray, air_c: FloatArray, above_c: float | None) -> FloatArray:
    """The same for temperatures and the air around of one shape [°C]; None: they cannot flee."""
    if above_c is None:
        return temperatures_c
    return np.asarray(np.minimum(temperatures_c, np.maximum(air_c, above_c)))


def days_back(series: TemperatureSeries, now_ms: int, days: int, points: int) -> FloatArray:
    """Temperatures at even points of each day counted back from now, the latest first [°C].

    Shape (days, points + 1), the end of a day included.
    """
    starts = now_ms - MS_PER_DAY * np.arange(1, days + 1)
    at = starts[:, None] + np.arange(points + 1) * (MS_PER_DAY / points)
    return np.asarray(np.interp(at, series.times_ms, series.temperatures_c))


def cooler_by(series: TemperatureSeries, kelvin: float) -> TemperatureSeries:
    """The same series so much cooler [K]."""
    return replace(series, temperatures_c=series.temperatures_c - kelvin)


def day_shape(
    series: TemperatureSeries, from_ms: int, to_ms: int, least_hours: int = LEAST_HOURS_OF_DAY
) -> FloatArray | None:
    """Mean temperature of each hour of the day UTC, shape (24,), from the measured readings of a span.

    Missing hours are bridged; None with fewer than `least_hours` hours of the day measured.
    """
    first, last = np.searchsorted(series.times_ms, [from_ms, to_ms + 1])
    measured = ~series.estimated[first:last]
    hours = (series.times_ms[first:last][measured] // MS_PER_HOUR) % HOURS_PER_DAY
    values = series.temperatures_c[first:last][measured]
    counts = np.bincount(hours, minlength=HOURS_PER_DAY)
    known = np.flatnonzero(counts)
    if len(known) < least_hours:
        return None
    means = np.bincount(hours, weights=values, minlength=HOURS_PER_DAY)[known] / counts[known]
    return np.asarray(np.interp(np.arange(HOURS_PER_DAY), known, means, period=HOURS_PER_DAY))


def at_times(shape: FloatArray, times_ms: IntArray) -> FloatArray:
    """Values of a day shape, shape (24,) by hour UTC, at times [ms since 1970 UTC], shape (n,)."""
    hours = times_ms / MS_PER_HOUR - 0.5
    return np.interp(hours % HOURS_PER_DAY, np.arange(HOURS_PER_DAY), shape, period=HOURS_PER_DAY)


def fill_gaps(series: TemperatureSeries, from_ms: int, to_ms: int) -> TemperatureSeries:
    """The series without gaps from one time to another, every filled hour marked as estimated.

    Gaps that cannot be filled stand in `unknown`.
    """
    gaps = _gaps(series, from_ms, to_ms)
    pieces = [_filling(series, gap) for gap in gaps]
    unknown = tuple(
        gap for gap, piece in zip(gaps, pieces, strict=True) if gap[1] - gap[0] > UNKNOWN_MS or not piece[2]
    )
    times = np.concatenate([series.times_ms, *(piece[0] for piece in pieces)])
    values = np.concatenate([series.temperatures_c, *(piece[1] for piece in pieces)])
    order = np.argsort(times, kind="stable")
    times, values = times[order], values[order]
    return TemperatureSeries(times, values, _mark_estimated(times, gaps), unknown)


def _gaps(series: TemperatureSeries, from_ms: int, to_ms: int) -> list[Span]:
    """Steps longer than a straight line may bridge, also before the first and after the last reading."""
    times = series.times_ms
    wide = np.flatnonzero(np.diff(times) > STRAIGHT_MS)
    gaps = [(int(times[i]), int(times[i + 1])) for i in wide]
    if times[0] > from_ms:
        gaps.insert(0, (from_ms, int(times[0])))
    if times[-1] < to_ms:
        gaps.append((int(times[-1]), to_ms))
    return gaps


def _filling(series: TemperatureSeries, gap: Span) -> tuple[IntArray, FloatArray, bool]:
    """Times and temperatures for one gap, and whether its temperature could be estimated."""
    start, end = gap
    short = end - start <= STRAIGHT_MS
    shape = None if short else _shape_near(series, gap)
    open_start, open_end = bool(start < series.times_ms[0]), bool(end > series.times_ms[-1])
    if shape is None:
        ends = [start] * open_start + [end] * open_end
        nearest = np.interp(ends, series.times_ms, series.temperatures_c)
        return np.asarray(ends, dtype=np.int64), np.asarray(nearest, dtype=np.float64), short
    first = start // MS_PER_HOUR * MS_PER_HOUR + MS_PER_HOUR
    inner = np.arange(first, end, MS_PER_HOUR, dtype=np.int64)
    times = np.concatenate([[start] * open_start, inner, [end] * open_end]).astype(np.int64)
    return times, at_times(shape, times), True


def _shape_near(series: TemperatureSeries, gap: Span) -> FloatArray | None:
    """The shape of the days before the gap; of the days after it where the record starts with the gap."""
    before = day_shape(series, gap[0] - SHAPE_MS, gap[0])
    if before is not None or gap[0] >= series.times_ms[0]:
        return before
    return day_shape(series, gap[1], gap[1] + SHAPE_MS)


def _mark_estimated(times_ms: IntArray, gaps: list[Span]) -> BoolArray:
    marks = np.zeros(len(times_ms), dtype=bool)
    for start, end in gaps:
        if end - start <= STRAIGHT_MS:
            continue
        first, last = np.searchsorted(times_ms, [start + 1, end + 1])
        marks[first:last] = True
    return marks


@dataclass(frozen=True, slots=True, eq=False)
class ExpectedExcess:
    """Excess of a substrate over the air that the heat balance leads one to expect [K], by growth.

    `grown` rises, shape (n,) [share of the larval stage]; `log_sd` is how far it may be off [1].
    """

    grown: FloatArray
    excess_k: FloatArray
    log_sd: float = 0.5

    def of_day(self, grown: FloatArray) -> FloatArray:
        """Expected mean excess [K] of a day at whose start the animals are so far grown."""
        return np.asarray(np.interp(grown + HALF_DAY_GROWN, self.grown, self.excess_k))
