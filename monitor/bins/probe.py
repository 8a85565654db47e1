"""A capacitive moisture probe: an index until calibrated in the substrate itself, then a doubtful reading.

It senses water by volume, so packing, tunnels, salt and air gaps move it; a curve from another substrate or
from a shop means nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from monitor.climate.arrays import FloatArray
from monitor.errors import UsageError

FEWEST_POINTS = 4
LEAST_RESIDUAL = 0.02
"""No calibration is trusted closer than this [ratio]. Source: own choice, the oven is no better."""

OUTSIDE_SD = 0.10
"""Standard deviation beyond the calibrated range [ratio]. Source: own choice."""

AIR_SHARE = 0.08
"""Index below which the probe counts as standing in air [1]. Source: own choice; dry bran reads above."""

NARROWEST_SPAN = 0.15
"""Least distance between the driest and the wettest point [ratio]. Source: own choice."""

HIGHEST_INDEX = 1.25
"""Index above which the cable is broken or shorted, not the substrate wet [1]. Source: own choice."""


class ProbeState(StrEnum):
    """What a reading of the probe is worth."""

    IN_AIR = "in_air"
    BROKEN = "broken"
    INDEX = "index"
    MOISTURE = "moisture"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class ProbePoint:
    """What the probe said, and the moisture of the substrate by oven [ratio]."""

    raw: float
    moisture: float


@dataclass(frozen=True, slots=True)
class ProbeCalibration:
    """Raw values in air and in water, and after calibration a rising curve (by index) with its residual."""

    raw_air: float
    raw_water: float
    index: tuple[float, ...] = ()
    moisture: tuple[float, ...] = ()
    residual: float = 0.0

    @property
    def is_calibrated(self) -> bool:
        """Whether it can give a moisture."""
        return len(self.index) > 0


@dataclass(frozen=True, slots=True)
class ProbeReading:
    """A reading: state, index between air (0) and water (1), where calibrated moisture and sd [ratio]."""

    state: ProbeState
    index: float
    moisture: float | None = None
    sd: float | None = None


def probe_index(raw: float, raw_air: float, raw_water: float) -> float:
    """Where a raw value lies between air (0) and water (1); neither a moisture nor a percentage.

    Raw values are in any unit, rising or falling with water: (raw - air)/(water - air).
    """
    if raw_air == raw_water:
        raise UsageError("the probe says the same in air and in water; it is broken or was not dipped")
    return (raw - raw_air) / (raw_water - raw_air)


def calibrated(points: Sequence[ProbePoint], raw_air: float, raw_water: float) -> ProbeCalibration:
    """A curve through at least four points taken in the actual substrate, over 0.15 or more in moisture.

    Its `residual` is what a point is off when the curve is drawn without it, root mean square [ratio]. Raises
    UsageError for too few points, too narrow a span, or points that do not rise. Least squares among all
    rising curves (neighbours that fall are pooled), straight lines between.

    Source: isotonic regression by pooling adjacent violators, Barlow et al. 1972.
    """
    _require_points(points)
    pairs = sorted((probe_index(point.raw, raw_air, raw_water), point.moisture) for point in points)
    index, moisture = np.array(pairs).T
    curve = _rising(index, moisture)
    if curve[1][-1] - curve[1][0] < NARROWEST_SPAN / 2.0:
        raise UsageError(
            "the probe does not rise with moisture; check the points, the wiring and the packing"
        )
    residual = max(_left_out(index, moisture), LEAST_RESIDUAL)
    return ProbeCalibration(raw_air, raw_water, tuple(curve[0].tolist()), tuple(curve[1].tolist()), residual)


def _require_points(points: Sequence[ProbePoint]) -> None:
    if len(points) < FEWEST_POINTS:
        raise UsageError(
            "{count} points were given; a calibration needs {fewest} or more",
            count=len(points),
            fewest=FEWEST_POINTS,
        )
    if not all(np.isfinite(point.raw) and 0.0 < point.moisture < 1.0 for point in points):
        raise UsageError("a point is no number or its moisture is not between 0 and 1; correct it")
    moistures = [point.moisture for point in points]
    if max(moistures) - min(moistures) < NARROWEST_SPAN:
        raise UsageError(
            "the points span {span:.2f} in moisture; take drier and wetter ones, at least {least:.2f} apart",
            span=round(max(moistures) - min(moistures), 2),
            least=NARROWEST_SPAN,
        )


def _rising(index: FloatArray, moisture: FloatArray) -> tuple[FloatArray, FloatArray]:
    pools: list[tuple[float, float, int]] = []
    for place, value in zip(index.tolist(), moisture.tolist(), strict=True):
        pools.append((place, value, 1))
        while len(pools) > 1 and (pools[-1][1] <= pools[-2][1] or pools[-1][0] <= pools[-2][0]):
            later, earlier = pools.pop(), pools.pop()
            count = later[2] + earlier[2]
            pools.append(
                (
                    (earlier[0] * earlier[2] + later[0] * later[2]) / count,
                    (earlier[1] * earlier[2] + later[1] * later[2]) / count,
                    count,
                )
            )
    places, values, _ = zip(*pools, strict=True)
    return np.array(places), np.array(values)


def _left_out(index: FloatArray, moisture: FloatArray) -> float:
    errors = []
    for left_out in range(len(index)):
        places, values = _rising(np.delete(index, left_out), np.delete(moisture, left_out))
        errors.append(moisture[left_out] - _carried_on(float(index[left_out]), places, values))
    return float(np.sqrt(np.mean(np.square(errors))))


def _carried_on(place: float, places: FloatArray, values: FloatArray) -> float:
    nearest = float(np.clip(place, places[0], places[-1]))
    slope = (values[-1] - values[0]) / (places[-1] - places[0]) if len(places) > 1 else 0.0
    return float(np.interp(nearest, places, values) + slope * (place - nearest))


def read_probe(raw: float, calibration: ProbeCalibration) -> ProbeReading:
    """What a raw value says: in air, broken, an index, a moisture, or outside the calibration."""
    index = probe_index(raw, calibration.raw_air, calibration.raw_water)
    if not -AIR_SHARE * 2.0 <= index <= HIGHEST_INDEX:
        return ProbeReading(ProbeState.BROKEN, index)
    if index < AIR_SHARE:
        return ProbeReading(ProbeState.IN_AIR, index)
    if not calibration.is_calibrated:
        return ProbeReading(ProbeState.INDEX, index)
    places, values = np.array(calibration.index), np.array(calibration.moisture)
    moisture = float(np.clip(_carried_on(index, places, values), 0.01, 0.99))
    if places[0] <= index <= places[-1]:
        return ProbeReading(ProbeState.MOISTURE, index, moisture, calibration.residual)
    return ProbeReading(ProbeState.OUTSIDE, index, moisture, max(OUTSIDE_SD, calibration.residual))
