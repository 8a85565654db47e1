"""The conditions of a bin, interval by interval: what the air takes, what the larvae make.

All that does not depend on how much water is left is worked out here at once, for the whole history.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from monitor.model.bin_events import (
    BinEvent,
    CoverChanged,
    FanChanged,
    FeedAdded,
    LarvaeAdded,
    Stirred,
    Taken,
    TakenOut,
    WaterAdded,
)
from monitor.model.climate import ClimateSeries
from monitor.model.degree_days import FloatArray, IntArray
from monitor.model.energy_balance import (
    HIGHEST_HEAT_W_M2,
    Surface,
    conductance_w_m2_k,
    latent_heat_j_kg,
    surface_temperature_c,
)
from monitor.model.evaporation import COVER_SHARE, evaporation_kg_m2_s, room_air, wet_share
from monitor.model.sorption import moisture_in_balance
from monitor.model.substrate import BinFacts, Larvae, heat_w_m2, larvae_kg
from monitor.model.temperature_series import BoolArray
from monitor.records import MS_PER_HOUR, MS_PER_SECOND

SURFACE_PROBE_DEPTH_M = 0.02
COLDEST_SORPTION_C = 0.0
LONGEST_INTERVAL_MS = 3 * MS_PER_HOUR


@dataclass(frozen=True, slots=True)
class Conditions:
    """How the bin stands from a time on: cover, fan, last stirring, larvae."""

    from_ms: int
    cover_share: float
    fan: bool
    stirred_ms: int
    larvae: Larvae | None


@dataclass(frozen=True, slots=True, eq=False)
class Intervals:
    """n intervals between n + 1 edges.

    `free_kg` is the water that leaves in each [kg] with a bin factor of 1 and enough free water,
    `carbon_dioxide_kg` what is breathed out, `rate_kg_m2_s` the rate of free water, `exposed_m2` the surface
    that is wet and uncovered, `end_moisture` where drying ends [ratio]; `larvae_kg` stands at the edges.
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
    """How the bin stood, from its filling on.

    Parameters
    ----------
    facts : BinFacts
        The bin as it was filled.
    events : sequence of BinEvent
        In the order of time.

    Returns
    -------
    tuple of Conditions
        One for the filling and one for each event, in the order of time.
    """
    now = Conditions(facts.filled_ms, COVER_SHARE[facts.cover], facts.fan, facts.filled_ms, facts.larvae)
    found = [now]
    for event in events:
        now = replace(_after(now, event), from_ms=event.at_ms)
        found.append(now)
    return tuple(found)


def _after(now: Conditions, event: BinEvent) -> Conditions:
    match event:
        case CoverChanged(cover=cover):
            return replace(now, cover_share=COVER_SHARE[cover])
        case FanChanged(on=on):
            return replace(now, fan=on)
        case Stirred() | WaterAdded() | FeedAdded():
            return replace(now, stirred_ms=event.at_ms)
        case LarvaeAdded(larvae=larvae):
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

    Parameters
    ----------
    facts : BinFacts
        The bin as it was filled.
    conditions : sequence of Conditions
        See `conditions_of`.
    climate : ClimateSeries
        Without gaps, see `without_gaps`.
    from_ms, until_ms : int
        The span [ms since 1970 UTC].

    Returns
    -------
    Intervals
        At least one interval; climate at the middle of each, conditions from its start.
    """
    starts = np.array([each.from_ms for each in conditions], dtype=np.int64)
    edges = _edges(climate.times_ms, starts, from_ms, until_ms)
    at = _moments(edges, starts, climate)
    surface = _surface(facts, conditions, at)
    surface_c = _surface_c(facts, at, surface)
    rate = evaporation_kg_m2_s(surface_c, room_air(at.air_c, at.humid, facts.pressure_pa), surface.fan)
    made_w_m2 = _made(facts, conditions, at, surface, surface_c, rate)
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
    """Heat from inside: through the substrate from a buried probe, else by the age of the larvae."""
    substrate = facts.substrate
    stirred = np.array([each.stirred_ms for each in conditions])[at.which]
    hours = np.maximum(at.middle_ms - stirred, 0) / MS_PER_HOUR
    wet = wet_share(hours, substrate.wet_share_fresh, substrate.wet_share_crusted, substrate.crust_hours)
    covered = np.array([each.cover_share for each in conditions])[at.which]
    buried = np.isfinite(at.probe_c) & (facts.probe_depth_m is not None)
    inner = substrate.core_conductivity_w_m_k / max(facts.probe_depth_m or 1.0, SURFACE_PROBE_DEPTH_M)
    return Surface(
        heat_w_m2=np.where(buried, 0.0, _heat_by_age(facts, conditions, at)),
        wet_share=wet * covered,
        fan=np.array([each.fan for each in conditions])[at.which],
        side_loss_w_m2_k=facts.side_loss_w_m2_k,
        core_c=np.where(buried, at.probe_c, 0.0),
        core_w_m2_k=np.where(buried, inner, 0.0),
    )


def _surface_c(facts: BinFacts, at: _Moments, surface: Surface) -> FloatArray:
    """What a probe at the surface says, else the balance."""
    balanced: FloatArray = surface_temperature_c(at.air_c, at.humid, surface, facts.pressure_pa)
    if facts.probe_depth_m is None or facts.probe_depth_m > SURFACE_PROBE_DEPTH_M:
        return balanced
    return np.where(np.isfinite(at.probe_c), at.probe_c, balanced)


def _made(
    facts: BinFacts,
    conditions: Sequence[Conditions],
    at: _Moments,
    surface: Surface,
    surface_c: FloatArray,
    rate: FloatArray,
) -> FloatArray:
    """Heat that is made: where there are larvae and a probe, what it tells, else by their age."""
    by_age = _heat_by_age(facts, conditions, at)
    if facts.probe_depth_m is None:
        return by_age
    air = room_air(at.air_c, at.humid, facts.pressure_pa)
    latent = surface.wet_share * latent_heat_j_kg(surface_c) * rate
    told = conductance_w_m2_k(air, surface) * (surface_c - at.air_c) + latent
    known = np.isfinite(at.probe_c) & (by_age > 0.0)
    return np.where(known, np.clip(told, 0.0, HIGHEST_HEAT_W_M2), by_age)


def _heat_by_age(facts: BinFacts, conditions: Sequence[Conditions], at: _Moments) -> FloatArray:
    found = np.zeros(len(at.middle_ms))
    for index in np.unique(at.which).tolist():
        mine = at.which == index
        found[mine] = heat_w_m2(conditions[index].larvae, facts.substrate, at.middle_ms[mine])
    return found


def _larvae(conditions: Sequence[Conditions], which: IntArray, edges: IntArray) -> FloatArray:
    found = np.zeros(len(edges))
    for index in np.unique(which).tolist():
        mine = which == index
        found[mine] = larvae_kg(conditions[index].larvae, edges[mine])
    return found
