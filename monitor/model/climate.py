"""Air and substrate temperature of a bin over time, without gaps, and the place's own day ahead of now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.errors import UsageError
from monitor.model.degree_days import FloatArray, IntArray
from monitor.model.energy_balance import HIGHEST_AIR_C, LOWEST_AIR_C
from monitor.model.temperature_series import BoolArray, GapPolicy, day_shape, fill_gaps, series_of
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE

STEP_MS = 30 * MS_PER_MINUTE
LOWEST_PROBE_C, HIGHEST_PROBE_C = -20.0, 80.0
HOURS_PER_DAY = 24


@dataclass(frozen=True, slots=True, eq=False)
class ClimateSeries:
    """Air [°C], humidity [%RH] and substrate [°C, NaN where not measured] at ascending times [ms]."""

    times_ms: IntArray
    air_c: FloatArray
    humidity_percent: FloatArray
    substrate_c: FloatArray
    estimated: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class DayShape:
    """A usual day of the place: 24 values by hour UTC; `substrate_c` is NaN without a probe."""

    air_c: FloatArray
    humidity_percent: FloatArray
    substrate_c: FloatArray


def climate_of(
    times_ms: Sequence[int] | IntArray,
    air_c: Sequence[float] | FloatArray,
    humidity_percent: Sequence[float] | FloatArray,
    substrate_c: Sequence[float] | FloatArray | None = None,
) -> ClimateSeries:
    """Readings of one bin's place as a series of half-hourly means.

    Parameters
    ----------
    times_ms : sequence of int
        Times, ascending [ms since 1970 UTC].
    air_c, humidity_percent : sequence of float
        Air temperature [°C] and relative humidity [%], of the same length.
    substrate_c : sequence of float or None
        Substrate temperature [°C], NaN where it was not read.

    Returns
    -------
    ClimateSeries
        Rows without air temperature or humidity, or with air outside -20 to 50 °C, are left out; humidity is
        held to 0 to 100 %, a probe outside -20 to 80 °C counts as not read.
    """
    times = np.asarray(times_ms, dtype=np.int64)
    air, humid = np.asarray(air_c, dtype=np.float64), np.asarray(humidity_percent, dtype=np.float64)
    probe = np.full(len(times), np.nan) if substrate_c is None else np.asarray(substrate_c, dtype=np.float64)
    if not len(times) == len(air) == len(humid) == len(probe):
        raise UsageError("a climate series needs as many temperatures and humidities as it has times")
    if np.any(np.diff(times) <= 0):
        raise UsageError("the times of a climate series must ascend, each later than the one before")
    good = (air >= LOWEST_AIR_C) & (air <= HIGHEST_AIR_C) & np.isfinite(humid)
    probe = np.where((probe >= LOWEST_PROBE_C) & (probe <= HIGHEST_PROBE_C), probe, np.nan)
    return _thinned(times[good], air[good], np.clip(humid[good], 0.0, 100.0), probe[good])


def _thinned(times: IntArray, air: FloatArray, humid: FloatArray, probe: FloatArray) -> ClimateSeries:
    """Means over half hours where readings are denser than that."""
    if len(times) == 0:
        raise UsageError("no usable reading of air temperature and humidity was found for this bin")
    slots = times // STEP_MS
    starts = np.flatnonzero(np.diff(slots, prepend=slots[0] - 1))
    counts = np.diff(starts, append=len(times))
    columns = [np.add.reduceat(column, starts) / counts for column in (air, humid)]
    known = np.isfinite(probe)
    probes = np.add.reduceat(known.astype(np.float64), starts)
    sums = np.add.reduceat(np.where(known, probe, 0.0), starts)
    substrate = np.where(probes > 0, sums / np.maximum(probes, 1.0), np.nan)
    middle = times[starts] + (np.add.reduceat(times - times[starts].repeat(counts), starts) // counts)
    return ClimateSeries(middle, columns[0], columns[1], substrate, np.zeros(len(middle), dtype=bool))


def without_gaps(
    climate: ClimateSeries, from_ms: int, to_ms: int, policy: GapPolicy | None = None
) -> ClimateSeries:
    """The climate of a span, its gaps filled from the place's own days and marked as estimated.

    Parameters
    ----------
    climate : ClimateSeries
        What was measured.
    from_ms, to_ms : int
        The span [ms since 1970 UTC].
    policy : GapPolicy or None
        How gaps are filled; None for straight lines up to 2 h, then day shapes.

    Returns
    -------
    ClimateSeries
        Reaches over the span; where nothing is known of the substrate, it is NaN.
    """
    air = fill_gaps(series_of(climate.times_ms, climate.air_c), from_ms, to_ms, policy)
    humid = fill_gaps(series_of(climate.times_ms, climate.humidity_percent), from_ms, to_ms, policy)
    probe = np.full(len(air.times_ms), np.nan)
    probe[np.searchsorted(air.times_ms, climate.times_ms)] = climate.substrate_c
    return ClimateSeries(air.times_ms, air.temperatures_c, humid.temperatures_c, probe, air.estimated)


def usual_day(climate: ClimateSeries, now_ms: int, days: float = 3.0) -> DayShape | None:
    """The usual day of a place, from its last days.

    Parameters
    ----------
    climate : ClimateSeries
        What was measured.
    now_ms : int
        Now [ms since 1970 UTC].
    days : float
        How many days back count [d]; few, since weather lasts.

    Returns
    -------
    DayShape or None
        Means by hour UTC; None with fewer than 12 hours of the day measured.
    """
    from_ms = now_ms - int(days * MS_PER_DAY)
    air = day_shape(series_of(climate.times_ms, climate.air_c), from_ms, now_ms)
    humid = day_shape(series_of(climate.times_ms, climate.humidity_percent), from_ms, now_ms)
    if air is None or humid is None:
        return None
    known = np.isfinite(climate.substrate_c)
    probe = None
    if known.any():
        probe = day_shape(series_of(climate.times_ms[known], climate.substrate_c[known]), from_ms, now_ms)
    return DayShape(air, humid, np.full(HOURS_PER_DAY, np.nan) if probe is None else probe)


def days_ahead(day: DayShape, now_ms: int, hours: int) -> ClimateSeries:
    """The usual day over and over, as hourly climate from now on.

    Parameters
    ----------
    day : DayShape
        The usual day, see `usual_day`.
    now_ms : int
        Now [ms since 1970 UTC].
    hours : int
        How far ahead [h].

    Returns
    -------
    ClimateSeries
        All of it estimated.
    """
    times = now_ms + MS_PER_HOUR * np.arange(hours + 1, dtype=np.int64)
    clock = times / MS_PER_HOUR - 0.5
    columns = [
        np.interp(clock % HOURS_PER_DAY, np.arange(HOURS_PER_DAY), column, period=HOURS_PER_DAY)
        for column in (day.air_c, day.humidity_percent, day.substrate_c)
    ]
    return ClimateSeries(times, columns[0], columns[1], columns[2], np.ones(len(times), dtype=bool))
