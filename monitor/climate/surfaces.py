"""Walls, lids and roofs: whether water condenses on them, and whether mould may follow.

Feed is always damp enough for mould; this is for the surfaces of the room and of lids.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.climate.arrays import FloatArray, Value
from monitor.climate.psychrometrics import (
    dew_point_c,
    require_temperature,
    saturation_vapour_pressure_pa,
    vapour_pressure_pa,
)
from monitor.records import MS_PER_HOUR

MOULD_HUMIDITY_PERCENT = 80.0
"""Surface humidity from which many moulds grow [%RH]. Source: 75 to 80 % and by material in Johansson 2014,
Build. Environ. 81:404 (abstract); as an alarm our own choice."""

MOULD_HOURS = 24.0
"""How long it must last before a caution is given [h]. Source: own choice."""

LONGEST_STEP_H = 2.0
"""Longest time between readings that counts as measured throughout [h]. Source: own choice."""

DRIEST_PERCENT = 1e-3


@dataclass(frozen=True, slots=True)
class SurfaceState:
    """One surface now: humidity at it [%RH], margin to condensation [K], hours on end at 80 % or more."""

    humidity_percent: float
    margin_k: float
    damp_hours: float

    @property
    def condenses(self) -> bool:
        """Whether water condenses on it."""
        return self.margin_k <= 0.0

    @property
    def mould_caution(self) -> bool:
        """Whether it has been damp long enough for a caution."""
        return self.damp_hours >= MOULD_HOURS


def surface_humidity_percent(
    air_temperature_c: Value, relative_humidity_percent: Value, surface_temperature_c: Value
) -> Value:
    """Relative humidity in the film of air at a surface [%]; from 100 on, water condenses there.

    RHs = RH p(Ta)/p(Ts), temperatures -40 to 125 °C. Source: equal vapour pressure on both sides of the film;
    definition of relative humidity, ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 22.
    """
    require_temperature("surface temperature", surface_temperature_c)
    vapour = vapour_pressure_pa(air_temperature_c, relative_humidity_percent)
    return 100.0 * vapour / saturation_vapour_pressure_pa(surface_temperature_c)


def condensation_margin_k(
    air_temperature_c: Value, relative_humidity_percent: Value, surface_temperature_c: Value
) -> Value:
    """How far a surface may still cool before water condenses on it [K], its temperature less the dew point.

    Relative humidity from 1e-6 %. Source: definition of the dew point, ASHRAE Handbook Fundamentals 2017, ch.
    1.
    """
    require_temperature("surface temperature", surface_temperature_c)
    return surface_temperature_c - dew_point_c(air_temperature_c, relative_humidity_percent)


def surface_state(
    times_ms: Sequence[int],
    air_c: Sequence[float],
    humidity_percent: Sequence[float],
    surface_c: Sequence[float],
) -> SurfaceState:
    """State of a surface at the last of n readings, shape (n,) each, n at least 1, times ascending.

    `surface_c` is measured, or the air less an offset. RHs = RH e_s(Ta)/e_s(Ts); condensation where Ts is at
    the dew point or below it. A gap of more than two hours ends the damp time, since nothing was measured.
    """
    air, humid = np.asarray(air_c, dtype=np.float64), np.asarray(humidity_percent, dtype=np.float64)
    surface = np.asarray(surface_c, dtype=np.float64)
    at_surface = surface_humidity_percent(air, humid, surface)
    hours = np.asarray(times_ms, dtype=np.float64) / MS_PER_HOUR
    margin = condensation_margin_k(float(air[-1]), max(float(humid[-1]), DRIEST_PERCENT), float(surface[-1]))
    return SurfaceState(float(at_surface[-1]), margin, _damp_hours(hours, at_surface))


def _damp_hours(hours: FloatArray, at_surface: FloatArray) -> float:
    """Hours up to the last reading during which every reading was damp and none was missing."""
    broken = at_surface < MOULD_HUMIDITY_PERCENT
    broken[1:] |= np.diff(hours) > LONGEST_STEP_H
    if at_surface[-1] < MOULD_HUMIDITY_PERCENT:
        return 0.0
    ends = np.flatnonzero(broken)
    if not len(ends):
        return float(hours[-1] - hours[0])
    last = int(ends[-1])
    begin = last if at_surface[last] >= MOULD_HUMIDITY_PERCENT else last + 1
    return float(hours[-1] - hours[begin])
