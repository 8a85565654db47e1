"""The conditions of a bin over time: climate of its place, cover, fan, stirring, larvae, feed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from monitor.bins.energy_balance import HIGHEST_AIR_C, LOWEST_AIR_C
from monitor.bins.evaporation import COVER_SHARE
from monitor.bins.events import (
    BinEvent,
    CoverChanged,
    FanChanged,
    FeedAdded,
    LarvaeChanged,
    Stirred,
    Taken,
    TakenOut,
    WaterAdded,
)
from monitor.bins.substrate import BinFacts, Larvae, larvae_kg
from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.development.temperature_series import (
    HOURS_PER_DAY,
    at_times,
    day_shape,
    fill_gaps,
    series_of,
)
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE

STEP_MS = 30 * MS_PER_MINUTE
LOWEST_PROBE_C, HIGHEST_PROBE_C = -20.0, 80.0


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
        Times, shape (n,), ascending [ms since 1970 UTC].
    air_c, humidity_percent : sequence of float
        Air temperature [°C] and relative humidity [%], shape (n,).
    substrate_c : sequence of float or None
        Substrate temperature [°C], shape (n,), NaN where it was not read.

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


def without_gaps(climate: ClimateSeries, from_ms: int, to_ms: int) -> ClimateSeries:
    """The climate of a span, its gaps filled from the place's own days and marked as estimated.

    The substrate is NaN where it was not measured. Gaps: straight lines up to 2 h, then day shapes.
    """
    air = fill_gaps(series_of(climate.times_ms, climate.air_c), from_ms, to_ms)
    humid = fill_gaps(series_of(climate.times_ms, climate.humidity_percent), from_ms, to_ms)
    probe = np.full(len(air.times_ms), np.nan)
    probe[np.searchsorted(air.times_ms, climate.times_ms)] = climate.substrate_c
    return ClimateSeries(air.times_ms, air.temperatures_c, humid.temperatures_c, probe, air.estimated)


def usual_day(climate: ClimateSeries, now_ms: int, days: float = 3.0) -> DayShape | None:
    """The usual day of a place, from its last `days` days: few, since weather lasts.

    None with fewer than 12 hours of the day measured.
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
    """The usual day over and over, as hourly climate from now on; all of it is estimated."""
    times = now_ms + MS_PER_HOUR * np.arange(hours + 1, dtype=np.int64)
    columns = [at_times(shape, times) for shape in (day.air_c, day.humidity_percent, day.substrate_c)]
    return ClimateSeries(times, columns[0], columns[1], columns[2], np.ones(len(times), dtype=bool))


@dataclass(frozen=True, slots=True)
class Conditions:
    """The state of a bin from a time on: cover, fan, last stirring, larvae, and what came or went just then.

    `fed_kg` is the dry matter of feed that was put on [kg], `larvae_out_kg` and `residue_out_kg` what was
    taken out. `follows` says that the larvae are those of before, fewer for what was just taken out.
    """

    from_ms: int
    cover_share: float
    fan: bool
    stirred_ms: int
    larvae: Larvae | None
    fed_kg: float = 0.0
    larvae_out_kg: float = 0.0
    residue_out_kg: float = 0.0
    follows: bool = False


def conditions_of(facts: BinFacts, events: Sequence[BinEvent]) -> tuple[Conditions, ...]:
    """The conditions from the filling on: one for the filling, one for each event, in the order of time."""
    now = Conditions(
        facts.filled_ms,
        COVER_SHARE[facts.cover],
        facts.fan,
        facts.filled_ms,
        facts.larvae,
        fed_kg=facts.wet_kg * (1.0 - facts.moisture),
    )
    conditions = [now]
    for event in events:
        quiet = replace(now, from_ms=event.at_ms, fed_kg=0.0, larvae_out_kg=0.0, residue_out_kg=0.0)
        now = _after(replace(quiet, follows=False), event, before=now)
        conditions.append(now)
    return tuple(conditions)


def _after(now: Conditions, event: BinEvent, before: Conditions) -> Conditions:
    match event:
        case CoverChanged(cover=cover):
            return replace(now, cover_share=COVER_SHARE[cover])
        case FanChanged(on=on):
            return replace(now, fan=on)
        case FeedAdded(kg=kg, moisture=moisture):
            return replace(now, stirred_ms=event.at_ms, fed_kg=kg * (1.0 - moisture))
        case Stirred() | WaterAdded():
            return replace(now, stirred_ms=event.at_ms)
        case LarvaeChanged(larvae=larvae):
            return replace(now, larvae=larvae, follows=_only_fewer(before, event))
        case TakenOut(what=Taken.LARVAE, kg=kg):
            return replace(now, larvae=_fewer(now.larvae, event.at_ms, kg), larvae_out_kg=kg, follows=True)
        case TakenOut(kg=kg):
            return replace(now, residue_out_kg=kg)
    return now


def _only_fewer(before: Conditions, event: LarvaeChanged) -> bool:
    """Whether a change only repeats in numbers that larvae were taken out at the same moment."""
    old, new = before.larvae, event.larvae
    if before.larvae_out_kg <= 0.0 or before.from_ms != event.at_ms or old is None or new is None:
        return False
    return old.count == new.count


def _fewer(larvae: Larvae | None, at_ms: int, kg: float) -> Larvae | None:
    if larvae is None:
        return None
    there = float(larvae_kg(larvae, np.array([at_ms]))[0])
    if there <= 0.0:
        return larvae
    return replace(larvae, share=larvae.share * max(0.0, 1.0 - kg / there))
