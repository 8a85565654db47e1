"""Whether a bin goes on towards its high limit: the minutes that the early heat alarm looks at.

A rise alone is no news: a bin that was stirred or fed cold warms again to where it stood, one with a daily
swing slows down before its peak, and a probe that is put back makes a step. What counts is a rise of some
size that is not seen to end before the limit. What the hours of a bin were like, beside what is usual,
stands here too.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from monitor.climate.arrays import NORMAL_QUANTILE_90, FloatArray, IntArray
from monitor.climate.trend import (
    FEWEST_POINTS,
    HORIZON_MIN,
    LONGEST_WINDOW_MIN,
    RISING_STEP_K,
    SHORTEST_SPAN_MIN,
    after_step,
    evenly,
)
from monitor.records import MS_PER_MINUTE

MOST_POINTS = 60
FALL_K = 1.0
"""A fall of so much within the window ends the rise before it: stirred, watered, fed cold. Own choice."""
BACK_K = 0.25
"""Until it is so close to where it stood before a fall, a bin only warms again. Own choice."""
FEWEST_AFTER_FALL = 4
LEAST_RISE_K = 0.6
"""A smaller rise within 90 minutes is no trend: half a degree an hour or less. Own choice."""
LATELY_MIN = 30.0
"""A rise that grows steeper is followed by its line of so long: its bend would overstate it. Own choice."""
BENT_SPAN_MIN, BENT_FEWEST = 25.0, 5
"""From so long a rise on its bend is known as well. Own choice."""
LASTING_RISE_K, LASTING_C_PER_H = 1.3, 0.8
"""So large and so steep a rise is not that of a feeding bin near its peak. Own choice, between
simulated bins like the nine measured ones (tests/climate/test_heat_early_alarm.py) and those that heat by
1 °C an hour."""
EARLIER_K = 1.0
"""A lasting rise is counted to so much below the limit: at the limit itself nobody has time left."""
SMALLEST_NOISE_K = 0.04
_BENT_ENOUGH = 1e-9
_ODD_K, _ODD_SPREADS = 0.3, 4.0


LEVELS_C = (38.0, 40.0, 42.0)
"""Levels whose hours are worth knowing in a feeding bin, and are no alarm [°C]."""
USUAL_HOURS: Mapping[float, tuple[float, float]] = {38.0: (39.0, 84.0), 40.0: (24.0, 56.0), 42.0: (0.0, 37.0)}
"""Hours above each level in nine bins with usual yield, over eight days in a room of 28 to 29 °C, least and
most; they peaked at 41.8 to 45.5 °C. Alciatore et al. 2024, Waste Management, open data, own summary."""
USUAL_PEAKS_C = (41.8, 45.5)
USUAL_DAYS = 8


WARNING_MIN = ((10.0, 65.0), (15.0, 40.0))
"""Minutes of warning before the limit (median) with a reading each so many minutes or more often: 200
simulated bins that heat by 0.5 to 6 °C an hour (tests/climate/test_heat_early_alarm.py, marked `study`)."""


USUAL_RESPONSE_MIN = 30.0
"""The response time for which that was found: another one moves the warning by the difference."""


def expected_warning_min(interval_min: float) -> float | None:
    """What warning to expect of a board that sends so often [min]; None where it is too slow for any."""
    return next((warning for longest, warning in WARNING_MIN if interval_min <= longest), None)


@dataclass(frozen=True, slots=True)
class HeatPast:
    """The heat of a bin since a moment: highest [°C] with its hour, hours above each of `LEVELS_C`."""

    since_ms: int
    highest_c: float
    highest_ms: int
    hours_above: tuple[tuple[float, float], ...]

    @property
    def is_worth_saying(self) -> bool:
        """Whether it stood above the lowest level for an hour."""
        return self.hours_above[0][1] >= 1.0

    @property
    def heat_rank(self) -> tuple[float, ...]:
        """Greater for what was hotter for longer: hours above the levels, the highest level first."""
        return (*(hours for _, hours in reversed(self.hours_above)), self.highest_c)

    @property
    def is_unusual(self) -> bool:
        """Whether it was hotter, or longer hot, than the bins that were measured."""
        longer = any(hours > USUAL_HOURS[level_c][1] for level_c, hours in self.hours_above)
        return longer or self.highest_c > USUAL_PEAKS_C[1]


def heat_past(hours_ms: IntArray, means_c: FloatArray, highest_c: FloatArray) -> HeatPast | None:
    """What the hours of a bin say of its heat; None without an hour.

    `hours_ms` are the starts of the hours, `means_c` and `highest_c` mean and highest of each, shape (n,). An
    hour counts as above a level where its mean is.
    """
    if not len(hours_ms):
        return None
    at = int(np.argmax(highest_c))
    above = tuple((level_c, float(np.sum(means_c > level_c))) for level_c in LEVELS_C)
    return HeatPast(int(hours_ms[0]), float(highest_c[at]), int(hours_ms[at]), above)


class Rise(NamedTuple):
    """The rise since the last step or fall: level now [°C], gain [K], slope [K/min], bend [K/min²].

    `slope_sd` and `bend_sd` are their standard errors, `before_c` the level before a fall (-inf without one).
    """

    now_c: float
    gained_k: float
    slope: float
    slope_sd: float
    bend: float
    bend_sd: float
    before_c: float


def minutes_to_overheating(
    times_ms: Sequence[int], temperatures_c: Sequence[float], limit_c: float
) -> float | None:
    """Minutes until a bin reaches its high limit if it goes on as it does (1440: not, or in a day or more).

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
    float or None
        minutes [min]; None with fewer than 6 readings in the last 90 minutes or since the last step, or with
        less than 15 minutes of them

    Notes
    -----
    T = T_now + s t + b t²/2 by least squares over the rise, odd readings left out, for rises of 25 minutes or
    more; a line for shorter ones, and one over the last 30 minutes for those that grow steeper. A rise that
    bends down beyond doubt (one in ten) is taken to slow down exponentially, so that it gains s²/|b| at most.
    A rise of 1.3 K or more, steeper than 0.8 °C an hour beyond doubt, is counted to one degree below the
    limit. A rise below 0.6 K, and one back to where the bin stood before it was stirred, counts as none. At
    the limit or above it: 0.

    Source: own choice; figures in tests/climate/test_heat_early_alarm.py.
    """
    if _is_level(times_ms, temperatures_c, limit_c):
        return HORIZON_MIN
    minutes, values = _window(times_ms, temperatures_c)
    if len(minutes) < FEWEST_POINTS or minutes[0] > -SHORTEST_SPAN_MIN:
        return None
    calm = _without_odd(values)
    rise = _rise(minutes, calm) if np.ptp(calm) >= LEAST_RISE_K else None
    if rise is None:
        return 0.0 if _middle(values[-3:]) > limit_c else HORIZON_MIN
    if rise.now_c >= limit_c:
        return 0.0
    if rise.gained_k < LEAST_RISE_K or rise.now_c < rise.before_c - BACK_K:
        return HORIZON_MIN
    minutes_left = _reaches(limit_c - rise.now_c, rise)
    steepest_sure = rise.slope - NORMAL_QUANTILE_90 * rise.slope_sd
    if rise.gained_k >= LASTING_RISE_K and 60.0 * steepest_sure >= LASTING_C_PER_H:
        return _reaches(max(0.0, limit_c - EARLIER_K - rise.now_c), rise)
    return minutes_left


def _is_level(times_ms: Sequence[int], temperatures_c: Sequence[float], limit_c: float) -> bool:
    """Whether it surely rises nowhere: enough readings, no two of them far apart, none above the limit.

    Said without numpy, since it is so for most bins at most readings.
    """
    if len(times_ms) < FEWEST_POINTS:
        return False
    span_min, highest_c = (times_ms[-1] - times_ms[0]) / MS_PER_MINUTE, max(temperatures_c)
    is_whole = SHORTEST_SPAN_MIN <= span_min <= LONGEST_WINDOW_MIN
    return is_whole and highest_c <= limit_c and highest_c - min(temperatures_c) < LEAST_RISE_K


def _window(times_ms: Sequence[int], temperatures_c: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    """Minutes before the last reading (negative) and temperatures of the window, since the last step up."""
    if not len(times_ms):
        return np.empty(0), np.empty(0)
    minutes = (np.asarray(times_ms, dtype=np.float64) - times_ms[-1]) / MS_PER_MINUTE
    first = int(np.searchsorted(minutes, -LONGEST_WINDOW_MIN))
    chosen = first + evenly(len(minutes) - first, MOST_POINTS)
    times, values = minutes[chosen], np.asarray(temperatures_c, dtype=np.float64)[chosen]
    if np.ptp(values) < RISING_STEP_K:
        return times, values
    points = list(zip(times.tolist(), values.tolist(), strict=True))
    kept = np.asarray(after_step(points, RISING_STEP_K, rising_only=True), dtype=np.float64).reshape(-1, 2)
    return kept[:, 0], kept[:, 1]


def _without_odd(values: FloatArray) -> FloatArray:
    """The median of each value and its two neighbours; first and last stay unless they are far off."""
    before, here, after = values[:-2], values[1:-1], values[2:]
    middle = np.maximum(np.minimum(before, here), np.minimum(np.maximum(before, here), after))
    calm: FloatArray = np.concatenate([values[:1], middle, values[-1:]])
    for end, beside in ((0, 1), (-1, -2)):
        if abs(calm[end] - calm[beside]) > 2 * _ODD_K:
            calm[end] = calm[beside]
    return calm


def _middle(values: FloatArray) -> float:
    """The median of a few values."""
    ordered = sorted(values.tolist())
    return float((ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2.0)


def _rise(minutes: FloatArray, values: FloatArray) -> Rise | None:
    """The rise since the lowest value after a fall, or over the whole window; None where it is too short."""
    lowest = len(values) - 1 - int(np.argmin(values[::-1]))
    before_c = -math.inf
    if lowest > 0 and float(np.max(values[:lowest])) - values[lowest] >= FALL_K:
        before_c = float(np.max(values[:lowest]))
        minutes, values = minutes[lowest:], values[lowest:]
    span_min = float(minutes[-1] - minutes[0])
    if len(minutes) < FEWEST_AFTER_FALL or span_min < SHORTEST_SPAN_MIN:
        return None
    bent = span_min >= BENT_SPAN_MIN and len(minutes) >= BENT_FEWEST
    fit, deviation = _least_squares(minutes, values, 2 if bent else 1)
    if bent and fit[2] > 0.0:
        bent, newest = False, minutes >= min(-LATELY_MIN, float(minutes[-FEWEST_AFTER_FALL]))
        fit, deviation = _least_squares(minutes[newest], values[newest], 1)
    began = minutes <= minutes[0] + span_min / 3.0
    now_c = _middle(values[-3:] - fit[1] * minutes[-3:])
    gained_k = now_c - float(np.mean(values[began]))
    bend, bend_sd = (float(fit[2]), float(deviation[2])) if bent else (0.0, 0.0)
    return Rise(now_c, gained_k, float(fit[1]), float(deviation[1]), bend, bend_sd, before_c)


def _least_squares(minutes: FloatArray, values: FloatArray, order: int) -> tuple[FloatArray, FloatArray]:
    """Coefficients of 1, t, t²/2 up to `order` with standard errors, once more without what lies far off."""
    terms = np.stack([np.ones_like(minutes), minutes, minutes * minutes / 2.0], axis=1)[:, : order + 1]
    fit, deviation = _fitted(terms, values)
    off_k = np.abs(values - terms @ fit)
    if off_k.max() > _ODD_K:
        kept = off_k <= max(_ODD_K, _ODD_SPREADS * _middle(off_k))
        if order + 2 < int(kept.sum()) < len(values):
            fit, deviation = _fitted(terms[kept], values[kept])
    return fit, deviation


def _fitted(terms: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    covariance = np.linalg.inv(terms.T @ terms)
    fit: FloatArray = covariance @ (terms.T @ values)
    left = values - terms @ fit
    spread_k = math.sqrt(float(left @ left) / max(1, len(values) - terms.shape[1]))
    return fit, max(SMALLEST_NOISE_K, spread_k) * np.sqrt(np.diag(covariance))


def _reaches(rise_k: float, rise: Rise) -> float:
    """Minutes in which a rise gains so much; 1440 where it does not, or only in a day or more."""
    slope, bend = rise.slope, rise.bend + NORMAL_QUANTILE_90 * rise.bend_sd
    if slope * HORIZON_MIN <= rise_k:
        return HORIZON_MIN
    if bend >= -_BENT_ENOUGH:
        return rise_k / slope
    most_k = slope * slope / -bend
    if most_k <= rise_k:
        return HORIZON_MIN
    return min(HORIZON_MIN, slope / bend * math.log(1.0 - rise_k / most_k))
