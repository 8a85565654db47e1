"""Where a value is heading: a slope that a few odd readings cannot turn, and the minutes to a high limit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from monitor.climate.arrays import NORMAL_QUANTILE_90, FloatArray, IntArray
from monitor.records import MS_PER_MINUTE

WINDOW_MIN = 45.0
HORIZON_MIN = 1440.0
MOST_POINTS = 50
FEWEST_POINTS = 6
SHORTEST_SPAN_MIN = 15.0


@dataclass(frozen=True, slots=True)
class HeatTrend:
    """Minutes until the limit at the present trend (1440: a day or more, or never), and the slope."""

    median_min: float
    earliest_min: float
    slope_c_per_h: float


def robust_slope(
    points: Sequence[tuple[float, float]], fewest: int, shortest: float, most: int
) -> float | None:
    """Median slope of all pairs of readings (Theil 1950), in units of value per unit of time.

    `points` are times and values, ascending by time. More than `most` readings are thinned evenly. None with
    fewer than `fewest` readings or over a span below `shortest`. Without numpy: for a few readings it is as
    fast, and a command that only looks need not load it.
    """
    count = len(points)
    if count < max(fewest, 2) or points[-1][0] - points[0][0] < shortest:
        return None
    kept = min(most, count)
    chosen = [points[round(number * (count - 1) / (kept - 1))] for number in range(kept)]
    slopes = sorted(
        (value - earlier_value) / (time - earlier_time)
        for (earlier_time, earlier_value), (time, value) in combinations(chosen, 2)
    )
    return (slopes[(len(slopes) - 1) // 2] + slopes[len(slopes) // 2]) / 2.0


def minutes_to_limit(
    times_ms: Sequence[int], temperatures_c: Sequence[float], limit_c: float
) -> HeatTrend | None:
    """Extrapolate the last 45 minutes to a high limit.

    Parameters
    ----------
    times_ms : sequence of int
        times of measurement, rising [ms]
    temperatures_c : sequence of float
        substrate temperature [°C], finite, as long as `times_ms`
    limit_c : float
        the high limit [°C]

    Returns
    -------
    HeatTrend or None
        median and earliest credible crossing [min] (one in ten is earlier), slope [°C/h]; None with fewer
        than 6 readings, or readings over less than 15 minutes, in the window

    Notes
    -----
    Slope: median of the slopes of all pairs. Level: median of T - slope (t - t_last). Upper slope: of the N
    pair slopes in order, the one of rank (N + C)/2 + 1 with C = z sqrt(n (n - 1) (2 n + 5)/18), z = 1.2816.
    More than 50 readings are thinned evenly, the last one kept.

    Source
    ------
    Theil 1950; Sen 1968, J. Am. Stat. Assoc. 63:1379-1389, for slope and confidence limits.
    """
    minutes, level_c = _window(times_ms, temperatures_c)
    if len(minutes) < FEWEST_POINTS or minutes[0] > -SHORTEST_SPAN_MIN:
        return None
    slopes = _pair_slopes(minutes, level_c)
    slope = float(np.median(slopes))
    now_c = float(np.median(level_c - slope * minutes))
    earliest = max(slope, _upper_slope(slopes, len(minutes)))
    return HeatTrend(_minutes(limit_c - now_c, slope), _minutes(limit_c - now_c, earliest), slope * 60.0)


def _window(times_ms: Sequence[int], temperatures_c: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    """Minutes before the last reading (negative), and temperatures, in the window and thinned."""
    if len(times_ms) == 0:
        return np.empty(0), np.empty(0)
    minutes = (np.asarray(times_ms, dtype=np.float64) - times_ms[-1]) / MS_PER_MINUTE
    first = int(np.searchsorted(minutes, -WINDOW_MIN))
    chosen = first + _evenly(len(minutes) - first, MOST_POINTS)
    return minutes[chosen], np.asarray(temperatures_c, dtype=np.float64)[chosen]


def _evenly(count: int, most: int) -> IntArray:
    """Indexes of at most `most` of `count` readings, evenly spaced, first and last among them."""
    return np.linspace(0, count - 1, min(most, count)).round().astype(np.int64)


def _pair_slopes(times: IntArray | FloatArray, values: FloatArray) -> FloatArray:
    """Slopes of all pairs of n readings, ascending, shape (n (n - 1)/2,)."""
    first, second = np.triu_indices(len(times), k=1)
    slopes: FloatArray = (values[second] - values[first]) / (times[second] - times[first])
    return np.sort(slopes)


def _upper_slope(slopes: FloatArray, n: int) -> float:
    """Upper confidence limit of the slope of n readings, one in ten beyond it."""
    spread = NORMAL_QUANTILE_90 * math.sqrt(n * (n - 1) * (2 * n + 5) / 18)
    rank = min(len(slopes) - 1, math.ceil((len(slopes) + spread) / 2))
    return float(slopes[rank])


def _minutes(rise_c: float, slope_c_per_min: float) -> float:
    if rise_c <= 0:
        return 0.0
    if slope_c_per_min * HORIZON_MIN <= rise_c:
        return HORIZON_MIN
    return rise_c / slope_c_per_min
