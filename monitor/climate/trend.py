"""Where a value is heading: a slope that a few odd readings cannot turn, and the minutes to a high limit.

A step is no trend: a probe that was moved, a door, a watering. The readings before it are left out, so that
for a while nothing is told.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from monitor.climate.arrays import NORMAL_QUANTILE_90, FloatArray, IntArray
from monitor.records import MS_PER_HOUR, MS_PER_MINUTE, Quantity

WINDOW_MIN = 45.0
HORIZON_MIN = 1440.0
MOST_POINTS = 50
FEWEST_POINTS = 6
SHORTEST_SPAN_MIN = 15.0
LONGEST_INTERVAL_MIN = 15.0
"""A board that sends more rarely is too slow for the early heat alarm. Own choice."""
LONGEST_WINDOW_MIN = FEWEST_POINTS * LONGEST_INTERVAL_MIN

STEP_WITHIN_MIN = 5.0
FASTEST_C_PER_H = 20.0
"""A rise of a bin that is quicker was not made by larvae: a probe was moved. Own choice; the hottest bins
that were simulated gain less than half of it."""
RISING_STEP_K = FASTEST_C_PER_H * STEP_WITHIN_MIN / 60.0
STEPS: Mapping[str, float] = {
    Quantity.AIR_TEMPERATURE: RISING_STEP_K,
    Quantity.SUBSTRATE_TEMPERATURE: RISING_STEP_K,
    Quantity.SURFACE_TEMPERATURE: RISING_STEP_K,
    Quantity.AIR_HUMIDITY: 6.0,
    Quantity.SUBSTRATE_MOISTURE: 0.04,
    Quantity.CARBON_DIOXIDE: 500.0,
    Quantity.AMMONIA: 5.0,
}
"""What a value changes within five minutes by a step alone, in its canonical unit. Own choice."""

TREND_WINDOW_MS = 30 * MS_PER_MINUTE
TREND_SPAN_MIN = 10.0
TREND_FEWEST = 5
TREND_MOST = 31


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
    slopes = [
        (value - earlier_value) / (time - earlier_time)
        for after, (earlier_time, earlier_value) in enumerate(chosen, 1)
        for time, value in chosen[after:]
    ]
    slopes.sort()
    return (slopes[(len(slopes) - 1) // 2] + slopes[len(slopes) // 2]) / 2.0


def after_step(
    points: Sequence[tuple[float, float]], step: float, rising_only: bool = False
) -> Sequence[tuple[float, float]]:
    """The readings from the last step on; all of them where there is none.

    `points` are times [min] and values, ascending by time. A step is a change of `step` or more within
    five minutes, or in proportion between readings that are farther apart. One odd reading makes none, but as
    the newest or the oldest it is left out: it may be the first after a step, or the last before one.
    """
    values = [value for _, value in points]
    if not values or max(values) - min(values) < step:
        return points
    times = [time for time, _ in points]
    calm = _without_odd(values)
    last, begin, earliest = len(points) - 1, 0, 0
    for at in range(1, len(points)):
        while times[at] - times[earliest] > STEP_WITHIN_MIN and earliest < at - 1:
            earliest += 1
        allowed = step * max(1.0, (times[at] - times[at - 1]) / STEP_WITHIN_MIN)
        before = calm[earliest:at]
        if at == 1 and _change(calm[1], [points[0][1]], rising_only) >= allowed:
            begin = 1
        if _change(calm[at], before, rising_only) >= allowed:
            begin = at
        elif at == last and _change(points[at][1], before, rising_only) >= allowed:
            return points[begin:last]
    return points[begin:]


def _change(value: float, before: Sequence[float], rising_only: bool) -> float:
    rise, fall = value - min(before), max(before) - value
    return rise if rising_only else max(rise, fall)


def _without_odd(values: Sequence[float]) -> list[float]:
    """The median of each value and its two neighbours."""
    last = len(values) - 1
    middles = (min(max(at, 1), last - 1) for at in range(last + 1))
    return [sorted(values[at - 1 : at + 2])[1] for at in middles] if last > 1 else list(values)


def change_per_hour(quantity: str, points: Sequence[tuple[int, float]]) -> float | None:
    """Robust change in an hour over the last half hour, in the unit of the values; None where nothing tells.

    `points` are times [ms] and calibrated values, ascending by time; of each minute the first one counts. It
    takes five of them over ten minutes, since the last step. Light comes and goes by the clock: no trend.
    """
    if quantity == Quantity.LIGHT or not points:
        return None
    minutes = {at_ms // MS_PER_MINUTE: (at_ms, value) for at_ms, value in reversed(points)}
    by_minute = list(reversed(minutes.values()))
    last_ms = by_minute[-1][0]
    inside = [point for point in by_minute if point[0] >= last_ms - TREND_WINDOW_MS]
    ahead = [((at_ms - last_ms) / MS_PER_MINUTE, value) for at_ms, value in inside]
    calm = after_step(ahead, STEPS.get(quantity, math.inf))
    per_minute = robust_slope(calm, TREND_FEWEST, TREND_SPAN_MIN, TREND_MOST)
    return None if per_minute is None else per_minute * MS_PER_HOUR / MS_PER_MINUTE


def window_min(times_ms: Sequence[int]) -> float:
    """How far back the trend to a limit looks [min]: 45, more for a board that sends rarely, at most 90."""
    newest = times_ms[-FEWEST_POINTS - 1 :]
    gaps = sorted(later - earlier for earlier, later in pairwise(newest))
    usual_min = gaps[len(gaps) // 2] / MS_PER_MINUTE if gaps else 0.0
    return min(max(WINDOW_MIN, FEWEST_POINTS * usual_min), LONGEST_WINDOW_MIN)


def minutes_to_limit(
    times_ms: Sequence[int], temperatures_c: Sequence[float], limit_c: float
) -> HeatTrend | None:
    """Extrapolate the last 45 minutes to a high limit; more of them where a board sends rarely.

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
        than 6 readings, or readings over less than 15 minutes, in the window since the last upward step

    Notes
    -----
    Slope: median of the slopes of all pairs. Level: median of T - slope (t - t_last). Upper slope: of the N
    pair slopes in order, the one of rank (N + C)/2 + 1 with C = z sqrt(n (n - 1) (2 n + 5)/18), z = 1.2816.
    More than 50 readings are thinned evenly, the last one kept. A rise that larvae cannot make (20 °C an
    hour) is a step: what was before it is left out. A fall is none, since a bin that was stirred warms again.

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
    first = int(np.searchsorted(minutes, -window_min(times_ms)))
    chosen = first + evenly(len(minutes) - first, MOST_POINTS)
    times, values = minutes[chosen], np.asarray(temperatures_c, dtype=np.float64)[chosen]
    if np.ptp(values) < RISING_STEP_K:
        return times, values
    points = list(zip(times.tolist(), values.tolist(), strict=True))
    kept = np.asarray(after_step(points, RISING_STEP_K, rising_only=True), dtype=np.float64).reshape(-1, 2)
    return kept[:, 0], kept[:, 1]


def evenly(count: int, most: int) -> IntArray:
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
