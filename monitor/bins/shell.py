"""What lies between the inside of a bin and the air: how warm core and surface are, and what heat leaves.

Heat leaves with the water, by convection and radiation from the surface, and through the sides, or warms the
bin. A probe says how warm it is, and then the heat follows; without one the warmth follows from the heat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.bins.conditions import HIGHEST_PROBE_C, LOWEST_PROBE_C, Conditions
from monitor.bins.energy_balance import TOLERANCE_K, Surface, heat_from_excess_w_m2, surface_temperature_c
from monitor.bins.evaporation import RoomAir, evaporation_kg_m2_s, room_air, wet_share
from monitor.bins.substrate import BinFacts
from monitor.climate.arrays import BoolArray, FloatArray, IntArray
from monitor.records import MS_PER_HOUR, MS_PER_SECOND

SURFACE_PROBE_DEPTH_M = 0.02
BULK_KG_M3 = 700.0
"""Mass of wet substrate by volume [kg/m³], for the depth of a bin. Source: own choice, moist feed."""

DRY_HEAT_J_KG_K, WATER_HEAT_J_KG_K = 1500.0, 4186.0
"""Specific heat of dry matter and of water [J/(kg K)]. Source: own choice within what dry plants have,
and water at 25 °C."""

MOST_MADE_W_M2 = 500.0
"""No probe makes the heat higher than this [W/m²]. Source: own choice, twice the highest three hours of
twelve published chambers (234 W/m²)."""

STORED_OVER_H = 1.5
"""A bin warms or cools as its probe went from so long before to so long after [h]. Source: own choice: cold
water poured on is not heat that larvae stopped to make."""

NODES_K = (-3.0, 8.0, 20.0)
"""Warmth above the air at which the heat that leaves is worked out, with a parabola through them [K]."""
ROUGH_K = 0.3
NEAR_K = 0.1
ROUNDS = 6
COLDEST_C, HOTTEST_C = LOWEST_PROBE_C, HIGHEST_PROBE_C


@dataclass(frozen=True, slots=True, eq=False)
class Moments:
    """The middle of each interval: its time, which conditions hold, the climate."""

    middle_ms: IntArray
    which: IntArray
    air_c: FloatArray
    humid: FloatArray
    probe_c: FloatArray
    hours: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Shell:
    """What lies between the inside of a bin and the air: shapes (n,).

    `inner_w_m2_k` is how well heat passes from where it is measured (or from the middle of the bin) to the
    surface, `heat_j_m2_k` what warms the bin by a kelvin.
    """

    air: RoomAir
    wet_share: FloatArray
    fan: BoolArray
    inner_w_m2_k: float
    side_w_m2_k: float
    heat_j_m2_k: float
    pressure_pa: float

    def surface(self, core_c: FloatArray | float) -> Surface:
        """The surface above a core; sides and bottom touch the core, not the surface."""
        return Surface(
            wet_share=self.wet_share, fan=self.fan, side_loss_w_m2_k=0.0,
            core_c=core_c, core_w_m2_k=self.inner_w_m2_k,
        )  # fmt: skip

    def surface_c(self, at: Moments, core_c: FloatArray, tolerance_k: float = TOLERANCE_K) -> FloatArray:
        """Temperature of the surface above a core [°C]."""
        surface = self.surface(core_c)
        return np.asarray(surface_temperature_c(at.air_c, at.humid, surface, self.pressure_pa, tolerance_k))

    def top_w_m2(self, surface_c: FloatArray) -> FloatArray:
        """Heat that leaves from the surface, with water and without [W/m²]."""
        return np.asarray(heat_from_excess_w_m2(surface_c, self.air, self.surface(0.0)))


def shell_of(facts: BinFacts, conditions: Sequence[Conditions], at: Moments) -> Shell:
    """The shell of a bin in each interval: its air, crust, cover and fan, its depth and its mass."""
    substrate = facts.substrate
    stirred = np.array([condition.stirred_ms for condition in conditions])[at.which]
    hours = np.maximum(at.middle_ms - stirred, 0) / MS_PER_HOUR
    wet = wet_share(hours, substrate.wet_share_fresh, substrate.wet_share_crusted, substrate.crust_hours)
    covered = np.array([condition.cover_share for condition in conditions])[at.which]
    heat = DRY_HEAT_J_KG_K * (1.0 - facts.moisture) + WATER_HEAT_J_KG_K * facts.moisture
    return Shell(
        air=room_air(at.air_c, at.humid, facts.pressure_pa),
        wet_share=wet * covered,
        fan=np.array([condition.fan for condition in conditions])[at.which],
        inner_w_m2_k=_inner_w_m2_k(facts),
        side_w_m2_k=facts.side_loss_w_m2_k,
        heat_j_m2_k=heat * facts.wet_kg / facts.surface_m2,
        pressure_pa=facts.pressure_pa,
    )


def _inner_w_m2_k(facts: BinFacts) -> float:
    """How well heat passes from the probe, or from the mean of the bin, to the surface [W/(m² K)].

    Heat q made evenly down to the bottom d: T(z) - Ts = q (z - z²/2d)/k, in the mean q d/3k. Source: the
    equation of conduction with an even source, Incropera & DeWitt, ch. 3; the bottom lets little through.
    """
    deep_m = facts.wet_kg / (facts.surface_m2 * BULK_KG_M3)
    away_m = deep_m / 3.0
    if facts.probe_depth_m is not None and facts.probe_depth_m > SURFACE_PROBE_DEPTH_M:
        below_m = min(facts.probe_depth_m, deep_m)
        away_m = below_m - below_m**2 / (2.0 * deep_m)
    return facts.substrate.core_conductivity_w_m_k / max(away_m, SURFACE_PROBE_DEPTH_M / 2.0)


def told_by_probe(facts: BinFacts, at: Moments, shell: Shell) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Surface [°C], core [°C] and heat that is made [W/m²] where a probe tells them, else NaN."""
    core_c = at.probe_c if facts.probe_depth_m is not None else np.full(len(at.air_c), np.nan)
    known = np.isfinite(core_c)
    if facts.probe_depth_m is None or not known.any():
        nothing = np.full(len(at.air_c), np.nan)
        return nothing, nothing, nothing
    filled = np.where(known, core_c, at.air_c)
    if facts.probe_depth_m <= SURFACE_PROBE_DEPTH_M:
        surface_c = filled
        core_c = np.clip(surface_c + shell.top_w_m2(surface_c) / shell.inner_w_m2_k, COLDEST_C, HOTTEST_C)
    else:
        surface_c = shell.surface_c(at, filled)
    made = shell.top_w_m2(surface_c) + shell.side_w_m2_k * (core_c - at.air_c)
    made = np.clip(made + warming_w_m2(at.middle_ms, core_c, shell), 0.0, MOST_MADE_W_M2)
    return tuple(np.where(known, each, np.nan) for each in (surface_c, core_c, made))  # type: ignore[return-value]


def warming_w_m2(times_ms: IntArray, core_c: FloatArray, shell: Shell) -> FloatArray:
    """Heat that goes into the bin while it warms, from three hours around each time [W/m²]."""
    known = np.isfinite(core_c)
    if not known.any():
        return np.zeros(len(core_c))
    around_ms = round(STORED_OVER_H * MS_PER_HOUR)
    early, late = (np.clip(times_ms + sign * around_ms, times_ms[known][0], times_ms[known][-1])
                   for sign in (-1, 1))  # fmt: skip
    rise = np.interp(late, times_ms[known], core_c[known]) - np.interp(early, times_ms[known], core_c[known])
    seconds = np.maximum((late - early) / MS_PER_SECOND, 1.0)
    return np.asarray(np.where(late > early, shell.heat_j_m2_k * rise / seconds, 0.0))


def losses_of(at: Moments, shell: Shell, wanted: BoolArray) -> list[list[float]]:
    """The coefficients of `Loss` for each interval, three lists."""
    if not wanted.any():
        return [[0.0] * len(wanted)] * 3
    leaving = []
    for node in NODES_K:
        surface_c = shell.surface_c(at, at.air_c + node, ROUGH_K)
        leaving.append(shell.inner_w_m2_k * (at.air_c + node - surface_c) + shell.side_w_m2_k * node)
    powers = np.linalg.inv(np.vander(np.array(NODES_K), increasing=True))
    return [column.tolist() for column in powers @ np.array(leaving)]


@dataclass(frozen=True, slots=True)
class Loss:
    """Heat that leaves by the warmth x above the air, a + b x + c x² [W/m²]."""

    a: float
    b: float
    c: float

    def at(self, excess_k: float) -> float:
        """The heat that leaves at a warmth above the air [W/m²]."""
        return self.a + excess_k * (self.b + excess_k * self.c)

    def by_kelvin(self, excess_k: float) -> float:
        """By how much it grows with each kelvin [W/(m² K)]; never less than 1."""
        return max(self.b + 2.0 * excess_k * self.c, 1.0)


def inert_c(air_c: float, loss: Loss) -> float:
    """How warm a bin is in which nothing makes heat: what it is mixed of stood in this air [°C]."""
    excess = 0.0
    for _ in range(ROUNDS):
        excess -= loss.at(excess) / loss.by_kelvin(excess)
    return air_c + excess


def surface_above_c(at: Moments, shell: Shell, core_c: FloatArray, by_probe_c: FloatArray) -> FloatArray:
    """The surface: as the probe tells it, else in balance with the core [°C]."""
    known = np.isfinite(by_probe_c)
    return by_probe_c if known.all() else np.where(known, by_probe_c, shell.surface_c(at, core_c))


def _top_by_kelvin_w_m2_k(shell: Shell, surface_c: FloatArray) -> FloatArray:
    """By how much the heat that leaves from the surface grows with its warmth [W/(m² K)]."""
    more = shell.top_w_m2(surface_c + NEAR_K) - shell.top_w_m2(surface_c)
    return np.maximum(more / NEAR_K, 1.0)


def closed(
    at: Moments,
    shell: Shell,
    core_c: FloatArray,
    by_probe_c: FloatArray,
    made_w_m2: FloatArray,
    stored_w_m2: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """The core and what it stores, moved to where the heat closes without the parabola of `losses_of`.

    One step of Newton's method on all intervals together; what is left is below 2 W/m² in usual bins.
    """
    known = np.isfinite(by_probe_c)
    if known.all():
        return core_c, stored_w_m2
    surface_c = shell.surface_c(at, core_c)
    leaving = shell.top_w_m2(surface_c) + shell.side_w_m2_k * (core_c - at.air_c)
    top = _top_by_kelvin_w_m2_k(shell, surface_c)
    slope = top * shell.inner_w_m2_k / (top + shell.inner_w_m2_k) + shell.side_w_m2_k
    inert = shell.heat_j_m2_k / (at.hours * 3600.0)
    gaps = np.where(known, 0.0, made_w_m2 - leaving - stored_w_m2)
    moves, moved = [], 0.0
    for gap, steep, slow, told in zip(
        gaps.tolist(), slope.tolist(), inert.tolist(), known.tolist(), strict=True
    ):
        moved = 0.0 if told else (gap + slow * moved) / (steep + slow)
        moves.append(moved)
    move = np.array(moves)
    return core_c + move, stored_w_m2 + np.where(known, 0.0, inert * np.diff(move, prepend=0.0))


def more_by_heat_kg_m2_s(
    shell: Shell, surface_c: FloatArray, rate: FloatArray, made_w_m2: FloatArray
) -> FloatArray:
    """How much more would evaporate from free water for each 100 % of heat more [kg/(m² s)].

    Near the balance a kelvin of the surface lets go e + h, which takes (e + h)/U kelvin more of the core, and
    these also let heat go through the sides.
    """
    warmer_c = surface_c + NEAR_K
    more = (evaporation_kg_m2_s(warmer_c, shell.air, shell.fan) - rate) / NEAR_K
    top = _top_by_kelvin_w_m2_k(shell, surface_c)
    sides = shell.side_w_m2_k * (1.0 + top / shell.inner_w_m2_k)
    return np.asarray(more * made_w_m2 / (top + sides))
