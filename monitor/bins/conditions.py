"""The conditions of a bin over time: the climate of its place without gaps, what the air takes, what larvae
make.

Everything that does not depend on how much water is left is worked out here at once, for the whole history.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from monitor.bins.energy_balance import (
    HIGHEST_AIR_C,
    HIGHEST_HEAT_W_M2,
    LOWEST_AIR_C,
    Surface,
    heat_from_excess_w_m2,
    surface_temperature_c,
)
from monitor.bins.evaporation import COVER_SHARE, evaporation_kg_m2_s, room_air, wet_share
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
from monitor.bins.substrate import BinFacts, Larvae, heat_w_m2, larvae_kg, moisture_in_balance
from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.development.temperature_series import (
    HOURS_PER_DAY,
    at_times,
    day_shape,
    fill_gaps,
    series_of,
)
from monitor.errors import UsageError
from monitor.records import MS_PER_DAY, MS_PER_HOUR, MS_PER_MINUTE, MS_PER_SECOND

STEP_MS = 30 * MS_PER_MINUTE
LOWEST_PROBE_C, HIGHEST_PROBE_C = -20.0, 80.0

SURFACE_PROBE_DEPTH_M = 0.02
COLDEST_SORPTION_C = 0.0
LONGEST_INTERVAL_MS = 3 * MS_PER_HOUR


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
    """The state of a bin from a time on: cover, fan, last stirring, larvae."""

    from_ms: int
    cover_share: float
    fan: bool
    stirred_ms: int
    larvae: Larvae | None


@dataclass(frozen=True, slots=True, eq=False)
class Intervals:
    """n intervals between n + 1 edges; `larvae_kg` has shape (n + 1,) at the edges, all else shape (n,).

    `free_kg` is the water that leaves in each [kg] with a bin factor of 1 and enough free water,
    `carbon_dioxide_kg` what is breathed out, `rate_kg_m2_s` the rate of free water, `exposed_m2` the surface
    that is wet and uncovered, `end_moisture` where drying ends [ratio].
    """

    edges_ms: IntArray
    free_kg: FloatArray
    carbon_dioxide_kg: FloatArray
    end_moisture: FloatArray
    larvae_kg: FloatArray
    rate_kg_m2_s: FloatArray
    exposed_m2: FloatArray
    surface_c: FloatArray
    air_c: FloatArray
    humidity_percent: FloatArray
    heat_w_m2: FloatArray
    estimated: BoolArray

    @property
    def hours(self) -> FloatArray:
        """Length of each interval [h]."""
        return np.diff(self.edges_ms) / MS_PER_HOUR


def conditions_of(facts: BinFacts, events: Sequence[BinEvent]) -> tuple[Conditions, ...]:
    """The conditions from the filling on: one for the filling, one for each event, in the order of time."""
    now = Conditions(facts.filled_ms, COVER_SHARE[facts.cover], facts.fan, facts.filled_ms, facts.larvae)
    conditions = [now]
    for event in events:
        now = replace(_after(now, event), from_ms=event.at_ms)
        conditions.append(now)
    return tuple(conditions)


def _after(now: Conditions, event: BinEvent) -> Conditions:
    match event:
        case CoverChanged(cover=cover):
            return replace(now, cover_share=COVER_SHARE[cover])
        case FanChanged(on=on):
            return replace(now, fan=on)
        case Stirred() | WaterAdded() | FeedAdded():
            return replace(now, stirred_ms=event.at_ms)
        case LarvaeChanged(larvae=larvae):
            return replace(now, larvae=larvae)
        case TakenOut(what=Taken.LARVAE, kg=kg):
            return replace(now, larvae=_fewer(now.larvae, event.at_ms, kg))
    return now


def _fewer(larvae: Larvae | None, at_ms: int, kg: float) -> Larvae | None:
    if larvae is None:
        return None
    there = float(larvae_kg(larvae, np.array([at_ms]))[0])
    left = 0.0 if there <= kg else 1.0 - kg / there
    return replace(larvae, share=larvae.share * left)


def intervals_of(
    facts: BinFacts,
    conditions: Sequence[Conditions],
    climate: ClimateSeries,
    from_ms: int,
    until_ms: int,
) -> Intervals:
    """Cut a span at every reading and every event, and work out each interval.

    The climate is without gaps and taken at the middle of each interval; conditions are those at its start.
    At least one interval.
    """
    starts = np.array([condition.from_ms for condition in conditions], dtype=np.int64)
    edges = _edges(climate.times_ms, starts, from_ms, until_ms)
    at = _moments(edges, starts, climate)
    surface = _surface(facts, conditions, at)
    surface_c = _surface_c(facts, at, surface)
    air = room_air(at.air_c, at.humid, facts.pressure_pa)
    rate = evaporation_kg_m2_s(surface_c, air, surface.fan)
    made_w_m2 = _made(facts, conditions, at, heat_from_excess_w_m2(surface_c, air, surface))
    exposed_m2 = surface.wet_share * facts.surface_m2
    seconds = np.diff(edges) / MS_PER_SECOND
    nearest = np.minimum(np.searchsorted(climate.times_ms, at.middle_ms), len(climate.times_ms) - 1)
    return Intervals(
        edges_ms=edges,
        free_kg=rate * exposed_m2 * seconds,
        carbon_dioxide_kg=made_w_m2 * (facts.surface_m2 / facts.substrate.heat_j_kg_carbon_dioxide) * seconds,
        end_moisture=moisture_in_balance(np.maximum(at.air_c, COLDEST_SORPTION_C), at.humid),
        larvae_kg=_larvae(conditions, np.searchsorted(starts, edges, side="right") - 1, edges),
        rate_kg_m2_s=rate,
        exposed_m2=exposed_m2,
        surface_c=surface_c,
        air_c=at.air_c,
        humidity_percent=at.humid,
        heat_w_m2=made_w_m2,
        estimated=climate.estimated[nearest],
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Moments:
    """The middle of each interval: its time, which conditions hold, the climate."""

    middle_ms: IntArray
    which: IntArray
    air_c: FloatArray
    humid: FloatArray
    probe_c: FloatArray


def _edges(times_ms: IntArray, starts: IntArray, from_ms: int, until_ms: int) -> IntArray:
    """Every reading and event of the span, and ticks where these lie further apart than three hours."""
    ticks = np.arange(from_ms, until_ms, LONGEST_INTERVAL_MS, dtype=np.int64)
    cuts = np.concatenate([times_ms, starts, [from_ms, until_ms]])
    edges = np.unique(cuts[(cuts >= from_ms) & (cuts <= until_ms)])
    after = np.minimum(np.searchsorted(edges, ticks), len(edges) - 1)
    lonely = edges[after] - edges[np.maximum(after - 1, 0)] > LONGEST_INTERVAL_MS
    edges = np.union1d(edges, ticks[lonely])
    return np.append(edges, edges[0] + 1) if len(edges) == 1 else edges


def _moments(edges: IntArray, starts: IntArray, climate: ClimateSeries) -> _Moments:
    middle = (edges[:-1] + edges[1:]) // 2
    air, humid, probe = (
        np.interp(middle, climate.times_ms, column)
        for column in (climate.air_c, climate.humidity_percent, climate.substrate_c)
    )
    return _Moments(middle, np.searchsorted(starts, middle, side="right") - 1, air, humid, probe)


def _surface(facts: BinFacts, conditions: Sequence[Conditions], at: _Moments) -> Surface:
    """The surface in each interval; its heat comes from a buried probe, else from the age of the larvae."""
    substrate = facts.substrate
    stirred = np.array([condition.stirred_ms for condition in conditions])[at.which]
    hours = np.maximum(at.middle_ms - stirred, 0) / MS_PER_HOUR
    wet = wet_share(hours, substrate.wet_share_fresh, substrate.wet_share_crusted, substrate.crust_hours)
    covered = np.array([condition.cover_share for condition in conditions])[at.which]
    buried = np.isfinite(at.probe_c) & (facts.probe_depth_m is not None)
    inner = substrate.core_conductivity_w_m_k / max(facts.probe_depth_m or 1.0, SURFACE_PROBE_DEPTH_M)
    return Surface(
        heat_w_m2=np.where(buried, 0.0, _heat_by_age(facts, conditions, at)),
        wet_share=wet * covered,
        fan=np.array([condition.fan for condition in conditions])[at.which],
        side_loss_w_m2_k=facts.side_loss_w_m2_k,
        core_c=np.where(buried, at.probe_c, 0.0),
        core_w_m2_k=np.where(buried, inner, 0.0),
    )


def _surface_c(facts: BinFacts, at: _Moments, surface: Surface) -> FloatArray:
    """Surface temperature [°C]: a probe at the surface, else the balance."""
    balanced: FloatArray = surface_temperature_c(at.air_c, at.humid, surface, facts.pressure_pa)
    if facts.probe_depth_m is None or facts.probe_depth_m > SURFACE_PROBE_DEPTH_M:
        return balanced
    return np.where(np.isfinite(at.probe_c), at.probe_c, balanced)


def _made(
    facts: BinFacts, conditions: Sequence[Conditions], at: _Moments, by_excess: FloatArray
) -> FloatArray:
    """Heat that is made [W/m²]: from a probe where there are larvae, else from their age."""
    by_age = _heat_by_age(facts, conditions, at)
    if facts.probe_depth_m is None:
        return by_age
    known = np.isfinite(at.probe_c) & (by_age > 0.0)
    return np.where(known, np.clip(by_excess, 0.0, HIGHEST_HEAT_W_M2), by_age)


def _heat_by_age(facts: BinFacts, conditions: Sequence[Conditions], at: _Moments) -> FloatArray:
    heat = np.zeros(len(at.middle_ms))
    for index in np.unique(at.which).tolist():
        mine = at.which == index
        heat[mine] = heat_w_m2(conditions[index].larvae, facts.substrate, at.middle_ms[mine])
    return heat


def _larvae(conditions: Sequence[Conditions], which: IntArray, edges: IntArray) -> FloatArray:
    mass_kg = np.zeros(len(edges))
    for index in np.unique(which).tolist():
        mine = which == index
        mass_kg[mine] = larvae_kg(conditions[index].larvae, edges[mine])
    return mass_kg
