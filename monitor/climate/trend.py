"""Early heat alarm: where a bin is heading, by a slope that a few odd readings cannot turn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.records import MS_PER_MINUTE

WINDOW_MIN = 45.0
HORIZON_MIN = 1440.0
MOST_POINTS = 50
FEWEST_POINTS = 6
SHORTEST_SPAN_MIN = 15.0
NORMAL_QUANTILE_90 = 1.2816


@dataclass(frozen=True, slots=True)
class HeatTrend:
    """Minutes until the limit at the present trend (1440: a day or more, or never), and the slope."""

    median_min: float
    earliest_min: float
    slope_c_per_h: float


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
    slope, upper = _slopes(minutes, level_c)
    now_c = float(np.median(level_c - slope * minutes))
    return HeatTrend(
        _minutes(limit_c - now_c, slope), _minutes(limit_c - now_c, max(slope, upper)), slope * 60.0
    )


Values = np.ndarray[tuple[int], np.dtype[np.float64]]


def _window(times_ms: Sequence[int], temperatures_c: Sequence[float]) -> tuple[Values, Values]:
    """Minutes before the last reading (negative), and temperatures, in the window and thinned."""
    if len(times_ms) == 0:
        return np.empty(0), np.empty(0)
    minutes = (np.asarray(times_ms, dtype=np.float64) - times_ms[-1]) / MS_PER_MINUTE
    first = int(np.searchsorted(minutes, -WINDOW_MIN))
    minutes, level_c = minutes[first:], np.asarray(temperatures_c, dtype=np.float64)[first:]
    if len(minutes) > MOST_POINTS:
        chosen = np.linspace(0, len(minutes) - 1, MOST_POINTS).round().astype(np.int64)
        minutes, level_c = minutes[chosen], level_c[chosen]
    return minutes, level_c


def _slopes(minutes: Values, level_c: Values) -> tuple[float, float]:
    """Median slope of all pairs, and its upper limit [°C/min]."""
    n = len(minutes)
    first, second = np.triu_indices(n, k=1)
    slopes = np.sort((level_c[second] - level_c[first]) / (minutes[second] - minutes[first]))
    spread = NORMAL_QUANTILE_90 * math.sqrt(n * (n - 1) * (2 * n + 5) / 18)
    rank = min(len(slopes) - 1, math.ceil((len(slopes) + spread) / 2))
    return float(np.median(slopes)), float(slopes[rank])


def _minutes(rise_c: float, slope_c_per_min: float) -> float:
    if rise_c <= 0:
        return 0.0
    if slope_c_per_min * HORIZON_MIN <= rise_c:
        return HORIZON_MIN
    return rise_c / slope_c_per_min
